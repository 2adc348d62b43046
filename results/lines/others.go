package lines

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"strings"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results/store"
	"padjig/sequence"
)

// Readings of which no sums are kept beside the runs: they are read from the runs chosen.

// otherSources give the rows of what is not read at keys: its tables, the name of the
// subject, value, standard uncertainty or NULL, whether it is a number at all, and what the subjects of a run are ordered by.
var otherSources = map[Measure][6]string{
	Loop: {"CROSS JOIN run_seat ON run_seat.run = chosen.run JOIN pin ON pin.pin = run_seat.pin AND pin.line <> ''",
		"CAST(pin.number AS TEXT)", "loop_ohm", "loop_u_ohm", "loop_at_least = 0", ", run_seat.place"},
	StepTime: {"CROSS JOIN run_step ON run_step.run = chosen.run JOIN step USING (step)",
		"step.name", "took_us / CAST(1e6 AS double precision)", "NULL", "done = 1", ", run_step.place"},
	Machine: {"", "'run'", "duration_us / CAST(1e6 AS double precision)", "NULL", "1", ""},
}

// MissingSubjectsError names subjects that no run chosen has.
type MissingSubjectsError struct {
	Measure        Measure
	Missing, Known []string
}

// Error names those there are.
func (e *MissingSubjectsError) Error() string {
	return fmt.Sprintf("%s: no such one in the selection; %s is of %s",
		strings.Join(e.Missing, ", "), e.Measure, strings.Join(e.Known, ", "))
}

// others reads what is not read at keys.
func (out *Series) others(ctx context.Context, tx *sql.Tx, f Filter, m Measure, names []string, c chosen, n int) error {
	mixed, err := mixture(ctx, tx, f)
	if err != nil {
		return err
	}
	if mixed.Any() {
		return &MixedError{mixed}
	}
	if n <= 0 {
		n = math.MaxInt
	}
	out.Limits = map[string][2]float64{}
	from := otherSources[m]
	err = store.Visit(ctx, tx, func(rows *sql.Rows) error {
		var p Point
		var number bool
		err := rows.Scan(&p.Seq, &p.Serial, store.Time(&p.Started), &p.Jig, &p.Revision, &p.Lots, &p.Cell, &p.Key, &p.Value, &p.U, &number)
		if !slices.Contains(out.Names, p.Key) {
			out.Names = append(out.Names, p.Key)
		}
		switch {
		case len(names) > 0 && !slices.Contains(names, p.Key):
		case number:
			out.Points = append(out.Points, p)
		default:
			out.Beyond++
			out.Open[p.Key]++
		}
		return err
	}, chosenRuns(c)+`
		SELECT chosen.run, run.serial, started_us, jig.serial, revision.label, cell.lots, chosen.cell, `+from[1]+`,
		       coalesce(`+from[2]+`, 0), coalesce(`+from[3]+`, 0), `+from[4]+`
		FROM chosen CROSS JOIN run ON run.seq = chosen.run `+from[0]+`
		JOIN cell USING (cell) JOIN jig ON jig.jig = run.jig JOIN revision ON revision.revision = run.revision
		ORDER BY chosen.run DESC`+from[5], append(slices.Clone(c.args), n)...)
	if err != nil {
		return err
	}
	if len(out.Names) == 0 {
		return fmt.Errorf("%w: %s", ErrNoUnits, f)
	}
	missing := slices.DeleteFunc(slices.Clone(names), func(name string) bool { return slices.Contains(out.Names, name) })
	if len(missing) > 0 {
		return &MissingSubjectsError{m, missing, out.Names}
	}
	if len(names) > 0 {
		out.Names = names
	}
	return nil
}

func chosenRuns(c chosen) string {
	return `WITH chosen AS (SELECT run, cell FROM run_cell WHERE ` + c.condition + ` ORDER BY run DESC LIMIT ?)`
}

// keyLines is a key of a revision with its lines.
type keyLines struct {
	label, a, b string
}

// splitAt is a group of lines against another, as it was read at a step.
type splitAt struct {
	step, split int64
	ohm         fixture.Resistance
}

