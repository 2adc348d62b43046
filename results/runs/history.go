package runs

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"time"

	"padjig/results/runs/elsewhere"
	"padjig/results/store"
	"padjig/sequence"
)

// History is what must be known of a unit before anything moves.
type History struct {
	Serial   string
	Products []Attempts // one for each product the unit was tested as, in order of its first run
	InHand   *Start     // where it is being tested now; nil: nowhere
	Past     Past

	runs   []past // what it is summed up from
	starts []Start
}

// Past is what the returns desk and repair say of a unit.
type Past = elsewhere.Past

// Attempts sums up the production runs of a unit as one product. Runs of the
// returns desk are no attempts, and a unit that passed there has not passed. Runs on a simulated jig
// are counted apart: they prove nothing of a real unit.
type Attempts struct {
	Product    string // code
	Simulated  bool
	Runs       int   // of any outcome
	Judged     int   // that ended in a pass or a fail
	Found      int   // aborted after something was found
	Unfinished int   // begun with keys to be pressed, and what was found is not known
	Attempt    int   // the highest attempt number given so far
	Before     int   // attempts it had used before it came back and went to production again; not among those above
	Loops      int   // times that it failed again after a repair since it last passed
	Failed     int64 // number of the last run that used an attempt and did not pass, 0: none since it last passed
	Passed     bool
	PassedAs   string   // label of the revision it passed first, empty before
	PassedAt   string   // other station at which that was; empty: here
	Apart      int      // attempts among those used that were at other stations
	Stations   []string // these
	Alike      int      // newest runs in a row that read like another unit
	Last       sequence.Outcome
}

// Used is how many attempts are used up.
func (a Attempts) Used() int { return a.Judged + a.Found + a.Unfinished }

// Next is the number of the next attempt. A unit that came back and went to
// production again is at no first one, whatever the records have of it before.
func (a Attempts) Next() int { return a.Before + a.Used() + 1 }

// UsesAttempt reports whether a production run uses up an attempt: one that was
// judged, and one that was aborted after it had found something. Whatever else
// ended a run says nothing of the unit.
func UsesAttempt(run sequence.Run) bool { return usesAttempt(run.Outcome, len(run.Findings)) }

// UsesAttempt reports whether a start that was never finished uses up an attempt: what
// it had found is not known. Without a key pressed it would have proved nothing
// of the unit, had it been finished.
func (s Start) UsesAttempt() bool {
	return s.Purpose == sequence.Production && s.Actuation != sequence.Electrical
}

func usesAttempt(o sequence.Outcome, findings int) bool {
	return judged(o) || o == sequence.Aborted && findings > 0
}

func judged(o sequence.Outcome) bool { return o == sequence.Pass || o == sequence.Fail }

// Of gives the attempts as one product, none if there were none. A unit that went
// back to production had one before, also where the records do not have it.
func (h History) Of(product string, simulated bool) Attempts {
	found := Attempts{Product: product, Simulated: simulated}
	for _, a := range h.Products {
		if a.Product == product && a.Simulated == simulated {
			found = a
		}
	}
	if _, again := h.Past.Back[simulated]; again {
		found.Before = max(1, found.Before)
	}
	return found
}

// History gives what is known of a unit; it is quick however many runs the store has.
func (s *Records) History(ctx context.Context, serial string) (History, error) {
	// The starts first: one that gets its run meanwhile is then counted by it.
	starts, err := s.starts(ctx, serial)
	var h History
	if err == nil {
		err = s.db.View(ctx, func(tx *sql.Tx) (err error) {
			h, err = s.historyIn(ctx, tx, serial, starts)
			return err
		})
	}
	if err != nil {
		return History{}, fmt.Errorf("look up the history of unit %q in %s: %w", serial, s.db.Path(), err)
	}
	return h, nil
}

func (s *Records) historyIn(ctx context.Context, tx *sql.Tx, serial string, starts []Start) (History, error) {
	h := History{Serial: serial}
	if s.links.Past != nil {
		var err error
		if h.Past, err = s.links.Past(ctx, tx, serial); err != nil {
			return h, err
		}
	}
	runs, err := store.Collect(ctx, tx, scanPast, `
		SELECT revision.code, revision.label, simulated, verdict, attempt, findings, coalesce(ended ->> '$[0]', ''), seq, run.id, saved_us
		FROM run JOIN revision USING (revision)
		WHERE serial = ? AND purpose = '' ORDER BY seq`, serial)
	h.runs, h.starts = runs, starts
	h.sum()
	return h, err
}

func (h *History) sum() {
	for _, run := range h.runs {
		h.add(run)
	}
	for _, start := range h.starts {
		h.begun(start)
	}
}

