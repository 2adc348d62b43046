package forward

import (
	"bytes"
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/binary"
	"encoding/hex"
	"errors"
	"fmt"
	"hash"
	"math"
	"slices"

	"padjig/results/plant/tables"
	"padjig/results/store"
)

// Difference is a row that is not the same on both sides.
type Difference struct {
	Table       string
	Local       int64  // number of the row at the station, or of the one that it belongs to
	Here, There string // hash of the row at the station and at the plant, hexadecimal; empty: there is none
}

func (d Difference) String() string {
	is := func(hash string) string {
		if hash == "" {
			return "is not there"
		}
		return "has hash " + hash
	}
	return fmt.Sprintf("row %d of %s %s at the station and %s at the plant", d.Local, d.Table, is(d.Here), is(d.There))
}

// Compared is a table, as far as it came to the plant.
type Compared struct {
	Table       string
	Here, There int64  // rows
	Hash        string // over all rows of the station, as they stand at the plant; hexadecimal
	HashThere   string
	Left        int64 // rows that are still to come
}

// Same reports whether both sides hold the same rows.
func (c Compared) Same() bool { return c.Here == c.There && c.Hash == c.HashThere }

// Checked is what a check found.
type Checked struct {
	Member      int
	Tables      []Compared
	Differences []Difference // the first of each table in each stretch, some at most
}

// Same reports whether both sides hold the same.
func (c Checked) Same() bool {
	return len(c.Differences) == 0 && !slices.ContainsFunc(c.Tables, func(t Compared) bool { return !t.Same() })
}

// mostDifferences are told of; whoever sees so many needs no more.
const mostDifferences = 20

// Check compares every row that came to the plant from a station with the station's own. progress is told how many
// runs of how many are compared.
func Check(ctx context.Context, plant *sql.DB, records Records, member string, progress func(done, of int64)) (Checked, error) {
	f := &Forwarder{Plant: plant, Records: records, Member: member}
	defer f.Close()
	found, err := f.check(ctx, progress)
	if err != nil {
		return found, fmt.Errorf("check what came to the plant: %w", err)
	}
	return found, nil
}

func (f *Forwarder) check(ctx context.Context, progress func(done, of int64)) (found Checked, err error) {
	if f.on, err = f.connect(ctx); err != nil {
		return found, err
	}
	s, from, tallies := f.on, cursors{}, map[string]*tally{}
	found.Member = s.member
	for _, t := range tables.All() {
		if t.Kind != tables.Word {
			tallies[t.Name] = &tally{here: sha256.New(), there: sha256.New()}
		}
	}
	for {
		var b *batch
		err := f.Records.View(ctx, func(tx *sql.Tx) (err error) {
			b, err = read(ctx, tx, from, s.at.local, UsualSize, s.knows)
			return err
		})
		if err != nil {
			return found, err
		}
		if b.empty() {
			return s.told(ctx, found, b, tallies)
		}
		differences, err := s.compare(ctx, b, tallies)
		if err != nil {
			return found, err
		}
		found.Differences = append(found.Differences, differences[:min(len(differences), mostDifferences-len(found.Differences))]...)
		from = b.to
		progress(b.to["run"], s.at.local["run"])
	}
}

// told sums a check up. What stands at the plant and was never asked for shows in the counts.
func (s *session) told(ctx context.Context, found Checked, b *batch, tallies map[string]*tally) (Checked, error) {
	for _, t := range tables.All() {
		if t.Kind == tables.Word {
			continue
		}
		y := tallies[t.Name]
		c := Compared{t.Name, y.rowsHere, y.rowsThere, sum(y.here), sum(y.there), 0}
		if t.Kind == tables.Row {
			c.Left = max(b.newest[t.Name]-s.at.local[t.Name], 0)
			if err := s.conn.QueryRowContext(ctx, fmt.Sprintf(`SELECT count(*) FROM %s WHERE member = ?`, quoted(t.Name)), s.member).Scan(&c.There); err != nil {
				return found, err
			}
		}
		found.Tables = append(found.Tables, c)
	}
	return found, nil
}

func sum(h hash.Hash) string { return hex.EncodeToString(h.Sum(nil)) }

// tally counts and hashes the rows of a table on both sides.
type tally struct {
	rowsHere, rowsThere int64
	here, there         hash.Hash
}

