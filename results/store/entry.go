package store

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"strings"
	"time"
)

// Insert writes one row in one transaction.
func (s *DB) Insert(ctx context.Context, what, insert string, args ...any) error {
	return s.Save(ctx, "save "+what, func(tx *sql.Tx) error {
		_, err := tx.ExecContext(ctx, insert, args...)
		return err
	})
}

// Entry is one row to be appended to a table whose rows stand for themselves:
// its first column is seq, its last the hash of all the others.
type Entry struct {
	Table  string
	names  []string
	values []any // int64, string, []byte or nil, as SQLite keeps them
}

// Set adds the next column, in the order of the table.
func (e *Entry) Set(name string, value any) {
	e.names, e.values = append(e.names, name), append(e.values, kept(value))
}

func kept(value any) any {
	switch v := value.(type) {
	case bool:
		if v {
			return int64(1)
		}
		return int64(0)
	case int:
		return int64(v)
	case string:
		return Text(v)
	case time.Time:
		return v.UnixMicro()
	case ID:
		return v[:]
	}
	return value
}

// Insert gives the entry the next number and its hash and writes it.
func (e Entry) Insert(ctx context.Context, tx *sql.Tx) (seq int64, err error) {
	err = tx.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) + 1 FROM `+e.Table).Scan(&seq)
	if err != nil {
		return 0, err
	}
	names, values := append([]string{"seq"}, e.names...), append([]any{seq}, e.values...)
	hash, err := entryHash(e.Table, names, values)
	if err != nil {
		return 0, err
	}
	_, err = tx.ExecContext(ctx, fmt.Sprintf(`INSERT INTO %s (%s, hash) VALUES (%s)`, e.Table,
		strings.Join(names, ", "), Placeholders(len(names)+1)), append(values, hash)...)
	return seq, err
}

// entryHash is the SHA-256 of the row as a JSON list: the table's name, then a
// pair of name and value for each column but hash; bytes are hexadecimal.
func entryHash(table string, names []string, values []any) ([]byte, error) {
	list := []any{table}
	for i, name := range names {
		value := values[i]
		if b, isBlob := value.([]byte); isBlob {
			value = hex.EncodeToString(b)
		}
		list = append(list, [2]any{name, value})
	}
	var text bytes.Buffer
	enc := json.NewEncoder(&text)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(list); err != nil {
		return nil, err
	}
	hash := sha256.Sum256(bytes.TrimSuffix(text.Bytes(), []byte("\n")))
	return hash[:], nil
}

// Entries is the look for rows of tables of entries that are not what was stored,
// and for numbers that are missing.
func Entries(tables ...string) Check {
	return func(ctx context.Context, tx *sql.Tx) (found []string, err error) {
		for _, table := range tables {
			faults, err := entriesOf(ctx, tx, table)
			found = append(found, faults...)
			if err != nil {
				return found, err
			}
		}
		return found, nil
	}
}

func entriesOf(ctx context.Context, tx *sql.Tx, table string) (found []string, err error) {
	names, err := Collect(ctx, tx, ScanText, `SELECT name FROM pragma_table_info(?) ORDER BY cid`, table)
	if err != nil {
		return nil, err
	}
	last := len(names) - 1 // the hash
	scan := func(rows *sql.Rows) ([]any, error) {
		values, into := make([]any, len(names)), make([]any, len(names))
		for i := range values {
			into[i] = &values[i]
		}
		return values, rows.Scan(into...)
	}
	rows, err := Collect(ctx, tx, scan, fmt.Sprintf(`SELECT %s FROM %s ORDER BY seq`, strings.Join(names, ", "), table))
	for i, values := range rows {
		stored, _ := values[last].([]byte)
		sum, failed := entryHash(table, names[:last], values[:last])
		if failed != nil || !bytes.Equal(sum, stored) {
			found = append(found, fmt.Sprintf("%s %v is not what was stored: its hash differs", table, values[0]))
		}
		if values[0] != int64(i+1) {
			return append(found, fmt.Sprintf("%s numbers have a gap before %v", table, values[0])), nil
		}
	}
	return found, err
}

// Append appends entries in one transaction and gives the number of the last one.
// make may look things up in it.
func (s *DB) Append(ctx context.Context, make func(tx *sql.Tx) ([]Entry, error)) (seq int64, err error) {
	if err := s.Writable(); err != nil {
		return 0, err
	}
	ctx = context.WithoutCancel(ctx)
	err = s.Update(ctx, func(tx *sql.Tx) error {
		list, err := make(tx)
		for _, e := range list {
			if err == nil {
				seq, err = e.Insert(ctx, tx)
			}
		}
		return err
	})
	if Doubtful(err) {
		return 0, fmt.Errorf("%w: %w; check the disk, then look whether it is there before going on", ErrInDoubt, err)
	}
	return seq, err
}