// insulation reads what is known of the insulation between the lines of keys: in each run
// the smaller of what is known before the keys are pressed and after.
func (out *Series) insulation(ctx context.Context, tx *sql.Tx, numbers []int64, c chosen, n int) error {
	if n <= 0 {
		n = math.MaxInt
	}
	keys, err := keysByRevision(ctx, tx, numbers)
	if err != nil {
		return err
	}
	splits, err := splitsOf(ctx, tx)
	if err != nil {
		return err
	}
	var now Point
	var revision int64
	var read []splitAt
	flush := func() {
		for _, k := range keys[revision] {
			r, known := splits.between(read, k)
			if !known || !(r.Value > 0) || r.Value.IsOpen() {
				out.Beyond++
				out.Open[k.label]++
				continue
			}
			p := now
			p.Key, p.Value = k.label, math.Log10(float64(r.Value))
			p.U = float64(r.U) / float64(r.Value) / math.Ln10
			if r.AtLeast {
				out.Bounds, p.U = out.Bounds+1, 0
			}
			out.Points = append(out.Points, p)
		}
		read = read[:0]
	}
	err = store.Visit(ctx, tx, func(rows *sql.Rows) error {
		var p Point
		var of int64
		var step, split, mohm, u *int64
		var atLeast *bool
		err := rows.Scan(&p.Seq, &p.Serial, store.Time(&p.Started), &p.Jig, &p.Revision, &p.Lots, &p.Cell, &of, &step, &split, &mohm, &u, &atLeast)
		if p.Seq != now.Seq {
			if now.Seq > 0 {
				flush()
			}
			now, revision = p, of
		}
		if step != nil {
			r := fixture.Resistance{Value: quantity.Open, AtLeast: *atLeast}
			if mohm != nil {
				r.Value = quantity.Ohm(*mohm) / 1e3
			}
			if u != nil {
				r.U = quantity.Ohm(*u) / 1e3
			}
			read = append(read, splitAt{*step, *split, r})
		}
		return err
	}, chosenRuns(c)+`
		SELECT chosen.run, run.serial, started_us, jig.serial, revision.label, cell.lots, chosen.cell, run.revision,
		       run_insulation.step, run_insulation.line_split, mohm, u_mohm, at_least
		FROM chosen CROSS JOIN run ON run.seq = chosen.run
		LEFT JOIN run_insulation ON run_insulation.run = chosen.run
		JOIN cell USING (cell) JOIN jig ON jig.jig = run.jig JOIN revision ON revision.revision = run.revision
		ORDER BY chosen.run DESC, run_insulation.place`, append(slices.Clone(c.args), n)...)
	if now.Seq > 0 {
		flush()
	}
	return err
}

func keysByRevision(ctx context.Context, tx *sql.Tx, numbers []int64) (map[int64][]keyLines, error) {
	list, err := json.Marshal(numbers)
	if err != nil {
		return nil, err
	}
	out := map[int64][]keyLines{}
	return out, store.Visit(ctx, tx, func(rows *sql.Rows) error {
		var revision int64
		var k keyLines
		err := rows.Scan(&revision, &k.label, &k.a, &k.b)
		out[revision] = append(out[revision], k)
		return err
	}, `SELECT revision, label, line_a, line_b
	    FROM json_each(?) AS chosen JOIN key ON key.key = CAST(chosen.value AS bigint) ORDER BY chosen.key DESC`, string(list))
}

// splits are all groups of lines that were ever read against others.
type splits struct {
	sides map[int64][2][]string // fed and grounded
	turns map[int64]int64       // the same split with its sides exchanged
	of    map[keyLines]map[int64]sequence.Toward
}

func splitsOf(ctx context.Context, tx *sql.Tx) (*splits, error) {
	s := &splits{map[int64][2][]string{}, map[int64]int64{}, map[keyLines]map[int64]sequence.Toward{}}
	names := map[string]int64{}
	err := store.Visit(ctx, tx, func(rows *sql.Rows) error {
		var number int64
		var fed, grounded string
		var sides [2][]string
		err := rows.Scan(&number, &fed, &grounded)
		if err == nil {
			err = json.Unmarshal([]byte(fed), &sides[0])
		}
		if err == nil {
			err = json.Unmarshal([]byte(grounded), &sides[1])
		}
		s.sides[number], names[fed+grounded] = sides, number
		if other, there := names[grounded+fed]; there {
			s.turns[number], s.turns[other] = other, number
		}
		return err
	}, `SELECT line_split, fed, grounded FROM line_split`)
	return s, err
}

// between is what is known in a run of the lines of a key.
func (s *splits) between(read []splitAt, k keyLines) (least fixture.Resistance, known bool) {
	says := s.says(k)
	for from := 0; from < len(read); {
		to := from
		for to < len(read) && read[to].step == read[from].step {
			to++
		}
		step := read[from:to]
		var all []sequence.Toward
		both := false
		for _, one := range step {
			if t, some := says[one.split]; some {
				t.Ohm = one.ohm
				all = append(all, t)
				turned, there := s.turns[one.split]
				both = both || there && slices.ContainsFunc(step, func(o splitAt) bool { return o.split == turned })
			}
		}
		if r, _, some := sequence.Bounded(all, both); some && (!known || sequence.Less(r, least)) {
			least, known = r, true
		}
		from = to
	}
	return least, known
}

// says is which splits say something of a key's lines.
func (s *splits) says(k keyLines) map[int64]sequence.Toward {
	if says, there := s.of[k]; there {
		return says
	}
	says := map[int64]sequence.Toward{}
	for number, sides := range s.sides {
		t := sequence.Toward{Alone: len(sides[0]) == 1 && len(sides[1]) == 1}
		switch {
		case slices.Contains(sides[0], k.a) && slices.Contains(sides[1], k.b):
			says[number] = t
		case slices.Contains(sides[0], k.b) && slices.Contains(sides[1], k.a):
			t.Back = true
			says[number] = t
		}
	}
	s.of[k] = says
	return says
}

// Subjects lists what a measure is read at in the newest run that a filter chooses: keys,
// pins, steps.
func (s *Records) Subjects(ctx context.Context, f Filter, m Measure) ([]string, error) {
	if !m.OfKeys() {
		series, err := s.Readings(ctx, f, m, nil, 1)
		return series.Names, err
	}
	pad, err := s.Pad(ctx, f)
	return store.Each(pad, func(k PadKey) string { return k.Label }), err
}
