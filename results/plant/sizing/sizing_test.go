package sizing_test

import (
	"flag"
	"fmt"
	"os"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/plant/forward"
	"padjig/results/plant/planttest"
	"padjig/results/plant/postgres"
	"padjig/results/plant/sizing"
)

var (
	update  = flag.Bool("update", false, "write the tables of docs/sizing.md anew")
	address = flag.String("plant", "", "`ADDRESS` of a plant that was filled, to measure")
	runs    = flag.Int("runs", 300, "`RUNS` of a simulated line to measure")
	server  *planttest.Server
)

func TestMain(m *testing.M) { planttest.Run(m, &server) }

const page = "../../../docs/sizing.md"

// The arithmetic, by a plant small enough to reckon by hand.
func TestArithmetic(t *testing.T) {
	m := sizing.Measured{RowsOfRun: 36, BytesKept: 100, BytesReadings: 1000, BytesOther: 10, BytesParquet: 50, BytesLog: 2000, ForwardRows: 100}
	s := sizing.Of(m, sizing.Line{Stations: 2, RunsAnHour: 50, HoursADay: 10, DaysAYear: 240, Years: 5, MonthsKept: 24, BusiestHour: 2})
	assert.InDelta(t, 1000, s.RunsADay, 0)
	assert.InDelta(t, 20_000, s.RunsAMonth, 0)
	assert.InDelta(t, 1_200_000, s.Runs, 0)
	assert.InDelta(t, 2, s.RowsASecond, 1e-12)
	assert.InDelta(t, 0.02, s.Busy, 1e-12)
	assert.InDelta(t, 20e6, s.BytesAMonth, 0)
	assert.InDelta(t, 1_200_000*1110, s.BytesAllKept, 0)
	assert.InDelta(t, 1_200_000*110+24*20e6, s.BytesRetired, 0)
	assert.InDelta(t, 36*20_000*50, s.BytesArchive, 0)
	assert.InDelta(t, 2e6, s.BytesLogADay, 0)
	assert.Equal(t, 3*60+6*24, s.Partitions)
	assert.Equal(t, 9*60, s.PartitionsKept)

	// A plant younger than what it keeps retires nothing.
	young := sizing.Of(m, sizing.Line{Stations: 2, RunsAnHour: 50, HoursADay: 10, DaysAYear: 240, Years: 1, MonthsKept: 24, BusiestHour: 2})
	assert.InDelta(t, young.BytesAllKept, young.BytesRetired, 1e-6)
	assert.Zero(t, young.BytesArchive)
	assert.Equal(t, young.PartitionsKept, young.Partitions)
}

// What is measured here, on few runs, is of the size that docs/sizing.md says of many.
func TestMeasured(t *testing.T) {
	if *address != "" {
		db, err := postgres.Open(*address)
		require.NoError(t, err)
		defer db.Close()
		m, err := sizing.Measure(t.Context(), db)
		require.NoError(t, err)
		t.Logf("%+v", m)
		return
	}
	db := server.Plant(t)
	_, err := sizing.Measure(t.Context(), db)
	require.ErrorContains(t, err, "no runs")
	_, err = forward.All(t.Context(), db, planttest.Records(t, *runs, 1), "line-1")
	require.NoError(t, err)
	m, err := sizing.Measure(t.Context(), db)
	require.NoError(t, err)
	t.Logf("%+v", m)
	said := sizing.Here()
	assert.EqualValues(t, *runs, m.Runs)
	assert.InEpsilon(t, said.RowsOfRun, m.RowsOfRun, 0.2)
	assert.InEpsilon(t, said.BytesReadings, m.BytesReadings, 1)
	assert.InEpsilon(t, said.BytesKept, m.BytesKept, 1)
}

// The tables of the page are what is reckoned.
func TestTablesOfThePage(t *testing.T) {
	text, err := os.ReadFile(page)
	require.NoError(t, err)
	want := string(text)
	for name, table := range map[string]string{"measured": measured(), "paper": paper(), "ten thousand": tenThousand()} {
		begin := "<!-- " + name + " -->\n"
		from := strings.Index(want, begin)
		require.GreaterOrEqual(t, from, 0, name)
		from += len(begin)
		to := from + strings.Index(want[from:], "<!-- end -->")
		want = want[:from] + table + want[to:]
	}
	if *update {
		require.NoError(t, os.WriteFile(page, []byte(want), 0o644))
		return
	}
	assert.Equal(t, want, string(text), "go test ./results/plant/sizing -update")
}

