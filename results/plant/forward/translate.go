package forward

import (
	"fmt"

	"padjig/results/plant/postgres"
	"padjig/results/plant/tables"
)

// numbers are what the numbers of a station are at the plant.
type numbers struct {
	member int
	runs   map[int64]int64
	words  map[string]map[int64]int64
}

// translated gives rows as they stand at the plant, in the columns that [columnsAt] gives.
func (n numbers) translated(t tables.Table, rows [][]any) ([][]any, error) {
	width := len(columnsAt(t))
	values := make([]any, len(rows)*width)
	all := make([][]any, len(rows))
	for i, row := range rows {
		at := values[i*width : (i+1)*width : (i+1)*width]
		all[i] = at
		copy(at, row)
		if t.Kind == tables.Row {
			at[len(row)], at[len(row)+1] = int64(n.member), row[0]
		}
	}
	for c, column := range t.Columns {
		if err := n.column(t, c, column, all); err != nil {
			return nil, err
		}
	}
	return all, nil
}

// column translates one column of rows.
func (n numbers) column(t tables.Table, c int, column tables.Column, rows [][]any) error {
	to := column.To
	switch column.Use {
	case tables.Value, tables.Beside:
		return nil
	case tables.Own:
		to = t.Name
	}
	look, looked := n.words[to]
	if to == "run" {
		look, looked = n.runs, true
	}
	for _, row := range rows {
		local, is := row[c].(int64)
		switch {
		case !is || local == 0:
			continue
		case !looked:
			row[c] = postgres.RowNumber(n.member, local)
			continue
		}
		number, found := look[local]
		if !found {
			return fmt.Errorf("column %s of %s names %s %d of the station, which the plant does not have", column.Name, t.Name, to, local)
		}
		row[c] = number
	}
	return nil
}

// columnsAt are the columns that rows of a table have at the plant.
func columnsAt(t tables.Table) []string {
	if t.Kind == tables.Row {
		return append(t.Names(), "member", "local")
	}
	return t.Names()
}
