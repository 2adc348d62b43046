package care

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"math"
	"slices"
	"time"

	"padjig/fixture/quantity"
	"padjig/results/definition"
	"padjig/results/floor"
	"padjig/results/store"
	"padjig/sequence"
)

// Window is a time in which a jig was not known to be good: from its last good
// verification, over those that failed, to the next good one. Its runs are those between
// the two, by the order of records and not by any clock.
type Window struct {
	Number int                 // 1 is the oldest of the jig
	Since  *StoredCalibration  // the last good verification before; nil if there was none
	Failed []StoredCalibration // none only in the open window, which no verification has ended yet
	Until  *StoredCalibration  // the good verification that ended it; nil while it is open
	Units  []Suspect           // not cleared first, of these the one nearest to its limit, those without a reading last
}

// Open reports whether the jig is still in the window.
func (w Window) Open() bool { return w.Until == nil }

// Cleared counts the units that were cleared since.
func (w Window) Cleared() (n int) {
	for _, u := range w.Units {
		if u.Cleared != nil {
			n++
		}
	}
	return n
}

// Shipped counts the units that left, by the records.
func (w Window) Shipped() (n int) {
	for _, u := range w.Units {
		if u.Left() {
			n++
		}
	}
	return n
}

// LotUnits is how many units of a window are of a lot of material.
type LotUnits struct {
	Material, Lot string
	Units         int
}

// Lots counts the units of each lot, by material and then by lot.
func (w Window) Lots() (all []LotUnits) {
	for _, u := range w.Units {
		for material, lot := range u.Lots {
			i := slices.IndexFunc(all, func(l LotUnits) bool { return l.Material == material && l.Lot == lot })
			if i < 0 {
				i, all = len(all), append(all, LotUnits{Material: material, Lot: lot})
			}
			all[i].Units++
		}
	}
	slices.SortFunc(all, func(a, b LotUnits) int {
		return cmp.Or(cmp.Compare(slices.Index(floor.Materials, a.Material), slices.Index(floor.Materials, b.Material)), cmp.Compare(a.Lot, b.Lot))
	})
	return all
}

// runs are the runs of the window: those after one number and up to another.
func (w Window) runs() (after, upTo int64) {
	upTo = math.MaxInt64
	if w.Since != nil {
		after = w.Since.AfterRun
	}
	if w.Until != nil {
		upTo = w.Until.AfterRun
	}
	return after, upTo
}

// Suspect is one unit tested in a window, with the reading of its that came nearest to a limit.
type Suspect struct {
	Serial  string
	Product string // code
	Runs    int    // on this jig in the window
	Last    time.Time
	Outcome sequence.Outcome // of the last one
	Key     string           // label; empty if no key was read
	Closed  quantity.Ohm
	U       quantity.Ohm // standard uncertainty of Closed; Open if unknown
	Limit   quantity.Ohm
	// Margin is how far inside the limit the reading lies, below zero beyond it.
	Margin quantity.Ohm
	// Corrected is the margin with what the failed verifications found taken off the
	// reading, where that makes it smaller: the drift may have set in at any time.
	Corrected quantity.Ohm
	Cleared   *Clearance // nil if it was not
	Lots      floor.Lots // of material, at its first run in the window, as far as they are known
	// Shipment is what was last recorded of where it is: that it was shipped, or is in
	// stock again. Nil: nothing, which says nothing of where it is.
	Shipment *floor.Shipment

	last int64 // number of its last run in the window
}

// LastRun is the number of its last run in the window.
func (s Suspect) LastRun() int64 { return s.last }

// Clearance says that a unit was tested again and passed, on a jig that was good then.
type Clearance struct {
	Run store.ID
	Jig string
	At  time.Time
}

// Left reports whether the unit was shipped, by the records.
func (u Suspect) Left() bool { return u.Shipment != nil && !u.Shipment.InStock }

