package overview_test

import (
	"fmt"
	"math"
	"net/url"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/answerstest"
	"padjig/results/answers/overview"
	"padjig/results/lines"
)

var vienna, _ = time.LoadLocation("Europe/Vienna")

// all chooses every run of a line of the tests, by the plant's clock.
var all = answers.Selection{Filter: lines.Filter{Simulated: true, Zone: vienna}}

func asked(t *testing.T, s *results.Store, a overview.OverviewAsked) overview.Overview {
	t.Helper()
	o, err := overview.AskOverview(t.Context(), s, a)
	require.NoError(t, err)
	return o
}

func codes(list []answers.Sentence) (out []string) {
	for _, s := range list {
		out = append(out, s.Code)
	}
	return out
}

// line is units of some days, one letter each: p passed, f failed and stayed so, r was
// reseated and passed then.
func line(t *testing.T, days ...string) *results.Store {
	t.Helper()
	var list []results.Entry
	n := 0
	for day, letters := range days {
		for i, letter := range letters {
			at := answerstest.Begin.AddDate(0, 0, day).Add(time.Duration(i) * 4 * time.Minute)
			run := answerstest.Run(answerstest.Vents, answerstest.Serial(n), at, 60, 70, 80, 90)
			n++
			switch letter {
			case 'f':
				run = answerstest.Failed(run, "key high", i%2)
			case 'r':
				again := answerstest.Run(answerstest.Vents, run.Serial, at, 60, 70, 80, 90)
				list = append(list, answerstest.Of(answerstest.Vents, answerstest.Ended(again, "reseat")))
				run.Started = run.Started.Add(time.Minute)
			}
			list = append(list, answerstest.Of(answerstest.Vents, run))
		}
	}
	return answerstest.Store(t, list...)
}

func repeated(text string, n int) (out string) {
	for range n {
		out += text
	}
	return out
}

// Each figure is counted as its pages count, stands beside that of the time before, and is
// called better or worse only beyond chance.
func TestFiguresBesideTheTimeBefore(t *testing.T) {
	s := line(t, repeated("p", 100), repeated("p", 60)+repeated("fp", 20)+repeated("r", 4))
	now, was := all, all.Filter
	now.Filter.From = answerstest.Begin.AddDate(0, 0, 1)
	was.To = now.Filter.From
	o := asked(t, s, overview.OverviewAsked{Selection: now, Before: &was})
	got := map[string]string{}
	for _, f := range o.Figures {
		got[f.Name] = fmt.Sprintf("%d/%d before %d/%d %s", f.X, f.N, f.Was.X, f.Was.N, f.Change)
	}
	assert.Equal(t, map[string]string{"first": "84/104 before 100/100 worse", "units": "104/0 before 100/0 counted",
		"reseats": "4/108 before 0/100 same", "open": "20/104 before 0/100 worse"}, got)
	assert.Equal(t, []string{"overview.first.was", "overview.units.counted", "overview.reseats.was", "overview.open.was"}, codes(o.Conclusions[:4]))
	assert.Equal(t, answers.Attention, o.Conclusions[0].Tone)
	assert.InDelta(t, 84.0/104, o.Figures[0].Share.Value, 1e-12)
	require.Len(t, o.Days, 1)
	require.Len(t, o.Figures[0].Trend, 7, "one day is told hour by hour")

	back := was
	was = lines.Filter{Simulated: true, From: now.Filter.From}
	better := asked(t, s, overview.OverviewAsked{Selection: answers.Selection{Filter: back}, Before: &was})
	assert.Equal(t, []overview.Change{overview.Better, overview.Counted, overview.Same, overview.Better},
		[]overview.Change{better.Figures[0].Change, better.Figures[1].Change, better.Figures[2].Change, better.Figures[3].Change})
	alone := asked(t, s, overview.OverviewAsked{Selection: now})
	assert.Equal(t, overview.Unknown, alone.Figures[0].Change)
	assert.Equal(t, []string{"overview.first", "overview.units", "overview.reseats", "overview.open"}, codes(alone.Conclusions[:4]))

	// A group of a few units is no point of the trend.
	few := asked(t, line(t, repeated("p", 20), "fff", repeated("p", 20)), overview.OverviewAsked{Selection: all})
	assert.True(t, math.IsNaN(few.Figures[0].Trend[1].Value))
	assert.Equal(t, 3.0, few.Figures[1].Trend[1].Value, "a count is drawn")
}

// What needs attention says where to look further, and nothing is said twice.
func TestLooksOfADay(t *testing.T) {
	day := answerstest.Day(t)
	o := asked(t, day.Store, overview.OverviewAsked{Selection: all, Now: answerstest.Begin})
	assert.Equal(t, [2]int{answerstest.DayUnits, answerstest.DayUnits - 18}, [2]int{o.Total.Units, o.Total.FirstPassed})
	require.Len(t, o.Days, 1)
	assert.Equal(t, []string{"2026-03-02"}, o.Days[0].Groups)
	var asks []string
	for _, l := range o.Looks {
		asks = append(asks, l.Ask)
	}
	assert.Contains(t, asks, "AskCauses")
	i := 0
	for o.Looks[i].Ask != "AskCauses" {
		i++
	}
	assert.Equal(t, url.Values{"cause": {"place"}}, o.Looks[i].Own)
	assert.Equal(t, len(o.Figures)+len(o.Looks), len(o.Conclusions))

	calm := asked(t, line(t, "ppp"), overview.OverviewAsked{Selection: all})
	assert.Equal(t, "overview.calm", calm.Looks[0].Code)
	assert.Len(t, calm.Looks, 1)

	_, err := overview.AskOverview(t.Context(), day.Store, overview.OverviewAsked{})
	assert.ErrorIs(t, err, lines.ErrNoUnits, "no real run")

	// Every product and revision is listed, also those that are not chosen.
	one := all
	one.Filter.Revisions = []string{"C"}
	other := answerstest.Pad("VC-5", "A", answerstest.Keys...)
	s := answerstest.Store(t,
		answerstest.Of(answerstest.Vents, answerstest.Run(answerstest.Vents, "A", answerstest.Begin, 60, 70, 80, 90)),
		answerstest.Of(other, answerstest.Failed(answerstest.Run(other, "B", answerstest.Begin.Add(time.Minute), 60, 70, 80, 90), "key high", 0)))
	both := asked(t, s, overview.OverviewAsked{Selection: one})
	require.Len(t, both.Products, 2)
	assert.Equal(t, []string{"VC-5", "A"}, both.Products[1].Groups)
	assert.Equal(t, 1, both.Total.Units)
}

// Jigs are named that are due, and those that pass fewer units than the others.
func TestJigsThatNeedAttention(t *testing.T) {
	var list []results.Entry
	for i := range 120 {
		run := answerstest.Run(answerstest.Vents, answerstest.Serial(i), answerstest.Begin.Add(time.Duration(i)*time.Minute), 60, 70, 80, 90)
		if run.Jig.Serial = []string{"J-0041", "J-0042", "J-0043"}[i%3]; i%12 == 1 {
			run = answerstest.Failed(run, "key high", i%4)
		}
		list = append(list, answerstest.Of(answerstest.Vents, run))
	}
	o := asked(t, answerstest.Store(t, list...), overview.OverviewAsked{Selection: all})
	require.Equal(t, "overview.jig", o.Looks[0].Code)
	assert.Equal(t, "J-0042", o.Looks[0].Args[0])
	assert.Equal(t, []any{"AskYield", url.Values{"by": {"jig"}}}, []any{o.Looks[0].Ask, o.Looks[0].Own})
}
