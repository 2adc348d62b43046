// Package forward brings the records of a station into the database of a plant, exactly once.
//
// How far a station's rows came is written down at the plant, in the transaction that stores them.
// So whatever is lost on the way - the server, the program, the word that a commit was done - the next
// look there says where to go on, and two programs that forward one station take turns.
//
// A [Forwarder] takes a batch: it reads a stretch of the records at one unchanging state, closes that again,
// translates the numbers in it (results/plant/tables says which) and stores it by COPY. It holds no more than
// one batch in memory, and no lock of the station while it waits for the plant.
//
// Nothing that is at the plant is ever overwritten. Where the station's records are not those that came
// before, or what a row names means something else at the plant, forwarding stops with a [StoppedError] until a person has
// looked; what does not hang on it goes on.
//
// Once in [Beat] a station says besides how it stands, also where it has nothing to bring.
package forward

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"maps"
	"time"

	"padjig/results/plant/count"
	"padjig/results/plant/postgres"
	"padjig/results/plant/tables"
	"padjig/results/store"
)

// UsualSize is about how many rows of runs a batch has.
const UsualSize = 40_000

// Forwarder forwards the records of one station. It is for one goroutine.
type Forwarder struct {
	Plant   *sql.DB
	Records Records
	Member  string           // name of the station at the plant
	Now     func() time.Time // clock of the station; nil for the computer's

	on *session // nil: not connected

	said struct { // last how it stands
		at      time.Time
		stopped string
	}
	spans time.Time // when it was seen last that no day or month of the plant has to be summed up
}

// Brought is what a batch brought to the plant.
type Brought struct {
	Runs, Rows int64
	LeftRuns   int64 // that the station had more, when it was read
	Wanted     int64 // runs that the station had then
	More       bool  // there is more of anything
	Offset     time.Duration
}

// All forwards everything that a station has, letting it join if need be.
func All(ctx context.Context, plant *sql.DB, records Records, member string) (all Brought, err error) {
	if _, err := Join(ctx, plant, member); err != nil {
		return all, err
	}
	f := &Forwarder{Plant: plant, Records: records, Member: member}
	defer f.Close()
	return f.All(ctx, func(int64, int64) {})
}

// All forwards everything that the station has. progress is told of how many runs of how many are at the plant.
func (f *Forwarder) All(ctx context.Context, progress func(done, of int64)) (all Brought, err error) {
	for more := true; more; {
		m, err := f.Batch(ctx, UsualSize)
		if err != nil {
			return all, err
		}
		all.Runs, all.Rows, more = all.Runs+m.Runs, all.Rows+m.Rows, m.More
		progress(m.Wanted-m.LeftRuns, m.Wanted)
	}
	return all, nil
}

// Close gives the connection back.
func (f *Forwarder) Close() {
	if f.on != nil {
		_ = f.on.conn.Close() // what was committed is told by the plant
		f.on = nil
	}
}

// Batch brings the next rows to the plant, about so many rows of runs, none when there are none. After an error it is not known whether
// they are there; the next batch finds out.
func (f *Forwarder) Batch(ctx context.Context, size int) (m Brought, err error) {
	defer func() {
		if err != nil {
			f.Close()
			err = fmt.Errorf("forward to the plant: %w", err)
		}
	}()
	if f.on == nil {
		if f.on, err = f.open(ctx); err != nil {
			return m, err
		}
	}
	b, stop, err := f.next(ctx, size)
	if err != nil {
		return m, err
	}
	if b.empty() {
		f.sumUp(ctx)
		if err := f.beat(ctx, f.on, b, stop); err != nil || stop == nil {
			return m, err
		}
		return m, stop
	}
	m.Wanted = b.newest["run"]
	if m.Rows, err = f.on.send(ctx, b); err != nil {
		return m, err
	}
	m.Runs = b.to["run"] - b.from["run"]
	m.LeftRuns = b.newest["run"] - b.to["run"]
	m.Offset = f.on.clock.ahead
	for name, newest := range b.newest {
		m.More = m.More || newest > b.to[name]
	}
	return m, f.beat(ctx, f.on, b, nil)
}

// spansAfter is how long after it was seen that nothing is to be summed up it is looked for again: what went meanwhile is answered from hours.
const spansAfter = time.Hour

// sumUp sums up a day or month of the plant while nothing waits. What goes wrong costs speed and no number: whoever asks reads hours,
// and a connection that is gone shows with the next batch.
func (f *Forwarder) sumUp(ctx context.Context) {
	now := f.on.now()
	if passed := now.Sub(f.spans); passed >= 0 && passed < spansAfter {
		return
	}
	if more, err := count.Spans(ctx, f.on.conn); err != nil || !more {
		f.spans = now
	}
}

