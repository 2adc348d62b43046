package desk

import (
	"html/template"
	"math"
	"slices"
	"strings"

	"padjig/cmd/padjig/web/page"
	"padjig/fixture"
	"padjig/results/report/returned"
	"padjig/sequence"
)

// besidePad draws each key with its resistance as shipped and now, shaded by
// how much it really changed.
func besidePad(v page.Words, life *returned.Life) template.HTML {
	drawn := returned.PadOf(life)
	drawn.Title, drawn.Desc = v.Say("unit.beside"), v.Say("unit.beside.desc", life.Case.Serial)
	drawn.Scale = [2]string{v.Say("unit.nochange"), v.Say("unit.mostchange")}
	beside := map[string]returned.Beside{}
	for _, k := range life.Keys {
		beside[k.Key] = k
	}
	for i := range drawn.Keys {
		d := &drawn.Keys[i]
		k := beside[d.Label]
		now := k.Today()
		switch {
		case now == nil:
			d.Value = math.NaN() // it never closed, or was not tested
		case now.AtLeast:
			d.Value = math.Inf(1)
		case k.Change != nil && k.Change.Real():
			d.Value = math.Abs(float64(k.Change.Value))
		}
		d.Then, d.Now, d.Change = brief(v, k.Shipped), brief(v, now), ""
		d.Tip = d.Label + ": " + exact(v, k.Shipped) + " › " + exact(v, now)
		if in := k.Worst(); in != nil {
			d.Worst, d.Tip = worst(v, in), d.Tip+"; "+k.SaysWorst(v.Facts())
		}
	}
	if drawn.Roomy() {
		return drawn.Chart("beside", 440, false) // it stands beside the table
	}
	return drawn.Chart("beside", 1000, false)
}

// worst is the worst reading in a key.
func worst(v page.Words, in *returned.Reading) string {
	if in.Closed == nil {
		return "∞"
	}
	return brief(v, in.Closed)
}

// brief is a resistance in a key; exact says it with its uncertainty, k = 2.
func brief(v page.Words, r *fixture.Resistance) string {
	switch {
	case r == nil:
		return "–"
	case r.AtLeast || r.Value.IsOpen():
		return "∞"
	}
	return v.Num(0, float64(r.Value))
}

func exact(v page.Words, r *fixture.Resistance) string {
	switch {
	case r == nil:
		return "–"
	case r.AtLeast || r.Value.IsOpen():
		return v.Say("unit.open")
	case r.U.IsOpen() || r.U == 0:
		return v.Near(float64(r.Value)) + " Ω"
	}
	digits := max(0, 1-int(math.Floor(math.Log10(2*float64(r.U)))))
	return v.Num(digits, float64(r.Value)) + " ± " + v.Num(digits, 2*float64(r.U)) + " Ω"
}

// inOhm is the same in a table of ohms.
func inOhm(v page.Words, r *fixture.Resistance) string { return strings.TrimSuffix(exact(v, r), " Ω") }

func ohmsOf(r *fixture.Resistance) float64 {
	switch {
	case r == nil:
		return math.NaN()
	case r.AtLeast:
		return math.Inf(1)
	}
	return float64(r.Value)
}

func besideTable(v page.Words, life *returned.Life) page.Table {
	t := page.Table{Name: "keys", Caption: v.Say("unit.beside"), Columns: []page.Column{page.Col("key", v.Say("col.key")),
		page.NumCol("shipped_ohm", v.Say("unit.shipped")), page.NumCol("first_press_ohm", v.Say("purpose.first-press")),
		page.NumCol("return_test_ohm", v.Say("purpose.return-test")), page.NumCol("exercise_most_ohm", v.Say("unit.most")),
		page.NumCol("change_ohm", v.Say("unit.change")), page.Col("worst", v.Say("unit.worst")), page.NumCol("limit_ohm", v.Say("unit.upper")),
		page.NumCol("change_u_ohm", "U")}}
	for _, k := range life.Keys {
		limit := page.OrNone(float64(k.Limit))
		change, u := math.NaN(), math.NaN()
		if k.Change != nil {
			change, u = float64(k.Change.Value), float64(k.Change.U)
		}
		var most *fixture.Resistance
		if k.Exercise != nil {
			most = k.Exercise.Most
		}
		row := []page.Cell{{Text: k.Key, Value: k.Key, Mark: k.Wrong}, {Text: inOhm(v, k.Shipped), Value: ohmsOf(k.Shipped)}}
		for _, r := range []struct {
			stage sequence.Purpose
			reads *fixture.Resistance
		}{{sequence.FirstPress, k.First}, {sequence.ReturnTest, k.Test}, {sequence.Exercise, most}} {
			row = append(row, page.Cell{Text: inOhm(v, r.reads), Value: ohmsOf(r.reads), Mark: worstAt(k, r.stage)})
		}
		if k.Exercise != nil && most == nil && k.Exercise.Bad() > 0 { // it never closed as it should
			row[len(row)-1].Text = v.Say("unit.notgood", k.Exercise.Bad(), k.Exercise.Presses)
		}
		said := v.Near(change)
		if !math.IsNaN(u) {
			said += " ± " + v.Near(u)
		}
		row = append(row, page.Cell{Text: said, Value: change, Mark: k.Change != nil && k.Change.Real()}, worstCell(v, k))
		t.Rows = append(t.Rows, append(row, v.NearCell(limit), v.NearCell(u)))
	}
	return t
}

// worstAt reports whether a stage read the key worst, where that says something: it found a fault, or a later
// reading was not as bad.
func worstAt(k returned.Beside, stage sequence.Purpose) bool {
	return slices.ContainsFunc(k.Readings, func(in returned.Reading) bool {
		return in.Stage == stage && in.Worst && (in.Bad || k.Worst() != nil)
	})
}

// worstCell names the stage that read the key worst.
func worstCell(v page.Words, k returned.Beside) page.Cell {
	i := slices.IndexFunc(k.Readings, func(in returned.Reading) bool { return in.Worst })
	if i < 0 {
		return page.Cell{Text: "–", Value: ""}
	}
	in := k.Readings[i]
	return page.Cell{Text: purpose(v, in.Stage), Value: string(in.Stage), Mark: in.Bad}
}
