package runs

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"time"

	"padjig/results/nest"
	"padjig/results/runs/elsewhere"
	"padjig/results/runs/inhand"
	"padjig/results/store"
	"padjig/sequence"
)

// Start is a run that was begun, as it stood in the records before anything moved.
type Start struct {
	ID        store.ID
	Serial    string
	Product   string // code
	Revision  string // label
	Jig       sequence.JigName
	Host      string // of the station
	Simulated bool
	Actuation sequence.Actuation
	Operator  string
	Purpose   sequence.Purpose
	Case      string // id of the returns case, empty for none
	Attempt   int
	Started   time.Time
	AfterRun  int64      // number of the newest run at that time, 0 for none
	Nest      nest.Claim // asked of the jig before anything moves

	InHand bool // it goes on; otherwise whoever made it is gone, and what was found is not known

	Asked elsewhere.Answer // what is known of the unit at other stations; zero for a station without a plant, and of one that is read
	Plant string           // of one that is read: what became of the question to the plant, see elsewhere.Word; empty: there was none

	number  int64
	closed  bool   // found to be unfinished before, and written down
	station string // another one at which it was; empty: here
}

// InHandError refuses a unit that is somewhere else: one unit is in one place.
type InHandError struct{ Start }

func (e *InHandError) Error() string {
	if e.Checked() {
		return fmt.Sprintf("unit %s is being looked at on another jig or by another program", e.Serial)
	}
	return fmt.Sprintf("unit %s is being tested: station %s, jig %s, since %s",
		e.Serial, e.Host, e.Jig.Serial, e.Started.UTC().Format(time.RFC3339))
}

// Checked reports whether the unit is only looked at, see [Records.Hold]: by whom is not
// known.
func (e *InHandError) Checked() bool { return e.Started.IsZero() }

// Begun is a run whose start is stored and which has the unit to itself until
// it is saved.
type Begun struct {
	Start
	AtEnd   *nest.Count // of the nest, when everything was let go of; nil: not known
	records *Records
	rev     Revision
	lock    inhand.Lock
	unit    inhand.Lock // the unit itself, also against who looks at it without a test
	apart   int         // attempts that other stations counted
}

// Begin commits the start of a run and claims the unit: to be called before
// anything moves. It gives the run its attempt, by what is in the records in
// that very moment, after allow has agreed to it. A unit that somebody else has
// in hand is refused with an [InHandError]. Earlier starts of the unit whose
// holders are gone are closed as unfinished. A unit in place of which another one is
// still in the jig is refused with a [nest.OccupiedError].
func (s *Records) Begin(ctx context.Context, rev Revision, start Start, allow func(History) error) (*Begun, error) {
	b, err := s.begin(context.WithoutCancel(ctx), rev, start, allow)
	if err != nil {
		return nil, fmt.Errorf("begin a run of unit %q in %s: %w", start.Serial, s.db.Path(), err)
	}
	return b, nil
}

func (s *Records) begin(ctx context.Context, rev Revision, start Start, allow func(History) error) (*Begun, error) {
	if err := s.db.Writable(); err != nil {
		return nil, err
	}
	s.saving.Lock()
	defer s.saving.Unlock()
	b := &Begun{Start: start, records: s, rev: rev}
	b.Host = store.ThisStation().Host
	kept := false
	defer func() {
		if !kept { // also in a panic: nobody else may go by words that were not stored, nor find the unit in hand
			b.LetGo()
			s.forget()
		}
	}()
	err := s.db.Update(ctx, func(tx *sql.Tx) error {
		return b.claim(writer{store.Writer{Ctx: ctx, Tx: tx, Interned: s.words}}, allow)
	})
	if store.Doubtful(err) {
		err = s.settleStart(ctx, b, err)
	}
	if err != nil {
		return nil, store.Remedy(err)
	}
	kept = true
	s.last = store.Later(s.last, b.ID)
	return b, nil
}

// claim looks at the unit as it is now, while nobody else can write, and writes
// the start down. The lock is there before anybody can see the start.
func (b *Begun) claim(w writer, allow func(History) error) error {
	now, taken := b.records.db.Now(), error(nil)
	if b.unit, taken = takeUnit(b.records.db.LockPath(), b.Serial); taken != nil && !errors.Is(taken, inhand.ErrTaken) {
		return taken
	}
	earlier, err := w.free(b.Serial, b.records.db.LockPath(), now)
	if err != nil {
		return err
	}
	if taken != nil { // and no start of it is
		return looked(b.Serial)
	}
	if err := b.count(w, earlier, allow); err != nil {
		return err
	}
	last, err := nest.Of(w.Ctx, w.Tx, b.Jig.Serial, b.Simulated)
	if err == nil {
		err = b.Nest.Refuses(last, b.Serial)
	}
	if err != nil {
		return err
	}
	if err := b.write(w, now); err != nil {
		return err
	}
	if err := b.counted(w, nest.AtStart, &b.Nest.Now); err != nil {
		return err
	}
	if err := b.Asked.Keep(w.Ctx, w.Tx, b.number, b.apart); err != nil {
		return err
	}
	b.lock, err = inhand.Take(b.records.db.LockPath(), b.number)
	return err
}