// OfLimit is the corrected margin as a part of the limit.
func (u Suspect) OfLimit() float64 { return float64(u.Corrected / u.Limit) }

// OfU is the corrected margin in expanded uncertainties (k = 2); zero if that is unknown.
func (u Suspect) OfU() float64 {
	if u.U.IsOpen() || u.U <= 0 {
		return 0
	}
	return float64(u.Corrected / (2 * u.U))
}

// Suspects lists the windows in which a jig was not known to be good, newest first: the
// open one, and every one that a failed verification made.
func (s *Records) Suspects(ctx context.Context, jig string, simulated bool) ([]Window, error) {
	list, err := s.Calibrations(ctx, jig, simulated)
	if err != nil {
		return nil, err
	}
	windows := windowsOf(list)
	err = s.db.Ask(ctx, fmt.Sprintf("look up the units tested on jig %q", jig), func(tx *sql.Tx) error {
		lots, err := store.Collect(ctx, tx, floor.ScanLots, floor.LotColumns+`WHERE jig = ? AND simulated = ? ORDER BY after_run, seq`, jig, simulated)
		if err != nil {
			return err
		}
		clear := clearing{ctx: ctx, tx: tx, simulated: simulated, known: map[string][]verification{}}
		for i := range windows {
			w := &windows[i]
			l := suspectList{at: map[[2]string]int{}, limits: map[int64]map[string][2]quantity.Ohm{}, drifts: driftsOf(w.Failed), lots: lots}
			after, upTo := w.runs()
			if err := l.read(ctx, tx, jig, simulated, after, upTo); err != nil {
				return err
			}
			if err := clear.all(l.units); err != nil {
				return err
			}
			for i := range l.units {
				if l.units[i].Shipment, err = floor.LastShipment(ctx, tx, l.units[i].Serial, simulated); err != nil {
					return err
				}
			}
			slices.SortStableFunc(l.units, nearer)
			w.Units = l.units
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	slices.Reverse(windows)
	return windows, nil
}

// windowsOf cuts the verifications of a jig, in their order, into windows. Verifications
// that fail one after the other are of one window; zeros say nothing of the references.
func windowsOf(list []StoredCalibration) []Window {
	var all []Window
	open := Window{Number: 1}
	for _, c := range list {
		switch {
		case c.Kind != sequence.KindVerify:
		case !c.Good:
			open.Failed = append(open.Failed, c)
		default:
			if len(open.Failed) > 0 {
				open.Until = new(c)
				all = append(all, open)
			}
			open = Window{Number: len(all) + 1, Since: new(c)}
		}
	}
	return append(all, open)
}

// drift is what a failed verification read wrong, at one resistor on one range.
type drift struct {
	reference, certified quantity.Ohm
	ohm                  quantity.Ohm // read more than certified
}

func driftsOf(failed []StoredCalibration) []drift {
	var all []drift
	for _, c := range failed {
		for _, r := range c.Readings {
			if !r.Good {
				all = append(all, drift{r.Reference, r.Certified.Value, r.Deviation.Value})
			}
		}
	}
	return all
}

// readable is how many times less than its reference a range still reads well.
const readable = 10

// truths are the values that a reading may stand for: itself, and itself less what each
// range that may have taken it read wrong at the resistor most like it, once as a factor,
// as a reference drifts, and once in ohms, as a channel does. Which range it was is not in
// the records.
func truths(closed quantity.Ohm, drifts []drift) []quantity.Ohm {
	least := quantity.Open
	for _, d := range drifts {
		least = min(least, d.reference)
	}
	like := map[quantity.Ohm]drift{} // by range
	for _, d := range drifts {
		if d.reference > max(least, readable*closed) {
			continue
		}
		if known, ok := like[d.reference]; !ok || unlike(d, closed) < unlike(known, closed) {
			like[d.reference] = d
		}
	}
	all := []quantity.Ohm{closed}
	for _, d := range like {
		all = append(all, closed-d.ohm, closed/(1+d.ohm/d.certified))
	}
	return all
}

func unlike(d drift, closed quantity.Ohm) float64 {
	return math.Abs(math.Log(float64(d.certified / max(closed, 1e-3))))
}

func nearer(a, b Suspect) int {
	last := func(a, b bool) int {
		switch {
		case a == b:
			return 0
		case a:
			return 1
		}
		return -1
	}
	return cmp.Or(last(a.Cleared != nil, b.Cleared != nil), last(a.Key == "", b.Key == ""), cmp.Compare(a.OfLimit(), b.OfLimit()))
}

// suspectList gathers suspects run by run.
type suspectList struct {
	units  []Suspect
	at     map[[2]string]int // place in units by serial and product
	drifts []drift
	lots   []floor.LotChange                    // of the jig, oldest first
	limits map[int64]map[string][2]quantity.Ohm // closed limits by revision and key label
}

// suspectRun is a run with one of its keys, or with none.
type suspectRun struct {
	seq, revision, started   int64
	serial, product, outcome string
	key                      *string
	ohm, u                   *float64
}

func (l *suspectList) read(ctx context.Context, tx *sql.Tx, jig string, simulated bool, after, upTo int64) error {
	scan := func(rows *sql.Rows) (r suspectRun, err error) {
		return r, rows.Scan(&r.seq, &r.revision, &r.started, &r.serial, &r.product, &r.outcome, &r.key, &r.ohm, &r.u)
	}
	runs, err := store.Collect(ctx, tx, scan, `
		SELECT run.seq, run.revision, started_us, run.serial, revision.code, verdict,
		       key.label, closed_ohm, closed_u_ohm
		FROM run JOIN jig USING (jig) JOIN revision ON revision.revision = run.revision
		LEFT JOIN run_key ON run_key.run = run.seq AND closed_at_least = 0 AND actuation <> 'electrical'
		LEFT JOIN key ON key.key = run_key.key
		WHERE run.seq > ? AND run.seq <= ? AND jig.serial = ? AND simulated = ? AND purpose <> 'engineering'
		ORDER BY run.seq, run_key.place`,
		after, upTo, jig, simulated)
	if err != nil {
		return err
	}
	last := int64(0)
	for _, r := range runs {
		u := l.unit(r)
		if r.seq != last {
			u.Runs++
			u.last, u.Last, u.Outcome, last = r.seq, time.UnixMicro(r.started).UTC(), sequence.Outcome(r.outcome), r.seq
		}
		if r.key == nil {
			continue
		}
		limit, err := l.limit(ctx, tx, r)
		if err != nil {
			return err
		}
		u.consider(r, limit, l.drifts)
	}
	return nil
}

func (l *suspectList) unit(r suspectRun) *Suspect {
	name := [2]string{r.serial, r.product}
	i, known := l.at[name]
	if !known {
		i = len(l.units)
		l.units, l.at[name] = append(l.units, Suspect{Serial: r.serial, Product: r.product, Lots: l.lotsOf(r)}), i
	}
	return &l.units[i]
}

// lotsOf are the lots that a run was made with.
func (l *suspectList) lotsOf(r suspectRun) floor.Lots {
	for _, c := range slices.Backward(l.lots) {
		if c.Product == r.product && c.AfterRun < r.seq {
			return c.Lots
		}
	}
	return nil
}

// stored is a resistance of the records; none is infinite.
func stored(ohm *float64) quantity.Ohm {
	if ohm == nil {
		return quantity.Open
	}
	return quantity.Ohm(*ohm)
}

// consider keeps the reading if it is nearer to a limit than the one kept.
func (u *Suspect) consider(r suspectRun, limit [2]quantity.Ohm, drifts []drift) {
	closed := stored(r.ohm)
	values := truths(closed, drifts)
	for i, t := range limit {
		if t <= 0 || t.IsOpen() {
			continue
		}
		margin, corrected := t-closed, t-slices.Max(values)
		if i == 0 {
			margin, corrected = closed-t, slices.Min(values)-t
		}
		if u.Key == "" || float64(corrected/t) < u.OfLimit() {
			u.Key, u.Closed, u.U = *r.key, closed, stored(r.u)
			u.Limit, u.Margin, u.Corrected = t, margin, corrected
		}
	}
}

// limit gives the limits of a key's closed resistance, as the revision defines
// them: least and most, zero for none.
func (l *suspectList) limit(ctx context.Context, tx *sql.Tx, r suspectRun) ([2]quantity.Ohm, error) {
	known, ok := l.limits[r.revision]
	if !ok {
		var stored []byte
		err := tx.QueryRowContext(ctx, `SELECT definition FROM revision WHERE revision = ?`, r.revision).Scan(&stored)
		if err != nil {
			return [2]quantity.Ohm{}, err
		}
		known = map[string][2]quantity.Ohm{}
		for _, k := range definition.Keys(stored) {
			known[k.Label] = [2]quantity.Ohm{quantity.Ohm(k.Limits.Closed[0]), quantity.Ohm(k.Limits.Closed[1])}
		}
		l.limits[r.revision] = known
	}
	return known[*r.key], nil
}

// clearing finds what was tested again and passed on a jig that was good then.
type clearing struct {
	ctx       context.Context // of one question
	tx        *sql.Tx
	simulated bool
	known     map[string][]verification // by jig
}

// verification is one of a jig, by the runs before it.
type verification struct {
	afterRun int64
	good     bool
}

// retest is a judged production run of a unit.
type retest struct {
	seq, started int64
	id           store.ID
	jig          string
	passed       bool
}

func (c clearing) all(units []Suspect) error {
	for i := range units {
		if err := c.unit(&units[i]); err != nil {
			return err
		}
	}
	return nil
}

// unit lets the last judgement of a good jig decide.
func (c clearing) unit(u *Suspect) error {
	scan := func(rows *sql.Rows) (r retest, err error) {
		return r, rows.Scan(&r.seq, &r.id, &r.started, &r.jig, &r.passed)
	}
	runs, err := store.Collect(c.ctx, c.tx, scan, `
		SELECT run.seq, run.id, started_us, jig.serial, outcome = 'pass'
		FROM run JOIN jig USING (jig) JOIN revision USING (revision)
		WHERE run.serial = ? AND code = ? AND simulated = ? AND purpose = '' AND outcome IN ('pass', 'fail') AND run.seq > ?
		ORDER BY run.seq`, u.Serial, u.Product, c.simulated, u.last)
	if err != nil {
		return err
	}
	for _, r := range runs {
		good, err := c.goodAt(r.jig, r.seq)
		switch {
		case err != nil:
			return err
		case good && r.passed:
			u.Cleared = &Clearance{Run: r.id, Jig: r.jig, At: time.UnixMicro(r.started).UTC()}
		case good:
			u.Cleared = nil
		}
	}
	return nil
}

// goodAt reports whether a jig's last verification before a run was good, and the next one,
// if there was one, too.
func (c clearing) goodAt(jig string, run int64) (bool, error) {
	list, known := c.known[jig]
	if !known {
		scan := func(rows *sql.Rows) (v verification, err error) { return v, rows.Scan(&v.afterRun, &v.good) }
		var err error
		list, err = store.Collect(c.ctx, c.tx, scan, `
			SELECT after_run, good FROM calibration JOIN jig USING (jig)
			WHERE jig.serial = ? AND simulated = ? AND kind = ? ORDER BY after_run, seq`, jig, c.simulated, string(sequence.KindVerify))
		if err != nil {
			return false, err
		}
		c.known[jig] = list
	}
	next := slices.IndexFunc(list, func(v verification) bool { return v.afterRun >= run })
	if next < 0 {
		next = len(list)
	}
	return next > 0 && list[next-1].good && (next == len(list) || list[next].good), nil
}
