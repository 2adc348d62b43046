package forward_test

import (
	"bytes"
	"context"
	"database/sql"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"sync"
	"sync/atomic"
	"syscall"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/plant/forward"
	"padjig/results/plant/planttest"
	"padjig/results/plant/postgres"
	"padjig/results/store"
)

// Every test here ends with the same question: do both sides hold exactly the same, row by row and hash by hash?
func same(t *testing.T, plant *sql.DB, records *results.Store, member string) {
	t.Helper()
	found, err := forward.Check(t.Context(), plant, records, member, func(int64, int64) {})
	require.NoError(t, err)
	assert.True(t, found.Same(), "%v %v", found.Differences, found.Tables)
	for _, table := range found.Tables {
		assert.Zero(t, table.Left, table.Table)
		assert.Equal(t, table.HashThere, table.Hash, table.Table)
	}
}

func open(t *testing.T, address string) *sql.DB {
	t.Helper()
	db, err := postgres.Open(address)
	require.NoError(t, err)
	t.Cleanup(func() { _ = db.Close() })
	return db
}

// made makes the tables of a plant in an empty database.
func made(t *testing.T, address string) *sql.DB {
	t.Helper()
	db := open(t, address)
	_, err := postgres.Migrate(t.Context(), db)
	require.NoError(t, err)
	return db
}

// few is a size at which even few runs take several batches.
const few = 500

// untilDone takes batches until there is nothing left, whatever goes wrong on the way.
func untilDone(t *testing.T, f *forward.Forwarder) (failed int) {
	t.Helper()
	defer f.Close()
	for {
		m, err := f.Batch(t.Context(), few)
		switch {
		case err != nil:
			failed++
			require.Less(t, failed, 1000, err)
		case !m.More:
			return failed
		}
	}
}

// Wherever the line breaks, before a commit, after it, or in the middle of anything, the next batch goes on
// where the plant is.
func TestLineThatBreaks(t *testing.T) {
	for name, break_ := range map[string]func(n int64, m message) fate{
		"before each second commit": func(n int64, m message) fate {
			if m.commits() && n%2 == 0 {
				return cut
			}
			return arrives
		},
		"after each commit, before its acknowledgement": func(_ int64, m message) fate {
			if m.commits() {
				return answered
			}
			return arrives
		},
	} {
		t.Run(name, func(t *testing.T) {
			address := server.Made(t)
			plant, records := made(t, address), planttest.Records(t, 30, 1)
			_, err := forward.Join(t.Context(), plant, "line-1")
			require.NoError(t, err)
			var commits atomic.Int64
			over := open(t, broken(t, address, 0, func(m message) fate {
				if m.commits() {
					return break_(commits.Add(1), m)
				}
				return break_(commits.Load(), m)
			}))
			failed := untilDone(t, &forward.Forwarder{Plant: over, Records: records, Member: "line-1"})
			assert.Positive(t, failed)
			same(t, plant, records, "line-1")
		})
	}
}

// The line breaks after the first message of a batch, then after some more, and so on, until a batch comes through.
func TestLineThatBreaksAnywhere(t *testing.T) {
	address := server.Made(t)
	plant, records := made(t, address), planttest.Records(t, 20, 1)
	_, err := forward.Join(t.Context(), plant, "line-1")
	require.NoError(t, err)
	var left atomic.Int64
	over := open(t, broken(t, address, 0, func(message) fate {
		if left.Add(-1) < 0 {
			return cut
		}
		return arrives
	}))
	f := &forward.Forwarder{Plant: over, Records: records, Member: "line-1"}
	defer f.Close()
	tries := 0
	for at, done := int64(3), false; !done; at += 11 {
		left.Store(at)
		m, err := f.Batch(t.Context(), forward.UsualSize)
		done = err == nil && !m.More
		tries++
		require.Less(t, tries, 200)
	}
	assert.Greater(t, tries, 5)
	same(t, plant, records, "line-1")
}

