package forward

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"maps"
	"slices"
	"strings"

	"padjig/results/plant/postgres"
	"padjig/results/plant/tables"
	"padjig/results/store"
)

// findWords finds the numbers of words at the plant, and tells which mean something else there. One that the plant does not
// have gets a number that none has.
func (n numbers) findWords(ctx context.Context, c *sql.Conn, words map[string][][]any) (refusedWords, error) {
	return n.each(ctx, c, words, false)
}

// learn finds the numbers of words at the plant, and makes those that are new. It does so outside the
// transaction of the rows: a word that nothing names yet harms nobody, and stations that learn the same words do
// not wait for each other's batches. A word that means something else there, or is not what it is called, is
// refused, and so is every one that names it; what is there stays.
func (n numbers) learn(ctx context.Context, c *sql.Conn, words map[string][][]any) (refusedWords, error) {
	return n.each(ctx, c, words, true)
}

// learnFaults makes the faults that findings name and that are new, outside the transaction of the rows as well: counting
// would make them inside it, and the other stations that found the same would wait for that batch, one behind the other.
func learnFaults(ctx context.Context, c *sql.Conn, findings [][]any) error {
	rows := tableOf("run_finding")
	fault := tableOf("fault").Names()[1:]
	seen := map[[5]any]bool{}
	for _, row := range findings {
		var f [5]any
		for i, name := range fault {
			f[i] = row[rows.Index(name)]
		}
		seen[f] = true
	}
	if len(seen) == 0 {
		return nil
	}
	all := slices.SortedFunc(maps.Keys(seen), func(a, b [5]any) int { return compareRows(a[:], b[:]) })
	texts := make([]any, len(fault))
	for i := range fault {
		texts[i] = store.Each(all, func(f [5]any) string { return f[i].(string) })
	}
	same := fmt.Sprintf(`(fault.%[1]s) = (found.%[2]s)`, strings.Join(fault, ", fault."), strings.Join(fault, ", found."))
	_, err := c.ExecContext(ctx, fmt.Sprintf(`
		INSERT INTO fault (%[1]s) SELECT * FROM unnest(%[2]s) AS found (%[1]s)
		WHERE NOT EXISTS (SELECT 1 FROM fault WHERE %[3]s) ORDER BY %[1]s ON CONFLICT DO NOTHING`,
		list(fault), strings.TrimSuffix(strings.Repeat("?::text[], ", len(fault)), ", "), same), texts...)
	return err
}

func (n numbers) each(ctx context.Context, c *sql.Conn, words map[string][][]any, add bool) (refusedWords, error) {
	refused := refusedWords{}
	for _, t := range tables.All() {
		rows := words[t.Name]
		if t.Kind != tables.Word || len(rows) == 0 {
			continue
		}
		if n.words[t.Name] == nil {
			n.words[t.Name] = map[int64]int64{}
		}
		if err := n.ofTable(ctx, c, t, rows, add, refused); err != nil {
			return nil, fmt.Errorf("%s of the plant: %w", t.Name, err)
		}
	}
	return refused, nil
}

func (n numbers) ofTable(ctx context.Context, c *sql.Conn, t tables.Table, rows [][]any, add bool, refused refusedWords) error {
	rest := t
	rest.Columns = t.Columns[1:]
	if add {
		rows = refused.without(t, rows)
	}
	told := make([][]any, len(rows)) // without the number of the row
	order := make([]int, len(rows))
	for i, row := range rows {
		told[i], order[i] = slices.Clone(row[1:]), i
	}
	for at, column := range rest.Columns {
		if err := n.column(rest, at, column, told); err != nil {
			return err
		}
	}
	slices.SortFunc(order, func(a, b int) int { return compareRows(told[a], told[b]) }) // so that two that add the same never wait in a ring
	find, insert := wordQueries(rest, t)
	width := keyWidth(rest)
	for _, i := range order {
		local, key := rows[i][0].(int64), told[i][:width]
		there, err := wordThere(ctx, c, len(told[i])-width+1, find, key)
		if err == nil && there == nil && add {
			if _, err = c.ExecContext(ctx, insert, told[i]...); err == nil {
				there, err = wordThere(ctx, c, len(told[i])-width+1, find, key)
			}
		}
		switch {
		case postgres.Code(err) == postgres.CheckViolation:
			refused.add(t, rows[i], nil)
		case err != nil:
			return err
		case there == nil && add:
			return fmt.Errorf("%v is not there after it was added", key)
		case there == nil:
			n.words[t.Name][local] = -local
		case !slices.Equal(there[1:], told[i][width:]):
			refused.add(t, rows[i], there[1:])
			if add {
				continue
			}
			fallthrough
		default:
			n.words[t.Name][local] = there[0].(int64)
		}
	}
	return nil
}

// wordThere reads the number of a word at the plant, and what stands beside it; nil where it is not there.
func wordThere(ctx context.Context, c *sql.Conn, width int, find string, key []any) ([]any, error) {
	all, err := rowsOf(ctx, c, width, find, key...)
	if err != nil || len(all) == 0 {
		return nil, err
	}
	return all[0], nil
}

// keyWidth is how many columns tell a word apart; what stands beside it comes last.
func keyWidth(rest tables.Table) int {
	if at := slices.IndexFunc(rest.Columns, func(c tables.Column) bool { return c.Use == tables.Beside }); at >= 0 {
		return at
	}
	return len(rest.Columns)
}

func wordQueries(rest, t tables.Table) (find, add string) {
	names := rest.Names()
	width := keyWidth(rest)
	find = fmt.Sprintf(`SELECT %s FROM %s WHERE "%s" = ?`, list(append([]string{t.Key()}, names[width:]...)), quoted(t.Name), strings.Join(names[:width], `" = ? AND "`))
	add = fmt.Sprintf(`INSERT INTO %s (%s) VALUES (%s) ON CONFLICT DO NOTHING`, quoted(t.Name), list(names), store.Placeholders(len(names)))
	return find, add
}

// compareRows orders rows of numbers and texts.
func compareRows(a, b []any) int {
	for i := range a {
		var order int
		switch left := a[i].(type) {
		case int64:
			order = cmp.Compare(left, b[i].(int64))
		case string:
			order = strings.Compare(left, b[i].(string))
		}
		if order != 0 {
			return order
		}
	}
	return 0
}
