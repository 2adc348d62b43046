package plant_test

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"padjig/results/plant/postgres"
	"padjig/results/store"
)

// numbers are what rows of one member are called in the plant.
type numbers struct {
	member int
	runs   map[int64]int64
	words  map[string]map[int64]int64 // by table
	cells  map[int64]int64
}

// words are the tables whose rows are numbered once for all members.
var words = []string{"revision", "key", "pin", "step", "jig", "station", "line_split", "fault"}

// ofRuns are columns with a number of a run.
var ofRuns = []string{"run", "after_run", "first_run", "last_run"}

// rowsOf are columns with a number of a row of the member; in a table of their own that of the row itself.
var rowsOf = []string{"seq", "start", "return_case", "calibration", "proposal", "base", "intake", "override", "disposition", "rework", "study",
	"stop", "commissioning", "lots", "shift", "plan", "after_start"}

func (n numbers) of(table, column string, value any) (any, error) {
	local, whole := value.(int64)
	if !whole || local == 0 {
		return value, nil
	}
	switch {
	case column == "seq" && table == "run", slices.Contains(ofRuns, column):
		number, known := n.runs[local]
		if !known {
			return nil, fmt.Errorf("%s.%s: run %d is not known", table, column, local)
		}
		return number, nil
	case slices.Contains(words, column):
		number, known := n.words[column][local]
		if !known {
			return nil, fmt.Errorf("%s.%s: %d is not known", table, column, local)
		}
		return number, nil
	case column == "cell":
		return n.cells[local], nil
	case slices.Contains(rowsOf, column), table == "placement" && column == "place":
		return postgres.RowNumber(n.member, local), nil
	}
	return value, nil
}

// fill writes the records of a station into a plant, table by table as the plant numbers them. What is counted is
// taken over as it is: it is right as long as no unit was tested at two stations.
func fill(t *testing.T, plant *sql.DB, member int, name, path string) numbers {
	t.Helper()
	station, err := store.OpenReadOnly(t.Context(), path)
	require.NoError(t, err)
	defer station.Close()
	n := numbers{member, map[int64]int64{}, map[string]map[int64]int64{}, map[int64]int64{}}
	to, err := plant.BeginTx(t.Context(), nil)
	require.NoError(t, err)
	defer to.Rollback()
	_, err = to.ExecContext(t.Context(), `INSERT INTO member VALUES (?, ?, 0)`, member, name)
	require.NoError(t, err)
	require.NoError(t, station.View(t.Context(), func(from *sql.Tx) error { return n.fill(t.Context(), from, to) }))
	require.NoError(t, to.Commit())
	_, err = plant.ExecContext(t.Context(), `ANALYZE`)
	require.NoError(t, err)
	return n
}