// A server that takes a few bytes at a time takes everything in the end.
func TestSlowLine(t *testing.T) {
	address := server.Made(t)
	plant, records := made(t, address), planttest.Records(t, 12, 1)
	_, err := forward.Join(t.Context(), plant, "line-1")
	require.NoError(t, err)
	over := open(t, broken(t, address, 7, func(message) fate { return arrives }))
	assert.Zero(t, untilDone(t, &forward.Forwarder{Plant: over, Records: records, Member: "line-1"}))
	same(t, plant, records, "line-1")
}

// While the plant says nothing any more in the middle of a batch, the station stores what it tests, and its
// log can be emptied: forwarding holds no lock of the records.
func TestStationDoesNotWait(t *testing.T) {
	address := server.Made(t)
	plant, records := made(t, address), planttest.Records(t, 20, 1)
	_, err := forward.Join(t.Context(), plant, "line-1")
	require.NoError(t, err)
	stuck, on := make(chan bool), make(chan bool)
	var once sync.Once
	over := open(t, broken(t, address, 0, func(m message) fate {
		if m.copies() {
			once.Do(func() { close(stuck); <-on })
		}
		return arrives
	}))
	ctx, giveUp := context.WithCancel(t.Context())
	ended := make(chan error, 1)
	go func() {
		f := &forward.Forwarder{Plant: over, Records: records, Member: "line-1"}
		defer f.Close()
		_, err := f.Batch(ctx, forward.UsualSize)
		ended <- err
	}()
	<-stuck
	planttest.More(t, records, 20, 2)
	require.NoError(t, records.Room(t.Context()))
	info, err := os.Stat(records.Path() + "-wal")
	require.NoError(t, err)
	planttest.More(t, records, 5, 3)
	after, err := os.Stat(records.Path() + "-wal")
	require.NoError(t, err)
	assert.Equal(t, info.Size(), after.Size(), "the log begins anew, since nobody reads of before")
	giveUp()
	require.Error(t, <-ended)
	close(on)
	assert.Zero(t, untilDone(t, &forward.Forwarder{Plant: plant, Records: records, Member: "line-1"}))
	same(t, plant, records, "line-1")
}

// The server is killed in the middle of a batch, restarted between two, and down for a while.
func TestServerThatFails(t *testing.T) {
	own, err := planttest.Make(folder(t), "fsync=off")
	require.NoError(t, err)
	require.NoError(t, own.Start())
	t.Cleanup(func() { assert.NoError(t, own.End(syscall.SIGINT)) })
	address := own.Empty(t)
	plant, records := made(t, address), planttest.Records(t, 60, 1)
	_, err = forward.Join(t.Context(), plant, "line-1")
	require.NoError(t, err)

	var fails atomic.Pointer[func(message) bool]
	over := open(t, broken(t, address, 0, func(m message) fate {
		if f := fails.Load(); f != nil && (*f)(m) {
			return cut
		}
		return arrives
	}))
	f := &forward.Forwarder{Plant: over, Records: records, Member: "line-1"}
	defer f.Close()
	_, err = f.Batch(t.Context(), few)
	require.NoError(t, err)
	for _, signal := range []syscall.Signal{syscall.SIGKILL, syscall.SIGINT} {
		var seen atomic.Int64
		ended := make(chan error, 1)
		kill := func(m message) bool {
			if !m.copies() || seen.Add(1) != 3 {
				return false
			}
			ended <- own.End(signal)
			return true
		}
		fails.Store(&kill)
		_, err = f.Batch(t.Context(), few)
		require.Error(t, err)
		require.NoError(t, <-ended)
		fails.Store(nil)
		_, err = f.Batch(t.Context(), few)
		require.Error(t, err, "the server is down")
		require.NoError(t, own.Start())
		_, err = f.Batch(t.Context(), few)
		require.NoError(t, err)
	}
	untilDone(t, f)
	same(t, open(t, address), records, "line-1") // what was open to the server of before is broken
}

