package retention

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"hash"
	"io"
	"io/fs"
	"math"
	"os"
	"path/filepath"
	"slices"
	"time"

	"github.com/parquet-go/parquet-go"
)

// Form is the version of how a month is written.
const Form = 1

// Manifest says what lies beside it, in manifest.json.
type Manifest struct {
	Form  int         `json:"form"`
	Month string      `json:"month"`
	Low   int64       `json:"low"`  // numbers of runs from here on
	High  int64       `json:"high"` // and below this
	Made  time.Time   `json:"made"`
	By    string      `json:"by"`
	Files []FileEntry `json:"files"`
}

// FileEntry is one table of a month.
type FileEntry struct {
	Name   string `json:"name"`   // of the table; the file's is NAME.parquet
	Rows   int64  `json:"rows"`   // in the order of their keys
	Values string `json:"values"` // SHA-256 over the values of all rows, see docs/plant.md
	SHA256 string `json:"sha256"` // of the file
	Bytes  int64  `json:"bytes"`
}

// source is where the rows of a file are from.
type source struct{ name, query string }

// sources are the files of a month: its runs with all that belongs to them, and the words that they use, so that they can be
// read without the plant.
func (m Month) sources() []source {
	part := m.part
	all := []source{{"run", `SELECT * FROM ` + part("run") + ` ORDER BY seq`}}
	for _, table := range append([]string{"run_finding"}, Readings[:]...) {
		all = append(all, source{table, `SELECT * FROM ` + part(table) + ` ORDER BY run, place`})
	}
	words := func(table string, of ...string) {
		query := `SELECT * FROM ` + table + ` WHERE ` + table + ` IN (`
		for i, from := range of {
			if i > 0 {
				query += ` UNION `
			}
			query += `SELECT ` + table + ` FROM ` + part(from)
		}
		all = append(all, source{table, query + `) ORDER BY ` + table})
	}
	words("revision", "run")
	words("jig", "run")
	words("station", "run")
	words("key", "run_key", "run_exercise")
	words("pin", "run_seat")
	words("step", "run_step", "run_insulation")
	words("line_split", "run_insulation")
	return append(all, source{"member", `SELECT member, name, since_us FROM member WHERE member IN (SELECT member FROM ` + part("run") + `) ORDER BY member`})
}

// visit gives the rows of a source, their columns in the order of the alphabet, as the files have them.
func (s source) visit(ctx context.Context, conn *sql.Conn, begin func(names, types []string) error, row func([]any) error) error {
	rows, err := conn.QueryContext(ctx, s.query)
	if err != nil {
		return fmt.Errorf("read %s: %w", s.name, err)
	}
	defer rows.Close()
	columns, err := rows.ColumnTypes()
	if err != nil {
		return fmt.Errorf("read %s: %w", s.name, err)
	}
	order := make([]int, len(columns))
	for i := range order {
		order[i] = i
	}
	slices.SortFunc(order, func(a, b int) int { return compare(columns[a].Name(), columns[b].Name()) })
	names, types := make([]string, len(order)), make([]string, len(order))
	values, into := make([]any, len(order)), make([]any, len(order))
	for to, from := range order {
		names[to], types[to] = columns[from].Name(), columns[from].DatabaseTypeName()
		into[from] = &values[to]
	}
	if err := begin(names, types); err != nil {
		return err
	}
	for rows.Next() {
		if err := rows.Scan(into...); err != nil {
			return fmt.Errorf("read %s: %w", s.name, err)
		}
		if err := row(values); err != nil {
			return err
		}
	}
	if err := rows.Err(); err != nil {
		return fmt.Errorf("read %s: %w", s.name, err)
	}
	return nil
}

func compare(a, b string) int {
	switch {
	case a < b:
		return -1
	case a > b:
		return 1
	}
	return 0
}

// values is a sum over rows in their order. Each value is a letter for its kind and its bytes: nothing for NULL, eight, the highest
// first, for a number, the bits of IEEE 754 for one with a point, and its length before a text or bytes.
type values struct {
	hash.Hash
	rows int64
	room []byte
}

func newValues() *values { return &values{Hash: sha256.New()} }

