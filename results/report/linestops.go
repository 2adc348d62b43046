package report

import (
	"strconv"
	"strings"

	"padjig/results/answers"
	"padjig/results/lines"
)

// LineStops writes where lines stopped themselves.
func LineStops(l answers.LineStops) Document {
	d := about(l.Selection, "Stops", lines.Mixture{})
	d.Tables = []Table{LineStopTable(l.Rows)}
	d.Conclusion = l.Conclusions
	return d
}

// LineStopTable has a row for each stop: what, where, since when, and why it was lifted.
func LineStopTable(list []answers.LineStop) Table {
	return Table{Name: "line_stops", Title: "Stops, those that hold first", Empty: "no line stopped itself", Most: 20,
		Columns: Columns("stop, jig, rule, finding minor, place, stopped, minutes .1, reason, by minor, product minor, units minor, " +
			"of minor, serial minor, run minor, note minor"),
		Rows: rows(list, func(s answers.LineStop) row {
			var reason, by, note any
			if s.Lifted != nil {
				reason, by, note = Word("stopreason."+string(s.Lifted.Reason)), s.Lifted.By, s.Lifted.Note
			}
			var of any
			if s.Of > 0 {
				of = s.Of
			}
			return row{int(s.Number), s.Jig, Word("stoprule." + string(s.Rule)), s.Fault.Finding, placeOf(s), s.At, s.Held.Minutes(),
				reason, by, s.Product, s.Count, of, s.Unit, int(s.Met.Run), note}
		})}
}

// placeOf is the key, the lines or the pins that a stop is about.
func placeOf(s answers.LineStop) any {
	switch {
	case s.Fault.Key != "":
		return "key " + s.Fault.Key
	case s.Fault.Lines != "":
		return s.Fault.Lines
	case len(s.Pins) == 0:
		return nil
	}
	pins := make([]string, len(s.Pins))
	for i, pin := range s.Pins {
		pins[i] = strconv.Itoa(pin)
	}
	return "pin " + strings.Join(pins, ", ")
}

// TroubleTables list what went wrong beside units that failed.
func TroubleTables(t answers.Trouble) []Table {
	ended := func(name, title string, list []lines.Ended, columns string) Table {
		return Table{Name: name, Title: title, Empty: "none", Most: 20, Columns: Columns(columns),
			Rows: rows(list, func(e lines.Ended) row {
				if name == "unfinished" {
					return row{e.At, e.Serial, e.Jig, e.Operator}
				}
				return row{e.At, e.Serial, e.Jig, e.Operator, int(e.Seq), e.Fault}
			})}
	}
	return []Table{
		Table{Name: "probes", Title: "Probes for which units were reseated", Empty: "none", Most: 10,
			Columns: Columns("jig, pin, line, reseats, units"),
			Rows:    rows(t.Probes, func(p lines.Probe) row { return row{p.Jig, p.Pin, p.Line, p.Reseats, p.Units} })},
		Table{Name: "overrides", Title: "Tested although padjig refused", Empty: "none", Most: 20,
			Columns: Columns("at, serial, jig, what, by, reason"),
			Rows: rows(t.Overrides, func(o lines.Override) row {
				return row{o.At, o.Serial, o.Jig, o.What, o.By, o.Reason}
			})},
		ended("aborted", "Aborted after a defect", t.Aborted, "at, serial, jig, operator, run, cause"),
		ended("unfinished", "Begun and not finished", t.Unfinished, "at, serial, jig, operator"),
	}
}