// folder is one that the server's user may enter, unlike those of t.TempDir.
func folder(t *testing.T) string {
	dir, err := os.MkdirTemp("", "own")
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, os.RemoveAll(dir)) })
	return dir
}

// A disk that is full at the plant takes nothing of a batch; when there is room again, all comes.
func TestDiskOfThePlantIsFull(t *testing.T) {
	own, err := planttest.Make(folder(t), "fsync=off")
	require.NoError(t, err)
	require.NoError(t, own.Start())
	end := sync.OnceFunc(func() { assert.NoError(t, own.End(syscall.SIGINT)) })
	t.Cleanup(end)
	address := own.Empty(t)
	plant, records := made(t, address), planttest.Records(t, 150, 1)
	_, err = forward.Join(t.Context(), plant, "line-1")
	require.NoError(t, err)
	room := own.NoRoom(t, plant)
	t.Cleanup(end) // before the disk goes
	f := &forward.Forwarder{Plant: open(t, address), Records: records, Member: "line-1"}
	defer f.Close()
	_, err = f.Batch(t.Context(), forward.UsualSize)
	require.Error(t, err)
	assert.Equal(t, "53100", postgres.Code(err), "disk full: %v", err)
	room()
	untilDone(t, f)
	same(t, plant, records, "line-1")
}

// ofChild are what the station that is killed goes by.
const ofChild = "PADJIG_TEST_FORWARD"

// beChild is a station that forwards, in a process of its own.
func beChild(told string) error {
	var path, address string
	if _, err := fmt.Sscanf(told, "%q %q", &path, &address); err != nil {
		return err
	}
	ctx := context.Background()
	records, err := results.OpenReadOnly(ctx, path)
	if err != nil {
		return err
	}
	plant, err := postgres.Open(address)
	if err != nil {
		return err
	}
	f := &forward.Forwarder{Plant: plant, Records: records, Member: "line-1"}
	for {
		if _, err := f.Batch(ctx, few); err != nil {
			return err
		}
	}
}

// The station is killed in the middle of a batch, again and again.
func TestStationIsKilled(t *testing.T) {
	address := server.Made(t)
	plant, records := made(t, address), planttest.Records(t, 40, 1)
	_, err := forward.Join(t.Context(), plant, "line-1")
	require.NoError(t, err)
	for _, at := range []func(message) bool{message.commits, message.copies, message.commits} {
		kill, dead := make(chan bool), make(chan bool)
		var seen atomic.Int64
		over := broken(t, address, 0, func(m message) fate {
			if at(m) && seen.Add(1) == 2 {
				close(kill)
				<-dead
				return cut
			}
			return arrives
		})
		child := exec.Command(os.Args[0])
		child.Env = append(os.Environ(), ofChild+fmt.Sprintf("=%q %q", records.Path(), over))
		var said bytes.Buffer
		child.Stderr = &said
		require.NoError(t, child.Start())
		ended := make(chan error, 1)
		go func() { ended <- child.Wait() }()
		select {
		case <-kill:
			require.NoError(t, child.Process.Kill())
			<-ended
			close(dead)
		case <-ended:
			require.Fail(t, "it ended by itself", said.String())
		}
	}
	untilDone(t, &forward.Forwarder{Plant: plant, Records: records, Member: "line-1"})
	same(t, plant, records, "line-1")
}

// Two programs on one store do not double anything, and stations that learn the same words at the same time do not
// stand in each other's way.
func TestManyAtOnce(t *testing.T) {
	plant := server.Plant(t)
	stores := []*results.Store{planttest.Records(t, 40, 1), planttest.Records(t, 40, 2), planttest.Records(t, 40, 3)}
	for i := range stores {
		_, err := forward.Join(t.Context(), plant, fmt.Sprint("line-", i))
		require.NoError(t, err)
	}
	var all sync.WaitGroup
	for i := range 2 * len(stores) {
		all.Go(func() {
			f := &forward.Forwarder{Plant: plant, Records: stores[i/2], Member: fmt.Sprint("line-", i/2)}
			defer f.Close()
			for tries := 0; tries < 1000; tries++ {
				if m, err := f.Batch(t.Context(), few); err == nil && !m.More {
					return
				}
			}
			t.Error("it does not end")
		})
	}
	all.Wait()
	for i, s := range stores {
		same(t, plant, s, fmt.Sprint("line-", i))
	}
}