// free closes the unit's starts whose holders are gone, and refuses a unit that
// is in hand.
func (w writer) free(serial, lock string, now time.Time) ([]Start, error) {
	list, err := startsIn(w.Ctx, w.Tx, lock, `WHERE run_start.serial = ?`, serial)
	for i := range list {
		if err == nil && list[i].InHand {
			err = &InHandError{list[i]}
		}
		if err == nil {
			err = w.unfinished(&list[i], now)
		}
	}
	return list, err
}

// unfinished closes a start that never got its run.
func (w writer) unfinished(start *Start, now time.Time) error {
	if start.closed {
		return nil
	}
	e := store.Entry{Table: "run_unfinished"}
	e.Set("start", start.number)
	e.Set("at_us", now)
	_, err := e.Insert(w.Ctx, w.Tx)
	start.closed = err == nil
	return err
}

// abandoned closes a start if nobody has it in hand.
func (w writer) abandoned(lock string, number int64, now time.Time) error {
	list, err := startsIn(w.Ctx, w.Tx, lock, `WHERE run_start.seq = ?`, number)
	if err != nil || len(list) == 0 || list[0].InHand {
		return err
	}
	return w.unfinished(&list[0], now)
}

// count gives the run its attempt.
func (b *Begun) count(w writer, earlier []Start, allow func(History) error) error {
	if b.Case != "" {
		number, err := w.caseNumber(b.Case)
		if err != nil {
			return err
		}
		b.Attempt, err = b.records.links.Case(w.Ctx, w.Tx, *number, b.Start)
		return err
	}
	h, err := b.records.historyIn(w.Ctx, w.Tx, b.Serial, earlier)
	if err != nil {
		return err
	}
	alone, together := h.Of(b.rev.Code, b.Simulated), h.With(b.Asked.Unit).Of(b.rev.Code, b.Simulated)
	b.Attempt, b.apart = max(alone.Next(), together.Next()), together.Apart
	return allow(h)
}

func (b *Begun) write(w writer, now time.Time) error {
	revision, err := b.rev.Number(w.Writer)
	if err != nil {
		return err
	}
	jig, err := JigNumber(w.Writer, ToJig(b.Jig))
	if err != nil {
		return err
	}
	station, err := StationNumber(w.Writer, store.ThisStation())
	if err != nil {
		return err
	}
	of, err := w.caseNumber(b.Case)
	if err != nil {
		return err
	}
	seq, last, err := newest(w.Ctx, w.Tx)
	if err != nil {
		return err
	}
	b.ID, b.AfterRun = store.NextID(now, store.Later(last, b.records.last)), seq
	e := store.Entry{Table: "run_start"}
	e.Set("id", b.ID)
	e.Set("serial", b.Serial)
	e.Set("revision", revision)
	e.Set("jig", jig)
	e.Set("station", station)
	e.Set("simulated", b.Simulated)
	e.Set("actuation", string(b.Actuation))
	e.Set("operator", b.Operator)
	e.Set("purpose", string(b.Purpose))
	e.Set("return_case", maybeNumber(of))
	e.Set("attempt", b.Attempt)
	e.Set("after_run", seq)
	e.Set("started_us", b.Started)
	b.number, err = e.Insert(w.Ctx, w.Tx)
	return err
}

// counted keeps how often the nest was opened, where the jig counts it.
func (b *Begun) counted(w writer, moment string, c *nest.Count) error {
	if b.Nest.By != nest.Counted || c == nil {
		return nil
	}
	return nest.Keep(w.Ctx, w.Tx, b.number, moment, *c)
}

func maybeNumber(n *int64) any {
	if n == nil {
		return nil
	}
	return *n
}

