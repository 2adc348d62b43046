package care

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"maps"
	"slices"

	"padjig/results/definition"
	"padjig/results/store"
)

// PartWear is how often a part of a jig was used since it was new. Each run counts as
// one mating of the nest and of what lies behind it, as far as the tail of its product
// reaches the channels that a part serves, and each key tested by an actuator
// as one press of it, with the presses of an exercise besides; presses to look
// again at a faulty key are not counted. A part with a name of its own keeps its uses
// wherever it was fitted.
type PartWear struct {
	Part     string
	Uses     int
	Before   int        // of Uses: in other places, or here before it was taken out
	Warn     int        // uses from which to warn, 0: no limit set
	Block    int        // uses from which not to test, 0: no limit set
	Replaced *WearEvent // what was put in; nil: what was there from the beginning
}

// Worn reports whether the part must be replaced before anything is tested.
func (w PartWear) Worn() bool { return w.Block > 0 && w.Uses >= w.Block }

// Wearing reports whether the part should be replaced soon.
func (w PartWear) Wearing() bool { return w.Warn > 0 && w.Uses >= w.Warn }

// Of is the part of its limit that has been used; 0 where there is none.
func (w PartWear) Of() float64 {
	if w.Block == 0 {
		return 0
	}
	return float64(w.Uses) / float64(w.Block)
}

// LimitedParts gives the parts of a jig that have a limit, the one nearest to its own
// first, without counting single presses: no actuator can have been used more often than there
// were runs since it was replaced, and presses of the most pressed key of each
// exercise. It is quick however many runs there are, and
// may name a part a little early.
func (s *Records) LimitedParts(ctx context.Context, jig string, simulated bool) ([]PartWear, error) {
	var out []PartWear
	err := s.db.Ask(ctx, fmt.Sprintf("look up the wear of jig %s", jig), func(tx *sql.Tx) error {
		all, err := wearEvents(ctx, tx, simulated)
		if err != nil {
			return err
		}
		for _, part := range all.of(jig).parts() {
			w := all.of(jig).part(part)
			if w.Block == 0 {
				continue
			}
			if err := w.count(all.stays(jig, part), runsIn(ctx, tx, simulated)); err != nil {
				return err
			}
			out = append(out, w)
		}
		return nil
	})
	slices.SortStableFunc(out, func(a, b PartWear) int { return cmp.Compare(b.Of(), a.Of()) })
	return out, err
}

// WornParts gives those of LimitedParts that have reached a limit.
func (s *Records) WornParts(ctx context.Context, jig string, simulated bool) ([]PartWear, error) {
	all, err := s.LimitedParts(ctx, jig, simulated)
	worn := slices.DeleteFunc(all, func(w PartWear) bool { return !w.Wearing() && !w.Worn() })
	slices.SortStableFunc(worn, needy)
	return worn, err
}

// Wear counts how often each part of a jig was used, from its runs, those that need
// something done first. It reads all of the runs.
func (s *Records) Wear(ctx context.Context, jig string, simulated bool) ([]PartWear, error) {
	var out []PartWear
	err := s.db.Ask(ctx, fmt.Sprintf("count the wear of jig %s", jig), func(tx *sql.Tx) error {
		all, err := wearEvents(ctx, tx, simulated)
		if err != nil {
			return err
		}
		presses := presses{ctx, tx, simulated, map[string]map[string][]pressed{}}
		names := all.of(jig).parts()
		pressed, err := presses.of(jig)
		if err != nil {
			return err
		}
		for _, part := range append(slices.Collect(maps.Keys(pressed)), Nest) {
			if !slices.Contains(names, part) {
				names = append(names, part)
			}
		}
		for _, part := range names {
			w, uses := all.of(jig).part(part), runsIn(ctx, tx, simulated)
			if kind, _ := partKind(part); kind == actuator {
				uses = presses.in
			}
			if err := w.count(all.stays(jig, part), uses); err != nil {
				return err
			}
			out = append(out, w)
		}
		return nil
	})
	slices.SortFunc(out, needy)
	return out, err
}

// needy puts first what must be replaced, then what should be soon, then by kind and number.
func needy(a, b PartWear) int {
	rank := func(w PartWear) int {
		switch {
		case w.Worn():
			return 0
		case w.Wearing():
			return 1
		}
		return 2
	}
	order := []string{Nest, Adapter, ProbeSet, Cable, actuator}
	aKind, aNumber := partKind(a.Part)
	bKind, bNumber := partKind(b.Part)
	return cmp.Or(cmp.Compare(rank(a), rank(b)), cmp.Compare(slices.Index(order, aKind), slices.Index(order, bKind)),
		cmp.Compare(aNumber, bNumber))
}

