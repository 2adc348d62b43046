package count

import (
	"database/sql"
	"maps"
	"slices"

	"padjig/results/hourly"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
)

// internFaults numbers what was found and where, in an order that all share: who waits for
// another's new row may be waited for.
func (c *counting) internFaults() error {
	from, to := span(c.batch)
	return c.exec(`
		INSERT INTO fault (what, location, key, lines, pins)
		SELECT DISTINCT what, location, key, lines, pins FROM run_finding
		WHERE run = ANY(?1::bigint[]) AND run BETWEEN ?2 AND ?3
		  AND NOT EXISTS (SELECT 1 FROM fault WHERE (fault.what, fault.location, fault.key, fault.lines, fault.pins) =
		                  (run_finding.what, run_finding.location, run_finding.key, run_finding.lines, run_finding.pins))
		ORDER BY what, location, key, lines, pins ON CONFLICT DO NOTHING`, c.batch, from, to)
}

// addFindings counts each finding once a run, where the run is now, and takes it out where it was.
func (c *counting) addFindings() error {
	var of, cells, first, by []int64
	left := map[int64]bool{}
	add := func(run int64, at spot, times int64) {
		if at.cell != 0 {
			of, cells, first, by = append(of, run), append(cells, at.cell), append(first, isFirst(at)), append(by, times)
		}
	}
	for _, r := range c.moved {
		add(r.seq, r.was, -1)
		add(r.seq, r.now, +1)
		if r.was.cell != 0 && r.was.cell != r.now.cell {
			left[r.was.cell] = true
		}
	}
	if len(of) == 0 {
		return nil
	}
	from, to := span(of)
	err := c.exec(`
		WITH found AS (
			SELECT run, what, location, key, lines, pins, min(place) AS place FROM run_finding
			WHERE run = ANY(?1::bigint[]) AND run BETWEEN ?5 AND ?6 GROUP BY run, what, location, key, lines, pins
		)
		INSERT INTO cell_finding (cell, fault, units, worst, runs)
		SELECT cell, fault, sum(by * first), sum(CASE WHEN place = 0 THEN by * first ELSE 0 END), sum(by)
		FROM unnest(?1::bigint[], ?2::bigint[], ?3::bigint[], ?4::bigint[]) AS moved (run, cell, first, by)
		JOIN found USING (run) JOIN fault USING (what, location, key, lines, pins)
		GROUP BY cell, fault
		ON CONFLICT (cell, fault) DO UPDATE SET units = cell_finding.units + excluded.units,
			worst = cell_finding.worst + excluded.worst, runs = cell_finding.runs + excluded.runs`, of, cells, first, by, from, to)
	if err != nil || len(left) == 0 {
		return err
	}
	return c.exec(`DELETE FROM cell_finding WHERE cell = ANY(?::bigint[]) AND runs = 0`, slices.Sorted(maps.Keys(left)))
}

func isFirst(at spot) int64 {
	if at.turn == 1 {
		return 1
	}
	return 0
}

// addReadings adds the readings of runs that became the first of their units. Of a cell that such a run
// left they are summed up anew: smallest and largest cannot be taken back.
func (c *counting) addReadings() error {
	came, left := map[int64]int64{}, map[int64]bool{}
	for _, r := range c.moved {
		if r.now.turn == 1 && (r.was.turn != 1 || r.was.cell != r.now.cell) && r.key.contacts() {
			came[r.seq] = r.now.cell
		}
		if r.was.turn == 1 && (r.now.turn != 1 || r.was.cell != r.now.cell) && r.key.contacts() {
			left[r.was.cell] = true
		}
	}
	if len(left) > 0 {
		if err := c.fill(came, left); err != nil {
			return err
		}
	}
	if len(came) == 0 {
		return nil
	}
	sums, err := c.histograms(came)
	if err == nil {
		err = c.read(came, sums)
	}
	if err != nil {
		return err
	}
	cells := slices.Sorted(maps.Keys(sums))
	return c.exec(`
		INSERT INTO cell_reading (cell, packed) SELECT * FROM unnest(?::bigint[], ?::bytea[])
		ON CONFLICT (cell) DO UPDATE SET packed = excluded.packed`,
		cells, store.Each(cells, func(cell int64) []byte { return sums[cell].Pack() }))
}

// contacts says whether a contact was read, see [runs.Record.Contacts].
func (k key) contacts() bool { return runs.ReadsContacts(k.actuation) }

// fill drops the readings of cells, and adds all runs whose readings are to be summed up in them.
func (c *counting) fill(came map[int64]int64, left map[int64]bool) error {
	cells := slices.Sorted(maps.Keys(left))
	if err := c.exec(`DELETE FROM cell_reading WHERE cell = ANY(?::bigint[])`, cells); err != nil {
		return err
	}
	return c.firsts(cells, came)
}

// firsts adds the runs whose readings are summed up in cells, each with its cell.
func (c *counting) firsts(cells []int64, to map[int64]int64) error {
	return store.Visit(c.ctx, c, func(rows *sql.Rows) error {
		var run, cell int64
		err := rows.Scan(&run, &cell)
		to[run] = cell
		return err
	}, `SELECT run, run_cell.cell FROM run_cell JOIN cell USING (cell)
	    WHERE cell = ANY(?::bigint[]) AND turn = 1 AND actuation <> ?`, cells, string(sequence.Electrical))
}

// histograms are those of the cells that runs come into, as they are stored.
func (c *counting) histograms(came map[int64]int64) (map[int64]*hourly.Histograms, error) {
	sums := map[int64]*hourly.Histograms{}
	for _, cell := range came {
		sums[cell] = new(hourly.Histograms)
	}
	return sums, c.stored(sums)
}

// stored reads what is stored of cells, those of the map.
func (c *counting) stored(of map[int64]*hourly.Histograms) error {
	return store.Visit(c.ctx, c, func(rows *sql.Rows) error {
		var cell int64
		var packed []byte
		err := rows.Scan(&cell, &packed)
		if err == nil {
			of[cell], err = hourly.Unpack(packed)
		}
		return err
	}, `SELECT cell, packed FROM cell_reading WHERE cell = ANY(?::bigint[])`, slices.Collect(maps.Keys(of)))
}

// read adds the readings of runs to the cells they come into, in the order of the runs.
func (c *counting) read(came map[int64]int64, sums map[int64]*hourly.Histograms) error {
	if len(came) == 0 {
		return nil
	}
	of := slices.Sorted(maps.Keys(came))
	return store.Visit(c.ctx, c, func(rows *sql.Rows) error {
		var run, key int64
		var milliohm, atLeast *int64
		err := rows.Scan(&run, &key, &milliohm, &atLeast)
		var reading *runs.Ohms
		if atLeast != nil {
			reading = &runs.Ohms{MilliOhm: milliohm, AtLeast: *atLeast == 1}
		}
		sums[came[run]].Add(key, reading)
		return err
	}, `
		SELECT run, key, closed_mohm, closed_at_least FROM run_key
		WHERE run = ANY(?1::bigint[]) AND run BETWEEN ?2 AND ?3 ORDER BY run, place`, of, of[0], of[len(of)-1])
}
