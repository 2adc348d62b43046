package report

import (
	"fmt"
	"html/template"
	"slices"

	"padjig/results/report/chart"
	"padjig/results/stats"
)

// SamplingAsked is what a sampling plan is to do.
type SamplingAsked struct {
	Risks      stats.Risks // the two points of the curve; Good and Bad are looked at for a given plan too
	Plan       stats.Plan  // given, or the zero plan: to be designed
	Lot        int         // units in a lot, 0: not known
	Sequential bool        // also the test unit by unit
	Shares     []float64   // of bad units to show; none: a useful range
}

// Sampling reports a single sampling plan with its operating characteristic,
// and the sequential test with the same risks.
func Sampling(a SamplingAsked) (Document, error) {
	plan := a.Plan
	if plan == (stats.Plan{}) {
		designed, err := a.Risks.Design()
		if err != nil {
			return Document{}, err
		}
		plan = designed
	}
	if err := plan.Check(); err != nil {
		return Document{}, err
	}
	if a.Lot > 0 && a.Lot < plan.N {
		return Document{}, fmt.Errorf("a lot of %d is smaller than the sample of %d: test all of it", a.Lot, plan.N)
	}
	d := Document{Title: "Sampling plan", Selection: "lots from a process with a steady share of bad units"}
	d.Tables = []Table{planTable(a, plan), curveTable(a, plan)}
	d.Charts = []Chart{{Title: "Operating characteristic", SVG: func() template.HTML { return curveChart(a, plan) }}}
	d.Conclusion = planWords(a, plan)
	if a.Sequential {
		s, err := stats.NewSequential(a.Risks)
		if err != nil {
			return Document{}, err
		}
		d.Tables = append(d.Tables, sequentialTable(s, plan.N), sequentialCurve(a, s, plan))
		d.Conclusion = append(d.Conclusion, sequentialWords(s))
	}
	return d, nil
}

func planTable(a SamplingAsked, plan stats.Plan) Table {
	t := Table{Name: "plan", Title: "The plan", Columns: []Column{
		{Name: "sample", Head: "test"}, {Name: "accept", Head: "accept up to"}, {Name: "reject", Head: "reject from"},
		{Name: "producer_risk", Head: "good lot rejected", Unit: "%", Digits: 2},
		{Name: "consumer_risk", Head: "bad lot accepted", Unit: "%", Digits: 2},
	}}
	row := []any{plan.N, plan.Accept, plan.Accept + 1, 1 - plan.Accepts(a.Risks.Good), plan.Accepts(a.Risks.Bad)}
	if a.Lot > 0 {
		limit, at := plan.WorstOutgoing(a.Lot)
		t.Columns = append(t.Columns, Column{Name: "worst_outgoing", Head: "worst average out", Unit: "%", Digits: 3},
			Column{Name: "worst_at", Head: "at bad in", Unit: "%", Digits: 2})
		row = append(row, limit, at)
	}
	t.Rows = [][]any{row}
	return t
}

// sharesOf are the shares of bad units worth showing.
func (a SamplingAsked) sharesOf(plan stats.Plan) []float64 {
	if len(a.Shares) > 0 {
		return a.Shares
	}
	shares := []float64{a.Risks.Good, a.Risks.Bad}
	for _, chance := range []float64{0.99, 0.95, 0.9, 0.75, 0.5, 0.25, 0.1, 0.05, 0.01} {
		shares = append(shares, plan.ShareAccepted(chance))
	}
	slices.Sort(shares)
	return shares
}

func curveTable(a SamplingAsked, plan stats.Plan) Table {
	t := Table{Name: "curve", Title: "What becomes of a lot, by its share of bad units", Columns: []Column{
		{Name: "bad", Head: "bad", Unit: "%", Digits: 3}, {Name: "accepted", Head: "accepted", Unit: "%", Digits: 2},
	}}
	if a.Lot > 0 {
		t.Columns = append(t.Columns, Column{Name: "outgoing", Head: "bad after inspection", Unit: "%", Digits: 3},
			Column{Name: "tested", Head: "tested a lot", Digits: 1})
	}
	for _, share := range a.sharesOf(plan) {
		row := []any{share, plan.Accepts(share)}
		if a.Lot > 0 {
			quality, tested := plan.Outgoing(share, a.Lot)
			row = append(row, quality, tested)
		}
		t.Rows = append(t.Rows, row)
	}
	return t
}

