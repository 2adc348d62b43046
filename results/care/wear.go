package care

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"padjig/results/definition"
	"padjig/results/store"
)

// Nest is the part of a jig that takes the tail; each run mates it once.
const Nest = "nest"

// ActuatorPart names an actuator as a part, by its number in product files
// plus one: people count from 1.
func ActuatorPart(actuator int) string { return fmt.Sprintf("actuator %d", actuator+1) }

// PartWear is how often a part of a jig was used since it was last replaced.
// Each run counts as one mating of the nest, and each key tested by an actuator
// as one press of it, with the presses of an exercise besides; presses to look
// again at a faulty key are not counted.
type PartWear struct {
	Part     string
	Uses     int
	Warn     int // uses from which to warn, 0: no limit set
	Block    int // uses from which not to test, 0: no limit set
	Replaced *WearEvent
}

// Worn reports whether the part must be replaced before anything is tested.
func (w PartWear) Worn() bool { return w.Block > 0 && w.Uses >= w.Block }

// Wearing reports whether the part should be replaced soon.
func (w PartWear) Wearing() bool { return w.Warn > 0 && w.Uses >= w.Warn }

// WearEvent is what somebody did or decided about a part of a jig.
type WearEvent struct {
	Jig, Part string
	Warn      int // limits; both 0 for a replacement
	Block     int
	By, Note  string
	At        time.Time
	afterRun  int64
}

// SaveWear records a replacement, or new limits when Warn and Block are set.
func (s *Records) SaveWear(ctx context.Context, e WearEvent) error {
	return s.db.Save(ctx, fmt.Sprintf("save wear of %s of jig %s", e.Part, e.Jig), func(tx *sql.Tx) error {
		return SaveWear(ctx, tx, e, s.db.Now().UnixMicro())
	})
}

// SaveWear records an event inside a transaction, as of a time.
func SaveWear(ctx context.Context, tx *sql.Tx, e WearEvent, at int64) error {
	kind, warn, block := "replaced", sql.NullInt64{}, sql.NullInt64{}
	if e.Block > 0 {
		kind = "limits"
		warn, block = sql.NullInt64{Int64: int64(e.Warn), Valid: true}, sql.NullInt64{Int64: int64(e.Block), Valid: true}
	}
	_, err := tx.ExecContext(ctx, `
		INSERT INTO wear_event (seq, jig, part, kind, after_run, warn, block, by, note, at_us)
		SELECT (SELECT coalesce(max(seq), 0) + 1 FROM wear_event), ?, ?, ?,
		       (SELECT coalesce(max(seq), 0) FROM run), ?, ?, ?, ?, ?`,
		e.Jig, e.Part, kind, warn, block, e.By, e.Note, at)
	return err
}

// WornParts gives the parts of a jig that have reached a limit, without
// counting single presses: no actuator can have been used more often than there
// were runs since it was replaced, and presses of the most pressed key of each
// exercise. It is quick however many runs there are, and
// may name a part a little early.
func (s *Records) WornParts(ctx context.Context, jig string) ([]PartWear, error) {
	var out []PartWear
	err := s.db.Ask(ctx, fmt.Sprintf("look up the wear of jig %s", jig), func(tx *sql.Tx) error {
		events, err := wearEvents(ctx, tx, jig)
		if err != nil {
			return err
		}
		for _, part := range events.limited() {
			w := events.part(part)
			if err := runsSince(ctx, tx, jig, part, w.Replaced, &w.Uses); err != nil {
				return err
			}
			if w.Wearing() || w.Worn() {
				out = append(out, w)
			}
		}
		return nil
	})
	return out, err
}

// Wear counts how often each part of a jig was used, from its runs. It reads
// all of them.
func (s *Records) Wear(ctx context.Context, jig string) ([]PartWear, error) {
	var out []PartWear
	err := s.db.Ask(ctx, fmt.Sprintf("count the wear of jig %s", jig), func(tx *sql.Tx) error {
		events, err := wearEvents(ctx, tx, jig)
		if err != nil {
			return err
		}
		nest := events.part(Nest)
		if err := runsSince(ctx, tx, jig, Nest, nest.Replaced, &nest.Uses); err != nil {
			return err
		}
		actuators, err := actuatorWear(ctx, tx, jig, events)
		out = append([]PartWear{nest}, actuators...)
		return err
	})
	return out, err
}

// events are a jig's wear events, oldest first.
type events []WearEvent

