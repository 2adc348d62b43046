// Package elsewhere is what other stations of a plant know of a unit, as a station takes it into its own decision.
//
// A station decides by its own records, and an answer of the plant can only add to them: another attempt, a pass, an open
// returns case. Times in a [Unit] are by the station's own clock. Beside each run that was begun it is written down whether the plant
// had answered by then ([Answer], the table asked): what rests on the station alone can be told from the rest later.
package elsewhere

import (
	"context"
	"database/sql"
	"slices"
	"time"

	"padjig/results/store"
	"padjig/sequence"
)

// Unit is what other stations know of a unit.
type Unit struct {
	Serial  string
	Runs    []Run   // of production, in the order of the plant
	Starts  []Start // of production, that have no run
	Cases   []Case
	Reworks []time.Time // when they were done
	Decided []time.Time // an engineer decided that it is tested once more
}

// Run is a run of production at another station.
type Run struct {
	ID        store.ID
	Station   string // its name at the plant
	Product   string // code
	Label     string // of the revision
	Simulated bool
	Outcome   sequence.Outcome // as it counts
	Attempt   int
	Findings  int
	Ended     sequence.Code // why it is no verdict
	At        time.Time     // it was stored
}

// Start is a run of production that was begun at another station and has not ended, as far as the plant knows.
type Start struct {
	Station   string
	Jig       string // serial
	Product   string
	Simulated bool
	Actuation sequence.Actuation
	Attempt   int
	At        time.Time
	Closed    bool // it will not end: what was found is not known
}

// Case is a returns case at another station.
type Case struct {
	Station   string
	Number    int64  // there
	Open      bool   // it has no disposition yet
	Disposal  string // what became of the unit when it was closed; empty: not said
	Back      bool   // that is: back to production
	At        time.Time
	Real, Sim bool // whether it was on real jigs, on simulated ones; neither: it had no stage
}

// InHand is a start of the unit at another station that goes on, as far as the plant knows; nil where there is none.
func (u *Unit) InHand(simulated bool) *Start {
	if u == nil {
		return nil
	}
	i := slices.IndexFunc(u.Starts, func(s Start) bool { return !s.Closed && s.Simulated == simulated })
	if i < 0 {
		return nil
	}
	return &u.Starts[i]
}

// Newest is the returns case that decides, nil where there is none: one that is open, else the one closed last.
func (u *Unit) Newest() *Case {
	if u == nil || len(u.Cases) == 0 {
		return nil
	}
	newest := slices.MaxFunc(u.Cases, func(a, b Case) int {
		if a.Open != b.Open {
			return map[bool]int{true: 1, false: -1}[a.Open]
		}
		return a.At.Compare(b.At)
	})
	return &newest
}

// Word is what became of a question to the plant.
type Word string

// What can become of one.
const (
	Given    Word = "given"     // the plant answered
	Late     Word = "late"      // not within the time that is waited for it
	Away     Word = "away"      // it could not be reached
	Refused  Word = "refused"   // it does not let itself be asked: rights, tables, the name of the station
	NotAsked Word = "not asked" // the station is set to ask nothing
)

// Alone are those by which a decision rests on the station alone.
func (w Word) Alone() bool { return w != "" && w != Given }

// DecidedAlone is the fact that a station decided about a unit without the plant, with the [Word] that says why.
const DecidedAlone = "decided alone"

// Answer is what a station went by when it decided about a unit. The zero one is of a station that has no plant.
type Answer struct {
	Word Word
	Unit *Unit         // nil: nothing is known
	Took time.Duration // from the question to the answer, or until it was not waited for any more
}

// Keep writes down beside a start what was gone by, and how many attempts other stations had counted.
func (a Answer) Keep(ctx context.Context, tx *sql.Tx, start int64, attempts int) error {
	if a.Word == "" {
		return nil
	}
	e := store.Entry{Table: "asked"}
	e.Set("start", start)
	e.Set("answer", string(a.Word))
	e.Set("attempts", attempts)
	e.Set("took_us", max(a.Took, 0).Microseconds())
	_, err := e.Insert(ctx, tx)
	return err
}

// Point is a place among the runs of a unit: behind those of its own station up to a number, and behind those of others up to a time.
type Point struct {
	After int64 // number of the newest run of the station then; -1: known by its time alone
	At    time.Time
}

// At is a point of which only the time is known.
func At(t time.Time) Point { return Point{-1, t} }

// Placed is a run in the line of all runs of a unit.
type Placed struct {
	Own   int   // index among those of the station, -1 for another's
	Other int   // index in Unit.Runs, -1 for the station's own
	seq   int64 // number of a run of the station
	at    time.Time
}

// Own is a run of the station itself.
type Own struct {
	ID  store.ID
	Seq int64
	At  time.Time // it was stored, by the station's clock
}

// Line puts the runs of other stations between those of the station. The station's own stay in their order whatever the clock
// did; a run that both have, since records were copied, is the station's.
func (u *Unit) Line(own []Own) []Placed {
	var line []Placed
	var latest time.Time
	there := map[store.ID]bool{}
	for i, o := range own {
		there[o.ID] = true
		if o.At.After(latest) {
			latest = o.At
		}
		line = append(line, Placed{Own: i, Other: -1, seq: o.Seq, at: latest})
	}
	latest = time.Time{}
	for i, r := range u.Runs {
		if there[r.ID] {
			continue
		}
		if r.At.After(latest) {
			latest = r.At
		}
		line = append(line, Placed{Own: -1, Other: i, at: latest})
	}
	slices.SortStableFunc(line, func(a, b Placed) int { return a.at.Compare(b.at) })
	return line
}

// Behind is how many runs of a line lie before a point.
func Behind(line []Placed, p Point) (n int64) {
	for i, run := range line {
		before := !run.at.After(p.At)
		if run.Own >= 0 && p.After >= 0 {
			before = run.seq <= p.After
			if !before {
				return n
			}
		}
		if before {
			n = int64(i) + 1
		}
	}
	return n
}
