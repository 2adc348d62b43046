package pads

import (
	"cmp"
	"context"
	"database/sql"
	"encoding/binary"
	"encoding/json"
	"fmt"
	"math"
	"slices"
	"time"

	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/samepad"
)

// OneOfSeveral is what a search may come to besides: it is one of those named, beyond chance, and none of them is certain.
const OneOfSeveral Conclusion = "one of several"

// SearchAsked asks which unit a run reads like, whatever its label says, among all that were tested as its product.
type SearchAsked struct {
	Run     runs.Stored
	From    int64 // numbers of the runs that are looked at: from this one
	To      int64 // to before this one; 0 for all
	Station func(run int64) bool
	Most    int // candidates that are named; 0: [Candidates]
}

// Candidates are named unless something else is said.
const Candidates = 5

// Candidate is a unit that the pad may be.
type Candidate struct {
	Run
	samepad.Ratio
	At      time.Time // its run was started
	Jig     string
	Outcome string
	Chance  float64 // that it is the one
	Basis   samepad.Basis
}

// Beside is a jig whose units were looked at, and what is known of how it reads beside the jig here.
type Beside struct {
	Jig    string
	Number int64 // a run of its, by which its station is told; 0 for none
	Basis  samepad.Basis
	Spread float64 // what its pads differ by, relative
	Tells  bool    // by which they can be told apart
}

// Found is what a search came to.
type Found struct {
	Run        runs.Stored
	Conclusion Conclusion
	Candidates []Candidate // units, the likeliest first
	None       float64     // chance that it is none of those searched
	Searched   int         // runs that were looked at
	Keys       int         // that were read here and can be compared
	Besides    []Beside    // jigs
	Gone       int         // runs whose readings are in files alone, and of which nothing else was kept
	Months     []string    // months in which those are
}

// Certain reports whether the first candidate is named as the unit.
func (f Found) Certain() bool { return f.Conclusion == SamePad }

// perJig are how many pads of a jig its bias and its spread are learned from, the newest.
const perJig = 200

// checksOf are how many checks of a reference unit on a jig are read, the newest.
const checksOf = 10

// Search looks through all judged runs of production of the product, whichever revision they were tested as, as far as
// their keys have the same labels; those under the same serial number left out. Real units are looked for among real ones.
// told is told how many runs were looked at.
func (r *Records) Search(ctx context.Context, a SearchAsked, told func(runs int)) (Found, error) {
	f := Found{Run: a.Run, Conclusion: NotAsked}
	read := readings(a.Run.Run)
	f.Keys = len(read)
	if len(read) < samepad.LeastKeys {
		return f, nil
	}
	if a.To == 0 {
		a.To = math.MaxInt64
	}
	err := r.db.View(ctx, func(tx *sql.Tx) error {
		s := search{reader: reader{ctx, tx}, plant: r.db.OfMany(), asked: a, told: told}
		return s.all(&f, ordered(a.Run.Keys, read))
	})
	if err != nil {
		return f, fmt.Errorf("search for the unit that run %s reads like in %s: %w", a.Run.ID, r.db.Path(), err)
	}
	return f, nil
}

// search is one search, at one state of the records.
type search struct {
	reader
	plant     bool
	asked     SearchAsked
	told      func(int)
	revisions []revision
	own       []int64 // runs under the same serial number
	jigs      map[int64]samepad.Jig
	serials   map[int64]string
	newest    map[int64]int64 // run of each jig
	here      int64
}

// revision is one with keys as the run has them; place is where each key of the run stands in it, -1 for nowhere.
type revision struct {
	number int64
	place  []int
}

func (s *search) all(f *Found, pad samepad.Pad) error {
	for _, step := range []func() error{s.findRevisions, s.findJigs, s.readPads, s.readReferences} {
		if err := step(); err != nil {
			return err
		}
	}
	w := samepad.NewSearch(pad, s.here, s.jigs, samepad.Years())
	if err := s.look(w); err != nil {
		return err
	}
	f.Searched = w.Seen()
	for _, jig := range w.Jigs() {
		lot := w.Spread(jig)
		f.Besides = append(f.Besides, Beside{s.serials[jig], s.newest[jig], w.Basis(jig), lot.Typical, lot.Tells()})
	}
	if err := s.gone(f); err != nil {
		return err
	}
	return s.conclude(f, w)
}

