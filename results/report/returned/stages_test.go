package returned

import (
	"bytes"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results/report/pad"
	"padjig/sequence"
	"padjig/sequence/wording"
)

// found makes a key of a run fail, as a stage found it; open where it never closed.
func found(key int, what string, ohm quantity.Ohm) func(*sequence.Run) {
	return func(r *sequence.Run) {
		k := &r.Keys[key]
		r.Outcome, k.Verdict, k.Closed = sequence.Fail, sequence.KeyFail, &fixture.Resistance{Value: ohm, U: ohm / 1000}
		f := sequence.Finding{What: what, Place: "key " + k.Key, Key: k.Key, Lines: k.Lines[:], At: sequence.Fact(sequence.AtKey, k.Key, k.Lines[0], k.Lines[1])}
		if k.Closed.AtLeast = ohm.IsOpen(); !k.Closed.AtLeast {
			value := sequence.Number(ohm)
			f.Value, f.Unit = &value, "ohm"
		}
		r.Findings = append(r.Findings, f)
	}
}

// shown is the key on the pad and on the page.
func shown(t *testing.T, l *Life, key int) (pad.Key, string) {
	t.Helper()
	var page bytes.Buffer
	require.NoError(t, l.HTML(&page, nil, time.Now()))
	return PadOf(l).Keys[key], page.String()
}

// What was found at the first press and cured by the test stays: on the pad, in the
// table, on the page, in words.
func TestTheWorstReadingStays(t *testing.T) {
	for name, c := range map[string]struct {
		first quantity.Ohm
		what  string
		worst string
	}{
		"open, then closed": {quantity.Open, "key open", "open"},
		"a film":            {2068, "key high", "2.07 kohm"},
	} {
		t.Run(name, func(t *testing.T) {
			d := newDesk(t)
			d.run(nil, sequence.Production, 60, nil)
			case1 := d.intake()
			d.run(&case1, sequence.FirstPress, 60, found(2, c.what, c.first))
			l, _ := d.life(case1)
			k, _ := shown(t, l, 2)
			assert.Equal(t, pad.Wrong, k.State)
			assert.Empty(t, k.Worst, "it is what is read now")
			assert.Empty(t, l.Gone)

			d.run(&case1, sequence.ReturnTest, 92, nil)
			l, text := d.life(case1)
			k, html := shown(t, l, 2)
			assert.Equal(t, pad.Was, k.State)
			assert.Equal(t, c.worst, k.Worst)
			assert.Equal(t, "92", strings.TrimSuffix(k.Now, " ohm"))
			key := l.Keys[2]
			require.Len(t, key.Readings, 2)
			assert.Equal(t, [2]bool{true, false}, [2]bool{key.Readings[0].Worst, key.Readings[1].Worst})
			assert.True(t, key.Wrong)
			assert.Contains(t, html, "↑ "+c.worst)
			assert.Contains(t, html, "~ by one stage, not by the last")
			assert.Contains(t, html, "film, particle or intermittent")
			require.Len(t, l.Gone, 1)
			assert.Equal(t, sequence.Code("film"), l.Gone[0].Why)
			assert.Equal(t, sequence.ReturnTest, l.Gone[0].Then)
			assert.Contains(t, text, "at the first press, 92.00 ± 0.10 ohm, k = 2 afterwards (return test): film, particle or intermittent")
			assert.Contains(t, Went(l.Gone, wording.Facts().In("de"))[0], "Film, Partikel oder zeitweilig")

			d.run(&case1, sequence.Exercise, 92, often(0))
			l, _ = d.life(case1)
			k, _ = shown(t, l, 2)
			assert.Equal(t, pad.Was, k.State, "three hundred good presses do not take the first one away")
			assert.Equal(t, sequence.ReturnTest, l.Gone[0].Then, "the stage that would have seen it next")
		})
	}
}

// What a later stage found stays as bad as it is; what comes back is intermittent; what was
// at rest is not cured by an exercise, which does not look there.
func TestWhatGoesAwayBetweenStages(t *testing.T) {
	d := newDesk(t)
	d.run(nil, sequence.Production, 60, nil)
	c := d.intake()
	d.run(&c, sequence.FirstPress, 60, found(1, "key high", 500))
	d.run(&c, sequence.ReturnTest, 60, func(r *sequence.Run) {
		r.Outcome = sequence.Fail
		r.Findings = append(r.Findings, sequence.Finding{What: "leak", Place: "between K1 and K2", Lines: []string{"K1", "K2"}})
	})
	d.run(&c, sequence.Exercise, 60, func(r *sequence.Run) {
		often(12)(r)
		r.Outcome = sequence.Fail
		r.Findings = append(r.Findings, sequence.Finding{What: "misses", Place: "key", Key: r.Keys[1].Key, Lines: r.Keys[1].Lines[:]})
	})
	l, text := d.life(c)
	require.Len(t, l.Gone, 1, "%v", l.Gone)
	assert.True(t, l.Gone[0].Again)
	assert.Contains(t, text, "not at the return test: intermittent")
	k, _ := shown(t, l, 1)
	assert.Equal(t, pad.Wrong, k.State, "the last that read it found it bad")
	assert.Equal(t, "return test", l.Keys[1].Now)
}

// Where no stage finds a fault, the worst is what reads more beyond uncertainty: the gentle
// press, which knows little, is not worse for its noise.
func TestTheGentlePressIsNotWorseForItsNoise(t *testing.T) {
	ohm := func(v, u quantity.Ohm) *fixture.Resistance { return &fixture.Resistance{Value: v, U: u} }
	open := &fixture.Resistance{Value: quantity.Open, AtLeast: true}
	for name, c := range map[string]struct {
		readings []Reading
		worst    int
	}{
		"noise":                   {[]Reading{{Closed: ohm(74, 5.5)}, {Closed: ohm(72.45, 0.02)}}, 1},
		"noise the other way":     {[]Reading{{Closed: ohm(70, 5.5)}, {Closed: ohm(72.45, 0.02)}}, 1},
		"more, for sure":          {[]Reading{{Closed: ohm(74, 0.1)}, {Closed: ohm(120, 0.02)}}, 1},
		"at fault, with less":     {[]Reading{{Closed: ohm(50, 0.1), Bad: true}, {Closed: ohm(120, 0.02)}}, 0},
		"open":                    {[]Reading{{Closed: ohm(5000, 1), Bad: true}, {Closed: open, Bad: true}}, 1},
		"never closed, unread":    {[]Reading{{Closed: ohm(5000, 1), Bad: true}, {Bad: true}}, 1},
		"both open":               {[]Reading{{Closed: open, Bad: true}, {Closed: open, Bad: true}}, 0},
		"behind a diode, no ohms": {[]Reading{{}, {}}, 0},
	} {
		for i := range c.readings {
			c.readings[i].Stage = []sequence.Purpose{sequence.FirstPress, sequence.ReturnTest}[i]
		}
		assert.Same(t, &c.readings[c.worst], worstOf(c.readings), name)
	}
	assert.Nil(t, worstOf(nil))
}

// Every finding there is has something said of it once it is gone, in both languages.
func TestEveryFindingCanGoAway(t *testing.T) {
	for _, what := range sequence.Findings() {
		for _, lang := range wording.Languages {
			l := &Life{Gone: []Gone{{Finding: sequence.Finding{What: what, Place: "there"}, Stage: sequence.FirstPress, Then: sequence.ReturnTest, Why: mayBe(what)}}}
			assert.Contains(t, Went(l.Gone, wording.Facts().In(lang))[0], "there: ", "%s %s", lang, what)
		}
	}
}