func (v *values) add(row []any) error {
	b := v.room[:0]
	for _, value := range row {
		switch value := value.(type) {
		case nil:
			b = append(b, 'n')
		case int64:
			b = binary.BigEndian.AppendUint64(append(b, 'i'), uint64(value))
		case float64:
			b = binary.BigEndian.AppendUint64(append(b, 'f'), math.Float64bits(value))
		case string:
			b = append(binary.BigEndian.AppendUint64(append(b, 'b'), uint64(len(value))), value...)
		case []byte:
			b = append(binary.BigEndian.AppendUint64(append(b, 'b'), uint64(len(value))), value...)
		default:
			return fmt.Errorf("a value of the kind %T cannot be written", value)
		}
	}
	v.room, v.rows = b, v.rows+1
	v.Write(b) // a hash takes everything
	return nil
}

func (v *values) sum() string { return hex.EncodeToString(v.Sum(nil)) }

// leaf is how Parquet has the values of a column.
func leaf(databaseType string) (parquet.Node, error) {
	switch databaseType {
	case "INT8", "INT4", "INT2":
		return parquet.Int(64), nil
	case "TEXT":
		return parquet.String(), nil
	case "BYTEA":
		return parquet.Leaf(parquet.ByteArrayType), nil
	case "FLOAT8":
		return parquet.Leaf(parquet.DoubleType), nil
	}
	return nil, fmt.Errorf("values of the type %s cannot be written", databaseType)
}

// batch is how many rows are handed on at a time.
const batch = 1000

// export writes a month's files, unless they are there. The folder gets its name when all that is in it is on the disk.
func (r *Retirement) export(ctx context.Context, conn *sql.Conn, m Month, folder string) error {
	if _, err := os.Stat(folder); err == nil {
		return nil // it is held against the rows like one that was written now
	} else if !errors.Is(err, fs.ErrNotExist) {
		return err
	}
	partial := folder + ".part"
	if err := os.RemoveAll(partial); err != nil { // of a time that was cut short
		return err
	}
	if err := os.Mkdir(partial, 0o755); err != nil {
		return err
	}
	manifest := Manifest{Form: Form, Month: m.String(), Low: m.Low(), High: m.High(), Made: r.Now.UTC(), By: r.By}
	for _, s := range m.sources() {
		entry, err := r.write(ctx, conn, m, s, filepath.Join(partial, s.name+".parquet"))
		if err != nil {
			return err
		}
		manifest.Files = append(manifest.Files, entry)
	}
	text, err := json.MarshalIndent(manifest, "", "  ")
	if err != nil {
		return err
	}
	if err := durably(filepath.Join(partial, manifestName), func(w io.Writer) error { _, err := w.Write(append(text, '\n')); return err }); err != nil {
		return err
	}
	if err := syncFolder(partial); err != nil {
		return err
	}
	if err := os.Rename(partial, folder); err != nil {
		return err
	}
	return syncFolder(r.Folder)
}

const manifestName = "manifest.json"

func (r *Retirement) write(ctx context.Context, conn *sql.Conn, m Month, s source, path string) (entry FileEntry, err error) {
	sum, file := newValues(), sha256.New()
	counted := &counting{}
	err = durably(path, func(w io.Writer) error {
		var out *parquet.GenericWriter[any]
		var rows []parquet.Row
		flush := func() error {
			n, err := out.WriteRows(rows)
			rows = rows[:0]
			if err != nil {
				return err
			}
			return r.told(m, Exporting, int64(n))
		}
		err := s.visit(ctx, conn, func(names, types []string) error {
			group := parquet.Group{}
			for i, name := range names {
				node, err := leaf(types[i])
				if err != nil {
					return fmt.Errorf("%s of %s: %w", name, s.name, err)
				}
				group[name] = parquet.Optional(node)
			}
			out = parquet.NewGenericWriter[any](io.MultiWriter(w, file, counted), parquet.NewSchema(s.name, group),
				parquet.Compression(&parquet.Zstd), parquet.MaxRowsPerRowGroup(200_000))
			return nil
		}, func(values []any) error {
			if err := sum.add(values); err != nil {
				return fmt.Errorf("%s: %w", s.name, err)
			}
			row := make(parquet.Row, len(values))
			for i, v := range values {
				if v == nil {
					row[i] = parquet.NullValue().Level(0, 0, i)
				} else {
					row[i] = parquet.ValueOf(v).Level(0, 1, i)
				}
			}
			if rows = append(rows, row); len(rows) < batch {
				return nil
			}
			return flush()
		})
		if err != nil {
			return err
		}
		if err := flush(); err != nil {
			return err
		}
		return out.Close()
	})
	return FileEntry{s.name, sum.rows, sum.sum(), hex.EncodeToString(file.Sum(nil)), counted.bytes}, err
}

