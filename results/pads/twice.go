package pads

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"math"
	"slices"

	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence/samepad"
)

// TwiceAsked asks a plant which units read like two: a run of theirs reads another pad than the one before under the same
// serial number.
type TwiceAsked struct {
	From   int64  // only runs from this number on
	To     int64  // and before this one; 0 for all
	Serial string // of this unit alone; empty for all
	Most   int    // units that are looked at, those tested last; 0: [Retested]
}

// Retested is how many units are looked at unless something else is said. It bounds what a page costs.
const Retested = 1000

// Twice is what came of it.
type Twice struct {
	Otherwise []Otherwise // in the order of the plant
	Looked    int         // runs that were compared with the one before
	More      bool        // more units were tested again than are looked at: fewer days tell more
}

// Otherwise is a run that reads another pad than the one before it; both by their numbers.
type Otherwise struct {
	Before, Run int64
	Log         float64 // natural logarithm of the likelihood of one pad over that of two
}

// ErrOfOne is records of one station, which keep no short rows of pads.
var ErrOfOne = errors.New("units are compared with themselves at a plant alone")

// learned is from how many units at most it is learned what pads of a revision differ by, before it is asked closely.
const learned = 50

// asked is of how many runs it is asked what a unit's page says, those of the newest; the others are not named.
const asked = 200

// Twice compares units with themselves. Short rows of what runs read name those that are worth more; [Records.Before] alone decides
// of them, so that what is said here is what the page of the unit says. load reads runs by their numbers. Runs whose readings were retired
// say nothing.
func (r *Records) Twice(ctx context.Context, a TwiceAsked, load func(context.Context, []int64) ([]runs.Stored, error)) (out Twice, err error) {
	if !r.db.OfMany() {
		return out, ErrOfOne
	}
	if a.To == 0 {
		a.To = math.MaxInt64
	}
	if a.Most == 0 {
		a.Most = Retested
	}
	var apart []int64
	err = r.db.View(ctx, func(tx *sql.Tx) error {
		list, err := retested(ctx, tx, a)
		if err != nil || len(list) == 0 {
			return err
		}
		if len(list) > a.Most {
			list, out.More = list[:a.Most], true
		}
		apart, out.Looked, err = roughly(ctx, tx, a, list)
		return err
	})
	if err != nil || len(apart) == 0 {
		return out, err
	}
	if len(apart) > asked {
		apart, out.More = apart[len(apart)-asked:], true
	}
	stored, err := load(ctx, apart)
	if err != nil {
		return out, err
	}
	slices.SortFunc(stored, func(a, b runs.Stored) int { return int(a.Seq - b.Seq) })
	for _, run := range stored {
		c, err := r.Before(ctx, run)
		if err != nil {
			return out, err
		}
		if c.OwnChanged {
			out.Otherwise = append(out.Otherwise, Otherwise{c.Own.Seq, run.Seq, c.Own.Log})
		}
	}
	return out, nil
}

// unit is one that was tested more than once.
type unit struct {
	serial      string
	first, last int64
}

// retested gives those tested last, and one more than is looked at.
func retested(ctx context.Context, tx *sql.Tx, a TwiceAsked) ([]unit, error) {
	where, args := `last_run >= ?1 AND first_run < ?2`, []any{a.From, a.To, a.Most + 1}
	if a.Serial != "" {
		where, args = where+` AND serial = ?4`, append(args, a.Serial)
	}
	return store.Collect(ctx, tx, func(rows *sql.Rows) (u unit, err error) { return u, rows.Scan(&u.serial, &u.first, &u.last) },
		`SELECT serial, first_run, last_run FROM unit WHERE first_run <> last_run AND `+where+` ORDER BY last_run DESC LIMIT ?3`, args...)
}

// pair is two runs of one unit after one another.
type pair struct {
	run         int64
	hash        string
	before, now samepad.Pad
}

// roughly gives the runs that read less like the one before than like another pad, by short rows alone. What pads differ by is learned
// from the units that were tested again.
func roughly(ctx context.Context, tx *sql.Tx, a TwiceAsked, list []unit) (apart []int64, looked int, err error) {
	var pairs []pair
	pads := map[string][]samepad.Pad{} // of each revision, one of each unit
	for some := range slices.Chunk(list, together) {
		first, last := some[0].first, some[0].last
		for _, u := range some {
			first, last = min(first, u.first), max(last, u.last)
		}
		var before string // unit and revision
		var pad samepad.Pad
		err := store.Visit(ctx, tx, func(rows *sql.Rows) error {
			var run int64
			var serial, simulated, hash string
			var u float64
			var packed []byte
			if err := rows.Scan(&run, &serial, &simulated, &hash, &u, &packed); err != nil {
				return err
			}
			logs, place := make([]float64, len(packed)/2), make([]int, len(packed)/2)
			for k := range place {
				place[k] = k
			}
			unpack(logs, place, packed)
			of, now := serial+" "+simulated+" "+hash, padOf(logs, u)
			switch {
			case of != before && len(pads[hash]) < learned:
				pads[hash] = append(pads[hash], now)
			case of == before && run >= a.From && run < a.To:
				pairs = append(pairs, pair{run, hash, pad, now})
			}
			before, pad = of, now
			return nil
		}, `
			SELECT run.seq, run.serial, run.simulated::text, revision.hash, u, pad
			FROM run JOIN revision ON revision.revision = run.revision
			JOIN run_pad ON run_pad.revision = run.revision AND run_pad.simulated = run.simulated AND run_pad.jig = run.jig AND run_pad.run = run.seq
			WHERE run.serial = ANY(?1::text[]) AND run.seq BETWEEN ?2 AND ?3 ORDER BY 2, 3, 4, 1`,
			store.Each(some, func(u unit) string { return u.serial }), first, last)
		if err != nil {
			return nil, 0, fmt.Errorf("read what units read when they were tested again: %w", err)
		}
	}
	lots := map[string]samepad.Lot{}
	for hash, of := range pads {
		lots[hash] = samepad.LotOf(of, samepad.Presses())
	}
	for _, p := range pairs {
		few := len(pads[p.hash]) < samepad.LeastPads
		if few || lots[p.hash].Compare(p.before, p.now, samepad.Presses()).Log < -samepad.Doubtful() {
			apart = append(apart, p.run)
		}
	}
	slices.Sort(apart)
	return apart, len(pairs), nil
}
