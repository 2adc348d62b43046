package notices

import (
	"context"
	"crypto/ed25519"
	"database/sql"
	"errors"
	"time"

	"padjig/results/accounts"
	"padjig/results/floor"
	"padjig/results/plant/notice"
	"padjig/results/releases"
	"padjig/results/runs"
	"padjig/results/store"
)

// Heard is what could be got of the plant at one look.
type Heard struct {
	Notices []notice.Notice // behind those that the station has, as far as they could be got
	Head    *notice.Head    // nil: none could be got
	More    bool            // there are more notices to be got
}

// Taken is what came of it.
type Taken struct {
	Notices []Kept          // that were taken now
	Trouble *notice.Mistake // what is not believed, nil for nothing; all before it is taken
	News    bool            // the trouble is not that of the look before
	Number  int64           // of the last notice that the station has
}

// Taker takes notices of the plant whose keys are pinned.
type Taker struct {
	records *Records
	chain   notice.Chain
	stale   time.Duration
}

// Taker begins where the records stand. What they have already has to be that plant's: a
// [notice.Mistake] says what is not. Nothing heard for longer than stale is said to people.
func (s *Records) Taker(ctx context.Context, pinned []ed25519.PublicKey, stale time.Duration) (*Taker, error) {
	t := &Taker{s, notice.Begin(pinned), stale}
	err := s.db.Save(ctx, "save that the station hears a plant", func(tx *sql.Tx) error {
		chain, err := follow(ctx, tx, t.chain)
		if err != nil {
			return err
		}
		var issues bool
		if err := tx.QueryRowContext(ctx, `SELECT `+office).Scan(&issues); err != nil {
			return err
		}
		if issues {
			return notice.Mistake{Code: notice.OtherOffice, Number: chain.Number}
		}
		before, err := contactIn(ctx, tx)
		if err != nil {
			return err
		}
		if before == nil {
			before = &contact{}
		}
		before.stale, t.chain = stale, chain
		return before.save(ctx, tx)
	})
	return t, err
}

// Number is that of the last notice that the station has.
func (t *Taker) Number() int64 { return t.chain.Number }

// Take takes what was heard: every notice up to the first that is not to be believed, in one
// transaction with all that it brings about, and the head.
func (t *Taker) Take(ctx context.Context, heard Heard) (Taken, error) {
	var done Taken
	var chain notice.Chain
	err := t.records.db.Save(ctx, "take the plant's notices", func(tx *sql.Tx) (err error) {
		chain, err = follow(ctx, tx, t.chain) // another program may have taken some
		if err != nil {
			return err
		}
		work := taking{t.records, tx, chain, Taken{}}
		for _, n := range heard.Notices {
			if err := work.one(ctx, n); err != nil || work.done.Trouble != nil {
				if err != nil {
					return err
				}
				break
			}
		}
		if err := work.settle(ctx); err != nil {
			return err
		}
		err = work.contact(ctx, heard, t.stale)
		chain, done = work.chain, work.done
		return err
	})
	if err == nil {
		t.chain = chain
	}
	done.Number = t.chain.Number
	return done, err
}

// taking is one transaction in which notices are taken.
type taking struct {
	*Records
	tx    *sql.Tx
	chain notice.Chain
	done  Taken
}

func (w *taking) one(ctx context.Context, n notice.Notice) error {
	if n.Number > 0 && n.Number <= w.chain.Number {
		return w.again(ctx, n)
	}
	next, wrong := w.chain.Next(n)
	if len(wrong) > 0 {
		w.done.Trouble = &wrong[0]
		return nil
	}
	if _, err := w.tx.ExecContext(ctx, `SAVEPOINT one`); err != nil {
		return err
	}
	err := w.keep(ctx, w.tx, n, "", 0)
	var outcome Outcome
	if err == nil {
		outcome, err = w.carryOut(ctx, n)
	}
	if code := unbelieved(err); code != "" {
		w.done.Trouble = &notice.Mistake{Code: code, Number: n.Number, Why: err.Error()}
		_, err = w.tx.ExecContext(ctx, `ROLLBACK TO one`)
		return err
	}
	if err != nil {
		return err
	}
	w.chain = next
	w.done.Notices = append(w.done.Notices, Kept{n, outcome, w.db.Now()})
	_, err = w.tx.ExecContext(ctx, `RELEASE one`)
	return err
}

// again holds a notice that the station has against what is said of it now.
func (w *taking) again(ctx context.Context, n notice.Notice) error {
	known, err := store.Collect(ctx, w.tx, func(rows *sql.Rows) (notice.Notice, error) { return scanNotice(rows) },
		noticeColumns+` FROM notice WHERE seq = ?`, n.Number)
	if err == nil && !known[0].Same(n) {
		w.done.Trouble = &notice.Mistake{Code: notice.OtherChain, Number: n.Number}
	}
	return err
}

