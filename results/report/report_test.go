package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"errors"
	"io"
	"math"
	"strings"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/stats"
)

func sample() Document {
	return Document{
		Title: "Yield", Selection: "all runs, SIMULATED", Simulated: true, Remarks: []string{"two revisions are pooled"},
		Tables: []Table{{Name: "yield", Title: "Yields", Columns: []Column{{Name: "jig", Head: "jig"}, {Name: "units", Head: "units"},
			{Name: "first", Head: "first-pass", Unit: "%", Digits: 1}, {Name: "note", Head: "note", Minor: true}},
			Rows: [][]any{{"=J-1", 200, Estimate{0.975, 0.9423, 0.9893}, "a note that is much too long for a narrow terminal, so that it goes"}, {"J-2", 0, nil, ""}}}},
		Conclusion: []string{"Nothing differs."},
	}
}

func TestTextFitsTheTerminal(t *testing.T) {
	for _, wide := range []int{40, 80, 120} {
		var b bytes.Buffer
		require.NoError(t, sample().Text(&b, wide))
		for line := range strings.Lines(b.String()) {
			assert.LessOrEqual(t, len([]rune(strings.TrimRight(line, "\n"))), wide, "%d columns: %s", wide, line)
		}
		assert.Contains(t, b.String(), "97.5 (94.2 to 98.9)")
		assert.Contains(t, b.String(), "SIMULATED")
		assert.Equal(t, wide == 120, strings.Contains(b.String(), "much too long"), "minor columns go first")
		assert.Equal(t, wide != 120, strings.Contains(b.String(), "also: note"), "and are named")
	}
}

func TestCSVReadsBackAndIsNoFormula(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, sample().Tables[0].CSV(&b))
	assert.Contains(t, b.String(), "\r\n")
	rows, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	assert.Equal(t, []string{"jig", "units", "first", "first_low", "first_high", "note"}, rows[0])
	assert.Equal(t, []string{"'=J-1", "200", "0.975", "0.9423", "0.9893"}, rows[1][:5])
	assert.Equal(t, []string{"J-2", "0", "", "", "", ""}, rows[2])
	for _, text := range []string{"=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\rx"} {
		assert.Equal(t, "'"+text, guarded(text))
	}
	assert.Equal(t, "J-1", guarded("J-1"))
}

func TestJSONHasNoWordForInfinity(t *testing.T) {
	d := sample()
	d.Tables[0].Rows[0][2] = Estimate{math.NaN(), math.Inf(-1), math.Inf(1)}
	var b bytes.Buffer
	require.NoError(t, d.JSON(&b))
	var got struct {
		Tables    map[string][]map[string]any
		Simulated bool
	}
	require.NoError(t, json.Unmarshal(b.Bytes(), &got))
	assert.Nil(t, got.Tables["yield"][0]["first"])
	assert.True(t, got.Simulated)
}

// The page is well-formed, needs nothing from elsewhere, and escapes what it shows.
func TestPageStandsAlone(t *testing.T) {
	d := sample()
	d.Conclusion = []string{"<script>alert(1)</script>"}
	var b bytes.Buffer
	require.NoError(t, d.HTML(&b))
	text := b.String()
	assert.NotContains(t, text, "<script>")
	for _, outside := range []string{"http:", "https:", "src=", "url("} {
		assert.NotContains(t, text, outside)
	}
	assert.Contains(t, text, "@page")
	assert.Contains(t, text, "SIMULATED")
	decoder := xml.NewDecoder(strings.NewReader(text))
	decoder.Strict, decoder.AutoClose, decoder.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	for {
		if _, err := decoder.Token(); err != nil {
			require.ErrorIs(t, err, io.EOF)
			return
		}
	}
}

func yields(counts ...[2]int) results.Yields {
	var y results.Yields
	for i, c := range counts {
		row := results.Yield{Groups: []string{string(rune('A' + i))}, Counts: results.Counts{Units: c[1], FirstPassed: c[0], LastPassed: c[0]}}
		y.Rows = append(y.Rows, row)
		y.Total.Units, y.Total.FirstPassed, y.Total.LastPassed = y.Total.Units+c[1], y.Total.FirstPassed+c[0], y.Total.LastPassed+c[0]
	}
	return y
}

func TestYieldInWords(t *testing.T) {
	a := Asked{Confidence: 0.95}
	for name, c := range map[string]struct {
		y    results.Yields
		want []string
	}{
		"one unit":    {yields([2]int{1, 1}), []string{"One unit says next to nothing"}},
		"all passed":  {yields([2]int{50, 50}), []string{"None failed, which does not mean that none can", "92.87 to 100.00 %"}},
		"all failed":  {yields([2]int{0, 50}), []string{"None passed: look at the jig"}},
		"no more":     {yields([2]int{95, 100}, [2]int{96, 100}), []string{"no more than chance alone", "do not rank them"}},
		"by more":     {yields([2]int{80, 100}, [2]int{99, 100}), []string{"by more than chance", "does not say which group, nor why"}},
		"few to tell": {yields([2]int{3, 3}, [2]int{3, 3}), []string{"Too few units or failures"}},
	} {
		t.Run(name, func(t *testing.T) {
			d, err := Yield(a, c.y, []results.By{results.ByJig}, stats.Wilson)
			require.NoError(t, err)
			for _, want := range c.want {
				assert.Contains(t, strings.Join(d.Conclusion, " "), want)
			}
		})
	}
	_, err := Yield(a, results.Yields{}, nil, stats.Wilson)
	assert.ErrorIs(t, err, results.ErrNoUnits)
}