// findRevisions looks up those of the product whose keys have the labels of the run's.
func (s *search) findRevisions() error {
	type named struct {
		number     int64
		hash       string
		definition []byte
	}
	list, err := store.Collect(s.ctx, s.tx, func(rows *sql.Rows) (n named, err error) {
		return n, rows.Scan(&n.number, &n.hash, &n.definition)
	}, `SELECT revision, hash, definition FROM revision WHERE code = ? ORDER BY revision`, s.asked.Run.Product)
	if err != nil {
		return err
	}
	for _, n := range list {
		var labels []string
		if n.hash == s.asked.Run.Hash {
			labels = store.Each(s.asked.Run.Keys, func(k sequence.KeyResult) string { return k.Key })
		} else {
			var defined struct{ Keys []struct{ Label string } }
			if json.Unmarshal(n.definition, &defined) != nil {
				continue // nothing of it is known
			}
			for _, k := range defined.Keys {
				labels = append(labels, k.Label)
			}
		}
		one, known := revision{number: n.number}, 0
		for _, k := range s.asked.Run.Keys {
			at := slices.Index(labels, k.Key)
			if at >= 0 {
				known++
			}
			one.place = append(one.place, at)
		}
		if known >= samepad.LeastKeys {
			s.revisions = append(s.revisions, one)
		}
	}
	return nil
}

// findJigs looks up on which jigs the product was tested.
func (s *search) findJigs() error {
	s.jigs, s.serials, s.newest = map[int64]samepad.Jig{}, map[int64]string{}, map[int64]int64{}
	for _, rev := range s.revisions {
		if err := store.Visit(s.ctx, s.tx, func(rows *sql.Rows) error {
			var jig, last int64
			var serial string
			err := rows.Scan(&jig, &serial, &last)
			s.jigs[jig], s.serials[jig], s.newest[jig] = samepad.Jig{}, serial, max(s.newest[jig], last)
			return err
		}, `SELECT jig, jig.serial, max(last_run) FROM cell JOIN jig USING (jig) WHERE revision = ? AND cell.simulated = ? AND runs > 0
			GROUP BY jig, jig.serial ORDER BY jig`, rev.number, s.asked.Run.Simulated); err != nil {
			return err
		}
	}
	var err error
	j := s.asked.Run.Jig
	_, err = store.RowOf(s.ctx, s.tx, `SELECT jig FROM jig WHERE serial = ? AND model = ? AND firmware = ? AND adapter = ?`,
		[]any{j.Serial, j.Model, j.Firmware, j.Adapter}, &s.here)
	if err != nil {
		return err
	}
	if _, known := s.jigs[s.here]; !known {
		s.jigs[s.here], s.serials[s.here], s.newest[s.here] = samepad.Jig{}, j.Serial, s.asked.Run.Seq
	}
	s.own, err = store.Collect(s.ctx, s.tx, store.ScanInt, `SELECT seq FROM run WHERE serial = ? ORDER BY seq`, s.asked.Run.Serial)
	return err
}

// padRow is a run's pad as it is read; logs are the visitor's only while it visits.
type padRow struct {
	jig, run int64
	logs     []float64
	pad      func() samepad.Pad
}

// rows visits the pads that a question finds: at a plant rows of run_pad, at a station runs whose keys are read.
func (s *search) rows(rev revision, where string, args []any, take func(padRow)) error {
	if !s.plant {
		return s.stationRows(rev, where, args, take)
	}
	rows, err := s.tx.QueryContext(s.ctx, `SELECT jig, run, u, pad FROM run_pad WHERE revision = ? AND simulated = ? AND `+where,
		append([]any{rev.number, s.asked.Run.Simulated}, args...)...)
	if err != nil {
		return err
	}
	defer rows.Close()
	var packed sql.RawBytes
	var u float64
	one := padRow{logs: make([]float64, len(rev.place))}
	one.pad = func() samepad.Pad { return padOf(one.logs, u) }
	for rows.Next() {
		if err := rows.Scan(&one.jig, &one.run, &u, &packed); err != nil {
			return err
		}
		unpack(one.logs, rev.place, packed)
		take(one)
	}
	return rows.Err()
}

