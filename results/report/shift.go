package report

import (
	"fmt"
	"time"

	"padjig/results/answers"
	"padjig/results/care"
	"padjig/results/fails"
	"padjig/results/floor"
	"padjig/results/lines"
)

// Shift writes a shift for whoever takes over.
func Shift(s answers.Shift) Document {
	d := about(s.Selection, fmt.Sprintf("Shift %s of %s", s.Name, s.Day), s.Mixed)
	d.Selection = fmt.Sprintf("%s to %s%s", s.From.Format(floor.MinuteForm), s.To.Format(floor.ZonedForm),
		with(s.Filter))
	jigs, hours := YieldTable("yield", []lines.Dimension{lines.ByJig}, s.Rows), YieldTable("hours",
		[]lines.Dimension{lines.ByHour}, s.Hours)
	jigs.Title = fmt.Sprintf("First-pass and final yield, %s intervals", confidenceOf(s.Selection))
	hours.Title = "Hour by hour"
	causes := CauseTable(s.Causes)
	causes.Title = "Most frequent causes"
	d.Tables = []Table{jigs, hours, causes, LineStopTable(s.Stopped), StopTable(s.Stops)}
	d.Tables = append(d.Tables, TroubleTables(s.Trouble)...)
	d.Tables = append(d.Tables, CalibrationTable(s), ReferenceTable(s.Checks), OpenTable(s.Open), TagTable(s.Tags),
		HappenedTable("events", "What happened", s.Events), SignedTable(s.Signed))
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
	return Table{Name: "calibration", Title: "Calibration at the end of the shift", Empty: "no jig was used", Columns: Columns("jig, zero, verify"),
		Rows: rows(s.Calibrations, func(j answers.JigState) row {
			return row{j.Jig, Word("standing." + string(j.Zero.Status)), Word("standing." + string(j.Verify.Status))}
		})}
}

// ReferenceTable tells what each reference unit last showed on each jig.
func ReferenceTable(checks []care.LastCheck) Table {
	return Table{Name: "reference_units", Title: "Reference units", Empty: "none was ever tested",
		Columns: Columns("jig, unit, kind, at, good, why"),
		Rows:    rows(checks, func(c care.LastCheck) row { return row{c.Jig, c.Unit, fmt.Sprint(c.Kind), c.At, c.Good, c.Why} })}
}

// OpenTable lists units that somebody must still do something about.
func OpenTable(open []lines.OpenUnit) Table {
	return Table{Name: "open_units", Title: "Units that failed and did not pass since", Empty: "none", Most: 20,
		Columns: Columns("serial, jig, failed, runs, cause"),
		Rows:    rows(open, func(u lines.OpenUnit) row { return row{u.Serial, u.Jig, u.Failed, u.Runs, u.Cause} })}
}

// TagTable lists units that failed and lie nobody knows where.
func TagTable(list []fails.Owed) Table {
	return Table{Name: "open_tags", Title: "Tags not scanned at a fail place", Empty: "none", Most: 20,
		Columns: Columns("serial, jig, product, failed, attempt, operator"),
		Rows: rows(list, func(o fails.Owed) row {
			return row{o.Serial, o.Jig, o.Product, o.Started, o.Attempt, o.Operator}
		})}
}

// SignedTable tells who took a shift over.
func SignedTable(list []floor.Handover) Table {
	return Table{Name: "signed", Title: "Taken over by", Empty: "nobody yet", Columns: Columns("by, at, note"),
		Rows: rows(list, func(h floor.Handover) row { return row{h.By, h.At, h.Note} })}
}
