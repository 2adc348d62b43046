package count

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"

	"padjig/results/hourly"
	"padjig/results/store"
)

// Records are those of a plant, read at one unchanging state.
type Records interface {
	View(ctx context.Context, do func(*sql.Tx) error) error
}

// rules are what is wrong with counts, as at a station, and what only a plant can have wrong.
func rules() []string {
	return append(append(hourly.Rules(" AND lot_change.member = run.member"), hourly.SpanRules(true)...), wrongPads(),
		`SELECT 'run ' || run.seq || ' is counted for station ' || cell.member || ' and is of ' || run.member
		 FROM run JOIN run_cell ON run_cell.run = run.seq JOIN cell USING (cell) WHERE cell.member <> run.member`,
		`SELECT 'unit ' || serial || ' is not known as its runs are' FROM (
			SELECT serial, simulated, min(seq) AS first, max(seq) AS last, count(DISTINCT code) AS codes, count(DISTINCT member) AS members
			FROM run JOIN revision USING (revision) GROUP BY serial, simulated
		 ) AS anew FULL JOIN unit USING (serial, simulated)
		 WHERE (first_run, last_run, products, stations) IS DISTINCT FROM
		       (first, last, CASE WHEN codes > 1 THEN 1 ELSE 0 END, CASE WHEN members > 1 THEN 1 ELSE 0 END)`)
}

// together is how many cells have their readings summed up at a time.
const together = 200

// Check counts all runs of a plant anew, another way than [Runs] does, and says which cells differ.
// Readings of cells of which some lie in files alone are not looked at.
// told is told how much is done, up to 1; counting may go on meanwhile.
func Check(ctx context.Context, plant Records, told func(done float64)) (found []string, err error) {
	err = plant.View(ctx, func(tx *sql.Tx) error {
		texts := rules()
		for n, rule := range texts {
			wrong, err := store.Breaches(rule)(ctx, tx)
			if err != nil {
				return err
			}
			found = append(found, wrong...)
			told(float64(n+1) / float64(2*len(texts)))
		}
		spans, err := hourly.Maker{Many: true}.WrongReadings(ctx, tx)
		if err != nil {
			return err
		}
		found = append(found, spans...)
		cells, err := store.Collect(ctx, tx, store.ScanInt, `SELECT cell FROM cell ORDER BY first_run, cell`)
		if err != nil {
			return err
		}
		done := 0
		for some := range slices.Chunk(cells, together) {
			wrong, err := wrongReadings(ctx, tx, some)
			if err != nil {
				return err
			}
			found = append(found, wrong...)
			done += len(some)
			told(0.5 + float64(done)/float64(2*len(cells)))
		}
		return nil
	})
	if err != nil {
		err = fmt.Errorf("count the runs of the plant anew: %w", err)
	}
	return found, err
}

// wrongReadings sums up the readings of cells anew.
func wrongReadings(ctx context.Context, tx *sql.Tx, cells []int64) (found []string, err error) {
	c := counting{Tx: tx, ctx: ctx}
	came := map[int64]int64{}
	kept, anew := map[int64]*hourly.Histograms{}, map[int64]*hourly.Histograms{}
	for _, cell := range cells {
		kept[cell], anew[cell] = new(hourly.Histograms), new(hourly.Histograms)
	}
	if err := errors.Join(c.firsts(cells, came), c.stored(kept)); err != nil {
		return nil, err
	}
	gone, err := c.gone(cells)
	if err == nil {
		err = c.read(came, anew)
	}
	if err != nil {
		return nil, err
	}
	for _, cell := range cells {
		if !gone[cell] && !anew[cell].Equal(kept[cell]) {
			found = append(found, fmt.Sprintf("the readings of cell %d are not those of its runs", cell))
		}
	}
	return found, nil
}