// A station whose batch is all but stored holds nobody up, whatever both have found for the first time: many stations
// would stand behind one another, each until the one before has synced its disk.
func TestStationsDoNotWaitForOneAnother(t *testing.T) {
	address := server.Empty(t)
	plant, first, second := made(t, address), planttest.Unused(t), planttest.Unused(t)
	planttest.Month(t, first, 60, 1, 0)
	planttest.Month(t, second, 60, 8, 0)
	for _, name := range []string{"line-1", "line-2"} {
		_, err := forward.Join(t.Context(), plant, name)
		require.NoError(t, err)
	}
	stored, goOn := make(chan bool), make(chan bool)
	var once sync.Once
	over := open(t, broken(t, address, 0, func(m message) fate {
		if m.commits() {
			once.Do(func() { close(stored); <-goOn })
		}
		return arrives
	}))
	var all sync.WaitGroup
	all.Go(func() {
		f := &forward.Forwarder{Plant: over, Records: first, Member: "line-1"}
		defer f.Close()
		_, err := f.All(t.Context(), func(int64, int64) {})
		assert.NoError(t, err)
	})
	<-stored
	f := &forward.Forwarder{Plant: plant, Records: second, Member: "line-2"}
	defer f.Close()
	moved, err := f.All(t.Context(), func(int64, int64) {})
	close(goOn)
	require.NoError(t, err)
	assert.Positive(t, moved.Rows)
	all.Wait()
	same(t, plant, first, "line-1")
	same(t, plant, second, "line-2")
	var shared int
	require.NoError(t, plant.QueryRowContext(t.Context(), `
		SELECT count(*) FROM (SELECT 1 FROM run_finding GROUP BY what, location, key, lines, pins HAVING count(DISTINCT run & 4095) = 2) AS found`).Scan(&shared))
	assert.Positive(t, shared, "faults that both found")
}

// stoppedBy takes a batch that has to be stopped.
func stoppedBy(t *testing.T, plant *sql.DB, records *results.Store, member string) *forward.StoppedError {
	t.Helper()
	f := &forward.Forwarder{Plant: plant, Records: records, Member: member}
	defer f.Close()
	_, err := f.Batch(t.Context(), forward.UsualSize)
	var stopped *forward.StoppedError
	require.ErrorAs(t, err, &stopped)
	assert.NotEmpty(t, stopped.Remedy)
	return stopped
}

// A plant that is older is filled by nobody, a newer one where it says that it may be.
func TestVersions(t *testing.T) {
	address := server.Empty(t)
	assert.Equal(t, forward.NoPlant, stoppedBy(t, open(t, address), planttest.Records(t, 1, 1), "line-1").Code)
	plant, records := made(t, address), planttest.Records(t, 20, 1)
	do := func(query string) {
		t.Helper()
		_, err := plant.ExecContext(t.Context(), query)
		require.NoError(t, err)
	}
	assert.Equal(t, forward.NotJoined, stoppedBy(t, plant, records, "line-1").Code)
	_, err := forward.Join(t.Context(), plant, "line-1")
	require.NoError(t, err)
	do(`CREATE TABLE set_aside AS SELECT * FROM migration WHERE version = (SELECT max(version) FROM migration)`)
	do(`DELETE FROM migration WHERE version = (SELECT version FROM set_aside)`)
	assert.Equal(t, forward.OlderPlant, stoppedBy(t, plant, records, "line-1").Code)
	_, err = forward.Join(t.Context(), plant, "line-2")
	assert.Error(t, err)
	do(`INSERT INTO migration SELECT * FROM set_aside`)
	do(`INSERT INTO migration SELECT version + 1, 'humidity', 0 FROM set_aside`)
	do(`UPDATE forward_contract SET contract = contract + 1`)
	assert.Equal(t, forward.NewerPlant, stoppedBy(t, plant, records, "line-1").Code)
	do(`UPDATE forward_contract SET contract = contract - 1`)
	untilDone(t, &forward.Forwarder{Plant: plant, Records: records, Member: "line-1"})
	same(t, plant, records, "line-1")
}

