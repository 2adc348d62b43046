package care

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
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
)

// StoredCalibration is a calibration as it lies in the store, complete.
type StoredCalibration struct {
	ID       store.ID
	Seq      int64 // 1, 2, 3 ... in the order of saving
	AfterRun int64 // number of the newest run at that time, 0 before any
	sequence.Calibration
}

// SaveCalibration stores a calibration in one transaction and returns only when
// it will survive a power cut.
func (s *Records) SaveCalibration(ctx context.Context, c sequence.Calibration) (store.ID, error) {
	id, err := s.saveCalibration(context.WithoutCancel(ctx), c)
	if err != nil {
		return store.ID{}, fmt.Errorf("save the %s of jig %q in %s: %w", c.Kind, c.Jig.Serial, s.db.Path(), err)
	}
	return id, nil
}

func (s *Records) saveCalibration(ctx context.Context, c sequence.Calibration) (store.ID, error) {
	if err := s.db.Writable(); err != nil {
		return store.ID{}, err
	}
	r, err := NewCalibrationRecord(c)
	if err != nil {
		return store.ID{}, err
	}
	now := s.db.Now()
	r.Saved, r.Mono, r.ClockSynced, r.Station = now.UnixMicro(), store.Uptime(), store.ClockSynced(), store.ThisStation()

	err = s.db.Update(ctx, func(tx *sql.Tx) error {
		return r.Write(store.Writer{Ctx: ctx, Tx: tx, Interned: store.Interned{}}, now)
	})
	if err == nil {
		return r.ID, nil
	}
	if store.Doubtful(err) {
		return store.ID{}, fmt.Errorf("%w: %w; check the disk, then look at padjig jig history before going on", store.ErrInDoubt, err)
	}
	return store.ID{}, store.Remedy(err)
}

