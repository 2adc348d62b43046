package report

import (
	"bytes"
	"encoding/csv"
	"io"
	"reflect"
	"slices"
	"strings"

	"github.com/parquet-go/parquet-go"

	"padjig/results/lines"
)

// exported is what the rows of an export are made of, by name.
var exported = parquet.NewSchema("exported", parquet.SchemaOf(lines.ExportRow{}))

// Rows takes rows without end; Close must be called when all were written.
type Rows interface {
	Write(lines.ExportRow) error
	Close() error
}

// NewParquet writes rows as Parquet with Snappy, a group at a time.
func NewParquet(w io.Writer) Rows {
	return &parquetRows{w: parquet.NewGenericWriter[lines.ExportRow](w, exported, parquet.Compression(&parquet.Snappy))}
}

// parquetGroup is how many rows lie together in the file.
const parquetGroup = 500_000

type parquetRows struct {
	w     *parquet.GenericWriter[lines.ExportRow]
	batch []lines.ExportRow
	group int
}

func (p *parquetRows) Write(r lines.ExportRow) error {
	if p.batch = append(p.batch, r); len(p.batch) < 1000 {
		return nil
	}
	return p.flush()
}

func (p *parquetRows) flush() error {
	n, err := p.w.Write(p.batch)
	p.batch, p.group = p.batch[:0], p.group+n
	if err == nil && p.group >= parquetGroup {
		p.group, err = 0, p.w.Flush()
	}
	return err
}

func (p *parquetRows) Close() error {
	if err := p.flush(); err != nil {
		return err
	}
	return p.w.Close()
}

// NewCSV writes rows as CSV after RFC 4180, with the same columns, times in UTC.
func NewCSV(w io.Writer) (Rows, error) {
	c := &csvRows{csv.NewWriter(w)}
	c.w.UseCRLF = true
	return c, c.w.Write(csvHead)
}

// csvHead are the names of the columns, which are of one level each.
var csvHead = slices.Concat(exported.Columns()...)

// IsCSV reports whether a file that begins like this is one of [NewCSV].
func IsCSV(head []byte) bool {
	line, _, whole := bytes.Cut(head, []byte("\r\n"))
	return whole && string(line) == strings.Join(csvHead, ",")
}

// IsParquet reports whether a file is one of [NewParquet].
func IsParquet(f io.ReaderAt, size int64) bool {
	file, err := parquet.OpenFile(f, size, parquet.SkipPageIndex(true), parquet.SkipBloomFilters(true))
	return err == nil && parquet.EqualNodes(file.Schema(), exported)
}

type csvRows struct{ w *csv.Writer }

func (c *csvRows) Write(r lines.ExportRow) error {
	texts, row := make([]string, len(csvHead)), reflect.ValueOf(r)
	for i := range texts {
		v := row.Field(i)
		if v.Kind() == reflect.Pointer && !v.IsNil() {
			v = v.Elem()
		}
		texts[i] = field(Plain(v.Interface()))
	}
	return c.w.Write(texts)
}

func (c *csvRows) Close() error {
	c.w.Flush()
	return c.w.Error()
}
