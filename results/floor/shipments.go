package floor

import (
	"context"
	"database/sql"
	"fmt"
	"strings"
	"time"

	"padjig/results/store"
)

// Shipment says that units left, or that they are in stock again.
type Shipment struct {
	Simulated bool
	InStock   bool   // they are in stock, whatever was recorded before
	Consignee string // to whom; empty: not said
	Although  string // why units are shipped that have not passed by the records
	By, Note  string
	At        time.Time
}

// Where says that a unit left, or is in stock.
func (s Shipment) Where() string {
	if s.InStock {
		return "in stock"
	}
	return "shipped"
}

// ShipmentError lists the units because of which nothing was recorded.
type ShipmentError struct{ Units []RefusedUnit }

// RefusedUnit is one, and what is known of it: "unknown", "not passed", "shipped" or
// "in stock", which it is already.
type RefusedUnit struct {
	Serial, Why string
}

func (e *ShipmentError) Error() string {
	var all []string
	for _, u := range e.Units {
		all = append(all, u.Serial+" "+map[string]string{
			"unknown": "was never tested", "not passed": "has not passed by its last judgement", "shipped": "is recorded as shipped already",
			"in stock": "is in stock already by the records",
		}[u.Why])
	}
	return strings.Join(all, "; ")
}

// SaveShipment records all of the units, or with a [*ShipmentError] none: a number that
// was misread, a unit that has not passed, and one that left before are not passed over.
func (s *Records) SaveShipment(ctx context.Context, serials []string, c Shipment) error {
	return s.db.Save(ctx, fmt.Sprintf("save that %d units are %s", len(serials), c.Where()), func(tx *sql.Tx) error {
		var refused ShipmentError
		for _, serial := range serials {
			why, err := c.against(ctx, tx, serial)
			if err != nil {
				return err
			}
			if why != "" {
				refused.Units = append(refused.Units, RefusedUnit{serial, why})
				continue
			}
			_, err = tx.ExecContext(ctx, `
				INSERT INTO shipment (seq, serial, simulated, kind, consignee, although, after_run, by, note, at_us)
				SELECT (SELECT coalesce(max(seq), 0) + 1 FROM shipment), ?, ?, ?, ?, ?, (SELECT coalesce(max(seq), 0) FROM run), ?, ?, ?`,
				serial, c.Simulated, c.Where(), c.Consignee, c.Although, c.By, c.Note, s.db.Now().UnixMicro())
			if err != nil {
				return err
			}
		}
		if len(refused.Units) > 0 {
			return &refused
		}
		return nil
	})
}

// against is why a unit cannot be recorded so.
func (c Shipment) against(ctx context.Context, tx *sql.Tx, serial string) (string, error) {
	var verdict string
	known, err := store.RowOf(ctx, tx, `
		SELECT coalesce((SELECT verdict FROM run WHERE serial = ?1 AND simulated = ?2 AND purpose IN ('', 'return test')
		                   AND verdict IN ('pass', 'fail') ORDER BY seq DESC LIMIT 1), '')
		FROM run WHERE serial = ?1 AND simulated = ?2 LIMIT 1`, []any{serial, c.Simulated}, &verdict)
	if err != nil {
		return "", err
	}
	last, err := LastShipment(ctx, tx, serial, c.Simulated)
	switch {
	case err != nil:
		return "", err
	case !known:
		return "unknown", nil
	case last != nil && last.InStock == c.InStock:
		return c.Where(), nil
	case !c.InStock && verdict != "pass" && c.Although == "":
		return "not passed", nil
	}
	return "", nil
}

// LastShipment is what was last recorded of where a unit is, nil for nothing. At a plant it is the
// runs before it that say which came last: each station numbers its own.
func LastShipment(ctx context.Context, tx *sql.Tx, serial string, simulated bool) (*Shipment, error) {
	c := Shipment{Simulated: simulated}
	found, err := store.RowOf(ctx, tx, `
		SELECT kind = 'in stock', consignee, although, by, note, at_us FROM shipment
		WHERE serial = ? AND simulated = ? ORDER BY after_run DESC, seq DESC LIMIT 1`,
		[]any{serial, simulated}, &c.InStock, &c.Consignee, &c.Although, &c.By, &c.Note, store.Time(&c.At))
	if err != nil || !found {
		return nil, err
	}
	return &c, nil
}