// next reads the next batch, up to what the plant does not take; stop is why it is empty, if it need not be.
func (f *Forwarder) next(ctx context.Context, size int) (b *batch, stop *StoppedError, err error) {
	for upTo := cursors(nil); ; {
		err = f.Records.View(ctx, func(tx *sql.Tx) (err error) {
			b, err = read(ctx, tx, f.on.at.local, upTo, size, f.on.knows)
			return err
		})
		if err != nil || b.empty() {
			return b, stop, err
		}
		if f.on.clock, err = measureClock(ctx, f.on.conn, f.on.now); err != nil {
			return b, nil, err
		}
		refused, err := f.on.learn(ctx, f.on.conn, b.words)
		if err != nil || len(refused) == 0 {
			return b, nil, err
		}
		upTo, stop = b.before(refused)
	}
}

// session is a connection to the plant and what is known of it there.
type session struct {
	conn  *sql.Conn
	now   func() time.Time
	clock offset // measured after what it is used for was read
	at    places
	first firstRun
	numbers
	months map[string]bool

	openFrom int64 // lowest number that a run may be stored under
}

// open connects, and looks whether the station's records are those that came before.
func (f *Forwarder) open(ctx context.Context) (*session, error) {
	s, err := f.connect(ctx)
	if err != nil {
		return nil, err
	}
	if err := f.samePast(ctx, s); err != nil {
		if stop, is := errors.AsType[*StoppedError](err); is {
			_ = f.beat(ctx, s, newBatch(s.at.local), stop) // err says more
		}
		_ = s.conn.Close() // likewise
		return nil, err
	}
	s.words, s.runs = map[string]map[int64]int64{}, map[int64]int64{} // what was looked for there may not be there
	return s, nil
}

func (f *Forwarder) connect(ctx context.Context) (s *session, err error) {
	conn, err := f.Plant.Conn(ctx)
	if err != nil {
		return nil, err
	}
	s = &session{conn: conn, months: map[string]bool{}}
	s.words, s.runs = map[string]map[int64]int64{}, map[int64]int64{}
	defer func() {
		if err != nil {
			_ = conn.Close() // err says more
		}
	}()
	if err := sameVersions(ctx, conn); err != nil {
		return nil, err
	}
	if s.member, s.first, err = memberOf(ctx, conn, f.Member); err != nil {
		return nil, err
	}
	if s.at, err = placesOf(ctx, conn, s.member, ""); err != nil {
		return nil, err
	}
	if err := conn.QueryRowContext(ctx, `SELECT open_from()`).Scan(&s.openFrom); err != nil {
		return nil, err
	}
	s.now = f.Now
	if s.now == nil {
		s.now = time.Now
	}
	return s, nil
}

func (s *session) knows(table string, local int64) bool {
	_, known := s.words[table][local]
	return known
}

// errMoved is told when another program brought rows of the station meanwhile.
var errMoved = errors.New("another program forwards this station's records")

// send stores a batch.
func (s *session) send(ctx context.Context, b *batch) (rows int64, err error) {
	if err := learnFaults(ctx, s.conn, b.rows["run_finding"]); err != nil {
		return 0, err
	}
	if err := s.numberRuns(ctx, b); err != nil {
		return 0, err
	}
	there := map[string][][]any{}
	for _, t := range tables.All() {
		if there[t.Name], err = s.translated(t, b.rows[t.Name]); err != nil {
			return 0, err
		}
		rows += int64(len(b.rows[t.Name]))
	}
	if err := s.room(ctx, b); err != nil {
		return 0, err
	}
	tx, err := s.conn.BeginTx(ctx, nil)
	if err != nil {
		return 0, err
	}
	defer tx.Rollback()
	if err := s.store(ctx, tx, b, there); err != nil {
		return 0, err
	}
	if err := tx.Commit(); err != nil {
		return 0, err
	}
	s.arrived(b)
	return rows, nil
}

// endsOfItself has the server notice within a minute or two that a station is gone: what its transaction has
// locked is waited for when it is back. (PostgreSQL, "Connections and Authentication", "Client Connection Defaults".)
const endsOfItself = `SELECT set_config(name, value, true) FROM (VALUES ('tcp_keepalives_idle', '20'), ('tcp_keepalives_interval', '10'),
	('tcp_keepalives_count', '3'), ('idle_in_transaction_session_timeout', '60s'), ('lock_timeout', '60s')) AS said (name, value)`

// store puts everything of a batch into the transaction.
func (s *session) store(ctx context.Context, tx *sql.Tx, b *batch, there map[string][][]any) error {
	if _, err := tx.ExecContext(ctx, endsOfItself); err != nil {
		return err
	}
	now, err := placesOf(ctx, tx, s.member, "FOR UPDATE")
	if err != nil {
		return err
	}
	if !maps.Equal(now.local, s.at.local) {
		return errMoved
	}
	if err := s.keepFirst(ctx, tx, b); err != nil {
		return err
	}
	for _, t := range tables.All() {
		if err := postgres.Copy(ctx, s.conn, t.Name, columnsAt(t), there[t.Name]); err != nil {
			return err
		}
	}
	if err := s.count(ctx, tx, b); err != nil {
		return err
	}
	return s.moveOn(ctx, tx, b)
}