func (n numbers) fill(ctx context.Context, from, to *sql.Tx) error {
	if err := n.numberRuns(ctx, from, to); err != nil {
		return err
	}
	for _, table := range words {
		if err := n.intern(ctx, from, to, table); err != nil {
			return err
		}
	}
	tables, err := store.Collect(ctx, to, store.ScanText, `
		SELECT relname::text FROM pg_class WHERE relkind IN ('r', 'p') AND NOT relispartition AND relnamespace = 'public'::regnamespace
		ORDER BY relname <> 'cell', relname`)
	if err != nil {
		return err
	}
	for _, table := range tables {
		if slices.Contains(words, table) {
			continue
		}
		var here bool
		if err := from.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_schema WHERE type = 'table' AND name = ?`, table).Scan(&here); err != nil {
			return err
		}
		if here && table != "migration" {
			if err := n.copy(ctx, from, to, table); err != nil {
				return fmt.Errorf("fill %s: %w", table, err)
			}
		}
	}
	return nil
}

// numberRuns numbers the runs by the time at which they were stored, and makes room for them.
func (n numbers) numberRuns(ctx context.Context, from, to *sql.Tx) error {
	var before int64
	months := map[string]bool{}
	return store.Visit(ctx, from, func(rows *sql.Rows) error {
		var seq int64
		var saved time.Time
		if err := rows.Scan(&seq, store.Time(&saved)); err != nil {
			return err
		}
		before = postgres.RunNumber(n.member, saved, before)
		n.runs[seq] = before
		if month := saved.Format("2006-01"); !months[month] {
			months[month] = true
			_, err := to.ExecContext(ctx, `SELECT month_of(?)`, before)
			return err
		}
		return nil
	}, `SELECT seq, saved_us FROM run ORDER BY seq`)
}

// intern numbers the words of a table, the last first, so that no number is by chance that of the station; but keys,
// by whose numbers the sums of readings are packed.
func (n numbers) intern(ctx context.Context, from, to *sql.Tx, table string) error {
	n.words[table] = map[int64]int64{}
	columns, err := columnsOf(ctx, to, table)
	if err != nil {
		return err
	}
	columns = slices.DeleteFunc(columns, func(c string) bool { return c == table })
	return store.Visit(ctx, from, func(rows *sql.Rows) error {
		values, err := scanAll(rows)
		if err != nil {
			return err
		}
		local := values[0].(int64)
		for i, column := range columns {
			if values[i+1], err = n.of(table, column, values[i+1]); err != nil {
				return err
			}
		}
		if table == "key" {
			n.words[table][local] = local
			_, err := to.ExecContext(ctx, `INSERT INTO key (key, `+strings.Join(columns, ", ")+`) OVERRIDING SYSTEM VALUE VALUES (?, `+
				store.Placeholders(len(columns))+`)`, values...)
			return err
		}
		names := strings.Join(columns, ", ")
		if err := to.QueryRowContext(ctx, `INSERT INTO `+table+` (`+names+`) VALUES (`+store.Placeholders(len(columns))+`)
			ON CONFLICT (`+strings.Join(columns[:uniqueColumns(table, columns)], ", ")+`) DO UPDATE SET `+columns[0]+` = excluded.`+columns[0]+` RETURNING `+table, values[1:]...).Scan(&values[0]); err != nil {
			return fmt.Errorf("word of %s: %w", table, err)
		}
		n.words[table][local] = values[0].(int64)
		return nil
	}, `SELECT `+table+`, `+strings.Join(columns, ", ")+` FROM `+table+` ORDER BY `+table+` DESC`)
}

// uniqueColumns is how many columns of a word tell it apart: not the definition of a revision.
func uniqueColumns(table string, columns []string) int {
	if table == "revision" {
		return len(columns) - 1
	}
	return len(columns)
}

func (n numbers) copy(ctx context.Context, from, to *sql.Tx, table string) error {
	columns, err := columnsOf(ctx, to, table)
	if err != nil {
		return err
	}
	member := slices.Contains(columns, "member")
	columns = slices.DeleteFunc(columns, func(c string) bool { return c == "member" || c == "local" || table == "cell" && c == "cell" })
	names := `"` + strings.Join(columns, `", "`) + `"`
	own := map[string]string{"cell": "cell", "shift": "shift"}[table]
	if own == "" {
		own = columns[0]
	}
	into := columns
	if member {
		into = append(slices.Clone(columns), "member")
		if table != "cell" {
			into = append(into, "local")
		}
	}
	insert := `INSERT INTO ` + table + ` ("` + strings.Join(into, `", "`) + `") VALUES (` + store.Placeholders(len(into)) + `)`
	if table == "cell" {
		insert += ` RETURNING cell`
	}
	return store.Visit(ctx, from, func(rows *sql.Rows) error {
		values, err := scanAll(rows)
		if err != nil {
			return err
		}
		local := values[0].(int64)
		values = values[1:]
		for i, column := range columns {
			if values[i], err = n.of(table, column, values[i]); err != nil {
				return err
			}
		}
		if member {
			values = append(values, n.member)
		}
		if table == "cell" {
			var cell int64
			err := to.QueryRowContext(ctx, insert, values...).Scan(&cell)
			n.cells[local] = cell
			return err
		}
		if member {
			values = append(values, local)
		}
		_, err = to.ExecContext(ctx, insert, values...)
		return err
	}, `SELECT "`+own+`", `+names+` FROM `+table)
}

// columnsOf are those that are not computed.
func columnsOf(ctx context.Context, tx *sql.Tx, table string) ([]string, error) {
	return store.Collect(ctx, tx, store.ScanText, `
		SELECT attname::text FROM pg_attribute WHERE attrelid = ?::regclass AND attnum > 0 AND attgenerated = '' AND NOT attisdropped ORDER BY attnum`, table)
}

func scanAll(rows *sql.Rows) ([]any, error) {
	columns, err := rows.Columns()
	if err != nil {
		return nil, err
	}
	values, into := make([]any, len(columns)), make([]any, len(columns))
	for i := range values {
		into[i] = &values[i]
	}
	return values, rows.Scan(into...)
}
