package lines

import (
	"cmp"
	"context"
	"database/sql"
	"math"
	"slices"

	"padjig/results/store"
)

// ProbeRun is what the probes of a jig had to do with one production run.
type ProbeRun struct {
	Run     int64
	Jig     string
	Unit    string
	Loops   []ProbeLoop
	Cleared []int // channels at which it failed, of a unit that passed when it was judged next, without rework
}

// ProbeLoop is the contact of a jig to one tail pin, through both of its probes.
type ProbeLoop struct {
	Channel int // of the jig, which is the tail pin, from 1
	Ohm     float64
	Good    bool
}

// ProbeRuns are the newest runs that a filter chooses, oldest first.
type ProbeRuns struct {
	Runs  []ProbeRun
	Lines map[int]string // by channel, the names of the tail's lines
	Mixed Mixture
}

// Probes gives the contact of the jigs to the tail in the newest n production runs that
// a filter chooses, judged or not. Channels under unused pins are left out. An open loop
// is infinite.
func (s *Records) Probes(ctx context.Context, f Filter, n int) (ProbeRuns, error) {
	out := ProbeRuns{Lines: map[int]string{}}
	err := s.ask(ctx, "look up the contact of probes", f, nil, func(tx *sql.Tx) (err error) {
		if out.Mixed, err = mixture(ctx, tx, f); err != nil {
			return err
		}
		among, err := chooseNewest(ctx, tx, f, "runs", n)
		if err == nil {
			out.Runs, err = newestSeated(ctx, tx, among, n)
		}
		if err == nil && len(out.Runs) < n { // others were not seated
			if among, err = chooseAll(ctx, tx, f, "runs"); err == nil {
				out.Runs, err = newestSeated(ctx, tx, among, n)
			}
		}
		if err != nil || len(out.Runs) == 0 {
			return err
		}
		slices.Reverse(out.Runs)
		if err := out.loops(ctx, tx); err != nil {
			return err
		}
		return out.cleared(ctx, tx)
	})
	return out, err
}

// newestSeated are the newest of some runs in which the contact was read, the newest first.
func newestSeated(ctx context.Context, tx *sql.Tx, among chosen, n int) ([]ProbeRun, error) {
	return store.Collect(ctx, tx, func(rows *sql.Rows) (r ProbeRun, err error) {
		return r, rows.Scan(&r.Run, &r.Unit, &r.Jig)
	}, `SELECT run.seq, run.serial, jig.serial FROM run_cell CROSS JOIN run ON run.seq = run_cell.run JOIN jig ON jig.jig = run.jig
	    WHERE `+among.any+` AND run.seq BETWEEN ? AND ? AND run.seats > 0 AND run.purpose = '' ORDER BY run.seq DESC LIMIT ?`,
		append(slices.Clone(among.args), among.args[0], among.args[1], n)...)
}

// at finds a run among those chosen, nil where it is not.
func (p ProbeRuns) at(run int64) *ProbeRun {
	i, ok := slices.BinarySearchFunc(p.Runs, run, func(r ProbeRun, run int64) int { return cmp.Compare(r.Run, run) })
	if !ok {
		return nil
	}
	return &p.Runs[i]
}

func (p *ProbeRuns) loops(ctx context.Context, tx *sql.Tx) error {
	type pin struct {
		channel int
		line    string
	}
	pins := map[int64]pin{} // few, beside a hundred thousand loops
	if err := store.Visit(ctx, tx, func(rows *sql.Rows) error {
		var number int64
		var of pin
		err := rows.Scan(&number, &of.channel, &of.line)
		pins[number] = of
		return err
	}, `SELECT pin, number, line FROM pin WHERE line <> ''`); err != nil {
		return err
	}
	var of *ProbeRun // that the rows are of
	return store.Visit(ctx, tx, func(rows *sql.Rows) error {
		var run, number int64
		var ohm sql.NullFloat64
		var good bool
		if err := rows.Scan(&run, &number, &good, &ohm); err != nil {
			return err
		}
		if of == nil || of.Run != run {
			of = p.at(run)
		}
		at, used := pins[number]
		if of == nil || !used {
			return nil
		}
		l := ProbeLoop{at.channel, math.Inf(1), good}
		if ohm.Valid {
			l.Ohm = ohm.Float64
		}
		of.Loops = append(of.Loops, l)
		p.Lines[at.channel] = at.line
		return nil
	}, `SELECT run, pin, good, loop_ohm FROM run_seat WHERE run BETWEEN ? AND ? ORDER BY run, place`, p.Runs[0].Run, p.Runs[len(p.Runs)-1].Run)
}

func (p *ProbeRuns) cleared(ctx context.Context, tx *sql.Tx) error {
	return store.Visit(ctx, tx, func(rows *sql.Rows) error {
		var run int64
		var channel int
		if err := rows.Scan(&run, &channel); err != nil {
			return err
		}
		if r := p.at(run); r != nil && !slices.Contains(r.Cleared, channel) {
			r.Cleared = append(r.Cleared, channel)
		}
		return nil
	}, `SELECT failed.seq, pin.value FROM run AS failed JOIN run_finding ON run_finding.run = failed.seq, json_each(run_finding.pins) AS pin
	    WHERE failed.seq BETWEEN ?1 AND ?2 AND failed.verdict = 'fail' AND failed.purpose = ''
	      AND 'pass' = (SELECT verdict FROM run AS next WHERE next.serial = failed.serial AND next.seq > failed.seq
	                    AND next.simulated = failed.simulated AND next.purpose = '' AND next.verdict IN ('pass', 'fail')
	                    ORDER BY next.seq LIMIT 1)
	      AND NOT EXISTS (SELECT 1 FROM rework WHERE rework.serial = failed.serial AND rework.after_run >= failed.seq)`,
		p.Runs[0].Run, p.Runs[len(p.Runs)-1].Run)
}