func control(kind ChartKind, values ...float64) Control {
	c := Control{Kind: kind, What: "closed resistance", Unit: "ohm", Rules: stats.DefaultRules, Weight: 0.2, Width: 2.86, K: 0.5, H: 5}
	for i, v := range values {
		g := Group{Name: "u", First: int64(i + 1), Last: int64(i + 1), Values: []float64{v}}
		if kind.Subgroups() {
			g.Values = []float64{v, v + 1, v - 1}
		}
		if kind.Counts() {
			g.Count, g.Size = int(v), 50
		}
		c.Groups = append(c.Groups, g)
	}
	return c
}

// Flow rate data of the e-Handbook, 6.3.2.2 (seen there): ten values, mean
// 50.81, mean moving range 1.8778, limits 45.817 and 55.803.
var flow = []float64{49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1}

func TestLimitsOfIndividuals(t *testing.T) {
	plots, err := control(IMR, flow...).plots()
	require.NoError(t, err)
	l := plots[0].points[0].limits
	assert.InDelta(t, 50.81, l.Center, 0.005)
	assert.InDelta(t, 45.817, l.Lower, 0.005)
	assert.InDelta(t, 55.803, l.Upper, 0.005)
	assert.Len(t, plots[1].points, len(flow)-1)
}

func TestEveryKindOfChart(t *testing.T) {
	values := map[bool][]float64{false: append(append([]float64{}, flow...), 70), true: {2, 3, 1, 2, 2, 1, 30}}
	for _, kind := range ChartKinds {
		t.Run(string(kind), func(t *testing.T) {
			c := control(kind, values[kind.Counts()]...)
			c.Happened = []results.Happening{{AfterRun: 3, Kind: "lot", Text: "membrane M-2", Jig: "J-1", At: time.Unix(0, 0)},
				{AfterRun: 3, Kind: "lot", Text: "membrane M-2", Jig: "J-2", At: time.Unix(0, 0)}}
			before := c
			before.Groups = c.Groups[:len(c.Groups)-1]
			limits, err := before.Limits()
			require.NoError(t, err)
			c.Frozen = &results.Baseline{Limits: limits, By: "Ann", Reason: "calm", Points: 9}
			d, err := Charted(c)
			require.NoError(t, err)
			var text, page bytes.Buffer
			require.NoError(t, d.Text(&text, 80))
			require.NoError(t, d.HTML(&page))
			assert.Contains(t, text.String(), "limits frozen by Ann")
			assert.Contains(t, text.String(), "false alarm in")
			assert.Contains(t, text.String(), "J-1, J-2", "the same on two jigs is one event")
			assert.Contains(t, page.String(), "<svg")
			assert.Contains(t, text.String(), "◆", "the large value signals")
		})
	}
}

func TestChartsThatCannotBe(t *testing.T) {
	for name, c := range map[string]struct {
		control Control
		want    error
	}{
		"no points":     {control(IMR), stats.ErrEmpty},
		"zero variance": {control(IMR, 5, 5, 5, 5), stats.ErrNoSpread},
	} {
		t.Run(name, func(t *testing.T) {
			_, err := Charted(c.control)
			assert.ErrorIs(t, err, c.want)
		})
	}
	for name, c := range map[string]Control{"one unit": control(IMR, 5), "none failed": control(P, 0, 0, 0)} {
		t.Run(name, func(t *testing.T) {
			_, err := Charted(c)
			assert.Error(t, err)
		})
	}
	c := control(XbarR, flow...)
	limits, err := control(IMR, flow...).Limits()
	require.NoError(t, err)
	c.Frozen = &results.Baseline{Limits: limits}
	_, err = Charted(c)
	assert.ErrorContains(t, err, "of another kind of chart")
}

func TestCapabilityOfKeys(t *testing.T) {
	a := Asked{Confidence: 0.95}
	good := KeyValues{Key: "7", Limits: [2]float64{0, 200}, Values: flow}
	d, err := Capability(a, "closed resistance", "ohm", []KeyValues{good, {Key: "8", Values: flow}, {Key: "9", Limits: [2]float64{0, 200}, Values: []float64{5, 5, 5}}})
	require.NoError(t, err)
	text := new(bytes.Buffer)
	require.NoError(t, d.Text(text, 200))
	assert.Contains(t, text.String(), errNoLimits.Error())
	assert.Contains(t, text.String(), "zero variance")
	_, err = Capability(a, "closed resistance", "ohm", []KeyValues{{Key: "7", Limits: [2]float64{0, 200}, Values: []float64{60}}})
	var few *stats.TooFewError
	assert.True(t, errors.As(err, &few), "%v", err)
}

func TestParquetReadsBack(t *testing.T) {
	row := results.ExportRow{Seq: 7, Serial: "GCC-000007-1", Product: "GCC-20", Key: "VENT", Closed: new(81.974), Started: time.UnixMicro(1772427600123456).UTC()}
	open := results.ExportRow{Seq: 8, Key: "VENT", AtLeast: true}
	var b bytes.Buffer
	p := NewParquet(&b)
	require.NoError(t, p.Write(row))
	require.NoError(t, p.Write(open))
	require.NoError(t, p.Close())
	got, err := parquet.Read[exported](bytes.NewReader(b.Bytes()), int64(b.Len()))
	require.NoError(t, err)
	assert.Equal(t, []exported{exportedOf(row), exportedOf(open)}, got)
	assert.Nil(t, got[1].Closed)
}