// compare holds a stretch of the station's rows against those of the plant.
func (s *session) compare(ctx context.Context, b *batch, tallies map[string]*tally) (found []Difference, err error) {
	words, err := s.findWords(ctx, s.conn, b.words)
	if err != nil {
		return nil, err
	}
	found = words.differences()
	if err := s.findRuns(ctx, b); err != nil {
		return nil, err
	}
	for _, t := range tables.All() {
		if t.Kind == tables.Word {
			continue
		}
		local := b.rows[t.Name]
		if t.Kind == tables.Of && t.Parent() == "run" {
			local = slices.DeleteFunc(slices.Clone(local), func(row []any) bool { return s.closed(s.runs[row[0].(int64)]) })
		}
		here, err := s.translated(t, local)
		if err != nil {
			return nil, err
		}
		there, err := s.rowsThere(ctx, t, b)
		if err != nil {
			return nil, err
		}
		if d := differs(t, local, here, there, tallies[t.Name]); d != nil {
			found = append(found, *d)
		}
	}
	return found, nil
}

// findRuns finds the numbers of all runs that a batch has or names. One that the plant does not have gets a number that
// none has.
func (s *session) findRuns(ctx context.Context, b *batch) error {
	s.runs = map[int64]int64{}
	wanted := make([]int64, 0, len(b.earlier)+len(b.rows["run"]))
	for run := range b.earlier {
		wanted = append(wanted, run)
	}
	for _, row := range b.rows["run"] {
		wanted = append(wanted, row[0].(int64))
	}
	if err := runNumbers(ctx, s.conn, s.member, wanted, s.runs); err != nil {
		return err
	}
	for _, run := range wanted {
		if s.runs[run] == 0 {
			s.runs[run] = -run
		}
	}
	return nil
}

// runNumbers finds the numbers of runs of a station at the plant; what is not there is left out.
func runNumbers(ctx context.Context, q querier, member int, locals []int64, into map[int64]int64) error {
	if len(locals) == 0 {
		return nil
	}
	return store.Visit(ctx, q, func(r *sql.Rows) error {
		var local, number int64
		err := r.Scan(&local, &number)
		into[local] = number
		return err
	}, `SELECT local, seq FROM run WHERE member = ? AND local = ANY(?)`, member, locals)
}

// closed reports whether a run is of a month whose readings are retired, or about to be (results/plant/retention). What
// came of it is not compared: only its own row stays.
func (s *session) closed(run int64) bool { return run > 0 && run < s.openFrom }

// rowsThere reads the rows of the plant that a stretch of the station's should be.
func (s *session) rowsThere(ctx context.Context, t tables.Table, b *batch) ([][]any, error) {
	of := t.Name
	if t.Kind == tables.Of {
		of = t.Parent()
	}
	if b.to[of] <= b.from[of] {
		return nil, nil
	}
	columns := columnsAt(t)
	ask := fmt.Sprintf(`SELECT %s FROM %s WHERE `, list(columns), quoted(t.Name))
	if t.Kind == tables.Row {
		return rowsOf(ctx, s.conn, len(columns), ask+`member = ? AND local > ? AND local <= ? ORDER BY local, `+quoted(t.Key()), s.member, b.from[of], b.to[of])
	}
	parents := make([]int64, 0, b.to[of]-b.from[of])
	for _, row := range b.rows[of] {
		local := row[0].(int64)
		if of == "run" {
			if local = s.runs[local]; s.closed(local) {
				continue
			}
		} else {
			local = s.row(local)
		}
		parents = append(parents, local)
	}
	return rowsOf(ctx, s.conn, len(columns), ask+quoted(t.Key())+` = ANY(?) ORDER BY `+quoted(t.Key())+`, place`, parents)
}

// differs finds the first row that is not the same on both sides.
func differs(t tables.Table, local, here, there [][]any, y *tally) (found *Difference) {
	for i := range max(len(here), len(there)) {
		d := Difference{Table: t.Name}
		var a, b []byte
		if i < len(there) {
			if i < len(here) {
				passOver(t, here[i], there[i])
			}
			b = encoded(there[i])
			y.rowsThere++
			y.there.Write(b)
			d.There = hashOf(t, there[i], b)
			if t.Kind == tables.Row {
				d.Local = there[i][len(there[i])-1].(int64)
			}
		}
		if i < len(here) {
			a = encoded(here[i])
			y.rowsHere++
			y.here.Write(a)
			d.Here, d.Local = hashOf(t, here[i], a), local[i][0].(int64)
		}
		if found == nil && !bytes.Equal(a, b) {
			if d.Here == d.There { // the record's own hash does not show it
				d.Here, d.There = plainHash(a), plainHash(b)
			}
			found = &d
		}
	}
	return found
}

// passOver takes from the plant what a row says of a run that is not there any more: its number was
// made for the order alone.
func passOver(t tables.Table, here, there []any) {
	for i, c := range t.Columns {
		if n, is := here[i].(int64); is && n < 0 && c.Use == tables.Ref && c.To == "run" && t.Kind == tables.Row {
			here[i] = there[i]
		}
	}
}

// hashOf is the hash of a row, that of its record where it has one.
func hashOf(t tables.Table, row []any, encoded []byte) string {
	if at := t.Index("hash"); at >= 0 {
		if sealed, is := row[at].([]byte); is {
			return hex.EncodeToString(sealed)
		}
	}
	return plainHash(encoded)
}