// unpack reads a row of run_pad: two bytes a key, the natural logarithm of its ohms in thousandths.
func unpack(logs []float64, place []int, packed []byte) {
	for k, at := range place {
		logs[k] = math.NaN()
		if at < 0 || 2*at+2 > len(packed) {
			continue
		}
		if log := int16(binary.BigEndian.Uint16(packed[2*at:])); log != math.MinInt16 {
			logs[k] = float64(log) / 1000
		}
	}
}

// padOf is a pad by its logarithms, of which none is more uncertain than u, in 1/10,000.
func padOf(logs []float64, u float64) samepad.Pad {
	pad := make(samepad.Pad, len(logs))
	for k, log := range logs {
		if !math.IsNaN(log) {
			ohm := math.Exp(log)
			pad[k] = samepad.Reading{Ohm: ohm, U: ohm * math.Hypot(u/1e4, 0.0003)} // half a thousandth either way, evenly
		}
	}
	return pad
}

// together is how many runs have their keys read at a time.
const together = 500

// stationRows are those of a station, which keeps no such rows: it has fewer runs, and reads their keys.
func (s *search) stationRows(rev revision, where string, args []any, take func(padRow)) error {
	type numbered struct{ jig, run int64 }
	list, err := store.Collect(s.ctx, s.tx, func(rows *sql.Rows) (n numbered, err error) { return n, rows.Scan(&n.jig, &n.run) },
		`SELECT jig, seq FROM run WHERE revision = ? AND simulated = ? AND purpose = '' AND outcome IN ('pass', 'fail')
			AND actuation <> 'electrical' AND `+where, append([]any{rev.number, s.asked.Run.Simulated}, args...)...)
	if err != nil {
		return err
	}
	for some := range slices.Chunk(list, together) {
		filled := store.Each(some, func(n numbered) Run { return Run{Seq: n.run} })
		if err := s.fill(filled); err != nil {
			return err
		}
		for i, n := range some {
			if len(filled[i].read) > 0 {
				logs, u := kept(s.asked.Run.Keys, filled[i].read)
				take(padRow{n.jig, n.run, logs, func() samepad.Pad { return padOf(logs, u) }})
			}
		}
	}
	return nil
}

// kept is what a plant keeps of the readings of a run (results/plant/count): a station goes by no more, so that both say the same.
func kept(keys []sequence.KeyResult, read map[string]samepad.Reading) (logs []float64, u float64) {
	logs = make([]float64, len(keys))
	for i, k := range keys {
		logs[i] = math.NaN()
		if r := read[k.Key]; r.Ohm > 0 {
			logs[i] = max(-32767, min(math.RoundToEven(1000*math.Log(r.Ohm)), 32767)) / 1000
		}
	}
	for _, r := range read {
		if r.Ohm > 0 {
			u = max(u, math.Ceil(10_000*r.U/r.Ohm))
		}
	}
	return logs, min(u, 32767)
}

// number is what the number of a run is called where pads are read from.
func (s *search) number() string {
	if s.plant {
		return "run_pad.run"
	}
	return "run.seq"
}

// tested is a pad as a run read it.
type tested struct {
	run int64
	pad samepad.Pad
}

func byRun(a, b tested) int { return cmp.Compare(a.run, b.run) }

