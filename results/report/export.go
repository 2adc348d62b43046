package report

import (
	"bytes"
	"encoding/csv"
	"io"
	"strings"

	"github.com/parquet-go/parquet-go"

	"padjig/results/lines"
)

// exported is a row as the column store sees it; the names say the units.
type exported struct {
	Seq       int64    `parquet:"seq"`
	Serial    string   `parquet:"serial"`
	Product   string   `parquet:"product,dict"`
	Revision  string   `parquet:"revision,dict"`
	Jig       string   `parquet:"jig,dict"`
	Operator  string   `parquet:"operator,dict"`
	Shift     string   `parquet:"shift,dict"`
	Membrane  string   `parquet:"membrane,dict"`
	Dome      string   `parquet:"dome,dict"`
	Board     string   `parquet:"board,dict"`
	Actuation string   `parquet:"actuation,dict"`
	Simulated bool     `parquet:"simulated"`
	Started   int64    `parquet:"started,timestamp(microsecond)"`
	Attempt   int32    `parquet:"attempt"`
	Turn      int32    `parquet:"judged_run"`
	Outcome   string   `parquet:"outcome,dict"`
	Worst     string   `parquet:"worst,dict"`
	Key       string   `parquet:"key,dict"`
	Verdict   string   `parquet:"verdict,dict"`
	Closed    *float64 `parquet:"closed_ohm,optional"`
	ClosedU   *float64 `parquet:"closed_u_ohm,optional"`
	AtLeast   bool     `parquet:"closed_at_least"`
	Make      *float64 `parquet:"make_ms,optional"`
	Break     *float64 `parquet:"break_ms,optional"`
	Forward   *float64 `parquet:"forward_volt,optional"`
}

func exportedOf(r lines.ExportRow) exported {
	return exported{
		Seq: r.Seq, Serial: r.Serial, Product: r.Product, Revision: r.Revision, Jig: r.Jig, Operator: r.Operator, Shift: r.Shift,
		Membrane: r.Membrane, Dome: r.Dome, Board: r.Board, Actuation: r.Actuation, Simulated: r.Simulated,
		Started: r.Started.UnixMicro(), Attempt: int32(r.Attempt), Turn: int32(r.Turn), Outcome: r.Outcome, Worst: r.Worst,
		Key: r.Key, Verdict: r.Verdict, Closed: r.Closed, ClosedU: r.ClosedU, AtLeast: r.AtLeast, Make: r.Make, Break: r.Break, Forward: r.Forward,
	}
}

// Rows takes rows without end; Close must be called when all were written.
type Rows interface {
	Write(lines.ExportRow) error
	Close() error
}

// NewParquet writes rows as Parquet with Snappy, a group at a time.
func NewParquet(w io.Writer) Rows {
	return &parquetRows{w: parquet.NewGenericWriter[exported](w, parquet.Compression(&parquet.Snappy))}
}

// parquetGroup is how many rows lie together in the file.
const parquetGroup = 500_000

type parquetRows struct {
	w     *parquet.GenericWriter[exported]
	batch []exported
	group int
}

func (p *parquetRows) Write(r lines.ExportRow) error {
	if p.batch = append(p.batch, exportedOf(r)); len(p.batch) < 1000 {
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

var csvHead = []string{"seq", "serial", "product", "revision", "jig", "operator", "shift", "membrane", "dome", "board",
	"actuation", "simulated", "started", "attempt", "judged_run", "outcome", "worst", "key", "verdict", "closed_ohm",
	"closed_u_ohm", "closed_at_least", "make_ms", "break_ms", "forward_volt"}

// IsCSV reports whether a file that begins like this is one of [NewCSV].
func IsCSV(head []byte) bool {
	line, _, whole := bytes.Cut(head, []byte("\r\n"))
	return whole && string(line) == strings.Join(csvHead, ",")
}

// IsParquet reports whether a file is one of [NewParquet].
func IsParquet(f io.ReaderAt, size int64) bool {
	file, err := parquet.OpenFile(f, size, parquet.SkipPageIndex(true), parquet.SkipBloomFilters(true))
	return err == nil && parquet.EqualNodes(file.Schema(), parquet.SchemaOf(exported{}))
}

type csvRows struct{ w *csv.Writer }

func (c *csvRows) Write(r lines.ExportRow) error {
	values := []any{r.Seq, r.Serial, r.Product, r.Revision, r.Jig, r.Operator, r.Shift, r.Membrane, r.Dome, r.Board, r.Actuation,
		r.Simulated, r.Started, r.Attempt, r.Turn, r.Outcome, r.Worst, r.Key, r.Verdict, maybe(r.Closed), maybe(r.ClosedU),
		r.AtLeast, maybe(r.Make), maybe(r.Break), maybe(r.Forward)}
	texts := make([]string, len(values))
	for i, v := range values {
		texts[i] = field(Plain(v))
	}
	return c.w.Write(texts)
}

func maybe(v *float64) any {
	if v == nil {
		return nil
	}
	return *v
}

func (c *csvRows) Close() error {
	c.w.Flush()
	return c.w.Error()
}
