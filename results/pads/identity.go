package pads

import (
	"context"
	"database/sql"
	"fmt"
	"slices"

	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/samepad"
)

// Searched is how many other units are looked through for one that a returned unit reads
// like: as many before the run it left with as behind it. Labels are changed among
// units that lie beside each other.
const Searched = 500

// Identity is whether a unit that came back is the one that left under its serial number.
type Identity struct {
	Conclusion sequence.Code // AsLeft, NotAsLeft, Undecided, or Few or Alike where it cannot be told
	Now        *runs.Stored  // the reading compared
	Left       Match         // the run it left with, and how that compares
	Others     int           // units that what pads differ by was learned from
	Between    float64       // what they differ by, relative
	Units      int           // that were searched for another it reads like
	Nearest    *Match        // the most likely of them; nil where none is likelier than the unit itself, and than chance
}

// Returned compares what a unit reads now with the run it left with. Age, wear and faults
// change readings: far more scatter is allowed for than from one press to the next.
func (r *Records) Returned(ctx context.Context, left, now runs.Stored) (id Identity, err error) {
	id = Identity{Conclusion: Few, Now: &now, Left: Match{Run: Run{ID: left.ID, Seq: left.Seq, Serial: left.Serial}}}
	w := which{hash: left.Hash, simulated: left.Simulated, before: left.Seq}
	var lot, near []Run
	err = r.db.View(ctx, func(tx *sql.Tx) (err error) {
		read := reader{ctx, tx}
		if lot, err = read.others(w, left.Serial, Window); err != nil {
			return err
		}
		if near, err = read.around(w, left.Serial); err != nil {
			return err
		}
		if err = read.fill(lot); err != nil {
			return err
		}
		return read.fill(near)
	})
	if err != nil {
		return id, fmt.Errorf("compare unit %q with how it left in %s: %w", left.Serial, r.db.Path(), err)
	}
	if len(lot) < samepad.LeastPads { // among the first of their product: learn from those behind
		lot = near[:min(Window, len(near))]
	}
	id.compare(left, now, lot, near)
	return id, nil
}

// around gives units tested before a run and behind it, the nearest first.
func (r reader) around(w which, serial string) ([]Run, error) {
	before, err := r.others(w, serial, Searched)
	if err != nil {
		return nil, err
	}
	behind, err := r.newest(`SELECT seq, run.id, serial, ended FROM run JOIN revision USING (revision)
		WHERE revision.hash = ? AND simulated = ? AND purpose = '' AND outcome IN ('pass', 'fail')
		  AND actuation <> 'electrical' AND seq > ? AND serial <> ?
		ORDER BY seq LIMIT ?`, Searched, w.hash, w.simulated, w.before, serial, retests*Searched)
	near := append(before, behind...)
	slices.SortStableFunc(near, func(a, b Run) int { return int(distance(a, w) - distance(b, w)) })
	return once(near), err
}

func distance(run Run, w which) int64 { return max(run.Seq-w.before, w.before-run.Seq) }

func (id *Identity) compare(left, now runs.Stored, lot, near []Run) {
	id.Others = len(lot)
	if len(lot) < samepad.LeastPads {
		return
	}
	pad := ordered(left.Keys, readings(now.Run))
	learned, _ := nearest(left.Keys, pad, lot, samepad.Years())
	id.Between = learned.Typical
	id.Left.Ratio = learned.Compare(pad, ordered(left.Keys, readings(left.Run)), samepad.Years())
	id.Units, id.Nearest = len(near), id.search(learned, left.Keys, pad, near)
	likely := samepad.Doubtful()
	switch {
	case !learned.Tells() || id.Left.Keys < samepad.LeastKeys:
		id.Conclusion, id.Nearest = Alike, nil
	case id.Left.Log > -likely && id.Nearest == nil:
		id.Conclusion = AsLeft
	case id.Left.Log < likely || id.Nearest != nil:
		id.Conclusion = NotAsLeft
	default:
		id.Conclusion = Undecided
	}
}

// search finds the unit that a pad reads most like, if that is beyond chance among so many
// and likelier than its own.
func (id *Identity) search(lot samepad.Lot, keys []sequence.KeyResult, pad samepad.Pad, near []Run) *Match {
	var best *Match
	for _, other := range near {
		ratio := lot.Compare(pad, ordered(keys, other.read), samepad.Years())
		if ratio.Log >= samepad.Threshold(len(near)) && ratio.Log > id.Left.Log && (best == nil || ratio.Log > best.Log) {
			best = &Match{other, ratio}
		}
	}
	return best
}

// Facts say whether it is the unit that left, which other it may be, and what that rests on.
func (id Identity) Facts() []sequence.Said {
	run, stage := id.Left.ID.String(), string(id.Now.Purpose)
	keys, between := fmt.Sprint(id.Left.Keys), percent(id.Between)
	var facts []sequence.Said
	switch id.Conclusion {
	case Few:
		return []sequence.Said{sequence.Fact(Few, fmt.Sprint(id.Others), fmt.Sprint(samepad.LeastPads))}
	case Alike:
		return []sequence.Said{sequence.Fact(Alike, fmt.Sprint(id.Others), keys, between)}
	case AsLeft:
		facts = append(facts, sequence.Fact(AsLeft, run, stage, times(id.Left.Log)))
	case NotAsLeft:
		against := -id.Left.Log
		if id.Nearest != nil {
			against += id.Nearest.Log
		}
		facts = append(facts, sequence.Fact(NotAsLeft, run, stage, times(against)))
	default:
		facts = append(facts, sequence.Fact(Undecided, run, stage, times(id.Left.Log)))
	}
	if n := id.Nearest; n != nil {
		facts = append(facts, sequence.Fact(NearestOf, n.Serial, n.ID.String(), times(n.Log), fmt.Sprint(id.Units)))
	} else {
		facts = append(facts, sequence.Fact(NoneNearer, fmt.Sprint(id.Units)))
	}
	years := samepad.Years()
	return append(facts, sequence.Fact(Limits, keys, between, percent(years.Most), percent(years.Changed)))
}
