// Package board is where a plant's notices hang: in the plant's database, for every station to
// read. The office puts them up, a station takes them down to its own records; that they are true is shown by
// their signatures alone, whoever may write there.
package board

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"

	"padjig/results/plant/notice"
	"padjig/results/store"
)

// ErrOtherNotices is of a board on which other notices hang than those that the office issued: another office issues
// as well, or somebody changed them there.
var ErrOtherNotices = errors.New("other notices hang there")

// putting is the advisory lock under which one office at a time puts notices up.
const putting = 0x6e6f74696365 // "notice"

const columns = `SELECT seq, kind, subject, body, issued_us, before, signature FROM notice`

func scan(rows *sql.Rows) (n notice.Notice, err error) {
	var body string
	var before []byte
	err = rows.Scan(&n.Number, &n.Kind, &n.Subject, &body, store.Time(&n.Issued), &before, &n.Signature)
	n.Body = []byte(body)
	copy(n.Before[:], before)
	return n, err
}

// Top is the number of the last notice that hangs there, 0 for none.
func Top(ctx context.Context, db *sql.DB) (top int64, err error) {
	err = db.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) FROM notice`).Scan(&top)
	if err != nil {
		err = fmt.Errorf("look up the plant's notices: %w", err)
	}
	return top, err
}

// Office is what an office puts up.
type Office struct {
	Own  func(after int64) ([]notice.Notice, error) // its notices behind a number
	Head func() (notice.Head, error)                // that says how many it has, now
}

// Put puts up what is missing of an office's notices, and the head. The head is made while nobody else puts anything
// up: of two programs that do so for one office the second has the newer one. However often it is called and wherever it was cut
// off, the board shows the same.
func Put(ctx context.Context, db *sql.DB, of Office) (put int, head notice.Head, err error) {
	tx, err := db.BeginTx(ctx, nil)
	if err != nil {
		return 0, head, fmt.Errorf("put up notices: %w", err)
	}
	defer func() { _ = tx.Rollback() }() // after Commit it does nothing
	if put, err = missing(ctx, tx, of.Own); err == nil {
		head, err = of.Head()
	}
	if err == nil {
		err = putHead(ctx, tx, head)
	}
	if err == nil {
		err = tx.Commit()
	}
	if err != nil {
		return 0, head, fmt.Errorf("put up notices: %w", err)
	}
	return put, head, nil
}

func missing(ctx context.Context, tx *sql.Tx, own func(after int64) ([]notice.Notice, error)) (put int, err error) {
	if _, err := tx.ExecContext(ctx, `SELECT pg_advisory_xact_lock(?)`, int64(putting)); err != nil {
		return 0, err
	}
	last, err := store.Collect(ctx, tx, scan, columns+` ORDER BY seq DESC LIMIT 1`)
	if err != nil {
		return 0, err
	}
	after := int64(0)
	if len(last) > 0 {
		after = last[0].Number - 1
	}
	list, err := own(after)
	if err != nil {
		return 0, err
	}
	if len(last) > 0 {
		if len(list) == 0 || !list[0].Same(last[0]) {
			return 0, fmt.Errorf("notice %d: %w", last[0].Number, ErrOtherNotices)
		}
		list = list[1:]
	}
	for _, n := range list {
		if _, err := tx.ExecContext(ctx, `INSERT INTO notice VALUES (?, ?, ?, ?, ?, ?, ?)`,
			n.Number, string(n.Kind), n.Subject, string(n.Body), n.Issued.UnixMicro(), n.Before[:], n.Signature); err != nil {
			return 0, err
		}
	}
	return len(list), nil
}

func putHead(ctx context.Context, tx *sql.Tx, h notice.Head) error {
	products, err := notice.Canonical(h.Products)
	if err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `
		INSERT INTO notice_head VALUES (1, ?, ?, ?, ?, ?)
		ON CONFLICT (one) DO UPDATE SET count = excluded.count, top = excluded.top, products = excluded.products,
		    issued_us = excluded.issued_us, signature = excluded.signature`,
		h.Count, h.Hash[:], string(products), h.Issued.UnixMicro(), h.Signature)
	return err
}

// Read gives the notices behind a number, n at most, and the head, both as they are at one moment;
// the head is nil where none hangs there.
func Read(ctx context.Context, db *sql.DB, after int64, n int) (list []notice.Notice, head *notice.Head, err error) {
	tx, err := db.BeginTx(ctx, &sql.TxOptions{Isolation: sql.LevelRepeatableRead, ReadOnly: true})
	if err != nil {
		return nil, nil, fmt.Errorf("read the plant's notices: %w", err)
	}
	defer func() { _ = tx.Rollback() }() // nothing was written
	list, err = store.Collect(ctx, tx, scan, columns+` WHERE seq > ? ORDER BY seq LIMIT ?`, after, n)
	if err == nil {
		head, err = readHead(ctx, tx)
	}
	if err != nil {
		return nil, nil, fmt.Errorf("read the plant's notices: %w", err)
	}
	return list, head, nil
}

// readHead reads the head. One that cannot be read is one that is not believed: what it says of products is nothing.
func readHead(ctx context.Context, tx *sql.Tx) (*notice.Head, error) {
	var h notice.Head
	var top []byte
	var products string
	found, err := store.RowOf(ctx, tx, `SELECT count, top, products, issued_us, signature FROM notice_head`, nil,
		&h.Count, &top, &products, store.Time(&h.Issued), &h.Signature)
	if err != nil || !found {
		return nil, err
	}
	copy(h.Hash[:], top)
	if json.Unmarshal([]byte(products), &h.Products) != nil {
		h.Products = nil
	}
	return &h, nil
}