// settleStart finds out on new connections whether the start arrived. If not,
// nothing has moved and the unit may simply be begun again.
func (s *Records) settleStart(ctx context.Context, b *Begun, cause error) error {
	if err := s.db.Reconnect(ctx, cause); err != nil {
		return fmt.Errorf("%w; open again: %w", cause, err)
	}
	var there bool
	err := s.db.Outside(func(db *sql.DB) error {
		return db.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM run_start WHERE id = ?)`, b.ID).Scan(&there)
	})
	if err == nil && there {
		return nil
	}
	return errors.Join(cause, err)
}

// Save stores the run of the start, as [Records.Save] does, and lets go of the
// unit. Where that fails the start stays without a run, and will be closed as
// unfinished: what was found is not in the records.
func (b *Begun) Save(ctx context.Context, run sequence.Run) (store.ID, error) {
	defer b.LetGo()
	return b.records.saveRun(ctx, b.rev, run, b)
}

// LetGo lets go of a unit whose run will not come: it is one that was never
// finished. After [Begun.Save] there is nothing to let go of.
func (b *Begun) LetGo() { b.lock.Release(); b.unit.Release() }

// Starts gives the starts of a unit that have no run, oldest first: those that
// go on and those that were never finished.
func (s *Records) Starts(ctx context.Context, serial string) ([]Start, error) {
	list, err := s.starts(ctx, serial)
	if err != nil {
		return nil, fmt.Errorf("look up the starts of unit %q in %s: %w", serial, s.db.Path(), err)
	}
	return list, nil
}

// starts looks twice where a holder seems to be gone: it may have stored its
// run between the look at the records and the look at its lock. The lock is let
// go of after the commit, so that a second look at the records tells.
func (s *Records) starts(ctx context.Context, serial string) (list []Start, err error) {
	gone := map[int64]bool{}
	for range 2 {
		err := s.db.View(ctx, func(tx *sql.Tx) (err error) {
			list, err = startsIn(ctx, tx, s.db.LockPath(), `WHERE run_start.serial = ?`, serial)
			return err
		})
		if err != nil {
			return nil, err
		}
		sure := true
		for i, start := range list {
			if !start.InHand && !start.closed && !gone[start.number] {
				sure, gone[start.number] = false, true
				list[i].InHand = true // until looked at again
			}
		}
		if sure {
			break
		}
	}
	return list, nil
}

// startsIn gives starts without a run. Who has them in hand is sure for whoever
// grips the write lock.
func startsIn(ctx context.Context, tx *sql.Tx, lock, where string, args ...any) ([]Start, error) {
	list, err := store.Collect(ctx, tx, scanStart, `
		SELECT run_start.seq, run_start.id, run_start.serial, revision.code, revision.label,
		       jig.serial, jig.model, jig.firmware, jig.adapter, station.host, simulated, actuation, operator, purpose,
		       (SELECT id FROM return_case WHERE return_case.seq = run_start.return_case), attempt, started_us, after_run,
		       EXISTS (SELECT 1 FROM run_unfinished WHERE start = run_start.seq),
		       coalesce((SELECT answer FROM asked WHERE asked.start = run_start.seq), '')
		FROM run_start JOIN revision USING (revision) JOIN jig USING (jig) JOIN station USING (station)
		`+where+` AND NOT EXISTS (SELECT 1 FROM run WHERE run.start = run_start.seq) ORDER BY run_start.after_run, run_start.seq`, args...)
	for i := range list {
		if err == nil && !list[i].closed {
			list[i].InHand, err = inhand.Held(lock, list[i].number)
		}
	}
	return list, err
}

func scanStart(rows *sql.Rows) (v Start, err error) {
	var started int64
	var of *store.ID
	err = rows.Scan(&v.number, &v.ID, &v.Serial, &v.Product, &v.Revision, &v.Jig.Serial, &v.Jig.Model, &v.Jig.Firmware,
		&v.Jig.Adapter, &v.Host, &v.Simulated, &v.Actuation, &v.Operator, &v.Purpose, &of, &v.Attempt, &started,
		&v.AfterRun, &v.closed, &v.Plant)
	if of != nil {
		v.Case = of.String()
	}
	v.Started = time.UnixMicro(started).UTC()
	return v, err
}

// CloseAbandoned closes the starts whose holders are gone. In most stores there
// is none, which three counts tell.
func CloseAbandoned(ctx context.Context, db *store.DB) error {
	err := db.Update(ctx, func(tx *sql.Tx) error {
		var there bool
		err := tx.QueryRowContext(ctx, `SELECT count(*) FROM sqlite_schema WHERE name = 'run_of_start'`).Scan(&there)
		if err != nil || !there {
			return err
		}
		var open int
		err = tx.QueryRowContext(ctx, `
			SELECT (SELECT coalesce(max(seq), 0) FROM run_start) - (SELECT count(*) FROM run WHERE start IS NOT NULL) -
			       (SELECT count(*) FROM run_unfinished WHERE NOT EXISTS
			           (SELECT 1 FROM run WHERE run.start = run_unfinished.start))`).Scan(&open)
		if err != nil || open == 0 {
			return err
		}
		numbers, err := store.Collect(ctx, tx, store.ScanInt, `
			SELECT seq FROM run_start
			WHERE NOT EXISTS (SELECT 1 FROM run WHERE run.start = run_start.seq)
			  AND NOT EXISTS (SELECT 1 FROM run_unfinished WHERE run_unfinished.start = run_start.seq)
			ORDER BY seq DESC LIMIT ?`, open)
		w := writer{store.Writer{Ctx: ctx, Tx: tx, Interned: store.Interned{}}}
		for _, number := range numbers {
			if err == nil {
				err = w.abandoned(db.LockPath(), number, db.Now())
			}
		}
		return err
	})
	if err != nil {
		return fmt.Errorf("close what was not finished: %w", err)
	}
	return nil
}
