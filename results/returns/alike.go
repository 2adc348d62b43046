package returns

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"padjig/results/floor"
	"padjig/results/store"
	"padjig/sequence"
)

// Alike is a finding at the same place on another unit.
type Alike struct {
	Serial   string           `json:"serial"`
	Seq      int64            `json:"-"`
	Started  time.Time        `json:"started"`
	Purpose  sequence.Purpose `json:"purpose,omitempty"`
	What     string           `json:"what"`
	Location string           `json:"place"`
	Key      string           `json:"key"` // label, empty where it is not about one key
	Why      []string         `json:"why"` // what the units have in common
}

// Alike lists findings on other units at the place of a finding of this case:
// of the same product, and tested by the same jig in the same shift as the
// shipped run (on the same day where no shifts are known), made of the same lot
// of something, or returned as well.
func (s *Records) Alike(ctx context.Context, c Case, f sequence.Finding, shipped *Shipped) (list []Alike, err error) {
	lines, err := json.Marshal(append([]string{}, f.Lines...))
	if err != nil {
		return nil, err
	}
	err = s.db.Ask(ctx, fmt.Sprintf("look for units like case %d", c.Number), func(tx *sql.Tx) error {
		of, err := originOf(ctx, tx, shipped)
		if err != nil {
			return err
		}
		of.simulated, of.said = c.Simulated(), c.Intake().Lot
		list, err = store.Collect(ctx, tx, of.scan, `
			SELECT run.serial, run.seq, run.started_us, run.purpose, what, location, key, `+originColumns+`
			FROM run_finding JOIN run ON run.seq = run_finding.run JOIN revision USING (revision) `+originJoins+`
			WHERE revision.code = ? AND run.serial <> ? AND run.simulated = ? AND run.purpose <> 'engineering'
			  AND ((? <> '' AND key = ?) OR (? = '' AND lines = ?))
			ORDER BY run.seq`, c.Product, c.Serial, of.simulated, f.Key, f.Key, f.Key, string(lines))
		return err
	})
	if err != nil {
		return nil, err
	}
	return slices.DeleteFunc(list, func(a Alike) bool { return len(a.Why) == 0 }), nil
}

// origin is where and of what a unit was made.
type origin struct {
	known     bool // by a production run
	simulated bool
	jig       string
	shift     int64 // 0: none
	started   time.Time
	clock     floor.Clock
	lots      [3]string // of membrane, dome, board; empty: not known
	said      string    // lot that an intake names
}

const originColumns = `run_jig.serial, coalesce(cell.shift, 0),
	coalesce(membrane, ''), coalesce(dome, ''), coalesce(board, ''),
	coalesce((SELECT lot FROM return_intake JOIN return_case ON return_case.seq = return_intake.return_case
	          WHERE return_case.serial = run.serial ORDER BY return_intake.seq DESC LIMIT 1), '')`

const originJoins = `JOIN jig AS run_jig ON run_jig.jig = run.jig
	LEFT JOIN run_cell ON run_cell.run = run.seq LEFT JOIN cell ON cell.cell = run_cell.cell
	LEFT JOIN lot_change ON lot_change.seq = cell.lots`

func (o *origin) into() []any {
	return []any{&o.jig, &o.shift, &o.lots[0], &o.lots[1], &o.lots[2], &o.said}
}

// originOf looks up where a unit that left was made.
func originOf(ctx context.Context, tx *sql.Tx, shipped *Shipped) (o origin, err error) {
	if shipped == nil {
		return o, nil
	}
	_, err = store.RowOf(ctx, tx, `SELECT `+originColumns+` FROM run `+originJoins+` WHERE run.seq = ?`, []any{shipped.Run.Seq}, o.into()...)
	if err != nil {
		return o, err
	}
	zone, err := floor.ZoneIn(ctx, tx)
	o.known, o.started, o.clock = true, shipped.Run.Started, floor.ClockOf(zone)
	return o, err
}

// made lists the lots that are known.
func (o origin) made() floor.Lots {
	lots := floor.Lots{}
	for i, lot := range o.lots {
		if lot != "" {
			lots[floor.Materials[i]] = lot
		}
	}
	return lots
}

func (o origin) scan(rows *sql.Rows) (a Alike, err error) {
	var other origin
	err = rows.Scan(append([]any{&a.Serial, &a.Seq, store.Time(&a.Started), &a.Purpose, &a.What, &a.Location, &a.Key}, other.into()...)...)
	other.known, other.started = a.Purpose == sequence.Production, a.Started
	a.Why = o.shares(other)
	if !other.known {
		a.Why = append(a.Why, "returned too")
	}
	return a, err
}

// halfDay is how far two runs of one shift can be apart and belong to the same one.
const halfDay = 12 * time.Hour

// shares says what two units have in common.
func (o origin) shares(other origin) (why []string) {
	if o.known && other.known && o.jig == other.jig {
		switch {
		case o.shift > 0 && o.shift == other.shift && o.started.Sub(other.started).Abs() < halfDay:
			why = append(why, "same jig and shift")
		case o.clock.Day(o.started) == o.clock.Day(other.started):
			why = append(why, "same jig and day")
		}
	}
	for i, material := range floor.Materials[:len(o.lots)] {
		if o.known && other.known && o.lots[i] != "" && o.lots[i] == other.lots[i] {
			why = append(why, fmt.Sprintf("same lot of %s, %s", material, o.lots[i]))
		}
	}
	if o.said != "" && o.said == other.said {
		why = append(why, "same lot, "+o.said)
	}
	return why
}