// readPads reads the newest pads of each jig, in the order of their tests, whichever revision they were tested as: one of each unit, and
// none of reference units, which come again and again.
func (s *search) readPads() error {
	where := `jig = ? AND ` + s.number() + ` <> ? AND NOT EXISTS (SELECT 1 FROM reference_check WHERE reference_check.run = ` + s.number() + `)
		ORDER BY ` + s.number() + ` DESC LIMIT ` + fmt.Sprint(perJig)
	for jig, known := range s.jigs {
		var newest []tested
		for _, rev := range s.revisions {
			if err := s.rows(rev, where, []any{jig, s.asked.Run.Seq}, func(one padRow) {
				newest = append(newest, tested{one.run, one.pad()})
			}); err != nil {
				return err
			}
		}
		slices.SortFunc(newest, byRun)
		newest = newest[max(0, len(newest)-perJig):]
		units, err := s.units(store.Each(newest, func(t tested) int64 { return t.run }))
		if err != nil {
			return err
		}
		seen := map[string]bool{s.asked.Run.Serial: true}
		for _, t := range slices.Backward(newest) {
			if unit := units[t.run]; !seen[unit] {
				seen[unit] = true
				known.Pads = append(known.Pads, t.pad)
			}
		}
		slices.Reverse(known.Pads)
		s.jigs[jig] = known
	}
	return nil
}

// units are the serial numbers of runs.
func (s *search) units(numbers []int64) (map[int64]string, error) {
	chosen, err := json.Marshal(numbers)
	if err != nil || len(numbers) == 0 {
		return nil, err
	}
	serials := map[int64]string{}
	return serials, store.Visit(s.ctx, s.tx, func(rows *sql.Rows) error {
		var run int64
		var serial string
		err := rows.Scan(&run, &serial)
		serials[run] = serial
		return err
	}, `SELECT seq, serial FROM json_each(?) AS chosen JOIN run ON run.seq = CAST(chosen.value AS bigint)`, string(chosen))
}

// readReferences reads what the jigs read of good reference units, the newest checks of each. Of a check that failed there is what its good keys read.
func (s *search) readReferences() error {
	type checked struct {
		jig  int64
		unit string
	}
	found := map[checked][]tested{}
	for _, rev := range s.revisions {
		units, runs := map[int64]string{}, map[int64][]int64{} // by run, and by jig
		if err := store.Visit(s.ctx, s.tx, func(rows *sql.Rows) error {
			var jig, run int64
			var unit string
			err := rows.Scan(&jig, &unit, &run)
			units[run], runs[jig] = unit, append(runs[jig], run)
			return err
		}, `
			SELECT jig, unit, seq FROM (
				SELECT run.jig, unit, run.seq, row_number() OVER (PARTITION BY run.jig, unit ORDER BY run.seq DESC) AS newest
				FROM reference_check JOIN run ON run.seq = reference_check.run
				WHERE kind = 'good' AND run.revision = ? AND run.simulated = ?) AS checks
			WHERE newest <= ? ORDER BY seq`, rev.number, s.asked.Run.Simulated, checksOf); err != nil {
			return err
		}
		for jig, numbers := range runs {
			chosen, err := json.Marshal(numbers)
			if err != nil {
				return err
			}
			if err := s.rows(rev, `jig = ? AND `+s.number()+` IN (SELECT CAST(value AS bigint) FROM json_each(?) AS chosen)`, []any{jig, string(chosen)},
				func(one padRow) {
					of := checked{jig, units[one.run]}
					found[of] = append(found[of], tested{one.run, one.pad()})
				}); err != nil {
				return err
			}
		}
	}
	for of, checks := range found {
		slices.SortFunc(checks, byRun)
		known := s.jigs[of.jig]
		if known.References == nil {
			known.References = map[string][]samepad.Pad{}
		}
		known.References[of.unit] = store.Each(checks[max(0, len(checks)-checksOf):], func(t tested) samepad.Pad { return t.pad })
		s.jigs[of.jig] = known
	}
	return nil
}

// look looks at all of them.
func (s *search) look(w *samepad.Search) error {
	for _, rev := range s.revisions {
		if err := s.rows(rev, s.number()+` >= ? AND `+s.number()+` < ?`, []any{s.asked.From, s.asked.To}, func(one padRow) {
			if one.run == s.asked.Run.Seq || slices.Contains(s.own, one.run) || s.asked.Station != nil && !s.asked.Station(one.run) {
				return
			}
			w.Look(one.run, one.jig, one.logs, one.pad)
			if s.told != nil && w.Seen()%10_000 == 0 {
				s.told(w.Seen())
			}
		}); err != nil {
			return err
		}
	}
	return nil
}

