package report

import (
	"cmp"
	"fmt"
	"math"
	"strings"

	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/sequence/wording"
)

// about begins the document of an answer about a selection of runs.
func about(s answers.Selection, title string, mixed lines.Mixture) Document {
	d := Document{Title: title, Selection: s.Filter.String(), Link: s.Filter.Values().Encode(),
		Simulated: s.Filter.Simulated}
	for _, one := range s.Usual {
		d.Remarks = append(d.Remarks, Say(terminal, one))
	}
	if mixed.Any() {
		d.Remarks = append(d.Remarks, mixed.String()+": the numbers below pool them")
	}
	if !whole(s.Filter) {
		d.Remarks = append(d.Remarks, "sums are kept by whole hours: the hours in which the time range begins and ends are taken in whole")
	}
	return d
}

// whole reports whether a time range begins and ends with an hour.
func whole(f lines.Filter) bool {
	return (f.From.IsZero() || f.From.Minute()+f.From.Second() == 0) && (f.To.IsZero() || f.To.Minute()+f.To.Second() == 0)
}

// confidenceOf writes the confidence of intervals.
func confidenceOf(s answers.Selection) string {
	return percent(cmp.Or(s.Confidence, answers.Confidence))
}

func percent(share float64) string { return fmt.Sprintf("%.4g %%", 100*share) }

// named says that something has no name.
func named(group string) string { return cmp.Or(group, "(none)") }

// limit is nothing where there is none.
func limit(v float64) any {
	if v == 0 {
		return nil
	}
	return v
}

// finite is nothing for an open end.
func finite(x float64) any {
	if math.IsInf(x, 0) || math.IsNaN(x) {
		return nil
	}
	return x
}

// reason is why a row has no numbers, nothing where it has.
func reason(err error) any {
	if err == nil {
		return nil
	}
	return err.Error()
}

// orNone is a limit for a drawing.
func orNone(v float64) float64 { return cmp.Or(v, math.NaN()) }

func groupName(groups []string) string { return named(strings.TrimSpace(strings.Join(groups, " "))) }

// Measured is what a reading is called.
func Measured(lang wording.Words, m lines.Measure) string { return word(lang, "measure."+string(m)) }
