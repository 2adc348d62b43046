package notices

import (
	"context"
	"crypto/ed25519"
	"database/sql"
	"encoding/hex"
	"errors"
	"fmt"
	"slices"
	"time"

	"padjig/results/floor"
	"padjig/results/plant/notice"
	"padjig/results/runs"
	"padjig/results/store"
)

// Errors of issuing.
var (
	ErrOtherKey = errors.New("the key is not the one in force")
	ErrStation  = errors.New("these records take the notices of a plant: an office keeps records of its own")
)

// Dated is a date to be told of.
type Dated struct {
	Name string
	notice.DatesBody
}

// Further is what an office tells of beside what its records say.
type Further struct {
	Dates []Dated
	Next  ed25519.PublicKey // that signs from then on; nil: as before
}

// Issue makes notices of all that was decided in these records since the last time, in one
// transaction: releases that came into force, accounts, lots. The first time there is of each
// product the release in force, with those before it that units may be tested by.
func (s *Records) Issue(ctx context.Context, key ed25519.PrivateKey, further Further) (issued []notice.Notice, err error) {
	err = s.db.Save(ctx, "issue notices", func(tx *sql.Tx) error {
		chain, err := s.own(ctx, tx, key)
		if err != nil {
			return err
		}
		work := issuing{Records: s, tx: tx, chain: chain, key: key}
		for _, of := range []func(context.Context) error{work.begin, work.releases, work.accounts, work.locks, work.lots,
			func(ctx context.Context) error { return work.further(ctx, further) }} {
			if err := of(ctx); err != nil {
				return err
			}
		}
		issued = work.issued
		return nil
	})
	return issued, err
}

// Signs refuses a key that does not sign what these records issue next.
func (s *Records) Signs(ctx context.Context, key ed25519.PrivateKey) error {
	return s.db.Ask(ctx, "look up whose notices these are", func(tx *sql.Tx) error {
		_, err := s.own(ctx, tx, key)
		return err
	})
}

