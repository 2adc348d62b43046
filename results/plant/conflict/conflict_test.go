package conflict_test

import (
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"padjig/results/plant/conflict"
)

var noon = time.Date(2026, 3, 2, 12, 0, 0, 0, time.UTC)

// at is a run of ten seconds that began so many seconds after noon.
func at(member, seconds int, outcome string, attempt int) conflict.Known {
	began := noon.Add(time.Duration(seconds) * time.Second)
	return conflict.Known{Run: int64(seconds*4096 + member), Serial: "GCC-000001-3", Member: member, Station: "line", Product: "GCC-20", Jig: "J-1",
		Outcome: outcome, Attempt: attempt, Began: began, Ended: began.Add(10 * time.Second)}
}

func TestOfUnit(t *testing.T) {
	as := func(k conflict.Known, change func(*conflict.Known)) conflict.Known { change(&k); return k }
	for name, c := range map[string]struct {
		runs    []conflict.Known
		excused []time.Time
		want    string
	}{
		"one station":           {[]conflict.Known{at(1, 0, "fail", 1), at(1, 60, "pass", 2)}, nil, ""},
		"it went on":            {[]conflict.Known{at(1, 0, "fail", 1), at(2, 60, "pass", 2)}, nil, ""},
		"passed elsewhere":      {[]conflict.Known{at(1, 0, "pass", 1), at(2, 60, "fail", 2)}, nil, "passed elsewhere"},
		"passed twice":          {[]conflict.Known{at(1, 0, "pass", 1), at(2, 60, "pass", 1)}, nil, "passed elsewhere"},
		"arrived the other way": {[]conflict.Known{at(2, 60, "pass", 1), at(1, 0, "pass", 1)}, nil, "passed elsewhere"},
		"attempt again":         {[]conflict.Known{at(1, 0, "fail", 1), at(2, 60, "fail", 1), at(2, 120, "fail", 2)}, nil, "attempt again"},
		"somebody decided":      {[]conflict.Known{at(1, 0, "pass", 1), at(2, 60, "fail", 2)}, []time.Time{noon.Add(30 * time.Second)}, ""},
		"decided before":        {[]conflict.Known{at(1, 0, "pass", 1), at(2, 60, "fail", 2)}, []time.Time{noon.Add(-time.Second)}, "passed elsewhere"},
		"decided after":         {[]conflict.Known{at(1, 0, "pass", 1), at(2, 60, "fail", 2)}, []time.Time{noon.Add(time.Hour)}, "passed elsewhere"},
		"at a time":             {[]conflict.Known{at(1, 0, "fail", 1), at(2, 5, "fail", 2)}, nil, "overlap"},
		"clocks are not known that well": {[]conflict.Known{at(1, 0, "fail", 1), as(at(2, 10, "fail", 2), func(k *conflict.Known) {
			k.Began = k.Began.Add(-900 * time.Millisecond)
		})}, nil, ""},
		"at a time, and both pass": {[]conflict.Known{at(1, 0, "pass", 1), at(2, 5, "pass", 1)}, nil, "overlap, passed elsewhere"},
		"not finished at a time":   {[]conflict.Known{at(1, 0, "incomplete", 1), at(2, 5, "pass", 1)}, nil, "overlap"},
		"a reference unit goes round": {[]conflict.Known{
			as(at(1, 0, "pass", 1), func(k *conflict.Known) { k.Purpose = "reference" }),
			as(at(2, 60, "pass", 1), func(k *conflict.Known) { k.Purpose = "reference" })}, nil, ""},
		"the desk tests what passed": {[]conflict.Known{at(1, 0, "pass", 1),
			as(at(2, 60, "pass", 1), func(k *conflict.Known) { k.Purpose = "return test" })}, nil, ""},
		"practice is no production": {[]conflict.Known{at(1, 0, "pass", 1),
			as(at(2, 60, "pass", 1), func(k *conflict.Known) { k.Simulated = true })}, nil, ""},
		"two products": {[]conflict.Known{at(1, 0, "pass", 1),
			as(at(2, 60, "pass", 1), func(k *conflict.Known) { k.Product = "GCC-12" })}, nil, "two products"},
		"two products at one station": {[]conflict.Known{at(1, 0, "pass", 1),
			as(at(1, 60, "pass", 1), func(k *conflict.Known) { k.Product = "GCC-12" })}, nil, "two products"},
		"three stations": {[]conflict.Known{at(1, 0, "pass", 1), at(2, 60, "pass", 1), at(3, 120, "pass", 1)}, nil,
			"passed elsewhere, passed elsewhere, passed elsewhere"},
	} {
		t.Run(name, func(t *testing.T) {
			assert.Equal(t, c.want, codes(conflict.OfUnit(c.runs, c.excused)))
		})
	}
}

func codes(all []conflict.Conflict) string {
	var list []string
	for _, c := range all {
		list = append(list, string(c.Code))
	}
	return strings.Join(list, ", ")
}

// Of every two runs at a time the pair of stations is told, by whichever way it is looked for.
func TestOverlaps(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		var runs []conflict.Known
		for range rapid.IntRange(0, 8).Draw(t, "runs") {
			k := at(rapid.IntRange(1, 3).Draw(t, "member"), rapid.IntRange(0, 90).Draw(t, "began"), "fail", len(runs)+1)
			k.Ended = k.Began.Add(time.Duration(rapid.IntRange(2, 40).Draw(t, "took")) * time.Second)
			runs = append(runs, k)
		}
		want := map[[2]int]bool{}
		for _, a := range runs {
			for _, b := range runs {
				if a.Member < b.Member && a.Ended.Sub(b.Began) >= time.Second && b.Ended.Sub(a.Began) >= time.Second {
					want[[2]int{a.Member, b.Member}] = true
				}
			}
		}
		got := map[[2]int]bool{}
		for _, c := range conflict.OfJig(runs) {
			a, b := c.Known[0].Member, c.Known[1].Member
			got[[2]int{min(a, b), max(a, b)}] = true
			assert.Equal(t, "J-1", c.Of)
		}
		assert.Equal(t, want, got)
	})
}