type counting struct{ bytes int64 }

func (c *counting) Write(b []byte) (int, error) {
	c.bytes += int64(len(b))
	return len(b), nil
}

// durably writes a file that is on its disk when it is done.
func durably(path string, write func(io.Writer) error) error {
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	err = write(f)
	if err == nil {
		err = f.Sync()
	}
	return errors.Join(err, f.Close())
}

func syncFolder(path string) error {
	f, err := os.Open(path)
	if err != nil {
		return err
	}
	return errors.Join(f.Sync(), f.Close())
}

// OtherFilesError is a file that is not what the rows in the plant are. Nothing was dropped.
type OtherFilesError struct{ Path, Why string }

func (e *OtherFilesError) Error() string {
	return fmt.Sprintf("%s is not what is in the plant: %s; nothing was taken out. Put this folder elsewhere and retire again", e.Path, e.Why)
}

// check holds the files of a month against its rows, both read once more.
func (r *Retirement) check(ctx context.Context, conn *sql.Conn, m Month, folder string) (done Retired, err error) {
	text, err := os.ReadFile(filepath.Join(folder, manifestName))
	if err != nil {
		return done, &OtherFilesError{folder, err.Error()}
	}
	var manifest Manifest
	if err := json.Unmarshal(text, &manifest); err != nil || manifest.Form != Form || manifest.Month != m.String() {
		return done, &OtherFilesError{filepath.Join(folder, manifestName), "it is of another month or form"}
	}
	sum := sha256.Sum256(text)
	done = Retired{Month: m, Folder: folder, Manifest: hex.EncodeToString(sum[:])}
	for i, s := range m.sources() {
		path := filepath.Join(folder, s.name+".parquet")
		if i >= len(manifest.Files) || manifest.Files[i].Name != s.name {
			return done, &OtherFilesError{path, "the manifest does not name it"}
		}
		entry := manifest.Files[i]
		here := newValues()
		if err := s.visit(ctx, conn, func([]string, []string) error { return nil }, here.add); err != nil {
			return done, err
		}
		file, bytes, err := fileSum(path)
		if err != nil {
			return done, &OtherFilesError{path, err.Error()}
		}
		if file != entry.SHA256 {
			return done, &OtherFilesError{path, "its bytes are others than those that were written"}
		}
		read, err := readBack(path)
		if err != nil {
			return done, &OtherFilesError{path, err.Error()}
		}
		if read.rows != here.rows || read.rows != entry.Rows {
			return done, &OtherFilesError{path, fmt.Sprintf("it has %d rows, the plant %d, and the manifest says %d", read.rows, here.rows, entry.Rows)}
		}
		if read.sum() != here.sum() || read.sum() != entry.Values {
			return done, &OtherFilesError{path, "its values are others"}
		}
		done.Rows, done.Bytes = done.Rows+read.rows, done.Bytes+bytes
		if s.name == "run" {
			done.Runs = read.rows
		}
		if err := r.told(m, Checking, read.rows); err != nil {
			return done, err
		}
	}
	return done, nil
}

func fileSum(path string) (sum string, bytes int64, err error) {
	f, err := os.Open(path)
	if err != nil {
		return "", 0, err
	}
	defer f.Close()
	h := sha256.New()
	bytes, err = io.Copy(h, f)
	return hex.EncodeToString(h.Sum(nil)), bytes, err
}

// readBack sums up the rows of a file.
func readBack(path string) (*values, error) {
	f, err := os.Open(path)
	if err != nil {
		return nil, err
	}
	defer f.Close()
	r := parquet.NewGenericReader[any](f)
	defer r.Close()
	sum, rows := newValues(), make([]parquet.Row, batch)
	var plain []any
	for {
		n, err := r.ReadRows(rows)
		for _, row := range rows[:n] {
			plain = plain[:0]
			for _, v := range row {
				plain = append(plain, value(v))
			}
			if err := sum.add(plain); err != nil {
				return nil, err
			}
		}
		if errors.Is(err, io.EOF) {
			return sum, nil
		}
		if err != nil {
			return nil, err
		}
	}
}

func value(v parquet.Value) any {
	if v.IsNull() {
		return nil
	}
	switch v.Kind() {
	case parquet.Int64:
		return v.Int64()
	case parquet.Double:
		return v.Double()
	}
	return v.ByteArray()
}