// CalibrationRecord is a calibration in the units it is stored in. Its JSON is
// the canonical record whose SHA-256 goes into calibration.hash.
type CalibrationRecord struct {
	ID             store.ID         `json:"id"`
	Kind           string           `json:"kind"`
	Jig            sequence.JigName `json:"jig"`
	Station        store.Station    `json:"station"`
	Simulated      bool             `json:"simulated"`
	Operator       string           `json:"operator"`
	AfterRun       int64            `json:"after_run"`
	Performed      int64            `json:"performed_us"`
	Interval       int64            `json:"interval_us"`
	Box            string           `json:"box"`
	BoxSerial      string           `json:"box_serial"`
	Certificate    string           `json:"certificate"`
	CertificateDue *int64           `json:"certificate_due_us"`
	Good           bool             `json:"good"`
	Reason         string           `json:"reason"`
	Saved          int64            `json:"saved_us"`
	Mono           *int64           `json:"mono_ns"`
	ClockSynced    *bool            `json:"clock_synced"`
	Readings       []compareRow     `json:"readings"`
	SelfTest       *selfTestRow     `json:"self_test,omitempty"` // of a verification
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

// NewCalibrationRecord refuses what no calibration can be.
func NewCalibrationRecord(c sequence.Calibration) (*CalibrationRecord, error) {
	switch {
	case c.Kind != sequence.KindZero && c.Kind != sequence.KindVerify:
		return nil, fmt.Errorf("%w: %q is no kind of calibration", store.ErrRefused, c.Kind)
	case c.Jig.Serial == "":
		return nil, fmt.Errorf("%w: the jig has no serial number", store.ErrRefused)
	case c.Interval <= 0:
		return nil, fmt.Errorf("%w: it would hold for %v", store.ErrRefused, c.Interval)
	case len(c.Readings) == 0:
		return nil, fmt.Errorf("%w: it has no reading", store.ErrRefused)
	}
	r := &CalibrationRecord{
		Kind: string(c.Kind), Jig: runs.ToJig(c.Jig), Simulated: c.Simulated, Operator: store.Text(c.Operator),
		Performed: c.Performed.UnixMicro(), Interval: store.ToMicro(c.Interval),
		Box: store.Text(c.Box), BoxSerial: store.Text(c.BoxSerial), Certificate: store.Text(c.Certificate),
		Good: c.Good, Reason: store.Text(c.Reason),
	}
	if c.Kind == sequence.KindVerify {
		r.CertificateDue = new(c.CertificateDue.UnixMicro())
	}
	r.SelfTest = toSelfTest(c.SelfTest)
	for _, reading := range c.Readings {
		row, err := toCompareRow(c.Kind, reading)
		if err != nil {
			return nil, fmt.Errorf("%w: channel %d: %w", store.ErrRefused, reading.Channel, err)
		}
		r.Readings = append(r.Readings, row)
	}
	return r, nil
}

func toCompareRow(kind sequence.CalibrationKind, r sequence.CalibrationReading) (compareRow, error) {
	row := compareRow{
		Channel: r.Channel, Resistor: store.Text(r.Resistor), Reference: float64(r.Reference),
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

func (r *CalibrationRecord) sum() ([]byte, error) {
	text, err := json.Marshal(r)
	hash := sha256.Sum256(text)
	return hash[:], err
}

// Write writes the record, which gets its id and its place among the
// runs here. The head comes last: its triggers refuse it unless all readings
// are there, and refuse any reading afterwards.
func (r *CalibrationRecord) Write(w store.Writer, now time.Time) error {
	var seq int64
	var last store.ID
	err := w.Tx.QueryRowContext(w.Ctx, `SELECT seq, id FROM calibration ORDER BY seq DESC LIMIT 1`).Scan(&seq, &last)
	if err != nil && !errors.Is(err, sql.ErrNoRows) {
		return err
	}
	if err := w.Tx.QueryRowContext(w.Ctx, `SELECT coalesce(max(seq), 0) FROM run`).Scan(&r.AfterRun); err != nil {
		return err
	}
	if r.ID.IsZero() {
		r.ID = store.NextID(now, last)
	}
	if err := r.comparisons(w, seq+1); err != nil {
		return err
	}
	return r.head(w, seq+1)
}

func (r *CalibrationRecord) comparisons(w store.Writer, seq int64) error {
	rows := store.Into("calibration_reading (calibration, place, channel, mate, resistor, reference_ohm, certified_ohm,"+
		" certified_u_ohm, ohm, u_ohm, deviation_ohm, deviation_u_ohm, limit_ohm, good)", len(r.Readings))
	for place, c := range r.Readings {
		rows.Add(seq, place, c.Channel, c.Mate, c.Resistor, c.Reference, c.Certified,
			c.CertifiedU, c.Ohm, c.U, c.Deviation, c.DeviationU, c.Limit, c.Good)
	}
	return rows.Insert(w)
}

func (r *CalibrationRecord) head(w store.Writer, seq int64) error {
	jig, err := runs.JigNumber(w, r.Jig)
	if err != nil {
		return err
	}
	station, err := runs.StationNumber(w, r.Station)
	if err != nil {
		return err
	}
	hash, err := r.sum()
	if err != nil {
		return err
	}
	selfTest, err := r.SelfTest.column()
	if err != nil {
		return err
	}
	_, err = w.Tx.ExecContext(w.Ctx, `
		INSERT INTO calibration (
			seq, id, kind, jig, station, simulated, operator, after_run, performed_us, interval_us, due_us,
			box, box_serial, certificate, certificate_due_us, good, reason, saved_us, mono_ns, clock_synced,
			readings, hash, self_test
		) VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?, ?)`,
		seq, r.ID, r.Kind, jig, station, r.Simulated, r.Operator, r.AfterRun, r.Performed, r.Interval,
		r.Performed+r.Interval, r.Box, r.BoxSerial, r.Certificate, r.CertificateDue, r.Good, r.Reason,
		r.Saved, r.Mono, r.ClockSynced, len(r.Readings), hash, selfTest)
	return err
}

// Calibrations gives all calibrations of a jig, oldest first; simulated ones
// and real ones are kept apart.
func (s *Records) Calibrations(ctx context.Context, jig string, simulated bool) ([]StoredCalibration, error) {
	return s.calibrations(ctx, jig, `
		SELECT seq FROM calibration JOIN jig USING (jig) WHERE jig.serial = ? AND simulated = ? ORDER BY after_run, seq`,
		jig, simulated)
}

// LastGood gives the last good calibration of a kind, nil if there was none.
func (s *Records) LastGood(ctx context.Context, jig string, kind sequence.CalibrationKind,
	simulated bool) (*StoredCalibration, error) {
	list, err := s.calibrations(ctx, jig, `
		SELECT seq FROM calibration JOIN jig USING (jig)
		WHERE jig.serial = ? AND simulated = ? AND kind = ? AND good = 1 ORDER BY after_run DESC, seq DESC LIMIT 1`,
		jig, simulated, string(kind))
	if err != nil || len(list) == 0 {
		return nil, err
	}
	return &list[0], nil
}

func (s *Records) calibrations(ctx context.Context, jig, query string, args ...any) (list []StoredCalibration, err error) {
	err = s.db.Ask(ctx, fmt.Sprintf("look up calibrations of jig %q", jig), func(tx *sql.Tx) error {
		seqs, err := store.Collect(ctx, tx, store.ScanInt, query, args...)
		for _, seq := range seqs {
			rec, _, err := calibrationIn(ctx, tx, seq)
			if err != nil {
				return fmt.Errorf("calibration %d: %w", seq, err)
			}
			list = append(list, rec.stored(seq))
		}
		return err
	})
	return list, err
}

// calibrationIn gives a calibration as it is stored, and the hash stored with it.
func calibrationIn(ctx context.Context, tx *sql.Tx, seq int64) (*CalibrationRecord, []byte, error) {
	var c CalibrationRecord
	var hash []byte
	err := tx.QueryRowContext(ctx, `
		SELECT id, kind, jig.serial, jig.model, jig.firmware, jig.adapter,
		       station.host, station.software, station.boot_id, simulated, operator, after_run, performed_us,
		       interval_us, box, box_serial, certificate, certificate_due_us, good, reason, saved_us, mono_ns,
		       clock_synced, hash, self_test
		FROM calibration JOIN jig USING (jig) JOIN station USING (station) WHERE seq = ?`, seq,
	).Scan(&c.ID, &c.Kind, &c.Jig.Serial, &c.Jig.Model, &c.Jig.Firmware, &c.Jig.Adapter,
		&c.Station.Host, &c.Station.Software, &c.Station.BootID, &c.Simulated, &c.Operator, &c.AfterRun, &c.Performed,
		&c.Interval, &c.Box, &c.BoxSerial, &c.Certificate, &c.CertificateDue, &c.Good, &c.Reason, &c.Saved, &c.Mono,
		&c.ClockSynced, &hash, store.JSON(&c.SelfTest))
	if err != nil {
		return nil, nil, err
	}
	c.Readings, err = store.Collect(ctx, tx, scanComparison, `
		SELECT channel, mate, resistor, reference_ohm, certified_ohm, certified_u_ohm, ohm, u_ohm,
		       deviation_ohm, deviation_u_ohm, limit_ohm, good
		FROM calibration_reading WHERE calibration = ? ORDER BY place`, seq)
	return &c, hash, err
}

func scanComparison(rows *sql.Rows) (c compareRow, err error) {
	return c, rows.Scan(&c.Channel, &c.Mate, &c.Resistor, &c.Reference, &c.Certified, &c.CertifiedU, &c.Ohm, &c.U,
		&c.Deviation, &c.DeviationU, &c.Limit, &c.Good)
}

func (r *CalibrationRecord) stored(seq int64) StoredCalibration {
	c := sequence.Calibration{
		Kind: sequence.CalibrationKind(r.Kind), Jig: sequence.JigName(r.Jig), Simulated: r.Simulated,
		Operator: r.Operator, Performed: time.UnixMicro(r.Performed).UTC(), Interval: store.FromMicro(r.Interval),
		Box: r.Box, BoxSerial: r.BoxSerial, Certificate: r.Certificate,
		Good: r.Good, Reason: r.Reason, Readings: store.Each(r.Readings, compareRow.reading),
	}
	if r.CertificateDue != nil {
		c.CertificateDue = time.UnixMicro(*r.CertificateDue).UTC()
	}
	c.SelfTest = r.SelfTest.of(r.Jig.Serial)
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