func planWords(a SamplingAsked, plan stats.Plan) []string {
	words := []string{fmt.Sprintf(
		"Test %d units of a lot; accept it when at most %d fail. A lot with %s bad is rejected with a chance of %s, one with %s bad is accepted with a chance of %s.",
		plan.N, plan.Accept, percent(a.Risks.Good), percent(1-plan.Accepts(a.Risks.Good)),
		percent(a.Risks.Bad), percent(plan.Accepts(a.Risks.Bad)))}
	if plan.Accepts(a.Risks.Bad) > a.Risks.Consumer || 1-plan.Accepts(a.Risks.Good) > a.Risks.Producer {
		words = append(words, fmt.Sprintf("That is more than the risks asked for (%s and %s): leave the plan open to have one designed.",
			percent(a.Risks.Producer), percent(a.Risks.Consumer)))
	}
	return append(words,
		"Sampling protects against bad lots, not against bad units: an accepted lot may hold some. It assumes that units are drawn by chance and that the test does not err; see padjig quality retest for one that does.")
}

func curveChart(a SamplingAsked, plan stats.Plan) template.HTML {
	c := chart.Curves{Frame: chart.Frame{ID: "curve", Title: "Operating characteristic", Desc: "Chance that a lot is accepted, over its share of bad units.", Width: 720, Height: 320},
		X: chart.Axis{Label: "bad units in the lot, %"}, Y: chart.Axis{Label: "accepted, %", To: 100}}
	const points = 120
	most := plan.ShareAccepted(0.005)
	line := chart.Curve{Name: fmt.Sprintf("%d of %d", plan.Accept, plan.N)}
	for i := range points + 1 {
		share := most * float64(i) / points
		line.X, line.Y = append(line.X, 100*share), append(line.Y, 100*plan.Accepts(share))
	}
	c.Curves = []chart.Curve{line}
	for _, share := range []float64{a.Risks.Good, a.Risks.Bad} {
		c.Marks = append(c.Marks, chart.Mark{X: 100 * share, Y: 100 * plan.Accepts(share), Text: percent(plan.Accepts(share))})
	}
	return c.SVG()
}

// sequentialTable lists where the numbers of the sequential test change.
func sequentialTable(s stats.Sequential, upTo int) Table {
	t := Table{Name: "sequential", Title: "Unit by unit: stop as soon as the failed reach one of the numbers", Columns: []Column{
		{Name: "tested", Head: "tested"}, {Name: "accept", Head: "accept up to"}, {Name: "reject", Head: "reject from"},
	}}
	lastAccept, lastReject := -2, -2
	for n := 1; n <= upTo; n++ {
		accept, reject := s.At(n)
		if accept != lastAccept || reject != lastReject {
			t.Rows = append(t.Rows, []any{n, countOrNothing(accept), countOrNothing(reject)})
		}
		lastAccept, lastReject = accept, reject
	}
	return t
}

func countOrNothing(n int) any {
	if n < 0 {
		return nil
	}
	return n
}

func sequentialCurve(a SamplingAsked, s stats.Sequential, plan stats.Plan) Table {
	t := Table{Name: "sequential_curve", Title: "What the sequential test does", Columns: []Column{
		{Name: "bad", Head: "bad", Unit: "%", Digits: 3}, {Name: "accepted", Head: "accepted", Unit: "%", Digits: 2},
		{Name: "tested", Head: "tested on average", Digits: 1},
	}}
	for _, share := range a.sharesOf(plan) {
		accepted, tested := s.Exact(share)
		t.Rows = append(t.Rows, []any{share, accepted, tested})
	}
	return t
}

func sequentialWords(s stats.Sequential) string {
	return fmt.Sprintf("Of n tested, the sequential test accepts at up to %.4f n - %.3f failed and rejects from %.4f n + %.3f on (Wald). It has no largest n: agree beforehand on where to break it off, and keep the risks in mind that this changes.",
		s.Slope, s.Below, s.Slope, s.Above)
}
