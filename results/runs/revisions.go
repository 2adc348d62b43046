package runs

import (
	"bytes"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"strings"
	"unicode"

	"padjig/results/store"
	"padjig/sequence/product"
)

// Number gives the number of the revision, writing it down when it is new. One hash
// has one definition: another one under it means that somebody's hash is wrong.
func (rev Revision) Number(w store.Writer) (int64, error) {
	row := []any{rev.Hash, rev.Code, rev.Title, rev.Label}
	if number, ok := w.Known(revisionTable, row...); ok {
		return number, nil
	}
	var stored []byte
	found, err := store.RowOf(w.Ctx, w.Tx, `SELECT definition FROM revision WHERE hash = ? LIMIT 1`, []any{rev.Hash}, &stored)
	switch {
	case err != nil:
		return 0, err
	case found && !bytes.Equal(stored, rev.Definition):
		return 0, fmt.Errorf("%w: product revision %s is stored with another definition", store.ErrRefused, rev.Hash)
	}
	return w.InternOr(revisionTable, func() (sql.Result, error) {
		return w.Tx.ExecContext(w.Ctx, `
			INSERT INTO revision (hash, code, title, label, definition) VALUES (?, ?, ?, ?, ?)`,
			append(row, string(rev.Definition))...)
	}, row...)
}

// LabelTaken is the error for a definition whose revision label the store knows
// with another one.
type LabelTaken struct {
	Code, Label string // as asked for
	Known       string // the label as it is known, which may differ in case and blanks
	Hash        string // that it is known with
	Release     int64  // number of the release it is known from; 0: of runs
	Run         int64  // number of the first run it is known from; 0: of none yet
	Differences []product.Difference
}

func (e *LabelTaken) Error() string {
	from := fmt.Sprintf("since run %d", e.Run)
	switch {
	case e.Release > 0:
		from = fmt.Sprintf("by release %d", e.Release)
	case e.Run == 0:
		from = "without a run so far"
	}
	text := fmt.Sprintf("%s %s is known with another definition, %.12s, %s", e.Code, revisionNamed(e.Known), e.Hash, from)
	if len(e.Differences) > 0 {
		text += "; this one changes " + product.SayDifferences(e.Differences)
	}
	return text
}

// revisionNamed names a revision by its label, also where it has none.
func revisionNamed(label string) string {
	if label == "" {
		return "without a revision label"
	}
	return fmt.Sprintf("revision %q", label)
}

// sameLabel reports whether two labels are one to a person: case and blanks make no other.
func sameLabel(a, b string) bool {
	squeeze := func(label string) string {
		return strings.ToLower(strings.Join(strings.FieldsFunc(label, unicode.IsSpace), ""))
	}
	return squeeze(a) == squeeze(b)
}

// CheckLabel gives a *LabelTaken for a revision whose label is known with another
// hash, from a run, a gauge study or a release.
func (s *Records) CheckLabel(ctx context.Context, rev Revision) error {
	return s.db.View(ctx, func(tx *sql.Tx) error { return LabelFree(ctx, tx, rev) })
}

// Introduce makes a revision known before its first run is made, so that of two
// definitions under one label only the first can be tested, whoever asks at once.
func (s *Records) Introduce(ctx context.Context, rev Revision) error {
	known := false
	err := s.db.View(ctx, func(tx *sql.Tx) error {
		if err := LabelFree(ctx, tx, rev); err != nil {
			return err
		}
		return tx.QueryRowContext(ctx, `SELECT EXISTS (SELECT 1 FROM revision WHERE hash = ? AND code = ? AND title = ? AND label = ?)`,
			rev.Hash, rev.Code, rev.Title, rev.Label).Scan(&known)
	})
	if err != nil || known {
		return err
	}
	return s.db.Save(ctx, fmt.Sprintf("make %s %s known", rev.Code, revisionNamed(rev.Label)), func(tx *sql.Tx) error {
		if err := LabelFree(ctx, tx, rev); err != nil {
			return err
		}
		_, err := rev.Number(store.Writer{Ctx: ctx, Tx: tx, Interned: store.Interned{}})
		return err
	})
}

// LabelFree gives a *LabelTaken where the label is known with another hash.
func LabelFree(ctx context.Context, tx *sql.Tx, rev Revision) error {
	type use struct {
		release, revision int64
		label, hash, text string // text: canonical, of a release its source
	}
	uses, err := store.Collect(ctx, tx, func(rows *sql.Rows) (u use, err error) {
		return u, rows.Scan(&u.release, &u.revision, &u.label, &u.hash, &u.text)
	}, `SELECT seq AS release, 0 AS revision, label, hash, source FROM release WHERE code = ?1 AND hash <> ?2
	    UNION ALL
	    SELECT 0, revision, label, hash, definition FROM revision WHERE code = ?1 AND hash <> ?2
	    ORDER BY release DESC, revision DESC`, rev.Code, rev.Hash)
	if err != nil {
		return err
	}
	for _, u := range uses {
		if !sameLabel(u.label, rev.Label) {
			continue
		}
		taken := &LabelTaken{Code: rev.Code, Label: rev.Label, Known: u.label, Hash: u.hash, Release: u.release}
		before := []byte(u.text)
		if u.release > 0 {
			before = nil
			if p, err := product.ParseKept("release", []byte(u.text)); err == nil { // else they are not told
				before = p.Canonical()
			}
		}
		if before != nil {
			taken.Differences = product.Differences(before, rev.Definition)
		}
		err := tx.QueryRowContext(ctx, `SELECT coalesce(min(seq), 0) FROM run WHERE revision = ?`, u.revision).Scan(&taken.Run)
		return errors.Join(err, taken)
	}
	return nil
}

// Tested reports whether a unit was ever made a run of with a definition.
func (s *Records) Tested(ctx context.Context, serial, hash string) (tested bool, err error) {
	err = s.db.View(ctx, func(tx *sql.Tx) error {
		return tx.QueryRowContext(ctx, `
			SELECT EXISTS (SELECT 1 FROM run JOIN revision USING (revision) WHERE serial = ? AND revision.hash = ? AND purpose = '')`,
			serial, hash).Scan(&tested)
	})
	return tested, err
}
