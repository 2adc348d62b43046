package count

import (
	"cmp"
	"database/sql"
	"fmt"
	"maps"
	"slices"

	"padjig/results/hourly"
	"padjig/results/plant/postgres"
	"padjig/results/store"
)

// unit is a unit as its runs are counted: as one product, simulated ones apart.
type unit struct {
	serial, code string
	simulated    int64
}

// run is one of its runs.
type run struct {
	seq     int64
	verdict string
	attempt int64
	key     key  // of the cell it is to be counted in
	now     spot // where it is counted
	was     spot // where it was before, zero for nowhere
	wasAs   string
}

// spot is where a run is counted: number of the cell, and its turn in the unit.
type spot struct{ cell, turn int64 }

// as is a run as the rule sees it.
func (r *run) as(purpose string) hourly.Run {
	return hourly.Run{Verdict: r.verdict, As: purpose, Attempt: r.attempt}
}

// lockUnits locks what is known of each serial number, and writes down what this batch adds.
func (c *counting) lockUnits() error {
	from, to := span(c.batch)
	c.first, c.last = from, to
	return store.Visit(c.ctx, c, func(rows *sql.Rows) error {
		var serial string
		var first, last int64
		err := rows.Scan(&serial, &first, &last)
		c.serials = append(c.serials, serial)
		c.first, c.last = min(c.first, first), max(c.last, last)
		return err
	}, `
		INSERT INTO unit (serial, simulated, first_run, last_run, code, member, products, stations)
		SELECT serial, simulated, min(seq), max(seq), min(code), min(member),
		       CASE WHEN min(code) = max(code) THEN 0 ELSE 1 END, CASE WHEN min(member) = max(member) THEN 0 ELSE 1 END
		FROM run JOIN revision USING (revision)
		WHERE seq = ANY(?1::bigint[]) AND seq BETWEEN ?2 AND ?3
		GROUP BY serial, simulated ORDER BY serial, simulated
		ON CONFLICT (serial, simulated) DO UPDATE SET
			first_run = least(unit.first_run, excluded.first_run), last_run = greatest(unit.last_run, excluded.last_run),
			products = greatest(unit.products, excluded.products, CASE WHEN unit.code = excluded.code THEN 0 ELSE 1 END),
			stations = greatest(unit.stations, excluded.stations, CASE WHEN unit.member = excluded.member THEN 0 ELSE 1 END)
		RETURNING serial, first_run, last_run`, c.batch, from, to)
}

// load reads the runs of the units: those of the batch and those that are counted already.
func (c *counting) load() error {
	c.units = map[unit][]*run{}
	missing := maps.Clone(c.placed)
	err := store.Visit(c.ctx, c, func(rows *sql.Rows) error {
		r := new(run)
		var u unit
		var was key
		err := rows.Scan(&r.seq, &u.serial, &u.code, &u.simulated, &r.verdict, &r.attempt, &r.key.revision, &r.key.jig,
			&r.key.operator, &r.key.actuation, &r.key.hour, &r.key.purpose, &r.was.cell, &r.was.turn, &was.shift, &was.lots, &r.wasAs)
		place, fresh := c.placed[r.seq]
		if err != nil || r.was.cell == 0 && !fresh {
			return err
		}
		delete(missing, r.seq)
		r.key.hour, r.key.simulated, r.key.member = hourly.HourOf(r.key.hour), u.simulated, int64(postgres.MemberOf(r.seq))
		r.key.shift, r.key.lots = was.shift, was.lots
		if fresh {
			r.key.shift, r.key.lots = place.Shift, place.Lots
		}
		if _, asked := slices.BinarySearch(c.batch, r.seq); !asked {
			r.key.purpose = r.wasAs
		}
		c.units[u] = append(c.units[u], r)
		return nil
	}, `
		SELECT run.seq, serial, code, run.simulated, run.verdict, attempt, run.revision, run.jig,
		       run.operator, run.actuation, started_us,
		       CASE WHEN EXISTS (SELECT 1 FROM reference_check WHERE reference_check.run = run.seq) THEN 'reference' ELSE run.purpose END,
		       coalesce(run_cell.cell, 0), coalesce(turn, 0), coalesce(cell.shift, 0), coalesce(cell.lots, 0), coalesce(cell.purpose, '')
		FROM run JOIN revision ON revision.revision = run.revision
		LEFT JOIN run_cell ON run_cell.run = run.seq AND run_cell.run BETWEEN ?2 AND ?3
		LEFT JOIN cell ON cell.cell = run_cell.cell
		WHERE serial = ANY(?1::text[]) AND seq BETWEEN ?2 AND ?3`, c.serials, c.first, c.last)
	if err == nil && len(missing) > 0 {
		err = fmt.Errorf("run %d is not stored", slices.Min(slices.Collect(maps.Keys(missing))))
	}
	return err
}

// fold takes out what the runs of each unit added and puts in what they add now.
func (c *counting) fold() error {
	for _, runs := range c.units {
		slices.SortFunc(runs, func(a, b *run) int { return cmp.Compare(a.seq, b.seq) })
		was, now := map[string]stand{}, map[string]stand{}
		for _, r := range runs {
			if r.was.cell != 0 {
				c.next(was, r.as(r.wasAs), r.was.cell, -1)
			}
			r.now.cell = c.numbers[r.key]
			if r.now.cell == 0 { // its cell did not change
				r.now.cell = r.was.cell
			}
			r.now.turn = c.next(now, r.as(r.key.purpose), r.now.cell, +1)
			if r.now != r.was {
				c.moved = append(c.moved, r)
			}
		}
	}
	slices.SortFunc(c.moved, func(a, b *run) int { return cmp.Compare(a.seq, b.seq) })
	return nil
}

// stand is how a unit stands, and the cell of its first judged run.
type stand struct {
	hourly.Unit
	first int64
}

// next counts a run in a cell, or takes it out; stands are by what runs count as.
func (c *counting) next(stands map[string]stand, r hourly.Run, cell, by int64) (turn int64) {
	s := stands[r.As]
	var own hourly.Counts
	var finally int64
	s.Unit, turn, own, finally = s.Next(r)
	c.change(cell).counts = c.change(cell).counts.Plus(by, own)
	if turn == 1 {
		s.first = cell
	}
	if finally != 0 {
		c.change(s.first).counts.LastPassed += by * finally
	}
	stands[r.As] = s
	return turn
}