func plainHash(encoded []byte) string {
	if encoded == nil {
		return ""
	}
	h := sha256.Sum256(encoded)
	return hex.EncodeToString(h[:])
}

// encoded is a row as bytes that no other row has.
func encoded(row []any) []byte {
	b := []byte{}
	for _, v := range row {
		switch v := v.(type) {
		case nil:
			b = append(b, 0)
		case int64:
			b = binary.BigEndian.AppendUint64(append(b, 1), uint64(v))
		case float64:
			b = binary.BigEndian.AppendUint64(append(b, 2), math.Float64bits(v))
		case string:
			b = append(binary.BigEndian.AppendUint32(append(b, 3), uint32(len(v))), v...)
		case []byte:
			b = append(binary.BigEndian.AppendUint32(append(b, 4), uint32(len(v))), v...)
		default:
			b = fmt.Appendf(append(b, 5), "%T %v", v, v)
		}
	}
	return b
}

func tableOf(name string) tables.Table {
	all := tables.All()
	return all[slices.IndexFunc(all, func(t tables.Table) bool { return t.Name == name })]
}

// samePast stops where the newest rows that came are not those of the station: it was restored from a backup, or
// another goes by its name.
func (f *Forwarder) samePast(ctx context.Context, s *session) error {
	var b *batch
	var first firstRun
	err := f.Records.View(ctx, func(tx *sql.Tx) (err error) {
		if _, err = store.RowOf(ctx, tx, `SELECT id, hash FROM run WHERE seq = 1`, nil, &first.id, &first.hash); err == nil {
			b, err = newestOf(ctx, tx, s.at.local, s.knows)
		}
		return err
	})
	if err != nil {
		return err
	}
	if s.first.id != nil && first.id != nil && !bytes.Equal(first.id, s.first.id) {
		return &StoppedError{OtherPast, fmt.Sprintf("the first run of this station has hash %x, and the first that came from a station of its name has hash %x",
			first.hash, s.first.hash), "each station has a name of its own at the plant: padjig plant member add, and --member"}
	}
	const remedy = "see docs/plant.md, When forwarding stops: the plant keeps what it has, and the station what it has"
	for _, t := range tables.All() {
		if came := s.at.local[t.Name]; b.newest[t.Name] < came {
			return &StoppedError{MissingPast, fmt.Sprintf("the station has %d rows of %s, and %d came to the plant from it before", b.newest[t.Name], t.Name, came), remedy}
		}
	}
	tallies := map[string]*tally{}
	for _, t := range tables.All() {
		tallies[t.Name] = &tally{here: sha256.New(), there: sha256.New()}
	}
	found, err := s.compare(ctx, b, tallies)
	found = slices.DeleteFunc(found, func(d Difference) bool { return tableOf(d.Table).Kind == tables.Word }) // rows that name one are stopped where they come
	if err != nil || len(found) == 0 {
		return err
	}
	other := found[0]
	if other.Table == "run" {
		if other, err = f.firstOther(ctx, s, other); err != nil {
			return err
		}
	}
	return &StoppedError{OtherPast, "the station's records are not those that came from it before: " + other.String(), remedy}
}

// newestOf reads the newest rows that came to the plant.
func newestOf(ctx context.Context, tx *sql.Tx, came cursors, known known) (*batch, error) {
	from := cursors{}
	for name, local := range came {
		from[name] = max(local-1, 0)
	}
	return readExactly(ctx, tx, from, came, known)
}

// firstOther finds the first run that is another at the station than at the plant. All after it are others, too: runs
// are only ever added.
func (f *Forwarder) firstOther(ctx context.Context, s *session, last Difference) (Difference, error) {
	same, other := int64(0), last.Local
	for other-same > 1 {
		middle := (same + other) / 2
		d, err := f.run(ctx, s, middle)
		if err != nil {
			return last, err
		}
		if d.Here == d.There {
			same = middle
		} else {
			other, last = middle, d
		}
	}
	return last, nil
}

// run takes the hash of one run from both sides.
func (f *Forwarder) run(ctx context.Context, s *session, local int64) (Difference, error) {
	d := Difference{Table: "run", Local: local}
	var here, there []byte
	err := f.Records.View(ctx, func(tx *sql.Tx) error {
		return tx.QueryRowContext(ctx, `SELECT hash FROM run WHERE seq = ?`, local).Scan(&here)
	})
	if err == nil {
		err = s.conn.QueryRowContext(ctx, `SELECT hash FROM run WHERE member = ? AND local = ?`, s.member, local).Scan(&there)
		if errors.Is(err, sql.ErrNoRows) {
			err = nil
		}
	}
	d.Here, d.There = hex.EncodeToString(here), hex.EncodeToString(there)
	return d, err
}