func wearEvents(ctx context.Context, tx *sql.Tx, jig string) (events, error) {
	return store.Collect(ctx, tx, func(rows *sql.Rows) (e WearEvent, err error) {
		e.Jig = jig
		return e, rows.Scan(&e.Part, &e.afterRun, &e.Warn, &e.Block, &e.By, &e.Note, store.Time(&e.At))
	}, `SELECT part, after_run, coalesce(warn, 0), coalesce(block, 0), by, note, at_us
	    FROM wear_event WHERE jig = ? ORDER BY seq`, jig)
}

// part gives the limits and the last replacement of a part, uses not counted.
func (all events) part(part string) PartWear {
	w := PartWear{Part: part}
	for i, e := range all {
		switch {
		case e.Part != part:
		case e.Block > 0:
			w.Warn, w.Block = e.Warn, e.Block
		default:
			w.Replaced = &all[i]
		}
	}
	return w
}

// limited lists the parts that have limits.
func (all events) limited() []string {
	var parts []string
	for _, e := range all {
		if e.Block > 0 && !slices.Contains(parts, e.Part) {
			parts = append(parts, e.Part)
		}
	}
	return parts
}

func replacedAfter(e *WearEvent) int64 {
	if e == nil {
		return 0
	}
	return e.afterRun
}

// runsSince counts the runs of a jig since a part was replaced; for an
// actuator those by actuators only.
func runsSince(ctx context.Context, tx *sql.Tx, jig, part string, replaced *WearEvent, n *int) error {
	return tx.QueryRowContext(ctx, `
		SELECT count(*) + CASE WHEN ?3 THEN 0 ELSE coalesce(sum(CASE WHEN exercised > 0 THEN
		         (SELECT max(presses) FROM run_exercise WHERE run_exercise.run = seq) END), 0) END
		FROM run
		WHERE jig IN (SELECT jig FROM jig WHERE serial = ?1) AND seq > ?2 AND (?3 OR actuation = 'mechanical')`,
		jig, replacedAfter(replaced), part == Nest).Scan(n)
}

// pressed is how often a key of a revision was tested, run by run in order.
type pressed struct {
	definition string
	label      string
	run        int64
	times      int
}

func actuatorWear(ctx context.Context, tx *sql.Tx, jig string, all events) ([]PartWear, error) {
	presses, err := store.Collect(ctx, tx, func(rows *sql.Rows) (p pressed, err error) {
		return p, rows.Scan(&p.definition, &p.label, &p.run, &p.times)
	}, `SELECT definition, key.label, run.seq, 1 + coalesce((SELECT presses FROM run_exercise
	           WHERE run_exercise.run = run.seq AND run_exercise.key = run_key.key), 0)
	    FROM run JOIN run_key ON run_key.run = run.seq JOIN key USING (key)
	    JOIN revision ON revision.revision = run.revision
	    WHERE run.jig IN (SELECT jig FROM jig WHERE serial = ?) AND actuation = 'mechanical' AND passed IS NOT NULL`, jig)
	if err != nil {
		return nil, err
	}
	uses := map[int]*PartWear{}
	known := map[string]map[string]int{} // definition to label to actuator
	for _, p := range presses {
		if known[p.definition] == nil {
			known[p.definition] = map[string]int{}
			for _, k := range definition.Keys([]byte(p.definition)) {
				known[p.definition][k.Label] = k.Actuator
			}
		}
		number, ok := known[p.definition][p.label]
		if !ok {
			continue
		}
		w := uses[number]
		if w == nil {
			w = new(all.part(ActuatorPart(number)))
			uses[number] = w
		}
		if p.run > replacedAfter(w.Replaced) {
			w.Uses += p.times
		}
	}
	return inOrder(uses), nil
}

func inOrder(uses map[int]*PartWear) []PartWear {
	var out []PartWear
	for _, w := range uses {
		out = append(out, *w)
	}
	slices.SortFunc(out, func(a, b PartWear) int { return cmp.Compare(partNumber(a.Part), partNumber(b.Part)) })
	return out
}

func partNumber(part string) int {
	n, _ := strconv.Atoi(strings.TrimPrefix(part, "actuator "))
	return n
}

// ParsePart reads the name of a part as people write it.
func ParsePart(text string) (string, error) {
	if text == Nest {
		return Nest, nil
	}
	digits, ok := strings.CutPrefix(text, "actuator ")
	if n, err := strconv.Atoi(digits); ok && err == nil && n >= 1 {
		return fmt.Sprintf("actuator %d", n), nil
	}
	return "", errors.New(`"` + text + `" is no part; write "nest" or "actuator 7"`)
}
