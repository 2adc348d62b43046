package ratio_test

import (
	"math"
	"os/exec"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"

	"padjig/results/answers/ratio"
)

// metrics is a benchmark that keeps what is reported.
type metrics map[string]float64

func (m metrics) ReportMetric(n float64, unit string) { m[unit] = n }

// Ten pairs on a machine that is now slow and now fast: the ratio is the same in each, and so it is in the end, though no
// time says anything. The interval of ten is from the second to the ninth: P(B <= 1) = 11/1024, P(B <= 2) = 56/1024 of the
// binomial law with ten trials of one half, of which only the first is below 0.025.
func TestRatioOfPairs(t *testing.T) {
	var p ratio.Pairs
	for i := range 10 {
		busy := time.Duration(1 + i%3)
		p.Add(busy*time.Duration(2000+i), busy*1000)
	}
	s := p.Summary()
	assert.Equal(t, 10, s.Pairs)
	assert.InDelta(t, 2.0045, s.Ratio, 1e-12)
	assert.InDelta(t, 2.001, s.Low, 1e-12)
	assert.InDelta(t, 2.008, s.High, 1e-12)
	assert.False(t, s.Scatters())

	got := metrics{}
	p.Report(got, "save", "append")
	read, there := ratio.Read(got, "save", "append")
	assert.True(t, there)
	assert.Equal(t, s, read)
	_, there = ratio.Read(got, "save", "row")
	assert.False(t, there)
}

// Fewer than six pairs bound nothing: even the least and the greatest of five have the middle between them only 15 times in 16.
func TestFewPairsSayNothing(t *testing.T) {
	var p ratio.Pairs
	assert.Equal(t, ratio.Summary{}, p.Summary())
	for range 5 {
		p.Add(2, 1)
	}
	s := p.Summary()
	assert.Equal(t, []any{2.0, 0.0, math.Inf(1), true}, []any{s.Ratio, s.Low, s.High, s.Scatters()})
	got := metrics{}
	p.Report(got, "a", "b")
	read, _ := ratio.Read(got, "a", "b")
	assert.Equal(t, s, read, "also over what is printed, where nothing is infinite")
	p.Add(2, 1)
	assert.False(t, p.Summary().Scatters())
}

func TestPairsThatScatterSaySo(t *testing.T) {
	var p ratio.Pairs
	for i := range 20 {
		p.Add(time.Duration(1+i%5)*1000, 1000)
	}
	assert.True(t, p.Summary().Scatters())
}

// What computes takes processor time, also in a program that is waited for; what waits takes none to speak of.
func TestProcessorsAreThoseOfComputing(t *testing.T) {
	assert.Positive(t, ratio.Processors(func() {
		sum := 0.0
		for i := range 50_000_000 {
			sum += math.Sqrt(float64(i))
		}
		assert.Positive(t, sum)
	}))
	assert.Positive(t, ratio.Processors(func() {
		assert.NoError(t, exec.Command("sh", "-c", "i=0; while [ $i -lt 20000 ]; do i=$((i+1)); done").Run())
	}))
}

// Each of the two is first every second time.
func TestPairsAreTakenInTurn(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var p ratio.Pairs
		said := ""
		one := func(name string, takes time.Duration) func() {
			return func() { said += name; time.Sleep(takes) }
		}
		for range 3 {
			p.Time(one("o", 3*time.Second), one("t", 2*time.Second))
		}
		assert.Equal(t, "ottoot", said)
		assert.Equal(t, ratio.Summary{Pairs: 3, Ratio: 1.5, High: math.Inf(1), Ours: 3 * time.Second, Theirs: 2 * time.Second}, p.Summary())
	})
}
