package report_test

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/report"
)

// A group that is too small to be drawn is named once, below the chart.
func TestSmallGroupsAreNamedOnce(t *testing.T) {
	group := func(name string, units int) answers.YieldRow {
		row := answers.YieldRow{}
		row.Groups, row.Units = []string{name}, units
		return row
	}
	y := answers.Yield{Rows: []answers.YieldRow{
		group("J-0041", 400), group("J-0042", answers.SmallGroup), group("J-0043", answers.SmallGroup-1)}}
	y.By = []lines.Dimension{lines.ByJig}
	d := report.Yield(y)
	all := d.Charts[0].Title + string(d.Charts[0].SVG())
	assert.Equal(t, 1, strings.Count(all, "J-0043"), all)
	assert.Contains(t, all, "10 units each: J-0043 (n 9)")
	assert.NotContains(t, all, "J-0042 (n", "drawn to scale")
}
