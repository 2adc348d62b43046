package roles_test

import (
	"context"
	"database/sql"
	"fmt"
	"os"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"padjig/results/plant/postgres"
)

// What it costs in COPY to hold that a station stores only its own rows: the time on a processor of the server's, beside that of
// the same rows with nothing held. Other ways to hold it are tried beside the one that is taken.
func BenchmarkGuards(b *testing.B) {
	const number = 200_000_000_000 * 4096
	db := server.Plant(b)
	do := func(statement string) {
		b.Helper()
		_, err := db.ExecContext(b.Context(), statement)
		require.NoError(b, err)
	}
	do(`SELECT month_of(` + strconv.Itoa(number) + `)`)
	do(`INSERT INTO member (member, name, since_us) VALUES (5, 'line-5', 0)`)
	do(`DO $$ BEGIN CREATE ROLE bench_station_5 LOGIN; EXCEPTION WHEN duplicate_object THEN NULL; END $$`)
	do(`GRANT INSERT ON run_key TO bench_station_5`)
	do(`DROP TRIGGER records_stay_whole ON run_key`)
	do(`DO $$ DECLARE t regclass; BEGIN FOR t IN SELECT inhrelid FROM pg_inherits WHERE inhparent = 'run_key'::regclass LOOP
		EXECUTE format('DROP TRIGGER records_stay_whole ON %s', t); END LOOP; END $$`)
	do(`CREATE FUNCTION own_row() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
		IF (NEW.run & 4095)::text <> split_part(current_user, '_station_', 2) THEN RAISE EXCEPTION 'not its own'; END IF; RETURN NEW; END $$`)
	do(`CREATE FUNCTION own_set() RETURNS trigger LANGUAGE plpgsql AS $$ BEGIN
		IF EXISTS (SELECT FROM new_rows WHERE (run & 4095)::text <> split_part(current_user, '_station_', 2)) THEN RAISE EXCEPTION 'not its own'; END IF; RETURN NULL; END $$`)
	rows := make([][]any, 40_000)
	for i := range rows {
		rows[i] = []any{int64(number + i/20*4096 + 5), int64(i % 20), int64(i % 20), int64(1), int64(100_000 + i%5000), int64(200), int64(0), int64(800), int64(2), int64(700), int64(3)}
	}
	columns := strings.Fields("run place key passed closed_mohm closed_u_mohm closed_at_least make_us make_count break_us break_count")
	ways := []struct{ name, set string }{
		{"nothing", ``},
		{"condition", `CREATE TRIGGER own_rows AFTER INSERT ON run_key FOR EACH ROW
			WHEN ((NEW.run & 4095)::text <> split_part(current_user, '_station_', 2)) EXECUTE FUNCTION own_rows()`},
		{"function", `CREATE TRIGGER own_rows BEFORE INSERT ON run_key FOR EACH ROW EXECUTE FUNCTION own_row()`},
		{"set", `CREATE TRIGGER own_rows AFTER INSERT ON run_key REFERENCING NEW TABLE AS new_rows FOR EACH STATEMENT EXECUTE FUNCTION own_set()`},
	}
	took := make([]float64, len(ways))
	for range b.N {
		for i, way := range ways {
			do(`DROP TRIGGER IF EXISTS own_rows ON run_key`)
			do(`TRUNCATE run_key`)
			if way.set != "" {
				do(way.set)
			}
			took[i] += copied(b, columns, rows, db.Conn)
		}
	}
	for i, way := range ways[1:] {
		b.ReportMetric(took[i+1]/took[0], way.name+"/nothing")
	}
}

// copied copies rows as a station, and gives how long a processor was at it in the server.
func copied(b *testing.B, columns []string, rows [][]any, connect func(context.Context) (*sql.Conn, error)) float64 {
	b.Helper()
	conn, err := connect(b.Context())
	require.NoError(b, err)
	defer conn.Close()
	_, err = conn.ExecContext(b.Context(), `SET SESSION AUTHORIZATION bench_station_5`)
	require.NoError(b, err)
	defer func() { _, _ = conn.ExecContext(context.WithoutCancel(b.Context()), `RESET SESSION AUTHORIZATION`) }()
	var pid int
	require.NoError(b, conn.QueryRowContext(b.Context(), `SELECT pg_backend_pid()`).Scan(&pid))
	before := processor(b, pid)
	require.NoError(b, postgres.Copy(b.Context(), conn, "run_key", columns, rows))
	return processor(b, pid) - before
}

// processor is how many ticks a process had a processor.
func processor(b *testing.B, pid int) float64 {
	b.Helper()
	text, err := os.ReadFile(fmt.Sprintf("/proc/%d/stat", pid))
	require.NoError(b, err)
	fields := strings.Fields(string(text[strings.LastIndexByte(string(text), ')'):]))
	sum := 0.0
	for _, f := range fields[12:14] { // utime, stime; proc(5)
		ticks, err := strconv.ParseFloat(f, 64)
		require.NoError(b, err)
		sum += ticks
	}
	return sum
}