// own is the chain that these records issued, for the key that signs next.
func (s *Records) own(ctx context.Context, tx *sql.Tx, key ed25519.PrivateKey) (notice.Chain, error) {
	chain, err := kept(ctx, tx)
	if errors.Is(err, ErrNoNotices) {
		return notice.Begin([]ed25519.PublicKey{notice.PublicOf(key)}), nil
	}
	if err != nil {
		return chain, err
	}
	var taken bool
	if err := tx.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM notice WHERE source = '')`).Scan(&taken); err != nil {
		return chain, err
	}
	if taken {
		return chain, ErrStation
	}
	if !notice.PublicOf(key).Equal(chain.Key()) {
		return chain, fmt.Errorf("%w, whose fingerprint is %s", ErrOtherKey, notice.FingerprintOf(chain.Key()))
	}
	return chain, nil
}

// issuing is one transaction in which notices are issued.
type issuing struct {
	*Records
	tx     *sql.Tx
	chain  notice.Chain
	key    ed25519.PrivateKey
	issued []notice.Notice
}

func (w *issuing) add(ctx context.Context, kind notice.Kind, subject string, body any, source string, upto int64) error {
	n, next, err := w.chain.Issue(kind, subject, body, w.db.Now(), w.key)
	if err == nil {
		err = w.keep(ctx, w.tx, n, source, upto)
	}
	if err == nil {
		w.chain, w.issued = next, append(w.issued, n)
	}
	return err
}

func keyBody(key ed25519.PublicKey) notice.KeyBody {
	return notice.KeyBody{Key: hex.EncodeToString(key)}
}

func (w *issuing) begin(ctx context.Context) error {
	if w.chain.Number > 0 {
		return nil
	}
	return w.add(ctx, notice.Beginning, "", keyBody(w.chain.Key()), "key", 1)
}

// told is up to which row of a table notices were made.
func (w *issuing) told(ctx context.Context, source string) (upto int64, err error) {
	return upto, w.tx.QueryRowContext(ctx, `SELECT coalesce(max(upto), 0) FROM notice WHERE source = ?`, source).Scan(&upto)
}

func (w *issuing) releases(ctx context.Context) error {
	upto, err := w.told(ctx, "release")
	if err != nil {
		return err
	}
	list, err := runs.ReleasesIn(ctx, w.tx)
	if err != nil {
		return err
	}
	if upto == 0 {
		list = needed(list)
	}
	for _, r := range list {
		if r.Seq <= upto {
			continue
		}
		kind := notice.Release
		if r.Back {
			kind = notice.Return
		}
		if err := w.add(ctx, kind, r.Code, notice.ReleaseBody{
			Label: r.Label, Hash: r.Hash, Source: r.Source, By: r.By, Reason: r.Reason, FromSerial: r.FromSerial, Approved: r.Approved,
		}, "release", r.Seq); err != nil {
			return err
		}
	}
	return nil
}

// needed are those releases of each product by which units may be tested now, of all, oldest first.
func needed(list []runs.Release) (all []runs.Release) {
	done := map[string]bool{}
	for _, r := range slices.Backward(list) {
		if !done[r.Code] {
			all = append(all, r)
			done[r.Code] = r.FromSerial == ""
		}
	}
	slices.Reverse(all)
	return all
}

// row is a decision about an account in the office's records.
type row struct {
	seq  int64
	name string
	notice.AccountEvent
}

func (w *issuing) accounts(ctx context.Context) error {
	return w.people(ctx, "account_event", `SELECT seq, name, kind, role, secret, by, at_us FROM account_event WHERE seq > ? ORDER BY seq`)
}

func (w *issuing) locks(ctx context.Context) error {
	return w.people(ctx, "account_lock", `SELECT seq, name, kind, '', '', by, at_us FROM account_lock WHERE seq > ? ORDER BY seq`)
}

func (w *issuing) people(ctx context.Context, source, query string) error {
	upto, err := w.told(ctx, source)
	if err != nil {
		return err
	}
	rows, err := store.Collect(ctx, w.tx, func(rows *sql.Rows) (r row, err error) {
		return r, rows.Scan(&r.seq, &r.name, &r.Kind, &r.Role, &r.Secret, &r.By, &r.At)
	}, query, upto)
	if err != nil {
		return err
	}
	var names []string
	of, last := map[string][]notice.AccountEvent{}, map[string]int64{}
	for _, r := range rows {
		if !slices.Contains(names, r.name) {
			names = append(names, r.name)
		}
		of[r.name], last[r.name] = append(of[r.name], r.AccountEvent), r.seq
	}
	for _, name := range names {
		if err := w.add(ctx, notice.Account, name, notice.AccountBody{Events: of[name]}, source, last[name]); err != nil {
			return err
		}
	}
	return nil
}

func (w *issuing) lots(ctx context.Context) error {
	upto, err := w.told(ctx, "lot_change")
	if err != nil {
		return err
	}
	list, err := store.Collect(ctx, w.tx, floor.ScanLots, floor.LotColumns+`WHERE seq > ? ORDER BY seq`, upto)
	for _, c := range list {
		if err == nil && len(c.Lots) > 0 {
			err = w.add(ctx, notice.Lots, c.Jig, notice.LotsBody{Jig: c.Jig, Product: c.Product, Simulated: c.Simulated, Lots: c.Lots, By: c.By}, "lot_change", c.Seq)
		}
	}
	return err
}

func (w *issuing) further(ctx context.Context, f Further) error {
	for _, d := range f.Dates {
		if err := w.add(ctx, notice.Dates, d.Name, d.DatesBody, "dates", 0); err != nil {
			return err
		}
	}
	if f.Next == nil {
		return nil
	}
	return w.add(ctx, notice.Rotation, "", keyBody(f.Next), "key", 0)
}

// Head says, signed, how many notices these records issued, now. It never goes back before the
// one that was said last, whatever the clock does.
func (s *Records) Head(ctx context.Context, key ed25519.PrivateKey) (h notice.Head, err error) {
	err = s.db.Save(ctx, "say how many notices there are", func(tx *sql.Tx) error {
		chain, err := s.own(ctx, tx, key)
		if err != nil {
			return err
		}
		before, err := contactIn(ctx, tx)
		if err != nil {
			return err
		}
		h = notice.Head{Count: chain.Number, Hash: chain.Hash, Products: map[string]int64{}, Issued: s.db.Now()}
		if before == nil {
			before = &contact{}
		} else if before.head != nil && !h.Issued.After(before.head.Issued) {
			h.Issued = before.head.Issued.Add(time.Microsecond)
		}
		if err := store.Visit(ctx, tx, func(rows *sql.Rows) error {
			var code string
			var number int64
			err := rows.Scan(&code, &number)
			h.Products[code] = number
			return err
		}, `SELECT subject, max(seq) FROM notice WHERE kind IN ('release', 'return') GROUP BY subject`); err != nil {
			return err
		}
		h = h.Sign(chain.Plant, key)
		before.head, before.heard = &h, s.db.Now()
		return before.save(ctx, tx)
	})
	return h, err
}

// Plant is the fingerprint by which the plant of these notices goes, and the keys that were in force, the last of them is.
func (s *Records) Plant(ctx context.Context) (plant notice.Fingerprint, keys []ed25519.PublicKey, err error) {
	err = s.db.Ask(ctx, "look up the plant", func(tx *sql.Tx) error {
		chain, err := kept(ctx, tx)
		plant, keys = chain.Plant, chain.Keys()
		return err
	})
	return plant, keys, err
}

// TakeOver adds to what these records issued the notices behind it that hang at the plant, signed
// by the plant's keys: the office's records were restored from a backup, or another office issued them.
// What they decided is not decided here.
func (s *Records) TakeOver(ctx context.Context, list []notice.Notice) error {
	return s.db.Save(ctx, "take over notices", func(tx *sql.Tx) error {
		chain, err := kept(ctx, tx)
		if err != nil {
			return err
		}
		for _, n := range list {
			next, wrong := chain.Next(n)
			if len(wrong) > 0 {
				return wrong[0]
			}
			if err := s.keep(ctx, tx, n, "board", 0); err != nil {
				return err
			}
			chain = next
		}
		return nil
	})
}
