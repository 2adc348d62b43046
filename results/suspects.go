package results

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"slices"
	"time"

	"padjig/fixture/quantity"
	"padjig/sequence"
)

// Suspects is what was tested on a jig since it was last known to be good.
type Suspects struct {
	Jig   string
	Since *StoredCalibration // the last good verification; nil if there was none
	Units []Suspect          // the one nearest to its limit first, those without a reading last
}

// Suspect is one unit, with the reading of its that came nearest to a limit.
type Suspect struct {
	Serial  string
	Product string // code
	Runs    int    // on this jig since then
	Last    time.Time
	Outcome sequence.Outcome // of the last one
	Key     string           // label; empty if no key was read
	Closed  quantity.Ohm
	U       quantity.Ohm // standard uncertainty of Closed; Open if unknown
	Limit   quantity.Ohm
	// Margin is how far inside the limit the reading lies, below zero beyond it.
	Margin quantity.Ohm
}

// OfLimit is the margin as a part of the limit.
func (u Suspect) OfLimit() float64 { return float64(u.Margin / u.Limit) }

// OfU is the margin in expanded uncertainties (k = 2); zero if that is unknown.
func (u Suspect) OfU() float64 {
	if u.U.IsOpen() || u.U <= 0 {
		return 0
	}
	return float64(u.Margin / (2 * u.U))
}

// Suspects lists the units tested on a jig after its last good verification,
// by the order of records and not by any clock.
func (s *Store) Suspects(ctx context.Context, jig string, simulated bool) (Suspects, error) {
	since, err := s.LastGood(ctx, jig, sequence.KindVerify, simulated)
	if err != nil {
		return Suspects{}, err
	}
	list := suspectList{limits: map[int64]map[string][2]quantity.Ohm{}}
	after := int64(0)
	if since != nil {
		after = since.AfterRun
	}
	err = s.view(ctx, func(tx *sql.Tx) error { return list.read(ctx, tx, jig, simulated, after) })
	if err != nil {
		return Suspects{}, fmt.Errorf("look up the units tested on jig %q in %s: %w", jig, s.path, err)
	}
	slices.SortStableFunc(list.units, nearer)
	return Suspects{Jig: jig, Since: since, Units: list.units}, nil
}

func nearer(a, b Suspect) int {
	switch {
	case (a.Key == "") != (b.Key == ""):
		if a.Key == "" {
			return 1
		}
		return -1
	case a.Key == "" || a.OfLimit() == b.OfLimit():
		return 0
	case a.OfLimit() < b.OfLimit():
		return -1
	}
	return 1
}

// suspectList gathers suspects run by run.
type suspectList struct {
	units  []Suspect
	limits map[int64]map[string][2]quantity.Ohm // closed limits by revision and key label
}

// suspectRun is a run with one of its keys, or with none.
type suspectRun struct {
	seq, revision, started   int64
	serial, product, outcome string
	key                      *string
	mohm, u                  *int64
}

func (l *suspectList) read(ctx context.Context, tx *sql.Tx, jig string, simulated bool, after int64) error {
	scan := func(rows *sql.Rows) (r suspectRun, err error) {
		return r, rows.Scan(&r.seq, &r.revision, &r.started, &r.serial, &r.product, &r.outcome, &r.key, &r.mohm, &r.u)
	}
	runs, err := collect(ctx, tx, scan, `
		SELECT run.seq, run.revision, started_us, run.serial, revision.code, verdict,
		       key.label, closed_mohm, closed_u_mohm
		FROM run JOIN jig USING (jig) JOIN revision ON revision.revision = run.revision
		LEFT JOIN run_key ON run_key.run = run.seq AND closed_at_least = 0 AND actuation <> 'electrical'
		LEFT JOIN key ON key.key = run_key.key
		WHERE run.seq > ? AND jig.serial = ? AND simulated = ? ORDER BY run.seq, run_key.place`,
		after, jig, simulated)
	if err != nil {
		return err
	}
	last := int64(0)
	for _, r := range runs {
		u := l.unit(r)
		if r.seq != last {
			u.Runs++
			u.Last, u.Outcome, last = time.UnixMicro(r.started).UTC(), sequence.Outcome(r.outcome), r.seq
		}
		if r.key == nil {
			continue
		}
		limit, err := l.limit(ctx, tx, r)
		if err != nil {
			return err
		}
		u.consider(r, limit)
	}
	return nil
}

func (l *suspectList) unit(r suspectRun) *Suspect {
	i := slices.IndexFunc(l.units, func(u Suspect) bool { return u.Serial == r.serial && u.Product == r.product })
	if i < 0 {
		i = len(l.units)
		l.units = append(l.units, Suspect{Serial: r.serial, Product: r.product})
	}
	return &l.units[i]
}

// consider keeps the reading if it is nearer to a limit than the one kept.
func (u *Suspect) consider(r suspectRun, limit [2]quantity.Ohm) {
	closed := quantity.Ohm(unscale(r.mohm, milli))
	for i, t := range limit {
		if t <= 0 || t.IsOpen() {
			continue
		}
		margin := t - closed
		if i == 0 {
			margin = closed - t
		}
		if u.Key == "" || float64(margin/t) < u.OfLimit() {
			u.Key, u.Closed, u.U = *r.key, closed, quantity.Ohm(unscale(r.u, milli))
			u.Limit, u.Margin = t, margin
		}
	}
}

// limit gives the limits of a key's closed resistance, as the revision defines
// them: least and most, zero for none.
func (l *suspectList) limit(ctx context.Context, tx *sql.Tx, r suspectRun) ([2]quantity.Ohm, error) {
	known, ok := l.limits[r.revision]
	if !ok {
		var definition []byte
		err := tx.QueryRowContext(ctx, `SELECT definition FROM revision WHERE revision = ?`, r.revision).Scan(&definition)
		if err != nil {
			return [2]quantity.Ohm{}, err
		}
		known = closedLimits(definition)
		l.limits[r.revision] = known
	}
	return known[*r.key], nil
}

func closedLimits(definition []byte) map[string][2]quantity.Ohm {
	limits := map[string][2]quantity.Ohm{}
	var p struct {
		Keys []struct {
			Label  string
			Limits struct {
				Closed [2]float64 `json:"closed_ohm"`
			}
		}
	}
	if json.Unmarshal(definition, &p) != nil {
		return limits // a definition without keys: nothing to compare with
	}
	for _, k := range p.Keys {
		limits[k.Label] = [2]quantity.Ohm{quantity.Ohm(k.Limits.Closed[0]), quantity.Ohm(k.Limits.Closed[1])}
	}
	return limits
}