// count has the runs counted.
func (s *session) count(ctx context.Context, tx *sql.Tx, b *batch) error {
	placed := make([]count.Placed, len(b.cells))
	for i, c := range b.cells {
		placed[i] = count.Placed{Run: s.runs[c.run], Shift: s.row(c.shift), Lots: s.row(c.lots)}
	}
	var checked []int64
	for _, row := range b.rows["reference_check"] {
		checked = append(checked, s.runs[row[1].(int64)])
	}
	if len(placed)+len(checked) == 0 {
		return nil
	}
	return count.Runs(ctx, tx, placed, checked)
}

// row is the number of a row at the plant, 0 for none.
func (s *session) row(local int64) int64 {
	if local == 0 {
		return 0
	}
	return postgres.RowNumber(s.member, local)
}

// numberRuns numbers the runs of a batch, and finds the numbers of those before that it names.
func (s *session) numberRuns(ctx context.Context, b *batch) error {
	if len(s.runs) > 4*UsualSize {
		s.runs = map[int64]int64{}
	}
	if err := s.earlierRuns(ctx, b); err != nil {
		return err
	}
	last := max(s.at.number["run"], s.openFrom-1) // a run of a month that is closed goes into the first that is open
	saved := runTable().Index("saved_us")
	for _, row := range b.rows["run"] {
		last = postgres.RunNumber(s.member, s.clock.stored(row[saved].(int64)), last)
		s.runs[row[0].(int64)] = last
	}
	return nil
}

func (s *session) earlierRuns(ctx context.Context, b *batch) error {
	var asked []int64
	for run := range b.earlier {
		if s.runs[run] == 0 {
			asked = append(asked, run)
		}
	}
	if len(asked) == 0 {
		return nil
	}
	if err := runNumbers(ctx, s.conn, s.member, asked, s.runs); err != nil {
		return err
	}
	for _, run := range asked {
		if s.runs[run] == 0 { // its month is no longer here: a number of about that time keeps the order
			s.runs[run] = postgres.RunNumber(s.member, s.clock.stored(b.earlier[run]), 0)
		}
	}
	return nil
}

// room sees to it that there are tables for the months of the runs.
func (s *session) room(ctx context.Context, b *batch) error {
	for _, row := range b.rows["run"] {
		number := s.runs[row[0].(int64)]
		month := postgres.RunTime(number).Format("2006-01")
		if s.months[month] {
			continue
		}
		if _, err := s.conn.ExecContext(ctx, `SELECT month_of(?)`, number); err != nil {
			return fmt.Errorf("room for the runs of %s at the plant: %w", month, err)
		}
		s.months[month] = true
	}
	return nil
}

// keepFirst keeps which the first run is, so that these records cannot come under two names.
func (s *session) keepFirst(ctx context.Context, tx *sql.Tx, b *batch) error {
	if b.from["run"] > 0 || b.to["run"] == 0 {
		return nil
	}
	run, t := b.rows["run"][0], runTable()
	id := run[t.Index("id")].([]byte)
	names, err := store.Collect(ctx, tx, store.ScanText, `SELECT name FROM member WHERE first_id = ? AND member <> ?`, id, s.member)
	if err == nil && len(names) == 0 {
		_, err = tx.ExecContext(ctx, `UPDATE member SET first_id = ?, first_hash = ? WHERE member = ?`, id, run[t.Index("hash")], s.member)
	}
	if postgres.Code(err) == postgres.UniqueViolation { // at this moment
		names, err = []string{"another name"}, nil
	}
	if len(names) > 0 {
		return &StoppedError{OtherName, "these records came to the plant before, under " + names[0],
			"give the station that name in --member, or begin it with new records"}
	}
	return err
}

// moveOn writes down how far the rows came, and how the clocks stood.
func (s *session) moveOn(ctx context.Context, tx *sql.Tx, b *batch) error {
	for _, t := range tables.All() {
		if t.Kind != tables.Row || b.to[t.Name] == b.from[t.Name] {
			continue
		}
		number := s.row(b.to[t.Name])
		if t.Name == "run" {
			number = s.runs[b.to["run"]]
		}
		_, err := tx.ExecContext(ctx, `INSERT INTO forwarded (member, source, local, number) VALUES (?, ?, ?, ?)
			ON CONFLICT (member, source) DO UPDATE SET local = excluded.local, number = excluded.number`, s.member, t.Name, b.to[t.Name], number)
		if err != nil {
			return err
		}
	}
	if b.to["run"] == b.from["run"] {
		return nil
	}
	_, err := tx.ExecContext(ctx, `INSERT INTO clock_offset VALUES (?, ?, ?, ?, ?, ?)`, s.member, s.clock.at, s.clock.ahead.Microseconds(),
		s.clock.uncertainty.Microseconds(), s.runs[b.from["run"]+1], s.runs[b.to["run"]])
	return err
}

// arrived takes over what was committed.
func (s *session) arrived(b *batch) {
	s.at.local = maps.Clone(s.at.local) // the batch has it too
	for name, to := range b.to {
		if to > b.from[name] {
			s.at.local[name], s.at.number[name] = to, s.row(to)
		}
	}
	s.at.number["run"] = s.runs[s.at.local["run"]]
}

func runTable() tables.Table {
	return tableOf("run")
}
