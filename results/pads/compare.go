package pads

import (
	"context"
	"database/sql"
	"fmt"
	"math"

	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/samepad"
)

// Window is with how many other units a run is compared: the last ones of its product
// definition, whichever jig of this store tested them.
const Window = 20

// Conclusion is what a comparison comes to.
type Conclusion string

// The conclusions.
const (
	NotAsked  Conclusion = "not asked"   // no key was pressed, or too little was read
	TooFew    Conclusion = "too few"     // units of the product to know what pads differ by
	NotTold   Conclusion = "cannot tell" // pads of this lot are too much alike, or have too few keys
	SamePad   Conclusion = "same pad"    // as a unit with another serial number
	OtherPads Conclusion = "other pads"  // none of those compared with
)

// Match is a run that another was compared with.
type Match struct {
	Run
	samepad.Ratio
}

// Comparison is a run beside the units tested before it.
type Comparison struct {
	Conclusion Conclusion
	Others     int     // serial numbers it was compared with
	Nearest    *Match  // of them; nil where there is none
	Threshold  float64 // natural logarithm from which they are one pad
	Between    float64 // what pads of the lot differ by: standard deviation of one, relative
	Keys       int     // that were compared with the nearest
	Own        *Match  // the run before under the same serial number
	OwnChanged bool    // which reads like another pad than this run
}

// Before compares a run with those before it: with all there are when it is not stored yet.
// Runs that say nothing of their unit, and those that are not production, are not asked of.
func (r *Records) Before(ctx context.Context, run runs.Stored) (c Comparison, err error) {
	c.Conclusion = NotAsked
	own := readings(run.Run)
	judged := run.Outcome == sequence.Pass || run.Outcome == sequence.Fail || run.Why.Code == sequence.SamePad
	if !judged || run.Purpose != sequence.Production || len(own) == 0 {
		return c, nil
	}
	w := which{hash: run.Hash, simulated: run.Simulated, before: math.MaxInt64}
	if run.Seq > 0 {
		w.before = run.Seq
	}
	var others, before []Run
	err = r.db.View(ctx, func(tx *sql.Tx) (err error) {
		read := reader{ctx, tx}
		if others, err = read.others(w, run.Serial, Window); err != nil {
			return err
		}
		if before, err = read.before(w, run.Serial); err != nil {
			return err
		}
		all := append(others, before...)
		err = read.fill(all)
		others, before = all[:len(others)], all[len(others):]
		return err
	})
	if err != nil {
		return c, fmt.Errorf("compare unit %q with those before in %s: %w", run.Serial, r.db.Path(), err)
	}
	c.compare(run, own, others, before)
	return c, nil
}

// before gives the last judged run of a unit, none if there is none.
func (r reader) before(w which, serial string) ([]Run, error) {
	return r.newest(`SELECT seq, run.id, serial, ended FROM run JOIN revision USING (revision)
		WHERE serial = ? AND revision.hash = ? AND simulated = ? AND seq < ? AND purpose = ''
		  AND outcome IN ('pass', 'fail') AND actuation <> 'electrical'
		ORDER BY seq DESC LIMIT 1`, 1, serial, w.hash, w.simulated, w.before)
}

func (c *Comparison) compare(run runs.Stored, own map[string]samepad.Reading, others, before []Run) {
	pad := ordered(run.Keys, own)
	var lot samepad.Lot
	lot, c.Nearest = nearest(run.Keys, pad, others, samepad.Presses())
	c.Others, c.Between = len(others), lot.Typical
	c.Threshold = samepad.Threshold(len(others))
	c.Conclusion = c.conclude(lot)
	for _, b := range before {
		ratio := lot.Compare(pad, ordered(run.Keys, b.read), samepad.Presses())
		c.Own = &Match{b, ratio}
		c.OwnChanged = c.told() && ratio.Log < samepad.Doubtful()
	}
}

// told reports whether the comparison could tell pads apart.
func (c *Comparison) told() bool { return c.Conclusion == SamePad || c.Conclusion == OtherPads }

func (c *Comparison) conclude(lot samepad.Lot) Conclusion {
	switch {
	case c.Others < samepad.LeastPads:
		return TooFew
	case c.Nearest == nil:
		return NotAsked
	}
	c.Keys = c.Nearest.Keys
	switch {
	case c.Keys < samepad.LeastKeys || !lot.Tells() || c.Nearest.Most < c.Threshold:
		return NotTold
	case c.Nearest.Log >= c.Threshold:
		return SamePad
	}
	return OtherPads
}

// nearest learns from other units what pads differ by, and finds the one most like a pad.
func nearest(keys []sequence.KeyResult, pad samepad.Pad, others []Run, s samepad.Scatter) (samepad.Lot, *Match) {
	pads := make([]samepad.Pad, len(others))
	for i, other := range others {
		pads[i] = ordered(keys, other.read)
	}
	lot := samepad.LotOf(pads, samepad.Presses())
	var best *Match
	for i, other := range others {
		if ratio := lot.Compare(pad, pads[i], s); best == nil || ratio.Log > best.Log {
			best = &Match{other, ratio}
		}
	}
	return lot, best
}

// Said is what a run ends with that reads like another unit's pad; no code where it does not.
func (c Comparison) Said() sequence.Said {
	if c.Conclusion != SamePad {
		return sequence.Said{}
	}
	return sequence.Fact(sequence.SamePad, c.Nearest.Serial, c.Nearest.ID.String(), fmt.Sprint(c.Keys))
}