func (h *History) begun(start Start) {
	switch {
	case start.InHand:
		h.InHand = &start
	case start.Purpose == sequence.Production:
		a := h.of(start.Product, start.Simulated)
		switch back, again := h.Past.Back[start.Simulated]; {
		case !start.UsesAttempt():
		case again && start.AfterRun < back.After: // the run that came after it is among those before
			a.Before++
		default:
			a.Unfinished++
			a.apart(start.station)
		}
		a.Attempt = max(a.Attempt, start.Attempt)
	}
}

type past struct {
	product, label string
	simulated      bool
	outcome        sequence.Outcome
	attempt        int
	findings       int
	ended          sequence.Code
	seq            int64
	id             store.ID
	saved          time.Time
	station        string // another one at which it was; empty: here
}

func scanPast(rows *sql.Rows) (p past, err error) {
	return p, rows.Scan(&p.product, &p.label, &p.simulated, &p.outcome, &p.attempt, &p.findings, &p.ended, &p.seq, &p.id, store.Time(&p.saved))
}

func (h *History) add(run past) {
	a := h.of(run.product, run.simulated)
	a.Runs++
	a.Attempt = max(a.Attempt, run.attempt)
	a.Last = run.outcome
	a.Alike++
	if run.ended != sequence.SamePad {
		a.Alike = 0
	}
	uses := usesAttempt(run.outcome, run.findings)
	a.loop(run, uses, h.Past.Reworks)
	switch back, again := h.Past.Back[run.simulated]; {
	case again && run.seq <= back.After:
		if uses {
			a.Before++
		}
		return // it left and came back since: nothing of it is this time's
	case judged(run.outcome):
		a.Judged++
	case uses:
		a.Found++
	}
	if uses {
		a.apart(run.station)
	}
	if run.outcome == sequence.Pass && !a.Passed {
		a.Passed, a.PassedAs, a.PassedAt = true, run.label, run.station
	}
}

// apart counts an attempt of another station.
func (a *Attempts) apart(station string) {
	if station == "" {
		return
	}
	a.Apart++
	if !slices.Contains(a.Stations, station) {
		a.Stations = append(a.Stations, station)
	}
}

// loop counts how often the unit failed again after a repair.
func (a *Attempts) loop(run past, uses bool, reworks []elsewhere.Point) {
	switch {
	case !uses:
	case run.outcome == sequence.Pass:
		a.Loops, a.Failed = 0, 0
	default:
		repaired := slices.ContainsFunc(reworks, func(p elsewhere.Point) bool { return p.After >= a.Failed && p.After < run.seq })
		if a.Failed > 0 && repaired {
			a.Loops++
		}
		a.Failed = run.seq
	}
}

func (h *History) of(product string, simulated bool) *Attempts {
	for i := range h.Products {
		if a := &h.Products[i]; a.Product == product && a.Simulated == simulated {
			return a
		}
	}
	h.Products = append(h.Products, Attempts{Product: product, Simulated: simulated})
	return &h.Products[len(h.Products)-1]
}

// Summary is a run in one line.
type Summary struct {
	ID        store.ID
	Seq       int64
	Serial    string
	Product   string // code
	Revision  string // label
	Jig       string // serial
	Operator  string
	Simulated bool
	Purpose   sequence.Purpose
	Actuation sequence.Actuation
	Attempt   int
	Turn      int // see Stored
	Started   time.Time
	Duration  time.Duration
	Outcome   sequence.Outcome
	Reason    string
	Findings  int
	Worst     string // the first finding and its place, empty when there is none
}

// Recent gives the last n runs, newest first.
func (s *Records) Recent(ctx context.Context, n int) ([]Summary, error) {
	return store.List(ctx, s.db, "list recent runs", scanSummary, `
		SELECT run.id, seq, run.serial, revision.code, revision.label, jig.serial, operator, simulated,
		       attempt, started_us, duration_us, verdict, reason, findings,
		       coalesce(what || ': ' || location, ''), purpose, actuation,
		       coalesce((SELECT turn FROM run_cell WHERE run_cell.run = seq), 0)
		FROM run JOIN revision USING (revision) JOIN jig USING (jig)
		LEFT JOIN run_finding ON run_finding.run = seq AND place = 0
		ORDER BY seq DESC LIMIT ?`, max(n, 0))
}

func scanSummary(rows *sql.Rows) (v Summary, err error) {
	var started, duration int64
	err = rows.Scan(&v.ID, &v.Seq, &v.Serial, &v.Product, &v.Revision, &v.Jig, &v.Operator, &v.Simulated,
		&v.Attempt, &started, &duration, &v.Outcome, &v.Reason, &v.Findings, &v.Worst, &v.Purpose, &v.Actuation, &v.Turn)
	v.Started, v.Duration = time.UnixMicro(started).UTC(), store.FromMicro(duration)
	return v, err
}
