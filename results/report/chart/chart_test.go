package chart

import (
	"encoding/xml"
	"errors"
	"io"
	"math"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func sorted[V any](m map[string]V) []string {
	var names []string
	for name := range m {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}

// Every chart is well-formed, named and described, without style of its own,
// with every number finite and every id used once.
func TestChartsAreFitForAPage(t *testing.T) {
	ids := map[string]string{}
	for _, name := range sorted(samples()) {
		t.Run(name, func(t *testing.T) {
			elements := parse(t, string(samples()[name]))
			for i, e := range elements {
				if e.Name.Local != "svg" {
					continue
				}
				role := "img"
				if slices.ContainsFunc(upTo(elements[i+1:], "svg"), func(e xml.StartElement) bool { return attr(e, "class") == "c-spot" }) {
					role = "group" // what is in a picture cannot be reached
				}
				assert.Equal(t, role, attr(e, "role"))
				assert.Equal(t, "title", elements[i+1].Name.Local)
				assert.Equal(t, "desc", elements[i+2].Name.Local)
				assert.Equal(t, attr(elements[i+1], "id")+" "+attr(elements[i+2], "id"), attr(e, "aria-labelledby"))
			}
			for _, e := range elements {
				if id := attr(e, "id"); id != "" {
					assert.Empty(t, ids[id], "id %s is used in another chart", id)
					ids[id] = name
				}
				assert.Empty(t, attr(e, "style"), e.Name.Local)
				finite(t, e)
			}
		})
	}
}

// upTo is a list up to the next element of a name.
func upTo(list []xml.StartElement, name string) []xml.StartElement {
	if i := slices.IndexFunc(list, func(e xml.StartElement) bool { return e.Name.Local == name }); i >= 0 {
		return list[:i]
	}
	return list
}

func parse(t *testing.T, svg string) []xml.StartElement {
	t.Helper()
	var out []xml.StartElement
	for d := xml.NewDecoder(strings.NewReader(svg)); ; {
		token, err := d.Token()
		if errors.Is(err, io.EOF) {
			return out
		}
		require.NoError(t, err)
		if e, ok := token.(xml.StartElement); ok {
			out = append(out, e)
		}
	}
}

func attr(e xml.StartElement, name string) string {
	for _, a := range e.Attr {
		if a.Name.Local == name {
			return a.Value
		}
	}
	return ""
}

func finite(t *testing.T, e xml.StartElement) {
	t.Helper()
	for _, name := range []string{"x", "y", "x1", "x2", "y1", "y2", "width", "height", "cx", "cy", "r"} {
		if text := attr(e, name); text != "" {
			v, err := strconv.ParseFloat(text, 64)
			assert.NoError(t, err)
			assert.False(t, math.IsNaN(v) || math.IsInf(v, 0), "%s of %s is %s", name, e.Name.Local, text)
		}
	}
	assert.NotContains(t, attr(e, "d"), "NaN")
	assert.NotContains(t, attr(e, "d"), "Inf")
}

// What people wrote comes into a drawing as text and nothing else.
func TestTextIsEscaped(t *testing.T) {
	evil := `<script>"&'`
	svg := string(Bars{Frame: Frame{ID: `a"b`, Title: evil, Desc: evil, Width: 600},
		Bars: []Bar{{Name: evil, Value: 1, Text: evil, Tip: evil}}}.SVG())
	assert.NotContains(t, svg, "<script")
	for _, e := range parse(t, svg) {
		assert.NotEqual(t, "script", e.Name.Local)
	}
}

// A bar is as long as its value, a point as high as its own.
func TestPlacesAreInProportion(t *testing.T) {
	svg := string(Bars{Frame: Frame{ID: "b", Width: 600}, Bars: []Bar{
		{Name: "a", Value: 40, Low: math.NaN(), High: math.NaN()}, {Name: "b", Value: 10, Low: math.NaN(), High: math.NaN()}}}.SVG())
	var wide []float64
	for _, e := range parse(t, svg) {
		if attr(e, "class") == "c-bar" {
			v, err := strconv.ParseFloat(attr(e, "width"), 64)
			require.NoError(t, err)
			wide = append(wide, v)
		}
	}
	require.Len(t, wide, 2)
	assert.InDelta(t, 4, wide[0]/wide[1], 0.01)
}

// A signalled point is a diamond with its number, the others are dots.
func TestSignalsDifferInShape(t *testing.T) {
	points := []Point{{Value: 1, Lower: 0, Centre: 1, Upper: 2}, {Value: 3, Lower: 0, Centre: 1, Upper: 2, Signal: 4}}
	svg := string(Control{Frame: Frame{ID: "c", Width: 600, Height: 200}, Points: points}.SVG())
	assert.Equal(t, 1, strings.Count(svg, `<circle class="c-point"`))
	assert.Equal(t, 1, strings.Count(svg, `<path class="c-signal"`))
	assert.Contains(t, svg, `>4</text>`)
}

func TestTicksAreRoundAndWithin(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		from := rapid.Float64Range(-1e6, 1e6).Draw(t, "from")
		wide := rapid.Float64Range(1e-3, 1e6).Draw(t, "wide")
		n := rapid.IntRange(1, 12).Draw(t, "n")
		ticks := scale{from: from, to: from + wide, end: 100}.ticks(n)
		if len(ticks) > n+1 {
			t.Fatalf("%d ticks where %d were asked for", len(ticks), n)
		}
		for i, k := range ticks {
			if k.v < from-wide*1e-6 || k.v > from+wide*(1+1e-6) {
				t.Fatalf("tick %v outside %v to %v", k.v, from, from+wide)
			}
			if i > 0 && k.v <= ticks[i-1].v {
				t.Fatalf("ticks do not rise: %v", ticks)
			}
		}
	})
}

func TestTicks(t *testing.T) {
	for name, c := range map[string]struct {
		scale scale
		n     int
		want  []tick
	}{
		"whole":       {scale{from: 0, to: 10, end: 1}, 5, []tick{{0, 0}, {2, 0}, {4, 0}, {6, 0}, {8, 0}, {10, 0}}},
		"tenths":      {scale{from: 0.1, to: 0.5, end: 1}, 4, []tick{{0.1, 1}, {0.2, 1}, {0.3, 1}, {0.4, 1}, {0.5, 1}}},
		"two decades": {scale{from: 1, to: 100, end: 1, log: true}, 6, []tick{{1, 0}, {2, 0}, {5, 0}, {10, 0}, {20, 0}, {50, 0}, {100, 0}}},
	} {
		t.Run(name, func(t *testing.T) {
			got := c.scale.ticks(c.n)
			require.Len(t, got, len(c.want))
			for i := range got {
				assert.InDelta(t, c.want[i].v, got[i].v, 1e-9)
				assert.Equal(t, c.want[i].digits, got[i].digits)
			}
		})
	}
}

// BenchmarkPage is what a page of small multiples takes: 20 keys with 60 bins each.
func BenchmarkPage(b *testing.B) {
	d := Distribution{Frame: Frame{ID: "d", Title: "key", Width: 300, Height: 160}, Lower: math.NaN(), Upper: 200}
	for i := range 60 {
		d.Bins = append(d.Bins, Bin{Low: float64(i), High: float64(i + 1), Count: float64(i % 9)})
	}
	for b.Loop() {
		for range 20 {
			d.SVG()
		}
	}
}
