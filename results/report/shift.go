package report

import (
	"fmt"
	"time"

	"padjig/results/answers"
	"padjig/results/care"
	"padjig/results/floor"
	"padjig/results/lines"
)

// Shift writes a shift for whoever takes over.
func Shift(s answers.Shift) Document {
	d := about(s.Selection, fmt.Sprintf("Shift %s of %s", s.Name, s.Day), s.Mixed)
	d.Selection = fmt.Sprintf("%s to %s%s", s.From.Format("2006-01-02 15:04"), s.To.Format("2006-01-02 15:04 MST"),
		with(s.Filter))
	jigs, hours := YieldTable("yield", []lines.Dimension{lines.ByJig}, s.Rows), YieldTable("hours",
		[]lines.Dimension{lines.ByHour}, s.Hours)
	jigs.Title = fmt.Sprintf("First-pass and final yield, %s intervals", confidenceOf(s.Selection))
	hours.Title = "Hour by hour"
	causes := CauseTable(s.Causes)
	causes.Title = "Most frequent causes"
	d.Tables = []Table{jigs, hours, causes, StopTable(s.Stops), CalibrationTable(s), ReferenceTable(s.Checks),
		OpenTable(s.Open),
		HappenedTable("events", "What happened", s.Events), SignedTable(s.Signed)}
	d.Conclusion = s.Conclusions
	return d
}

func with(f lines.Filter) string {
	f.Shifts, f.From, f.To = nil, time.Time{}, time.Time{}
	if text := f.String(); text != "all runs" && text != "all runs, SIMULATED" {
		return ", " + text
	}
	return ""
}

// CalibrationTable tells how the jigs stood at the end of a shift.
func CalibrationTable(s answers.Shift) Table {
	t := Table{Name: "calibration", Title: "Calibration at the end of the shift", Empty: "no jig was used",
		Columns: []Column{{Name: "jig"}, {Name: "zero"}, {Name: "verify"}}}
	for _, j := range s.Calibrations {
		t.Rows = append(t.Rows, []any{j.Jig, Word("standing." + string(j.Zero.Status)),
			Word("standing." + string(j.Verify.Status))})
	}
	return t
}

// ReferenceTable tells what each reference unit last showed on each jig.
func ReferenceTable(checks []care.LastCheck) Table {
	t := Table{Name: "reference_units", Title: "Reference units", Empty: "none was ever tested",
		Columns: []Column{{Name: "jig"}, {Name: "unit"}, {Name: "kind"}, {Name: "at"}, {Name: "good"}, {Name: "why"}}}
	for _, c := range checks {
		t.Rows = append(t.Rows, []any{c.Jig, c.Unit, fmt.Sprint(c.Kind), c.At, c.Good, c.Why})
	}
	return t
}

// OpenTable lists units that somebody must still do something about.
func OpenTable(open []lines.OpenUnit) Table {
	t := Table{Name: "open_units", Title: "Units that failed and did not pass since", Empty: "none", Most: 20,
		Columns: []Column{{Name: "serial"}, {Name: "jig"}, {Name: "failed"}, {Name: "runs"}, {Name: "cause"}}}
	for _, u := range open {
		t.Rows = append(t.Rows, []any{u.Serial, u.Jig, u.Failed, u.Runs, u.Cause})
	}
	return t
}

// SignedTable tells who took a shift over.
func SignedTable(list []floor.Handover) Table {
	t := Table{Name: "signed", Title: "Taken over by", Empty: "nobody yet",
		Columns: []Column{{Name: "by"}, {Name: "at"}, {Name: "note"}}}
	for _, h := range list {
		t.Rows = append(t.Rows, []any{h.By, h.At, h.Note})
	}
	return t
}
