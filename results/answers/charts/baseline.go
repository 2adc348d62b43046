package charts

import (
	"context"
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/stats"
	"padjig/results/stats/control"
)

// Identity is what frozen limits belong to. They hold for a chart of the same
// identity and for no other, whatever surface froze or draws it.
type Identity struct {
	Product  string        // hashes of the definitions, sorted
	Measure  lines.Measure // empty for charts of counts
	Keys     string        // labels, sorted; empty for all or none
	Jigs     string        // sorted; empty for all
	Chart    ChartKind     // its family: what shares limits
	Subgroup string        // "1" for single values
	Finding  string
	Press    string
}

// String is the name under which limits are on record.
func (i Identity) String() string {
	return fmt.Sprintf("chart %s; subgroup %s; measure %s; keys %s; jigs %s; product %s; finding %s; press %s",
		i.Chart, i.Subgroup, i.Measure.Recorded(), i.Keys, i.Jigs, i.Product, i.Finding, i.Press)
}

func (c *charting) identity(ctx context.Context, s *results.Store) (Identity, error) {
	hashes, err := s.Lines.Hashes(ctx, c.Filter)
	if err != nil {
		return Identity{}, err
	}
	id := Identity{Product: sorted(hashes), Jigs: sorted(c.Filter.Jigs), Chart: c.Kind.family(), Subgroup: c.Subgroup,
		Press: string(c.Filter.Actuation)}
	if c.Subgroup == ByUnits {
		id.Subgroup = fmt.Sprint(c.Size)
	}
	if c.Kind.Counts() {
		id.Finding = c.Finding
		return id, nil
	}
	if !c.Kind.Subgroups() {
		id.Subgroup = "1"
	}
	pad, err := s.Lines.Pad(ctx, c.Filter)
	if err != nil {
		return id, err
	}
	labels, err := c.Keys.In(pad)
	id.Measure, id.Keys = c.Measure, sorted(labels)
	return id, err
}

func sorted(list []string) string {
	return strings.Join(slices.Compact(slices.Sorted(slices.Values(list))), ",")
}

// baseline is what limits are computed from; it is what gets frozen.
type baseline struct {
	Individuals *control.Individuals `json:"individuals,omitempty"`
	Subgrouped  *control.Subgrouped  `json:"subgrouped,omitempty"`
	Proportions *control.Proportions `json:"proportions,omitempty"`
	Rates       *control.Rates       `json:"rates,omitempty"`
}

// of reports whether a baseline is one of a family of charts.
func (b baseline) of(family ChartKind) bool {
	switch family {
	case XbarR, XbarS:
		return b.Subgrouped != nil
	case P:
		return b.Proportions != nil
	case U:
		return b.Rates != nil
	}
	return b.Individuals != nil
}

// setBaseline takes the frozen limits, or else those of the first subgroups.
func (c *charting) setBaseline() (err error) {
	if c.Frozen == nil {
		c.base, c.Base, err = c.computed()
		return err
	}
	if err := json.Unmarshal(c.Frozen.Limits, &c.base); err != nil {
		return fmt.Errorf("baseline %d: %w", c.Frozen.Seq, err)
	}
	if !c.base.of(c.Kind.family()) {
		return fmt.Errorf("baseline %d is of another kind of chart", c.Frozen.Seq)
	}
	return nil
}

// computed is the baseline of the first subgroups, and how many they are.
func (c *charting) computed() (b baseline, n int, err error) {
	first := c.groups[:min(c.Baseline, len(c.groups))]
	switch n = len(first); c.Kind {
	case XbarR, XbarS:
		newOne := map[ChartKind]func([][]float64) (control.Subgrouped, error){XbarR: control.NewXbarR,
			XbarS: control.NewXbarS}[c.Kind]
		s, err := newOne(valuesOf(first))
		b.Subgrouped = &s
		return b, n, err
	case P, NP:
		p, err := control.NewProportions(samplesOf(first))
		if err == nil && (p.Share == 0 || p.Share == 1) {
			err = stats.ErrNoSpread // none or all failed: limits would have no width
		}
		b.Proportions = &p
		return b, n, err
	case C, U:
		r, err := control.NewRates(samplesOf(first))
		if err == nil && r.Rate == 0 {
			err = stats.ErrNoSpread
		}
		b.Rates = &r
		return b, n, err
	}
	i, err := control.NewIndividuals(slices.Concat(valuesOf(first)...))
	b.Individuals = &i
	return b, n, err
}

func valuesOf(groups []Group) (out [][]float64) {
	for _, g := range groups {
		out = append(out, g.Values)
	}
	return out
}

func samplesOf(groups []Group) (out []control.Sample) {
	for _, g := range groups {
		out = append(out, control.Sample{Count: g.Count, Size: g.Size})
	}
	return out
}

// ErrFewSubgroups is returned where there are too few subgroups to freeze.
type ErrFewSubgroups struct{ Have int }

func (e *ErrFewSubgroups) Error() string {
	return fmt.Sprintf("%d subgroups are too few to freeze limits: at least %d are needed", e.Have, answers.LeastBaseline)
}

// Freeze writes down the limits of a chart, computed anew from its first
// subgroups whatever was frozen before: they hold for charts of the same
// identity from then on. The newest ones hold, older ones stay on record.
func Freeze(ctx context.Context, s *results.Store, a ChartAsked, by, reason string) (Identity, error) {
	c, err := a.gather(ctx, s)
	if err != nil {
		return Identity{}, err
	}
	b, n, err := c.computed()
	if err != nil {
		return c.Identity, err
	}
	if n < answers.LeastBaseline {
		return c.Identity, &ErrFewSubgroups{n}
	}
	limits, err := json.Marshal(b)
	if err != nil {
		return c.Identity, err
	}
	return c.Identity, s.Lines.SaveBaseline(ctx, lines.Baseline{Subject: c.Identity.String(),
		Selection: c.Filter.Values().Encode(),
		Points:    n, Limits: limits, Simulated: c.Filter.Simulated, By: by, Reason: reason})
}