func measured() string {
	m := sizing.Here()
	return table([]string{"of one run", ""}, [][]string{
		{"measured on", count(float64(m.Runs)) + " runs"},
		{"rows", fmt.Sprintf("%.1f", m.RowsOfRun)},
		{"verdict, findings and place in the counts, with indexes: what stays", bytes(m.BytesKept)},
		{"readings, with indexes: what goes when a month is retired", bytes(m.BytesReadings)},
		{"everything else", bytes(m.BytesOther)},
		{"as Parquet, when a month is retired", bytes(m.BytesParquet)},
		{"written to the log of changes (WAL)", bytes(m.BytesLog)},
		{"forwarded by one station, without counting", fmt.Sprintf("%s rows/s, %s runs/s", count(m.ForwardRows), count(m.ForwardRows/m.RowsOfRun))},
		{"the same rows by COPY alone", fmt.Sprintf("%s rows/s, %.1f times as many", count(m.CopyRows), m.CopyRows/m.ForwardRows)},
	})
}

// lines are those that the page reckons, a column each.
func paper() string {
	var heads []string
	var sizes []sizing.Size
	for _, of := range [][2]int{{10, 1}, {10, 10}, {100, 10}, {1000, 1}, {1000, 10}} {
		heads = append(heads, fmt.Sprintf("%s stations, %d y", count(float64(of[0])), of[1]))
		sizes = append(sizes, sizing.Of(sizing.Here(), sizing.Usual(of[0], of[1])))
	}
	return columns(heads, sizes)
}

func tenThousand() string {
	return columns([]string{"1,000 stations, 10 y", "10,000 stations, 10 y"},
		[]sizing.Size{sizing.Of(sizing.Here(), sizing.Usual(1000, 10)), sizing.Of(sizing.Here(), sizing.Usual(10_000, 10))})
}

func columns(heads []string, sizes []sizing.Size) string {
	var rows [][]string
	for _, r := range []struct {
		name string
		of   func(sizing.Size) string
	}{
		{"runs a day", func(s sizing.Size) string { return count(s.RunsADay) }},
		{"runs in all", func(s sizing.Size) string { return count(s.Runs) }},
		{"rows a second in the busiest hour", func(s sizing.Size) string { return count(s.RowsASecond) }},
		{"of what one connection forwarded here", func(s sizing.Size) string { return fmt.Sprintf("%.2g times", s.Busy) }},
		{"readings of a month", func(s sizing.Size) string { return bytes(s.BytesAMonth) }},
		{"database with retention", func(s sizing.Size) string { return bytes(s.BytesRetired) }},
		{"database if nothing is retired", func(s sizing.Size) string { return bytes(s.BytesAllKept) }},
		{"files of retired months", func(s sizing.Size) string { return bytes(s.BytesArchive) }},
		{"log of changes a day", func(s sizing.Size) string { return bytes(s.BytesLogADay) }},
		{"partitions with retention, without", func(s sizing.Size) string { return fmt.Sprintf("%d, %d", s.Partitions, s.PartitionsKept) }},
		{"copying it back at 1 Gbit/s", func(s sizing.Size) string { return fmt.Sprintf("%.2g h", s.HoursToRestore) }},
	} {
		row := []string{r.name}
		for _, s := range sizes {
			row = append(row, r.of(s))
		}
		rows = append(rows, row)
	}
	return table(append([]string{""}, heads...), rows)
}

func table(heads []string, rows [][]string) string {
	var b strings.Builder
	line := func(cells []string) { b.WriteString("| " + strings.Join(cells, " | ") + " |\n") }
	line(heads)
	b.WriteString("|" + strings.Repeat("---|", len(heads)) + "\n")
	for _, row := range rows {
		line(row)
	}
	return b.String()
}

// count writes a number with at most three figures that mean something.
func count(n float64) string {
	switch {
	case n >= 1e9:
		return fmt.Sprintf("%.3g billion", n/1e9)
	case n >= 1e6:
		return fmt.Sprintf("%.3g million", n/1e6)
	case n >= 1000:
		return fmt.Sprintf("%d,%03d", int64(n)/1000, int64(n)%1000)
	}
	return fmt.Sprintf("%.3g", n)
}

func bytes(n float64) string {
	for _, unit := range []struct {
		of   float64
		name string
	}{{1e12, "TB"}, {1e9, "GB"}, {1e6, "MB"}, {1e3, "kB"}} {
		if n >= unit.of {
			return fmt.Sprintf("%.3g %s", n/unit.of, unit.name)
		}
	}
	return fmt.Sprintf("%.0f B", n)
}
