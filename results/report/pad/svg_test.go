package pad

import (
	"encoding/xml"
	"errors"
	"flag"
	"fmt"
	"io"
	"math"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"padjig/sequence"
	"padjig/sequence/product"
)

var update = flag.Bool("update", false, "write the drawings of testdata anew")

// every gives the keys of a pad all states in turn.
func every(p Pad) Pad {
	for i := range p.Keys {
		k := &p.Keys[i]
		k.State = State(i % len(marks))
		if k.State == Failed {
			k.Defect = i
		}
		k.Then, k.Now, k.Tip = "12", fmt.Sprint(i), "key "+k.Label
		if k.State == Rose || k.State == Fell {
			k.Change = "+1.2 ± 0.3"
		}
	}
	p.Title, p.Desc = "The pad", "Every key with what is known of it."
	return p
}

func shaded(p Pad) Pad {
	p = every(p)
	p.Scale = [2]string{"none", "most"}
	for i := range p.Keys {
		k := &p.Keys[i]
		k.State, k.Then, k.Change, k.Value = Plain, "", "", float64(i)
	}
	p.Keys[1].Value, p.Keys[2].Value, p.Keys[3].State = math.NaN(), math.Inf(1), Wrong
	return p
}

// drawings are all that the package writes of a pad.
func drawings(p Pad) map[string]string {
	return map[string]string{
		"text.txt": every(p).Text(), "shaded.txt": shaded(p).Text(), "live.svg": string(every(p).Live()), "printed.svg": string(every(p).Printed()),
		"chart.svg": string(every(p).Chart("pad", 700, true)), "shaded.svg": string(shaded(p).Chart("heat", 700, false)),
	}
}

// A small pad and a large one look as they were looked at and found good.
func TestDrawingsAreTheAgreedOnes(t *testing.T) {
	for _, name := range []string{"vent-6", "console-104"} {
		for kind, got := range drawings(shipped(t, name+".yaml")) {
			file := "testdata/" + name + "-" + kind
			if *update {
				require.NoError(t, os.WriteFile(file, []byte(got), 0o644))
			}
			want, err := os.ReadFile(file)
			require.NoError(t, err)
			assert.Equal(t, string(want), got, file)
		}
	}
}

// drawn is a key as it is read back from SVG.
type drawn struct {
	Class string   `xml:"class,attr"`
	Text  []string `xml:"text"`
	Caps  []struct {
		Class  string  `xml:"class,attr"`
		X      float64 `xml:"x,attr"`
		Y      float64 `xml:"y,attr"`
		Width  float64 `xml:"width,attr"`
		Height float64 `xml:"height,attr"`
	} `xml:"rect"`
	Cross *struct{} `xml:"path"`
}

func keysOf(t require.TestingT, svg string) (keys []drawn) {
	var all struct {
		Keys []drawn `xml:"g"`
	}
	require.NoError(t, xml.Unmarshal([]byte(svg), &all), svg)
	return all.Keys
}

// Each key that is marked on one surface is marked on all, whatever the pad:
// what the text's sign says, the class says in every drawing, and what is wrong
// has its sign or its cross besides.
func TestRenderersAgree(t *testing.T) {
	signs := map[string]string{} // of each class
	for s, m := range marks {
		if before, known := signs[m.class]; known && State(s).Class() != "wait" && State(s) != Fell {
			assert.Equal(t, before, m.sign, "two signs for %s", m.class)
		}
		signs[m.class] = m.sign
	}
	for _, name := range []string{"vent-6.yaml", "gcc-20.yaml", "bay-16.yaml", "console-104.yaml"} {
		rapid.Check(t, func(r *rapid.T) {
			p := shipped(t, name)
			for i := range p.Keys {
				p.Keys[i].State = State(rapid.IntRange(0, len(marks)-1).Draw(r, "state"))
			}
			live, printed, charted := keysOf(r, string(p.Live())), keysOf(r, string(p.Printed())), keysOf(r, string(p.Chart("c", 1000, false)))
			require.Len(r, live, len(p.Keys))
			count := map[rune]int{}
			for _, c := range p.Text() {
				count[c]++
			}
			want := map[rune]int{}
			for i, k := range p.Keys {
				m := marks[k.State]
				want[([]rune(m.sign + " "))[0]]++
				for _, one := range [][]drawn{live, printed, charted} {
					require.Equal(r, "key "+m.class, one[i].Class)
				}
				require.NotNil(r, live[i].Cross, "a key may fail later")
				require.Equal(r, m.loud, strings.HasPrefix(printed[i].Text[0], strings.TrimSpace(m.sign)+" ") && m.sign != "", printed[i].Text)
				require.Equal(r, printed[i].Text[0], charted[i].Text[0])
			}
			for _, sign := range "✗!" { // no label has them
				require.Equal(r, want[sign], count[sign], "%c in\n%s", sign, p.Text())
			}
		})
	}
}

