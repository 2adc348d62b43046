package runs

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"fmt"
	"strings"

	"padjig/results/store"
)

// revisions forms the hash of every product definition anew. It is stored as its canonical
// bytes, so that no reading of it can change the hash.
func revisions(ctx context.Context, tx *sql.Tx) ([]string, error) {
	faults, err := store.Collect(ctx, tx, func(rows *sql.Rows) (string, error) {
		var number int64
		var code, label, hash, definition string
		if err := rows.Scan(&number, &code, &label, &hash, &definition); err != nil {
			return "", err
		}
		sum := sha256.Sum256([]byte(definition))
		if hex.EncodeToString(sum[:]) == hash {
			return "", nil
		}
		return fmt.Sprintf("product revision %d (%s, revision %q) does not fit its hash: its definition is not what was stored",
			number, code, label), nil
	}, `SELECT revision, code, label, hash, definition FROM revision ORDER BY revision`)
	return said(faults), err
}

// releasedFiles reads the product file of every release again, as whoever tests by one does.
func releasedFiles(ctx context.Context, tx *sql.Tx) ([]string, error) {
	faults, err := store.Collect(ctx, tx, func(rows *sql.Rows) (string, error) {
		var r Release
		if err := rows.Scan(&r.Seq, &r.Code, &r.Label, &r.Hash, &r.Source); err != nil {
			return "", err
		}
		if _, err := r.Product(); err != nil {
			first, _, _ := strings.Cut(err.Error(), "\n")
			return first, nil
		}
		return "", nil
	}, `SELECT seq, code, label, hash, source FROM release ORDER BY seq`)
	return said(faults), err
}

// said leaves the empty ones out.
func said(faults []string) []string {
	var out []string
	for _, f := range faults {
		if f != "" {
			out = append(out, f)
		}
	}
	return out
}
