package results

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"time"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
)

// StoredCalibration is a calibration as it lies in the store, complete.
type StoredCalibration struct {
	ID       ID
	Seq      int64 // 1, 2, 3 ... in the order of saving
	AfterRun int64 // number of the newest run at that time, 0 before any
	sequence.Calibration
}

// SaveCalibration stores a calibration in one transaction and returns only when
// it will survive a power cut.
func (s *Store) SaveCalibration(ctx context.Context, c sequence.Calibration) (ID, error) {
	id, err := s.saveCalibration(context.WithoutCancel(ctx), c)
	if err != nil {
		return ID{}, fmt.Errorf("save the %s of jig %q in %s: %w", c.Kind, c.Jig.Serial, s.path, err)
	}
	return id, nil
}

func (s *Store) saveCalibration(ctx context.Context, c sequence.Calibration) (ID, error) {
	if s.readOnly {
		return ID{}, ErrReadOnly
	}
	r, err := newCalibrationRecord(c)
	if err != nil {
		return ID{}, err
	}
	now := s.seams.now()
	r.Saved, r.Mono, r.ClockSynced, r.Station = now.UnixMicro(), uptime(), clockSynced(), thisStation()

	s.saving.Lock()
	defer s.saving.Unlock()
	err = s.update(ctx, func(tx *sql.Tx) error {
		return writer{ctx, tx, s.words}.calibration(now, r)
	})
	if err == nil {
		return r.ID, nil
	}
	s.words = newWords() // some may have been in the transaction that is gone
	if doubtful(err) {
		return ID{}, fmt.Errorf("%w: %w; check the disk, then look at padjig jig history before going on", ErrInDoubt, err)
	}
	return ID{}, remedy(err)
}

// calibrationRecord is a calibration in the units it is stored in. Its JSON is
// the canonical record whose SHA-256 goes into calibration.hash.
type calibrationRecord struct {
	ID             ID           `json:"id"`
	Kind           string       `json:"kind"`
	Jig            jigRow       `json:"jig"`
	Station        station      `json:"station"`
	Simulated      bool         `json:"simulated"`
	Operator       string       `json:"operator"`
	AfterRun       int64        `json:"after_run"`
	Performed      int64        `json:"performed_us"`
	Interval       int64        `json:"interval_us"`
	Box            string       `json:"box"`
	BoxSerial      string       `json:"box_serial"`
	Certificate    string       `json:"certificate"`
	CertificateDue *int64       `json:"certificate_due_us"`
	Good           bool         `json:"good"`
	Reason         string       `json:"reason"`
	Saved          int64        `json:"saved_us"`
	Mono           *int64       `json:"mono_ns"`
	ClockSynced    *bool        `json:"clock_synced"`
	Readings       []compareRow `json:"readings"`
}

type compareRow struct {
	Channel    int      `json:"channel"`
	Mate       *int     `json:"mate"`
	Resistor   string   `json:"resistor"`
	Reference  float64  `json:"reference_ohm"`
	Certified  *float64 `json:"certified_ohm"`
	CertifiedU *float64 `json:"certified_u_ohm"`
	Ohm        float64  `json:"ohm"`
	U          float64  `json:"u_ohm"`
	Deviation  float64  `json:"deviation_ohm"`
	DeviationU float64  `json:"deviation_u_ohm"`
	Limit      float64  `json:"limit_ohm"`
	Good       bool     `json:"good"`
}

// newCalibrationRecord refuses what no calibration can be.
func newCalibrationRecord(c sequence.Calibration) (*calibrationRecord, error) {
	switch {
	case c.Kind != sequence.KindZero && c.Kind != sequence.KindVerify:
		return nil, fmt.Errorf("%w: %q is no kind of calibration", ErrRefused, c.Kind)
	case c.Jig.Serial == "":
		return nil, fmt.Errorf("%w: the jig has no serial number", ErrRefused)
	case c.Interval <= 0:
		return nil, fmt.Errorf("%w: it would hold for %v", ErrRefused, c.Interval)
	case len(c.Readings) == 0:
		return nil, fmt.Errorf("%w: it has no reading", ErrRefused)
	}
	r := &calibrationRecord{
		Kind: string(c.Kind), Jig: toJig(c.Jig), Simulated: c.Simulated, Operator: text(c.Operator),
		Performed: c.Performed.UnixMicro(), Interval: toMicro(c.Interval),
		Box: text(c.Box), BoxSerial: text(c.BoxSerial), Certificate: text(c.Certificate),
		Good: c.Good, Reason: text(c.Reason),
	}
	if c.Kind == sequence.KindVerify {
		r.CertificateDue = new(c.CertificateDue.UnixMicro())
	}
	for _, reading := range c.Readings {
		row, err := toCompareRow(c.Kind, reading)
		if err != nil {
			return nil, fmt.Errorf("%w: channel %d: %w", ErrRefused, reading.Channel, err)
		}
		r.Readings = append(r.Readings, row)
	}
	return r, nil
}