// gone counts runs of which nothing is left here to compare: their readings were retired before pads were kept.
func (s *search) gone(f *Found) error {
	if !s.plant {
		return nil
	}
	return store.Visit(s.ctx, s.tx, func(rows *sql.Rows) error {
		var month string
		var runs int
		err := rows.Scan(&month, &runs)
		if runs > 0 {
			f.Months, f.Gone = append(f.Months, month), f.Gone+runs
		}
		return err
	}, `
		SELECT name, (SELECT count(*) FROM run JOIN revision USING (revision)
			WHERE seq >= low AND seq < high AND seq >= ?1 AND seq < ?2 AND code = ?3 AND simulated = ?4 AND purpose = '' AND outcome IN ('pass', 'fail')
			  AND actuation <> 'electrical' AND keys > 0
			  AND NOT EXISTS (SELECT 1 FROM run_pad WHERE run_pad.revision = run.revision AND run_pad.simulated = run.simulated
			                  AND run_pad.jig = run.jig AND run_pad.run = run.seq))
		FROM retired_month WHERE dropped_us IS NOT NULL ORDER BY low`, s.asked.From, s.asked.To, s.asked.Run.Product, s.asked.Run.Simulated)
}

// conclude puts runs of one unit together and says what it comes to.
func (s *search) conclude(f *Found, w *samepad.Search) error {
	hits := w.Hits()
	list, err := s.named(hits)
	if err != nil {
		return err
	}
	var logs []float64
	at := map[string]bool{}
	most := 0.0
	for _, h := range hits {
		c, known := list[h.Of]
		if !known || at[c.Serial] || h.Keys == 0 {
			continue
		}
		at[c.Serial] = true
		c.Ratio, c.Basis = h.Ratio, h.Basis
		f.Candidates, logs, most = append(f.Candidates, c), append(logs, h.Log), max(most, h.Most)
	}
	chances := samepad.Weighed(logs, w.Seen())
	for i := range f.Candidates {
		f.Candidates[i].Chance = chances[i]
	}
	f.None = chances[len(chances)-1]
	tells := slices.ContainsFunc(f.Besides, func(b Beside) bool { return b.Tells })
	switch {
	case w.Seen() < samepad.LeastPads:
		f.Conclusion = TooFew
	case !tells || most < samepad.Threshold(w.Seen()):
		f.Conclusion = NotTold
	case f.Candidates[0].Chance >= samepad.Certain:
		f.Conclusion = SamePad
	case f.None <= 1-samepad.Certain:
		f.Conclusion = OneOfSeveral
	default:
		f.Conclusion = OtherPads
	}
	if f.Conclusion == TooFew || f.Conclusion == NotTold && !tells {
		f.Candidates, f.None = nil, 1
	}
	n := s.asked.Most
	if n == 0 {
		n = Candidates
	}
	f.Candidates = f.Candidates[:min(n, len(f.Candidates))]
	return nil
}

// named looks up the runs that were compared.
func (s *search) named(hits []samepad.Hit) (map[int64]Candidate, error) {
	numbers, err := json.Marshal(store.Each(hits, func(h samepad.Hit) int64 { return h.Of }))
	if err != nil || len(hits) == 0 {
		return nil, err
	}
	list := map[int64]Candidate{}
	return list, store.Visit(s.ctx, s.tx, func(rows *sql.Rows) error {
		var c Candidate
		err := rows.Scan(&c.Seq, &c.ID, &c.Serial, store.Time(&c.At), &c.Jig, &c.Outcome)
		list[c.Seq] = c
		return err
	}, `
		SELECT seq, run.id, run.serial, started_us, jig.serial, outcome
		FROM json_each(?) AS chosen JOIN run ON run.seq = CAST(chosen.value AS bigint) JOIN jig USING (jig)`, string(numbers))
}