// unbelieved is the code of what a notice brings about that must not be; empty for every other error.
func unbelieved(err error) notice.Code {
	switch {
	case errors.Is(err, releases.ErrNotAsSaid):
		return notice.NotAsSaid
	case errors.Is(err, releases.ErrNotTwo):
		return notice.NotTwo
	}
	return ""
}

// carryOut brings about what a notice says, and writes down what came of it.
func (w *taking) carryOut(ctx context.Context, n notice.Notice) (outcome Outcome, err error) {
	outcome = InForce
	switch n.Kind {
	case notice.Release, notice.Return:
		outcome, err = w.release(ctx, n)
	case notice.Account:
		outcome, err = w.account(ctx, n)
	case notice.Lots:
		outcome, err = w.lots(ctx, n)
	}
	if err != nil || outcome == Waits {
		return outcome, err
	}
	e := store.Entry{Table: "notice_effect"}
	e.Set("notice", n.Number)
	e.Set("outcome", string(outcome))
	e.Set("at_us", w.db.Now())
	_, err = e.Insert(ctx, w.tx)
	return outcome, err
}

func (w *taking) release(ctx context.Context, n notice.Notice) (Outcome, error) {
	b, err := n.AsRelease()
	if err != nil {
		return "", err
	}
	err = releases.Take(ctx, w.tx, runs.Release{
		Code: n.Subject, Label: b.Label, Hash: b.Hash, Back: n.Kind == notice.Return, Source: b.Source, By: b.By, Reason: b.Reason,
		FromSerial: b.FromSerial, Approved: b.Approved, Notice: n.Number,
	}, w.db.Now().UnixMicro())
	if _, is := errors.AsType[*runs.LabelTaken](err); is {
		return LabelTaken, nil
	}
	return InForce, err
}

func (w *taking) account(ctx context.Context, n notice.Notice) (Outcome, error) {
	b, err := n.AsAccount()
	if err != nil {
		return "", err
	}
	var waits bool // what was decided before of this account
	if err := w.tx.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 `+owed+` AND subject = ? AND seq < ?)`, n.Subject, n.Number).Scan(&waits); err != nil {
		return "", err
	}
	if waits {
		return Waits, nil
	}
	err = accounts.Take(ctx, w.tx, n.Number, w.db.Now(), store.Each(b.Events, func(e notice.AccountEvent) accounts.AccountEvent {
		return accounts.AccountEvent{Name: n.Subject, Kind: accounts.AccountEventKind(e.Kind), Role: e.Role, Secret: e.Secret, By: e.By}
	})...)
	if _, is := errors.AsType[*accounts.LikeAnother](err); is {
		return Waits, nil
	}
	return InForce, err
}

func (w *taking) lots(ctx context.Context, n notice.Notice) (Outcome, error) {
	b, err := n.AsLots()
	if err != nil {
		return "", err
	}
	var here bool
	if err := w.tx.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM jig WHERE serial = ?)`, b.Jig).Scan(&here); err != nil || !here {
		return NotHere, err
	}
	return InForce, floor.SaveLots(ctx, w.tx, floor.LotChange{Jig: b.Jig, Product: b.Product, Simulated: b.Simulated, Lots: b.Lots, By: b.By}, w.db.Now().UnixMicro())
}

// settle carries out what waited and need not any more, in the order of the notices.
func (w *taking) settle(ctx context.Context) error {
	waiting, err := store.Collect(ctx, w.tx, func(rows *sql.Rows) (notice.Notice, error) { return scanNotice(rows) },
		noticeColumns+` `+owed+` ORDER BY seq`)
	for _, n := range waiting {
		if err == nil {
			_, err = w.carryOut(ctx, n)
		}
	}
	return err
}

// contact writes down what was heard of the plant.
func (w *taking) contact(ctx context.Context, heard Heard, stale time.Duration) error {
	before, err := contactIn(ctx, w.tx)
	if err != nil {
		return err
	}
	if before == nil {
		before = &contact{}
	}
	now := *before
	now.stale, now.trouble = stale, w.done.Trouble
	if h := heard.Head; h != nil {
		wrong := w.chain.Believed(*h, before.head)
		switch {
		case len(wrong) > 0 && now.trouble == nil:
			now.trouble = &wrong[0]
		case len(wrong) == 0 && (before.head == nil || h.Issued.After(before.head.Issued)):
			now.head, now.heard = h, w.db.Now()
		}
	}
	if now.trouble == nil && now.head != nil && !heard.More {
		now.trouble = w.chain.Missing(*now.head)
	}
	if now.trouble != nil && (before.trouble == nil || *now.trouble != *before.trouble) {
		now.since, w.done.News = w.db.Now(), true
	}
	w.done.Trouble = now.trouble
	return now.save(ctx, w.tx)
}
