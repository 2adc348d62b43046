package report

import (
	"fmt"
	"time"

	"padjig/results"
	"padjig/results/stats"
)

// Shift is what is known of one shift.
type Shift struct {
	Asked
	Name, Day    string
	From, To     time.Time
	Yields       results.Yields // by jig
	Causes       results.Causes // by place
	Units        []results.Judged
	Rule         stats.StopRule
	Calibrations []JigState
	Checks       []results.LastCheck
	Open         []results.OpenUnit
	Signed       []results.Handover
}

// JigState is how the calibration of a jig stood at the end of a shift.
type JigState struct{ Jig, Zero, Verify string }

// ShiftPage reports a shift for whoever takes over.
func ShiftPage(s Shift, share Share) (Document, error) {
	d := s.document(fmt.Sprintf("Shift %s of %s", s.Name, s.Day), results.Mixture{})
	d.Selection = fmt.Sprintf("%s to %s%s", s.From.Local().Format("2006-01-02 15:04"), s.To.Local().Format("2006-01-02 15:04 MST"), with(s.Filter))
	if s.Yields.Mixed.Any() {
		d.Remarks = append(d.Remarks, s.Yields.Mixed.String()+": the numbers below pool them")
	}
	t := yieldTable(s.Asked, s.Yields, []results.By{results.ByJig}, share)
	t.Empty = "no unit was tested"
	d.Tables = []Table{t, s.causes(), Stopped(s.Asked, s.Units, s.Rule), s.jigs(), s.checks(), s.open(), s.signatures()}
	switch {
	case s.Yields.Total.Units == 0:
		d.Conclusion = append(d.Conclusion, "No unit was judged in this shift.")
	default:
		d.Conclusion = append(d.Conclusion, totalWords(s.Asked, s.Yields.Total, share))
	}
	if len(s.Signed) == 0 {
		d.Conclusion = append(d.Conclusion, "Nobody has taken this shift over yet: --sign NAME.")
	}
	return d, nil
}

func with(f results.Filter) string {
	f.Shifts, f.From, f.To = nil, time.Time{}, time.Time{}
	if text := f.String(); text != "all runs" && text != "all runs, SIMULATED" {
		return ", " + text
	}
	return ""
}

func (s Shift) causes() Table {
	t := Table{Name: "causes", Title: "Most frequent causes", Empty: "no unit failed", Most: 5,
		Columns: []Column{{Name: "cause", Head: "what and where"}, {Name: "units", Head: "units"}, {Name: "of_failed", Head: "of failed", Unit: "%", Digits: 0}}}
	for _, c := range s.Causes.Rows {
		if c.Worst > 0 {
			t.Rows = append(t.Rows, []any{c.Name, c.Worst, float64(c.Worst) / float64(max(s.Causes.Failed, 1))})
		}
	}
	return t
}

func (s Shift) jigs() Table {
	t := Table{Name: "calibration", Title: "Calibration at the end of the shift", Empty: "no jig was used",
		Columns: []Column{{Name: "jig", Head: "jig"}, {Name: "zero", Head: "zero"}, {Name: "verify", Head: "verification"}}}
	for _, j := range s.Calibrations {
		t.Rows = append(t.Rows, []any{j.Jig, j.Zero, j.Verify})
	}
	return t
}

func (s Shift) checks() Table {
	t := Table{Name: "reference_units", Title: "Reference units", Empty: "none was ever tested",
		Columns: []Column{{Name: "jig", Head: "jig"}, {Name: "unit", Head: "unit"}, {Name: "kind", Head: "known as"}, {Name: "at", Head: "last"}, {Name: "good", Head: "as it must"}, {Name: "why", Head: "why not"}}}
	for _, c := range s.Checks {
		t.Rows = append(t.Rows, []any{c.Jig, c.Unit, c.Kind, c.At, c.Good, c.Why})
	}
	return t
}

func (s Shift) open() Table {
	t := Table{Name: "open_units", Title: "Units that failed and did not pass since", Empty: "none", Most: 20,
		Columns: []Column{{Name: "serial", Head: "unit"}, {Name: "jig", Head: "jig"}, {Name: "failed", Head: "failed"}, {Name: "runs", Head: "tests"}, {Name: "cause", Head: "last with"}}}
	for _, u := range s.Open {
		t.Rows = append(t.Rows, []any{u.Serial, u.Jig, u.Failed, u.Runs, u.Cause})
	}
	return t
}

func (s Shift) signatures() Table {
	t := Table{Name: "signed", Title: "Taken over by", Empty: "nobody yet",
		Columns: []Column{{Name: "by", Head: "name"}, {Name: "at", Head: "when"}, {Name: "note", Head: "note"}}}
	for _, h := range s.Signed {
		t.Rows = append(t.Rows, []any{h.By, h.At, h.Note})
	}
	return t
}
