package count

import (
	"database/sql"
	"maps"
	"slices"

	"padjig/results/hourly"
	"padjig/results/store"
)

// key is what the runs of a cell have in common: as at a station, and the station.
type key struct {
	hour, shift, revision, jig, lots int64
	operator, actuation              string
	simulated                        int64
	purpose                          string
	member                           int64
}

// change is what a batch does to a cell.
type change struct {
	counts      hourly.Counts
	first, last int64 // runs that came into it, 0 for none
}

func (c *counting) change(cell int64) *change {
	if c.cells[cell] == nil {
		c.cells[cell] = new(change)
	}
	return c.cells[cell]
}

// lockCells begins the cells that are new, and locks all that this batch may change, in the order of their numbers.
func (c *counting) lockCells() error {
	c.numbers, c.cells = map[key]int64{}, map[int64]*change{}
	of := map[int64]bool{}
	for _, runs := range c.units {
		for _, r := range runs {
			if r.was.cell != 0 {
				of[r.was.cell] = true
			}
			if _, in := slices.BinarySearch(c.batch, r.seq); in {
				c.numbers[r.key] = 0
			}
		}
	}
	keys := keysOf(slices.Collect(maps.Keys(c.numbers)))
	if err := c.exec(`
		INSERT INTO cell (hour, shift, revision, jig, lots, operator, actuation, simulated, purpose, member)
		SELECT * FROM `+unnestKeys+` AS key (hour, shift, revision, jig, lots, operator, actuation, simulated, purpose, member)
		WHERE NOT EXISTS (SELECT 1 FROM cell WHERE `+sameKey+`) ON CONFLICT DO NOTHING`, keys...); err != nil {
		return err
	}
	return store.Visit(c.ctx, c, func(rows *sql.Rows) error {
		var number int64
		var k key
		err := rows.Scan(&number, &k.hour, &k.shift, &k.revision, &k.jig, &k.lots,
			&k.operator, &k.actuation, &k.simulated, &k.purpose, &k.member)
		if _, sought := c.numbers[k]; sought {
			c.numbers[k] = number
		}
		return err
	}, `
		SELECT cell, hour, shift, revision, jig, lots, operator, actuation, simulated, purpose, member FROM cell
		WHERE cell IN (
			SELECT unnest(?11::bigint[]) UNION
			SELECT cell FROM `+unnestKeys+` AS key (hour, shift, revision, jig, lots, operator, actuation, simulated, purpose, member)
			JOIN cell ON `+sameKey+`)
		ORDER BY cell FOR UPDATE`, append(keys, slices.Sorted(maps.Keys(of)))...)
}

const (
	unnestKeys = `unnest(?1::bigint[], ?2::bigint[], ?3::bigint[], ?4::bigint[], ?5::bigint[],
		?6::text[], ?7::text[], ?8::bigint[], ?9::text[], ?10::smallint[])`
	sameKey = `(cell.hour, cell.shift, cell.revision, cell.jig, cell.lots, cell.operator, cell.actuation, cell.simulated, cell.purpose, cell.member) =
		(key.hour, key.shift, key.revision, key.jig, key.lots, key.operator, key.actuation, key.simulated, key.purpose, key.member)`
)

// keysOf are keys as columns, for unnestKeys.
func keysOf(keys []key) []any {
	numbers := func(of func(key) int64) []int64 { return store.Each(keys, of) }
	texts := func(of func(key) string) []string { return store.Each(keys, of) }
	return []any{
		numbers(func(k key) int64 { return k.hour }), numbers(func(k key) int64 { return k.shift }),
		numbers(func(k key) int64 { return k.revision }), numbers(func(k key) int64 { return k.jig }),
		numbers(func(k key) int64 { return k.lots }), texts(func(k key) string { return k.operator }),
		texts(func(k key) string { return k.actuation }), numbers(func(k key) int64 { return k.simulated }),
		texts(func(k key) string { return k.purpose }), numbers(func(k key) int64 { return k.member }),
	}
}

// place writes down where each run is counted.
func (c *counting) place() error {
	if len(c.moved) == 0 {
		return nil
	}
	for _, r := range c.moved {
		if d := c.change(r.now.cell); r.now.cell != r.was.cell {
			if d.first == 0 {
				d.first = r.seq
			}
			d.last = r.seq // they come in order
		}
	}
	return c.exec(`
		INSERT INTO run_cell (run, cell, turn) SELECT * FROM unnest(?1::bigint[], ?2::bigint[], ?3::bigint[])
		ON CONFLICT (run) DO UPDATE SET cell = excluded.cell, turn = excluded.turn`,
		store.Each(c.moved, func(r *run) int64 { return r.seq }),
		store.Each(c.moved, func(r *run) int64 { return r.now.cell }), store.Each(c.moved, func(r *run) int64 { return r.now.turn }))
}

// addCounts changes the counts of cells.
func (c *counting) addCounts() error {
	var columns [13][]int64
	touched := map[int64]bool{} // whose readings and findings change, maybe with no count of theirs: their spans go with them
	for _, r := range c.moved {
		touched[r.was.cell], touched[r.now.cell] = true, true
	}
	for _, cell := range slices.Sorted(maps.Keys(c.cells)) {
		d := c.cells[cell]
		if *d == (change{}) && !touched[cell] {
			continue
		}
		n := d.counts
		for i, v := range []int64{cell, d.first, d.last, n.Runs, n.Reseat, n.Incomplete, n.Aborted,
			n.Units, n.FirstPassed, n.LastPassed, n.Retests, n.Cures, n.Relapses} {
			columns[i] = append(columns[i], v)
		}
	}
	if len(columns[0]) == 0 {
		return nil
	}
	args := make([]any, len(columns))
	for i, column := range columns {
		args[i] = column
	}
	return c.exec(`
		UPDATE cell SET
			first_run = CASE WHEN cell.first_run = 0 OR d.first_run > 0 AND d.first_run < cell.first_run THEN d.first_run ELSE cell.first_run END,
			last_run = greatest(cell.last_run, d.last_run),
			runs = cell.runs + d.runs, reseat = cell.reseat + d.reseat, incomplete = cell.incomplete + d.incomplete,
			aborted = cell.aborted + d.aborted, units = cell.units + d.units, first_passed = cell.first_passed + d.first_passed,
			last_passed = cell.last_passed + d.last_passed, retests = cell.retests + d.retests, cures = cell.cures + d.cures,
			relapses = cell.relapses + d.relapses
		FROM unnest(?::bigint[], ?::bigint[], ?::bigint[], ?::bigint[], ?::bigint[], ?::bigint[], ?::bigint[],
		            ?::bigint[], ?::bigint[], ?::bigint[], ?::bigint[], ?::bigint[], ?::bigint[])
			AS d (cell, first_run, last_run, runs, reseat, incomplete, aborted, units, first_passed, last_passed, retests, cures, relapses)
		WHERE cell.cell = d.cell`, args...)
}