// Records that are not those that came before are told with both hashes, and nothing is overwritten.
func TestOtherPast(t *testing.T) {
	plant, records := server.Plant(t), planttest.Records(t, 20, 1)
	backup := copied(t, records)
	planttest.More(t, records, 15, 2)
	_, err := forward.All(t.Context(), plant, records, "line-1")
	require.NoError(t, err)

	restored := reopened(t, backup)
	assert.Equal(t, forward.MissingPast, stoppedBy(t, plant, restored, "line-1").Code)
	planttest.More(t, restored, 15, 3) // as many as the plant has
	stopped := stoppedBy(t, plant, restored, "line-1")
	assert.Equal(t, forward.OtherPast, stopped.Code)
	assert.Contains(t, stopped.What, "row 21 of run", "the first that is another")
	for _, of := range []*results.Store{records, restored} {
		assert.Contains(t, stopped.What, fmt.Sprintf("%x", hashOfRun(t, of, 21)))
	}
	planttest.More(t, restored, 5, 4) // more than the plant has
	assert.Equal(t, forward.OtherPast, stoppedBy(t, plant, restored, "line-1").Code)
	another := planttest.Records(t, 1, 9)
	stopped = stoppedBy(t, plant, another, "line-1")
	assert.Equal(t, forward.OtherPast, stopped.Code, "another station of the same name")
	for _, of := range []*results.Store{records, another} {
		assert.Contains(t, stopped.What, fmt.Sprintf("%x", hashOfRun(t, of, 1)))
	}
	same(t, plant, records, "line-1")

	_, err = forward.Join(t.Context(), plant, "line-2")
	require.NoError(t, err)
	again := stoppedBy(t, plant, records, "line-2")
	assert.Equal(t, forward.OtherName, again.Code)
	assert.Contains(t, again.What, "line-1")
	_, err = forward.All(t.Context(), plant, planttest.Records(t, 5, 7), "line-2")
	require.NoError(t, err, "nothing came of what was refused")
}

// unguarded lets the owner of the server change what the guards of the tables would keep.
const unguarded = `SET LOCAL session_replication_role = replica`

// A row that was changed behind the plant's back is found, whatever it is.
func TestChangedAtThePlant(t *testing.T) {
	plant, records := server.Plant(t), planttest.Records(t, 20, 1)
	_, err := forward.All(t.Context(), plant, records, "line-1")
	require.NoError(t, err)
	for table, query := range map[string]string{
		"run_key":     `UPDATE run_key SET closed_mohm = closed_mohm + 1 WHERE run = (SELECT seq FROM run WHERE local = 7) AND place = 3`,
		"run_seat":    `DELETE FROM run_seat WHERE run = (SELECT seq FROM run WHERE local = 7) AND place = 3`,
		"lot_change":  `UPDATE lot_change SET membrane = 'another' WHERE local = 1`,
		"calibration": `INSERT INTO calibration SELECT (c).* FROM (SELECT jsonb_populate_record(c, '{"seq": 409595905, "local": 99999}') AS c FROM calibration AS c LIMIT 1) AS c`,
	} {
		tx, err := plant.BeginTx(t.Context(), nil)
		require.NoError(t, err)
		_, err = tx.ExecContext(t.Context(), unguarded)
		require.NoError(t, err, table)
		_, err = tx.ExecContext(t.Context(), query)
		require.NoError(t, err, table)
		require.NoError(t, tx.Commit())
		found, err := forward.Check(t.Context(), plant, records, "line-1", func(int64, int64) {})
		require.NoError(t, err)
		assert.False(t, found.Same(), table)
		for _, compared := range found.Tables {
			if compared.Table == table {
				assert.False(t, compared.Same(), table)
			}
		}
	}
}

