package releases

import (
	"context"
	"database/sql"
	"encoding/json"
	"errors"
	"fmt"

	"padjig/results/accounts"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence/product"
	"padjig/sequence/revise"
)

// Errors of a release that the plant is said to have made.
var (
	ErrNotAsSaid = errors.New("the product file is not what the notice says of it")
	ErrNotTwo    = errors.New("it lets more through, and no second person is named")
)

// Take puts in force what the plant released, in the transaction that keeps its notice. It was released
// there by the rule of two people, with their names in it; that is looked at again here, against
// what the plant released before. A label that is another definition's here is [runs.LabelTaken].
func Take(ctx context.Context, tx *sql.Tx, r runs.Release, at int64) error {
	of, err := r.Product()
	if err != nil {
		return fmt.Errorf("%w: %w", ErrNotAsSaid, err)
	}
	if err := byTwo(ctx, tx, r, of); err != nil {
		return err
	}
	if err := runs.LabelFree(ctx, tx, runs.Revision{Code: r.Code, Label: r.Label, Hash: r.Hash, Definition: of.Canonical()}); err != nil {
		return err
	}
	_, err = tx.ExecContext(ctx, `
		INSERT INTO release (seq, code, label, hash, kind, source, by, reason, after_run, at_us, notice, from_serial, approved)
		SELECT (SELECT coalesce(max(seq), 0) + 1 FROM release), ?, ?, ?, ?, ?, ?, ?, (SELECT coalesce(max(seq), 0) FROM run), ?, ?, ?, ?`,
		r.Code, r.Label, r.Hash, Proposal{Back: r.Back}.kind(), r.Source, r.By, r.Reason, at, r.Notice, r.FromSerial, r.Approved)
	return err
}

// byTwo refuses a release of the plant that lets more through than the plant's one before and
// names no second person.
func byTwo(ctx context.Context, tx *sql.Tx, r runs.Release, of *product.Product) error {
	if r.Approved != "" && !accounts.SamePerson(r.By, r.Approved) {
		return nil
	}
	var hash string
	found, err := store.RowOf(ctx, tx, `SELECT hash FROM release WHERE code = ? AND notice < ? ORDER BY notice DESC LIMIT 1`,
		[]any{r.Code, r.Notice}, &hash)
	if err != nil || !found {
		return err
	}
	before, err := definitionOf(ctx, tx, r.Code, hash)
	if err == nil && revise.NeedsTwo(revise.Between(before, of)) {
		err = ErrNotTwo
	}
	return err
}

// ofPlant refuses to release here what the plant releases.
func ofPlant(ctx context.Context, tx *sql.Tx, code string) error {
	var is bool
	err := tx.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM release WHERE code = ? AND notice IS NOT NULL)`, code).Scan(&is)
	if err == nil && is {
		err = refuse(OfPlant, code)
	}
	return err
}

// soundNotice holds a release of the plant against the notice that it came with.
func soundNotice(ctx context.Context, tx *sql.Tx, r runs.Release, of *product.Product) error {
	var text string
	found, err := store.RowOf(ctx, tx, `SELECT body FROM notice WHERE seq = ? AND subject = ? AND kind IN ('release', 'return')`,
		[]any{r.Notice, r.Code}, &text)
	if err != nil {
		return err
	}
	var said struct {
		Label, Hash, Source string
	}
	if !found || json.Unmarshal([]byte(text), &said) != nil || said.Label != r.Label || said.Hash != r.Hash || said.Source != r.Source {
		return fmt.Errorf("release %d of %s: %w: notice %d says something else", r.Seq, r.Code, runs.ErrReleaseAltered, r.Notice)
	}
	if err := byTwo(ctx, tx, r, of); err != nil {
		return fmt.Errorf("release %d of %s: %w: %w", r.Seq, r.Code, runs.ErrReleaseAltered, err)
	}
	return nil
}
