package forward_test

import (
	"database/sql"
	"flag"
	"fmt"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/plant/forward"
	"padjig/results/plant/planttest"
	"padjig/results/plant/postgres"
	"padjig/results/plant/tables"
)

// A plant of many stations at its full size: go test ./results/plant/forward -run TestMonthOfMany -stations 50 -runs 1000 -v
var (
	stations = flag.Int("stations", 3, "how many stations forward at once")
	runs     = flag.Int("runs", 40, "how many runs each of them makes in a month")
)

// Many stations write a month and forward it meanwhile, to a server that syncs its disk. Nothing is missing, nothing doubled.
func TestMonthOfMany(t *testing.T) {
	plant := server.Plant(t)
	if *stations > 3 {
		own, err := planttest.Make(folder(t), "max_wal_size=4GB")
		require.NoError(t, err)
		require.NoError(t, own.Start())
		t.Cleanup(func() { assert.NoError(t, own.End(syscall.SIGINT)) })
		plant = made(t, own.Empty(t))
	}
	began := time.Now()
	stores := make([]*results.Store, *stations)
	var all sync.WaitGroup
	var rows, tries int64
	var mu sync.Mutex
	for i := range stores {
		stores[i] = planttest.Unused(t)
		_, err := forward.Join(t.Context(), plant, fmt.Sprintf("line-%d", i+1))
		require.NoError(t, err)
		written := make(chan bool)
		all.Go(func() {
			defer close(written)
			for part := range 4 { // while the one before is forwarded
				planttest.Month(t, stores[i], *runs/4, uint64(i+1), part)
			}
		})
		all.Go(func() {
			f := &forward.Forwarder{Plant: plant, Records: stores[i], Member: fmt.Sprintf("line-%d", i+1)}
			defer f.Close()
			for done := false; !done; {
				select {
				case <-written:
					done = true // one more look after the last was written
				default:
				}
				moved, err := f.All(t.Context(), func(int64, int64) {})
				mu.Lock()
				rows += moved.Rows
				if err != nil {
					tries++
					done = false
					assert.Equal(t, postgres.Deadlock, postgres.Code(err), err)
				}
				mu.Unlock()
			}
		})
	}
	all.Wait()
	took := time.Since(began)
	var counted, there, distinct int64
	require.NoError(t, plant.QueryRowContext(t.Context(), `SELECT (SELECT count(*) FROM run_cell), count(*), count(DISTINCT (member, local)) FROM run`).Scan(&counted, &there, &distinct))
	want := int64(*stations * (*runs / 4 * 4))
	assert.Equal(t, []int64{want, want, want}, []int64{counted, there, distinct}, "counted, there, each once")
	for i, s := range stores {
		same(t, plant, s, fmt.Sprintf("line-%d", i+1))
	}
	t.Logf("%d stations, %d runs, %d rows in %s with the writing of the simulated lines, %.0f rows/s; %d tries anew after a deadlock; compared row by row in %s",
		*stations, there, rows, took.Round(time.Second), float64(rows)/took.Seconds(), tries, (time.Since(began) - took).Round(time.Second))
}

// Forwarding beside a COPY of the very rows that it stores, already translated: in one run, since only the ratio says anything.
func BenchmarkForwarding(b *testing.B) {
	records := planttest.Records(b, 1500, 1)
	for b.Loop() {
		b.StopTimer()
		plant, copied := server.Plant(b), server.Plant(b)
		b.StartTimer()
		began := time.Now()
		moved, err := forward.All(b.Context(), plant, records, "line-1")
		require.NoError(b, err)
		forwarding := time.Since(began)
		b.StopTimer()
		copying := copyOf(b, plant, copied)
		b.ReportMetric(float64(moved.Rows)/forwarding.Seconds(), "rows/s")
		b.ReportMetric(float64(moved.Rows)/copying.Seconds(), "copied/s")
		b.ReportMetric(forwarding.Seconds()/copying.Seconds(), "times-COPY")
		b.StartTimer()
	}
}

// copyOf copies all rows of one plant into another, and says how long that took without reading them.
func copyOf(b *testing.B, from, to *sql.DB) time.Duration {
	rows := map[string][][]any{}
	for _, t := range tables.All() {
		if t.Kind == tables.Word {
			continue
		}
		rows[t.Name] = allRows(b, from, t)
	}
	c, err := to.Conn(b.Context())
	require.NoError(b, err)
	defer c.Close()
	began := time.Now()
	for _, row := range rows["run"] {
		_, err := c.ExecContext(b.Context(), `SELECT month_of(?)`, row[0])
		require.NoError(b, err)
		break
	}
	tx, err := c.BeginTx(b.Context(), nil)
	require.NoError(b, err)
	for _, t := range tables.All() {
		require.NoError(b, postgres.Copy(b.Context(), c, t.Name, columnsOf(t), rows[t.Name]))
	}
	require.NoError(b, tx.Commit())
	return time.Since(began)
}

func columnsOf(t tables.Table) []string {
	if t.Kind == tables.Row {
		return append(t.Names(), "member", "local")
	}
	return t.Names()
}

func allRows(b *testing.B, db *sql.DB, t tables.Table) (all [][]any) {
	columns, list := columnsOf(t), ""
	for i, c := range columns {
		if i > 0 {
			list += ", "
		}
		list += `"` + c + `"`
	}
	rows, err := db.QueryContext(b.Context(), `SELECT `+list+` FROM "`+t.Name+`"`)
	require.NoError(b, err)
	defer rows.Close()
	for rows.Next() {
		row := make([]any, len(columns))
		into := make([]any, len(columns))
		for i := range row {
			into[i] = &row[i]
		}
		require.NoError(b, rows.Scan(into...))
		all = append(all, row)
	}
	require.NoError(b, rows.Err())
	return all
}