func toCompareRow(kind sequence.CalibrationKind, r sequence.CalibrationReading) (compareRow, error) {
	row := compareRow{
		Channel: r.Channel, Resistor: text(r.Resistor), Reference: float64(r.Reference),
		Ohm: whole(r.Measured.Value), U: whole(r.Measured.U), Deviation: whole(r.Deviation.Value),
		DeviationU: whole(r.Deviation.U), Limit: whole(r.Limit), Good: r.Good,
	}
	if kind == sequence.KindVerify {
		row.Mate = new(r.Mate)
		row.Certified, row.CertifiedU = new(whole(r.Certified.Value)), new(whole(r.Certified.U))
	}
	for _, v := range []float64{row.Ohm, row.U, row.Deviation, row.DeviationU, row.Limit} {
		if math.IsNaN(v) || math.IsInf(v, 0) || r.Measured.AtLeast {
			return row, errors.New("it was not measured")
		}
	}
	return row, nil
}

// whole takes the sign off a negative zero, which SQLite does not know.
func whole(r quantity.Ohm) float64 { return float64(r) + 0 }

func (r *calibrationRecord) sum() ([]byte, error) {
	text, err := json.Marshal(r)
	hash := sha256.Sum256(text)
	return hash[:], err
}

// calibration writes the record, which gets its id and its place among the
// runs here. The head comes last: its triggers refuse it unless all readings
// are there, and refuse any reading afterwards.
func (w writer) calibration(now time.Time, r *calibrationRecord) error {
	var seq int64
	var last ID
	err := w.tx.QueryRowContext(w.ctx, `SELECT seq, id FROM calibration ORDER BY seq DESC LIMIT 1`).Scan(&seq, &last)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	if err := w.tx.QueryRowContext(w.ctx, `SELECT coalesce(max(seq), 0) FROM run`).Scan(&r.AfterRun); err != nil {
		return err
	}
	if r.ID.IsZero() {
		r.ID = nextID(now, last)
	}
	if err := w.comparisons(seq+1, r); err != nil {
		return err
	}
	return w.calibrationHead(seq+1, r)
}

func (w writer) comparisons(seq int64, r *calibrationRecord) error {
	rows := w.table("calibration_reading (calibration, place, channel, mate, resistor, reference_ohm, certified_ohm,"+
		" certified_u_ohm, ohm, u_ohm, deviation_ohm, deviation_u_ohm, limit_ohm, good)", len(r.Readings))
	for place, c := range r.Readings {
		rows.add(seq, place, c.Channel, c.Mate, c.Resistor, c.Reference, c.Certified,
			c.CertifiedU, c.Ohm, c.U, c.Deviation, c.DeviationU, c.Limit, c.Good)
	}
	return rows.insert(w)
}

