package quality_test

import (
	"fmt"
	"net/url"
	"slices"
	"strings"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"padjig/results/answers/charts"
	measures "padjig/results/lines"
)

// BenchmarkChartChoices asks the page of charts for everything that can be chosen on it, over the store of -line or a
// small one: what is read, of what, in which chart, in what subgroups, by which rules, over how many units. It reports
// the median and the worst in processor time and names the slowest.
func BenchmarkChartChoices(b *testing.B) {
	r := newReader(b, 12000)
	type asked struct {
		address string
		times   []time.Duration
	}
	var all []asked
	for _, choice := range chartChoices() {
		all = append(all, asked{address: "/quality/charts?" + choice})
	}
	for b.Loop() {
		for i := range all {
			before := processor(b)
			r.page(all[i].address)
			all[i].times = append(all[i].times, processor(b)-before)
		}
	}
	medianOf := func(a asked) time.Duration {
		times := slices.Sorted(slices.Values(a.times))
		return times[len(times)/2]
	}
	slices.SortFunc(all, func(x, y asked) int { return int(medianOf(y) - medianOf(x)) })
	for _, a := range all[:min(10, len(all))] {
		b.Logf("%8.1f ms  %s", float64(medianOf(a))/1e6, a.address)
	}
	b.ReportMetric(0, "ns/op") // would count all
	b.ReportMetric(float64(len(all)), "choices")
	b.ReportMetric(float64(medianOf(all[len(all)/2]))/1e6, "median-cpu-ms")
	b.ReportMetric(float64(medianOf(all[0]))/1e6, "worst-cpu-ms")
}

// chartChoices are the parameters of the page of charts, each choice with each other where the page offers both.
func chartChoices() (all []string) {
	add := func(pairs ...string) {
		v := url.Values{}
		for _, pair := range pairs {
			name, value, _ := strings.Cut(pair, "=")
			v.Set(name, value)
		}
		all = append(all, v.Encode())
	}
	rules, lasts := []string{"limits", "default", "zones", "all"}, []string{"500", "2000"}
	for _, measure := range measures.Measures {
		for _, kind := range charts.ReadingCharts {
			groups := charts.SubgroupRules
			if !kind.Subgroups() {
				groups = groups[:1]
			}
			for _, group := range groups {
				for _, last := range lasts {
					add("revision=C", "measure="+string(measure), "chart="+string(kind), "group="+group, "last="+last)
				}
			}
		}
	}
	for _, kind := range charts.ReadingCharts {
		for _, rule := range rules {
			add("revision=C", "chart="+string(kind), "rules="+rule, "key=7")
		}
		for _, size := range []int{2, 20, 50} {
			add("revision=C", "chart="+string(kind), fmt.Sprint("size=", size))
		}
		add("revision=C", "chart="+string(kind), "base=500", "last=20000")
	}
	for _, kind := range charts.CountCharts {
		for _, group := range charts.SubgroupRules[1:] {
			for _, rule := range rules {
				add("measure=failed", "chart="+string(kind), "group="+group, "rules="+rule, "span=all")
			}
		}
	}
	return all
}

// processor is what this process has taken of the processor.
func processor(t testing.TB) time.Duration {
	var own syscall.Rusage
	require.NoError(t, syscall.Getrusage(syscall.RUSAGE_SELF, &own))
	return time.Duration(own.Utime.Nano() + own.Stime.Nano())
}
