package report

import (
	"fmt"
	"html/template"
	"strings"

	"padjig/results/answers"
	"padjig/results/lines"
)

// Lots writes what came of each lot of a material.
func Lots(l answers.Lots) Document {
	d := about(l.Selection, "Lots of "+l.Material, l.Mixed)
	t := YieldTable("lots", []lines.Dimension{lines.Dimension(l.Material)}, l.Rows)
	t.Title = fmt.Sprintf("First-pass and final yield, %s intervals", confidenceOf(l.Selection))
	d.Tables = []Table{t}
	if l.NoReadings == nil {
		readings := DistributionTable("readings", "lot", lines.Contact, l.Readings)
		readings.Title = "Contact resistance of key " + l.Key
		d.Tables = append(d.Tables, readings)
	} else {
		d.Remarks = append(d.Remarks, "readings of key "+l.Key+" are left out: "+l.NoReadings.Error())
	}
	d.Tables = append(d.Tables, ChangeoverTable(l))
	d.Charts = []Chart{{Title: "First-pass yield", SVG: func() template.HTML { return yieldChart(l.Rows, 0) }}}
	d.Conclusion = l.Conclusions
	return d
}

// ChangeoverTable lists changes of lot, the newest first.
func ChangeoverTable(l answers.Lots) Table {
	return HappenedTable("changes", "Changes of lot", l.Changes)
}

// HappenedTable lists what happened.
func HappenedTable(name, title string, list []lines.Event) Table {
	return Table{Name: name, Title: title, Empty: "nothing that was recorded", Most: 20,
		Columns: Columns("at, jig, kind, what, after_run"),
		Rows: rows(list, func(h lines.Event) row {
			return row{h.At, h.Jig, Word("event." + h.Kind), happened(h), int(h.AfterRun)}
		})}
}

// happened is what an event was: a sentence where it has words, else as it was written.
func happened(e lines.Event) any {
	switch {
	case len(e.Args) == 0:
		return e.Text
	case e.Kind == "calibration":
		return answers.Say("happened.calibration." + strings.Join(e.Args, "."))
	case e.Kind != "lot":
		return answers.Say("happened."+string(e.Kind), each(e.Args)...)
	}
	var all answers.Sentence // material and lot in turn
	for i := len(e.Args) - 2; i >= 0; i -= 2 {
		if one := answers.Say("happened.lot", each(e.Args[i:i+2])...); i == len(e.Args)-2 {
			all = one
		} else {
			all = answers.Say("happened.lots", one, all)
		}
	}
	return all
}

func each(args []string) (out []any) {
	for _, arg := range args {
		out = append(out, arg)
	}
	return out
}