// count adds up the uses of a part's stays; the last of them is where it is.
func (w *PartWear) count(stays []stay, uses func(stay) (int, error)) error {
	for i, s := range stays {
		n, err := uses(s)
		if err != nil {
			return err
		}
		w.Uses += n
		if i < len(stays)-1 {
			w.Before += n
		}
	}
	return nil
}

// runsIn counts the runs of a stay; for an actuator those by actuators only.
func runsIn(ctx context.Context, tx *sql.Tx, simulated bool) func(stay) (int, error) {
	type counted struct {
		revision int64
		n        int
	}
	return func(s stay) (n int, err error) {
		kind, _ := partKind(s.part)
		rows, err := store.Collect(ctx, tx, func(rows *sql.Rows) (c counted, err error) { return c, rows.Scan(&c.revision, &c.n) }, `
			SELECT revision, count(*) + CASE WHEN ?5 THEN coalesce(sum(CASE WHEN exercised > 0 THEN
			         (SELECT max(presses) FROM run_exercise WHERE run_exercise.run = seq) END), 0) ELSE 0 END
			FROM run
			WHERE jig IN (SELECT jig FROM jig WHERE serial = ?1) AND seq > ?2 AND seq <= ?3 AND simulated = ?4
			  AND (?5 = 0 OR actuation = 'mechanical') GROUP BY revision`, s.jig, s.after, s.upTo, simulated, kind == actuator)
		for _, c := range rows {
			reached := true
			if err == nil && len(s.serves) > 0 {
				reached, err = reaches(ctx, tx, c.revision, s.serves)
			}
			if reached {
				n += c.n
			}
		}
		return n, err
	}
}

// reaches reports whether a pin of a revision's tail lies on one of some channels.
func reaches(ctx context.Context, tx *sql.Tx, revision int64, channels []int) (bool, error) {
	var stored []byte
	if err := tx.QueryRowContext(ctx, `SELECT definition FROM revision WHERE revision = ?`, revision).Scan(&stored); err != nil {
		return false, err
	}
	tail := definition.Tail(stored)
	return slices.ContainsFunc(channels, func(c int) bool { return c <= len(tail) && tail[c-1] != "" }), nil
}

// pressed is how often an actuator pressed a key in a run.
type pressed struct {
	run   int64
	times int
}

// presses are those of each jig by actuator, read once.
type presses struct {
	ctx       context.Context // of one question
	tx        *sql.Tx
	simulated bool
	known     map[string]map[string][]pressed
}

// in counts the presses of an actuator's stay.
func (p presses) in(s stay) (n int, err error) {
	all, err := p.of(s.jig)
	for _, k := range all[s.part] {
		if s.holds(k.run) {
			n += k.times
		}
	}
	return n, err
}

// of are the presses on a jig, by the names of its actuators as parts.
func (p presses) of(jig string) (map[string][]pressed, error) {
	if all, known := p.known[jig]; known {
		return all, nil
	}
	all, actuators := map[string][]pressed{}, map[string]map[string]string{} // the latter by definition and label
	err := store.Visit(p.ctx, p.tx, func(rows *sql.Rows) error {
		var defined, label string
		var k pressed
		if err := rows.Scan(&defined, &label, &k.run, &k.times); err != nil {
			return err
		}
		if actuators[defined] == nil {
			actuators[defined] = map[string]string{}
			for _, key := range definition.Keys([]byte(defined)) {
				actuators[defined][key.Label] = ActuatorPart(key.Actuator)
			}
		}
		if part, ok := actuators[defined][label]; ok {
			all[part] = append(all[part], k)
		}
		return nil
	}, `SELECT definition, key.label, run.seq, 1 + coalesce((SELECT presses FROM run_exercise
	           WHERE run_exercise.run = run.seq AND run_exercise.key = run_key.key), 0)
	    FROM run JOIN run_key ON run_key.run = run.seq JOIN key USING (key)
	    JOIN revision ON revision.revision = run.revision
	    WHERE run.jig IN (SELECT jig FROM jig WHERE serial = ?) AND simulated = ? AND actuation = 'mechanical' AND passed IS NOT NULL`,
		jig, p.simulated)
	p.known[jig] = all
	return all, err
}