// Numbers go by the plant's clock, whatever the station's says, and by the order in which runs were stored.
func TestClocks(t *testing.T) {
	plant, records := server.Plant(t), planttest.Records(t, 40, 1)
	for of, by := range map[string]string{
		"seq BETWEEN 11 AND 20": "-30 * 86400",      // the clock jumps back
		"seq BETWEEN 21 AND 30": "20 * 365 * 86400", // and far ahead, and is put right
	} {
		changed(t, records, `UPDATE run SET saved_us = saved_us + 1000000 * `+by+` WHERE `+of)
	}
	const ahead = 90 * time.Minute
	_, err := forward.Join(t.Context(), plant, "line-1")
	require.NoError(t, err)
	f := &forward.Forwarder{Plant: plant, Records: records, Member: "line-1", Now: func() time.Time { return time.Now().Add(ahead) }}
	untilDone(t, f)

	rows, err := plant.QueryContext(t.Context(), `SELECT seq, local, saved_us FROM run ORDER BY seq`)
	require.NoError(t, err)
	defer rows.Close()
	var number, local, saved int64
	for want := int64(1); rows.Next(); want++ {
		require.NoError(t, rows.Scan(&number, &local, &saved))
		assert.Equal(t, want, local, "the order is the station's")
		at := postgres.RunTime(number)
		assert.False(t, at.After(time.Now()), "nothing was stored after now")
		if local <= 10 {
			assert.WithinDuration(t, time.UnixMicro(saved).Add(-ahead), at, 5*time.Second, "by the plant's clock")
		}
	}
	require.NoError(t, rows.Err())
	var least, most, unsure int64
	require.NoError(t, plant.QueryRowContext(t.Context(), `SELECT min(ahead_us - uncertainty_us), max(ahead_us + uncertainty_us), max(uncertainty_us) FROM clock_offset`).Scan(&least, &most, &unsure))
	assert.LessOrEqual(t, least, ahead.Microseconds())
	assert.GreaterOrEqual(t, most, ahead.Microseconds())
	assert.Positive(t, unsure)
	same(t, plant, records, "line-1")
}

func hashOfRun(t *testing.T, records *results.Store, local int64) (hash []byte) {
	t.Helper()
	require.NoError(t, records.View(t.Context(), func(tx *sql.Tx) error {
		return tx.QueryRowContext(t.Context(), `SELECT hash FROM run WHERE seq = ?`, local).Scan(&hash)
	}))
	return hash
}

// changed changes records as nothing of the program can.
func changed(t *testing.T, records *results.Store, query string) {
	t.Helper()
	db, err := sql.Open("sqlite3", "file:"+records.Path())
	require.NoError(t, err)
	defer db.Close()
	guards, err := store.Collect(t.Context(), db, store.ScanText, `SELECT name FROM sqlite_schema WHERE type = 'trigger' AND tbl_name = 'run'`)
	require.NoError(t, err)
	for _, guard := range guards {
		_, err := db.ExecContext(t.Context(), `DROP TRIGGER "`+guard+`"`)
		require.NoError(t, err)
	}
	_, err = db.ExecContext(t.Context(), query)
	require.NoError(t, err)
}

// copied is a copy of records as they are now.
func copied(t *testing.T, records *results.Store) (path string) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "copy.sqlite")
	db, err := sql.Open("sqlite3", "file:"+records.Path()+"?mode=ro")
	require.NoError(t, err)
	defer db.Close()
	_, err = db.ExecContext(t.Context(), `VACUUM INTO ?`, path)
	require.NoError(t, err)
	return path
}

func reopened(t *testing.T, path string) *results.Store {
	t.Helper()
	s, err := results.Open(t.Context(), path)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	return s
}