// A shade says the same in text and in SVG: nothing, something, unknown.
func TestShadesAgree(t *testing.T) {
	p := shipped(t, "vent-6.yaml")
	p.Scale = [2]string{"0", "9"}
	for i, v := range []float64{0, math.NaN(), 0.001, 9, math.Inf(1), 4.5} {
		p.Keys[i].Value = v
	}
	for i, want := range []struct{ sign, class string }{{"·", "key wait h0"}, {"?", "key wait unread"}, {"░", "key wait h1"},
		{"█", "key wait h6"}, {"█", "key wait h6"}, {"▒", "key wait h3"}} {
		assert.Equal(t, want.sign, p.sign(p.Keys[i]))
		assert.Equal(t, want.class, keysOf(t, string(p.Chart("c", 500, false)))[i].Class)
	}
	for i := range p.Keys {
		p.Keys[i].Value = 0
	}
	assert.Equal(t, "·", p.sign(p.Keys[0]), "nothing anywhere is not the most of all")
	p.Keys[0].Value = math.Inf(1)
	assert.Equal(t, "█", p.sign(p.Keys[0]))
}

func TestShades(t *testing.T) {
	p := Pad{Keys: []Key{{Value: 10}, {Value: 3}, {Value: math.NaN()}}}
	assert.Equal(t, 0, p.shade(0, Shades), "nothing has no shade")
	assert.Equal(t, 1, p.shade(0.01, Shades), "a little has one")
	assert.Equal(t, Shades, p.shade(10, Shades))
	assert.Equal(t, Shades, p.shade(99, Shades), "more than the scale holds is the darkest")
	assert.Equal(t, 0, p.shade(math.NaN(), Shades))
	assert.Equal(t, 0, Pad{}.shade(0, Shades))
}

// What people wrote comes into a drawing as text and nothing else.
func TestLabelsAreEscaped(t *testing.T) {
	evil := `<script>"&'</text></svg>`
	p := every(shipped(t, "vent-6.yaml"))
	p.Title, p.Desc, p.Scale = evil, evil, [2]string{evil, evil}
	for i := range p.Keys {
		k := &p.Keys[i]
		k.Label, k.Then, k.Now, k.Change, k.Tip = evil, evil, evil, evil, evil
	}
	for _, svg := range []string{string(p.Live()), string(p.Printed()), string(p.Chart(`a"b<`, 700, true))} {
		assert.NotContains(t, svg, "<script")
		assert.NotContains(t, svg, "script>\"")
		for d := xml.NewDecoder(strings.NewReader(svg)); ; {
			_, err := d.Token()
			if errors.Is(err, io.EOF) {
				break
			}
			require.NoError(t, err, svg)
		}
		for _, k := range keysOf(t, svg) {
			assert.Contains(t, k.Text[0], evil)
		}
	}
}

// Whatever the places, keys lie within the drawing and no number is none.
func TestKeysLieWithinTheDrawing(t *testing.T) {
	side := rapid.Float64Range(0.25, 6)
	rapid.Check(t, func(r *rapid.T) {
		var p Pad
		for range rapid.IntRange(0, 12).Draw(r, "keys") {
			p.Keys = append(p.Keys, Key{Label: rapid.StringMatching(`[ -~äß温]{0,20}`).Draw(r, "label"), X: rapid.Float64Range(-9, 30).Draw(r, "x"), Y: rapid.Float64Range(-9, 9).Draw(r, "y"),
				W: side.Draw(r, "w"), H: side.Draw(r, "h"), State: State(rapid.IntRange(0, len(marks)-1).Draw(r, "state")), Now: "1"})
		}
		for _, svg := range []string{string(p.Live()), string(p.Printed()), string(p.Chart("c", 1000, true))} {
			require.NotContains(r, svg, "NaN")
			require.NotContains(r, svg, "Inf")
			var wide, high float64
			_, err := fmt.Sscanf(svg[strings.Index(svg, "viewBox=")+len(`viewBox="`):], "0 0 %g %g", &wide, &high)
			require.NoError(r, err)
			for _, k := range keysOf(r, svg) {
				cap := k.Caps[0]
				require.True(r, cap.X >= 0 && cap.Y >= 0 && cap.Width >= 0 && cap.X+cap.Width <= wide+0.2 && cap.Y+cap.Height <= high+0.2, svg)
			}
		}
		_ = p.Text()
	})
}

// A failed key has the number of its own finding, else of one about its line.
func TestPadOfARun(t *testing.T) {
	run := []sequence.KeyResult{{Key: "1", Verdict: sequence.KeyPass}, {Key: "2", Lines: [2]string{"A", "B"}, Verdict: sequence.KeyFail},
		{Key: "3", Lines: [2]string{"C", "D"}, Verdict: sequence.KeyFail}, {Key: "4", Verdict: sequence.KeyUntested}, {Key: "5", Verdict: sequence.KeyFail}}
	findings := []sequence.Finding{{Lines: []string{"B", "C"}}, {Key: "3", Lines: []string{"C"}}}
	keys := make([]product.Key, 6)
	drawn := OfRun(nil, run, findings)
	assert.Empty(t, drawn.Keys, "no more keys than the product has")
	drawn = OfRun(keys, run, findings)
	for i, want := range []Key{{State: Passed}, {State: Failed, Defect: 1}, {State: Failed, Defect: 2}, {State: Untested}, {State: Failed}, {State: Waiting}} {
		assert.Equal(t, want.State, drawn.Keys[i].State, i)
		assert.Equal(t, want.Defect, drawn.Keys[i].Defect, i)
	}
	assert.Equal(t, 3, drawn.Count(Failed))
}
