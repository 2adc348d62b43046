package units_test

import (
	"flag"
	"os"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/linesim"
	"padjig/sequence/product"
)

var benchUnits = flag.Int("units", 100_000, "so many units are searched by BenchmarkFind")

// BenchmarkFind compares looking for units by a part of their number, among all there are, with
// looking one up by its whole number in the index, in turn on the same records, which are filled as
// padjig records simulate fills them. The ratio of the two is what the search costs.
func BenchmarkFind(b *testing.B) {
	text, err := os.ReadFile("../../testdata/products/gcc-20.yaml")
	require.NoError(b, err)
	p, err := product.Parse("gcc-20.yaml", text)
	require.NoError(b, err)
	s, err := results.Open(b.Context(), filepath.Join(b.TempDir(), "r.sqlite"))
	require.NoError(b, err)
	defer func() { require.NoError(b, s.Close()) }()
	line := linesim.Line{Product: p, Runs: *benchUnits, Seed: 1, Begin: time.Date(2026, 3, 2, 5, 0, 0, 0, time.UTC), Zone: "Europe/Vienna"}
	entries, err := line.Entries(b.Context())
	require.NoError(b, err)
	require.NoError(b, s.ImportSimulated(b.Context(), line.Seed, entries, nil))
	const few, none = "99", "no such number"
	some, _, err := s.Units.Find(b.Context(), few, 20)
	require.NoError(b, err)
	require.NotEmpty(b, some)
	most := some[0].Serial[:3] // every number begins with it
	asked := map[string][]time.Duration{}
	took := func(what string, do func() error) {
		began := time.Now()
		require.NoError(b, do())
		asked[what] = append(asked[what], time.Since(began))
	}
	for b.Loop() {
		for _, part := range []string{most, few, none, some[0].Serial} {
			took(part, func() error { _, _, err := s.Units.Find(b.Context(), part, 20); return err })
		}
		took("exact", func() error { _, err := s.Runs.Unit(b.Context(), some[0].Serial); return err })
	}
	median := func(what string) float64 {
		slices.Sort(asked[what])
		return float64(asked[what][len(asked[what])/2]) / float64(time.Millisecond)
	}
	b.ReportMetric(0, "ns/op") // would count all
	b.ReportMetric(median(most), "find-most-ms")
	b.ReportMetric(median(few), "find-many-ms")
	b.ReportMetric(median(none), "find-none-ms")
	b.ReportMetric(median(some[0].Serial), "find-one-ms")
	b.ReportMetric(median("exact"), "exact-ms")
	b.ReportMetric(median(none)/median("exact"), "none/exact")
}