func (w writer) calibrationHead(seq int64, r *calibrationRecord) error {
	jig, err := w.number("jig", r.Jig.Serial, r.Jig.Model, r.Jig.Firmware, r.Jig.Adapter)
	if err != nil {
		return err
	}
	station, err := w.number("station", r.Station.Host, r.Station.Software, r.Station.BootID)
	if err != nil {
		return err
	}
	hash, err := r.sum()
	if err != nil {
		return err
	}
	_, err = w.tx.ExecContext(w.ctx, `
		INSERT INTO calibration (
			seq, id, kind, jig, station, simulated, operator, after_run, performed_us, interval_us, due_us,
			box, box_serial, certificate, certificate_due_us, good, reason, saved_us, mono_ns, clock_synced,
			readings, hash
		) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		seq, r.ID, r.Kind, jig, station, r.Simulated, r.Operator, r.AfterRun, r.Performed, r.Interval,
		r.Performed+r.Interval, r.Box, r.BoxSerial, r.Certificate, r.CertificateDue, r.Good, r.Reason,
		r.Saved, r.Mono, r.ClockSynced, len(r.Readings), hash)
	return err
}

// Calibrations gives all calibrations of a jig, oldest first; simulated ones
// and real ones are kept apart.
func (s *Store) Calibrations(ctx context.Context, jig string, simulated bool) ([]StoredCalibration, error) {
	return s.calibrations(ctx, jig, `
		SELECT seq FROM calibration JOIN jig USING (jig) WHERE jig.serial = ? AND simulated = ? ORDER BY seq`,
		jig, simulated)
}

// LastGood gives the last good calibration of a kind, nil if there was none.
func (s *Store) LastGood(ctx context.Context, jig string, kind sequence.CalibrationKind,
	simulated bool) (*StoredCalibration, error) {
	list, err := s.calibrations(ctx, jig, `
		SELECT seq FROM calibration JOIN jig USING (jig)
		WHERE jig.serial = ? AND simulated = ? AND kind = ? AND good = 1 ORDER BY seq DESC LIMIT 1`,
		jig, simulated, string(kind))
	if err != nil || len(list) == 0 {
		return nil, err
	}
	return &list[0], nil
}

func (s *Store) calibrations(ctx context.Context, jig, query string, args ...any) (list []StoredCalibration, err error) {
	err = s.view(ctx, func(tx *sql.Tx) error {
		seqs, err := collect(ctx, tx, scanInt, query, args...)
		for _, seq := range seqs {
			rec, _, err := reader{ctx, tx}.calibration(seq)
			if err != nil {
				return fmt.Errorf("calibration %d: %w", seq, err)
			}
			list = append(list, rec.stored(seq))
		}
		return err
	})
	if err != nil {
		return nil, fmt.Errorf("look up calibrations of jig %q in %s: %w", jig, s.path, err)
	}
	return list, nil
}

// calibration gives a calibration as it is stored, and the hash stored with it.
func (r reader) calibration(seq int64) (*calibrationRecord, []byte, error) {
	var c calibrationRecord
	var hash []byte
	err := r.tx.QueryRowContext(r.ctx, `
		SELECT id, kind, jig.serial, jig.model, jig.firmware, jig.adapter,
		       station.host, station.software, station.boot_id, simulated, operator, after_run, performed_us,
		       interval_us, box, box_serial, certificate, certificate_due_us, good, reason, saved_us, mono_ns,
		       clock_synced, hash
		FROM calibration JOIN jig USING (jig) JOIN station USING (station) WHERE seq = ?`, seq,
	).Scan(&c.ID, &c.Kind, &c.Jig.Serial, &c.Jig.Model, &c.Jig.Firmware, &c.Jig.Adapter,
		&c.Station.Host, &c.Station.Software, &c.Station.BootID, &c.Simulated, &c.Operator, &c.AfterRun, &c.Performed,
		&c.Interval, &c.Box, &c.BoxSerial, &c.Certificate, &c.CertificateDue, &c.Good, &c.Reason, &c.Saved, &c.Mono,
		&c.ClockSynced, &hash)
	if err != nil {
		return nil, nil, err
	}
	c.Readings, err = collect(r.ctx, r.tx, scanComparison, `
		SELECT channel, mate, resistor, reference_ohm, certified_ohm, certified_u_ohm, ohm, u_ohm,
		       deviation_ohm, deviation_u_ohm, limit_ohm, good
		FROM calibration_reading WHERE calibration = ? ORDER BY place`, seq)
	return &c, hash, err
}

func scanComparison(rows *sql.Rows) (c compareRow, err error) {
	return c, rows.Scan(&c.Channel, &c.Mate, &c.Resistor, &c.Reference, &c.Certified, &c.CertifiedU, &c.Ohm, &c.U,
		&c.Deviation, &c.DeviationU, &c.Limit, &c.Good)
}

func (r *calibrationRecord) stored(seq int64) StoredCalibration {
	c := sequence.Calibration{
		Kind: sequence.CalibrationKind(r.Kind), Jig: sequence.JigName(r.Jig), Simulated: r.Simulated,
		Operator: r.Operator, Performed: time.UnixMicro(r.Performed).UTC(), Interval: fromMicro(r.Interval),
		Box: r.Box, BoxSerial: r.BoxSerial, Certificate: r.Certificate,
		Good: r.Good, Reason: r.Reason, Readings: each(r.Readings, compareRow.reading),
	}
	if r.CertificateDue != nil {
		c.CertificateDue = time.UnixMicro(*r.CertificateDue).UTC()
	}
	return StoredCalibration{ID: r.ID, Seq: seq, AfterRun: r.AfterRun, Calibration: c}
}

func (c compareRow) reading() sequence.CalibrationReading {
	r := sequence.CalibrationReading{
		Channel: c.Channel, Resistor: c.Resistor, Reference: quantity.Ohm(c.Reference),
		Measured:  fixture.Resistance{Value: quantity.Ohm(c.Ohm), U: quantity.Ohm(c.U)},
		Deviation: fixture.Resistance{Value: quantity.Ohm(c.Deviation), U: quantity.Ohm(c.DeviationU)},
		Limit:     quantity.Ohm(c.Limit), Good: c.Good,
	}
	if c.Mate != nil {
		r.Mate = *c.Mate
		r.Certified = fixture.Resistance{Value: quantity.Ohm(*c.Certified), U: quantity.Ohm(*c.CertifiedU)}
	}
	return r
}
