package notices_test

import (
	"bytes"
	"context"
	"crypto/ed25519"
	"database/sql"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/notices"
	"padjig/results/plant/board"
	"padjig/results/plant/notice"
	"padjig/results/plant/planttest"
	"padjig/results/releases"
	"padjig/results/releases/releasestest"
	"padjig/results/store"
	"padjig/sequence/product"
)

var server *planttest.Server

func TestMain(m *testing.M) {
	if path := os.Getenv(heardFile); path != "" {
		fmt.Fprintln(os.Stderr, beKilled(path))
		os.Exit(1)
	}
	planttest.Run(m, &server)
}

func keyOf(n byte) ed25519.PrivateKey {
	return ed25519.NewKeyFromSeed(bytes.Repeat([]byte{n}, ed25519.SeedSize))
}

var pinned = []ed25519.PublicKey{notice.PublicOf(keyOf(1))}

const stale = time.Hour

// plant is an office, its database, and stations.
type plant struct {
	t      *testing.T
	db     *sql.DB
	office *results.Store
}

func newPlant(t *testing.T) *plant {
	t.Helper()
	return &plant{t, server.Plant(t), open(t, "office.db")}
}

// empty is a file of records without any, made once.
var empty = sync.OnceValues(func() ([]byte, error) {
	dir, err := os.MkdirTemp("", "records")
	if err != nil {
		return nil, err
	}
	defer os.RemoveAll(dir)
	path := filepath.Join(dir, "padjig.db")
	s, err := results.Open(context.Background(), path)
	if err == nil {
		err = s.Close()
	}
	if err != nil {
		return nil, err
	}
	return os.ReadFile(path)
})

func emptyAt(t *testing.T, name string) (path string) {
	t.Helper()
	text, err := empty()
	require.NoError(t, err)
	path = filepath.Join(t.TempDir(), name)
	require.NoError(t, os.WriteFile(path, text, 0o600))
	return path
}

func open(t *testing.T, name string) *results.Store {
	t.Helper()
	s, err := results.Open(t.Context(), emptyAt(t, name))
	require.NoError(t, err)
	t.Cleanup(func() { _ = s.Close() })
	return s
}

// own are the notices of an office behind a number.
func own(ctx context.Context, s *results.Store) func(int64) ([]notice.Notice, error) {
	return func(after int64) ([]notice.Notice, error) {
		list, err := s.Notices.List(ctx, after, 1000)
		return store.Each(list, func(k notices.Kept) notice.Notice { return k.Notice }), err
	}
}

// ofOffice is what an office puts up.
func ofOffice(ctx context.Context, s *results.Store, key ed25519.PrivateKey) board.Office {
	return board.Office{Own: own(ctx, s), Head: func() (notice.Head, error) { return s.Notices.Head(ctx, key) }}
}

// publish issues what was decided, and puts it up.
func (p *plant) publish(further ...notices.Further) []notice.Notice {
	p.t.Helper()
	issued := p.issue(further...)
	require.NoError(p.t, p.put())
	return issued
}

func (p *plant) issue(further ...notices.Further) []notice.Notice {
	p.t.Helper()
	issued, err := p.office.Notices.Issue(p.t.Context(), keyOf(1), append(further, notices.Further{})[0])
	require.NoError(p.t, err)
	return issued
}

func (p *plant) put() error {
	_, _, err := board.Put(p.t.Context(), p.db, ofOffice(p.t.Context(), p.office, keyOf(1)))
	return err
}

// look has a station take what hangs there.
func (p *plant) look(s *results.Store) notices.Taken {
	p.t.Helper()
	taker, err := s.Notices.Taker(p.t.Context(), pinned, stale)
	require.NoError(p.t, err)
	return p.by(taker)
}

func (p *plant) by(taker *notices.Taker) notices.Taken {
	p.t.Helper()
	list, head, err := board.Read(p.t.Context(), p.db, taker.Number(), 1000)
	require.NoError(p.t, err)
	done, err := taker.Take(p.t.Context(), notices.Heard{Notices: list, Head: head})
	require.NoError(p.t, err)
	return done
}

// tamper does to the board what its triggers keep everybody but its owner from.
func (p *plant) tamper(statements ...string) {
	p.t.Helper()
	for _, s := range append([]string{`ALTER TABLE notice DISABLE TRIGGER ALL`, `ALTER TABLE notice_head DISABLE TRIGGER ALL`}, statements...) {
		_, err := p.db.ExecContext(p.t.Context(), s)
		require.NoError(p.t, err, s)
	}
}

func padText(label, most string) string {
	return fmt.Sprintf(`product: CP-4
revision: %q
tail: K1 K2 COM
lines: {direct: K1 K2, common: COM}
keys: {VENT: K1 COM, MIST: K2 COM}
limits: {contact resistance: at most %s}
`, label, most)
}

func (p *plant) release(label, most string) {
	p.t.Helper()
	require.NoError(p.t, releasestest.Release(p.t.Context(), p.office, padText(label, most)))
}

func inForce(t *testing.T, s *results.Store) string {
	t.Helper()
	list, err := s.Runs.Releases(t.Context(), "CP-4")
	require.NoError(t, err)
	if len(list) == 0 {
		return ""
	}
	require.NoError(t, s.Releases.Sound(t.Context(), list[0]))
	return list[0].Label
}

func sound(t *testing.T, s *results.Store) {
	t.Helper()
	found, err := s.Check(t.Context())
	require.NoError(t, err)
	assert.Empty(t, found)
}

// blocked are the codes of what keeps units of the product from being tested.
func said(t *testing.T, s *results.Store, now time.Time) (blocks, warns []notices.Code) {
	t.Helper()
	list, err := s.Notices.Said(t.Context(), notices.About{Product: "CP-4", Jig: "J-1", Units: []string{"CP-REF"}, Now: now})
	require.NoError(t, err)
	for _, one := range list {
		assert.NotEmpty(t, one.Text)
		if one.Blocks {
			blocks = append(blocks, one.Code)
		} else {
			warns = append(warns, one.Code)
		}
	}
	return blocks, warns
}

func TestAReleaseReachesAStation(t *testing.T) {
	t.Parallel()
	p, s := newPlant(t), open(t, "station.db")
	p.release("A", "200 ohm")
	assert.Len(t, p.publish(), 2, "the key and the release; nobody needed to approve")
	done := p.look(s)
	assert.Nil(t, done.Trouble)
	assert.Equal(t, "A", inForce(t, s))
	p.release("B", "2 kohm") // which two people answer for
	p.publish()
	assert.Nil(t, p.look(s).Trouble)
	assert.Equal(t, "B", inForce(t, s))
	list, err := s.Runs.Releases(t.Context(), "CP-4")
	require.NoError(t, err)
	assert.Equal(t, []string{"Ines", "Second Person"}, []string{list[0].By, list[0].Approved})
	assert.NotEmpty(t, list[0].FromSerial)
	assert.Empty(t, p.publish(), "nothing was decided since")

	// One step back, which lets less through.
	of, err := list[1].Product()
	require.NoError(t, err)
	_, err = p.office.Releases.Propose(t.Context(), releases.Proposal{
		Code: "CP-4", Label: "A", Hash: of.Hash(), Back: true, Source: list[1].Source, By: "Ines", Reason: "the new limit lets bad keys out",
	})
	require.NoError(t, err)
	issued := p.publish()
	require.Len(t, issued, 1)
	assert.Equal(t, notice.Return, issued[0].Kind)
	p.look(s)
	assert.Equal(t, "A", inForce(t, s))

	// A station that comes later knows as much.
	late := open(t, "late.db")
	p.look(late)
	assert.Equal(t, "A", inForce(t, late))
	for _, one := range []*results.Store{s, late, p.office} {
		sound(t, one)
	}
}

// What the plant releases nobody releases at a station, by whatever way.
func TestAStationReleasesNothingOfThePlant(t *testing.T) {
	t.Parallel()
	p, s := newPlant(t), open(t, "station.db")
	p.release("A", "200 ohm")
	p.publish()
	p.look(s)
	err := releasestest.Release(t.Context(), s, padText("C", "100 ohm"))
	refused := new(releases.Refused)
	require.ErrorAs(t, err, &refused)
	assert.Equal(t, releases.OfPlant, refused.Code)
	raw, err := sql.Open("sqlite3", "file:"+s.Path())
	require.NoError(t, err)
	defer raw.Close()
	for _, notice := range []string{"NULL", "1", "2", "7"} {
		_, err = raw.ExecContext(t.Context(), `INSERT INTO release SELECT (SELECT max(seq) + 1 FROM release), code, label, hash, kind, source, 'Abel', reason,
			after_run, at_us, NULL, `+notice+`, from_serial, approved FROM release`)
		assert.ErrorContains(t, err, "padjig:", notice)
	}
}

// A station that was away knows by the head what it does not have, and tests nothing of that
// before it has; of other products it tests on.
func TestAStationThatWasAwayCatchesUpFirst(t *testing.T) {
	t.Parallel()
	p, s := newPlant(t), open(t, "station.db")
	p.release("A", "200 ohm")
	p.publish()
	p.look(s)
	now := time.Now()
	blocks, warns := said(t, s, now)
	assert.Empty(t, blocks)
	assert.Empty(t, warns)

	// Cut off, it goes on with what it has, and says so; a clock that is put back makes nothing old.
	blocks, warns = said(t, s, now.Add(26*time.Hour))
	assert.Empty(t, blocks)
	assert.Equal(t, []notices.Code{notices.NotHeard}, warns)
	_, warns = said(t, s, now.Add(-72*time.Hour))
	assert.Empty(t, warns)

	p.release("B", "100 ohm")
	p.publish()
	taker, err := s.Notices.Taker(t.Context(), pinned, stale)
	require.NoError(t, err)
	_, head, err := board.Read(t.Context(), p.db, 0, 1)
	require.NoError(t, err)
	done, err := taker.Take(t.Context(), notices.Heard{Head: head}) // and no notice
	require.NoError(t, err)
	assert.Equal(t, notice.Withheld, done.Trouble.Code)
	blocks, warns = said(t, s, now)
	assert.Equal(t, []notices.Code{notices.Ahead}, blocks)
	assert.Equal(t, []notices.Code{notices.NotBelieved}, warns)
	other, err := s.Notices.Said(t.Context(), notices.About{Product: "GCC-20", Now: now})
	require.NoError(t, err)
	require.Len(t, other, 1)
	assert.False(t, other[0].Blocks, "nothing was decided about it")
	assert.Equal(t, "A", inForce(t, s))

	assert.Nil(t, p.by(taker).Trouble)
	blocks, warns = said(t, s, now)
	assert.Empty(t, blocks)
	assert.Empty(t, warns)
	assert.Equal(t, "B", inForce(t, s))
}

// Whatever is done to the board, a station takes only what the plant signed, in its order; all
// else it has stays in force, and it says what is wrong.
func TestABoardThatWasTamperedWith(t *testing.T) {
	t.Parallel()
	p, station := newPlant(t), emptyAt(t, "station.db")
	p.release("A", "200 ohm")
	p.publish()
	s, err := results.Open(t.Context(), station)
	require.NoError(t, err)
	p.look(s)
	require.NoError(t, s.Close())
	away, err := os.ReadFile(station)
	require.NoError(t, err)
	p.release("B", "100 ohm")
	p.release("C", "90 ohm")
	p.publish()
	list, _, err := board.Read(t.Context(), p.db, 0, 10)
	require.NoError(t, err)
	require.Len(t, list, 4)
	forged := func(n notice.Notice) string {
		return fmt.Sprintf(`INSERT INTO notice VALUES (%d, '%s', '%s', '%s', %d, '\x%x', '\x%x')`, n.Number, n.Kind, n.Subject, n.Body, n.Issued.UnixMicro(), n.Before[:], n.Signature)
	}
	for name, c := range map[string]struct {
		do    func(list []notice.Notice) []string
		want  notice.Code
		taken int64
	}{
		"a row changed": {func([]notice.Notice) []string {
			return []string{`UPDATE notice SET body = replace(body, '100 ohm', '900 ohm') WHERE seq = 3`}
		}, notice.WrongSignature, 2},
		"a name changed": {func([]notice.Notice) []string {
			return []string{`UPDATE notice SET body = replace(body, 'Ines', 'Abel') WHERE seq = 3`}
		}, notice.WrongSignature, 2},
		"a row of before":    {func([]notice.Notice) []string { return []string{`UPDATE notice SET subject = 'GCC-20' WHERE seq = 3`} }, notice.WrongSignature, 2},
		"the newest is gone": {func([]notice.Notice) []string { return []string{`DELETE FROM notice WHERE seq = 4`} }, notice.Withheld, 3},
		"one is gone":        {func([]notice.Notice) []string { return []string{`DELETE FROM notice WHERE seq = 3`} }, notice.WrongNumber, 2},
		"two changed places": {func([]notice.Notice) []string {
			return []string{`UPDATE notice SET seq = 9 WHERE seq = 3`, `UPDATE notice SET seq = 3 WHERE seq = 4`, `UPDATE notice SET seq = 4 WHERE seq = 9`}
		}, notice.WrongBefore, 2},
		"an old release once more": {func(list []notice.Notice) []string {
			old := list[1]
			old.Number = 5
			return []string{forged(old)}
		}, notice.WrongBefore, 4},
		"a release by another key": {func(list []notice.Notice) []string {
			n := list[1]
			n.Number, n.Before = 5, list[3].Hash(notice.FingerprintOf(pinned[0]))
			return []string{forged(n.Sign(notice.FingerprintOf(pinned[0]), keyOf(9)))}
		}, notice.WrongSignature, 4},
		"the head says less":  {func([]notice.Notice) []string { return []string{`UPDATE notice_head SET count = 3`} }, notice.WrongSignature, 4},
		"the head forgets":    {func([]notice.Notice) []string { return []string{`UPDATE notice_head SET products = '{}'`} }, notice.WrongSignature, 4},
		"the head is no JSON": {func([]notice.Notice) []string { return []string{`UPDATE notice_head SET products = 'x'`} }, notice.WrongSignature, 4},
	} {
		t.Run(name, func(t *testing.T) {
			path := filepath.Join(t.TempDir(), "station.db")
			require.NoError(t, os.WriteFile(path, away, 0o600))
			s, err := results.Open(t.Context(), path)
			require.NoError(t, err)
			defer s.Close()
			p.tamper(c.do(list)...)
			done := p.look(s)
			p.tamper(`DELETE FROM notice`, `DELETE FROM notice_head`)
			require.NoError(t, p.put())
			if done.Trouble == nil {
				done.Trouble = &notice.Mistake{}
			}
			assert.Equal(t, c.want, done.Trouble.Code)
			assert.Equal(t, c.taken, done.Number)
			assert.True(t, done.News)
			assert.Equal(t, []string{2: "A", 3: "B", 4: "C"}[done.Number], inForce(t, s), "what is here stays in force")
			st, err := s.Notices.Contact(t.Context())
			require.NoError(t, err)
			assert.Equal(t, done.Trouble, st.Trouble)
			assert.Nil(t, p.look(s).Trouble, "it was mended")
			assert.Equal(t, "C", inForce(t, s))
		})
	}
}

// An old head, whole and signed, makes a station no younger and forget nothing.
func TestAnOldHeadOnceMore(t *testing.T) {
	t.Parallel()
	p, s := newPlant(t), open(t, "station.db")
	p.release("A", "200 ohm")
	p.publish()
	_, old, err := board.Read(t.Context(), p.db, 0, 1)
	require.NoError(t, err)
	p.release("B", "100 ohm")
	p.publish()
	p.look(s)
	before, err := s.Notices.Contact(t.Context())
	require.NoError(t, err)
	taker, err := s.Notices.Taker(t.Context(), pinned, stale)
	require.NoError(t, err)
	done, err := taker.Take(t.Context(), notices.Heard{Head: old})
	require.NoError(t, err)
	assert.Equal(t, notice.OlderHead, done.Trouble.Code)
	after, err := s.Notices.Contact(t.Context())
	require.NoError(t, err)
	assert.Equal(t, before.Heard, after.Heard)
	assert.Equal(t, before.Head, after.Head)

	_, same, err := board.Read(t.Context(), p.db, 0, 1)
	require.NoError(t, err)
	_, err = taker.Take(t.Context(), notices.Heard{Head: same})
	require.NoError(t, err)
	after, err = s.Notices.Contact(t.Context())
	require.NoError(t, err)
	assert.Equal(t, before.Heard, after.Heard, "only what is newer was said now")
}

// Records restored from a backup of before take the same once more, and stand as the others.
func TestAStationRestoredFromABackup(t *testing.T) {
	t.Parallel()
	p := newPlant(t)
	path := emptyAt(t, "station.db")
	s, err := results.Open(t.Context(), path)
	require.NoError(t, err)
	p.release("A", "200 ohm")
	p.publish()
	p.look(s)
	require.NoError(t, s.Close())
	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	p.release("B", "100 ohm")
	p.publish()
	for range 2 {
		restored := filepath.Join(t.TempDir(), "restored.db")
		require.NoError(t, os.WriteFile(restored, kept, 0o600))
		s, err := results.Open(t.Context(), restored)
		require.NoError(t, err)
		assert.Equal(t, "A", inForce(t, s))
		assert.Nil(t, p.look(s).Trouble)
		assert.Equal(t, "B", inForce(t, s))
		sound(t, s)
		require.NoError(t, s.Close())
	}
}

// Two programs on one file take each notice once.
func TestTwoProgramsTake(t *testing.T) {
	t.Parallel()
	p := newPlant(t)
	for i := range 6 {
		p.release(fmt.Sprint("R", i), fmt.Sprint(200-i, " ohm"))
		p.publish()
	}
	path := emptyAt(t, "station.db")
	list, head, err := board.Read(t.Context(), p.db, 0, 100)
	require.NoError(t, err)
	failed := make(chan error, 2)
	for range 2 {
		s, err := results.Open(t.Context(), path)
		require.NoError(t, err)
		defer s.Close()
		taker, err := s.Notices.Taker(t.Context(), pinned, stale)
		require.NoError(t, err)
		go func() {
			for i := range list {
				done, err := taker.Take(context.Background(), notices.Heard{Notices: list[:i+1], Head: head, More: true})
				if err == nil && done.Trouble != nil {
					err = done.Trouble
				}
				if err != nil {
					failed <- err
					return
				}
			}
			failed <- nil
		}()
	}
	require.NoError(t, <-failed)
	require.NoError(t, <-failed)
	s, err := results.Open(t.Context(), path)
	require.NoError(t, err)
	defer s.Close()
	releases, err := s.Runs.Releases(t.Context(), "CP-4")
	require.NoError(t, err)
	assert.Len(t, releases, 6)
	sound(t, s)
}

// A commit that fails has taken nothing, or all where only the word of it was lost; either way
// the next look ends alike.
func TestACommitThatFails(t *testing.T) {
	t.Parallel()
	for name, commit := range map[string]func(*sql.Tx) error{
		"nothing is kept":     func(tx *sql.Tx) error { return fmt.Errorf("power: %w", tx.Rollback()) },
		"the word of it lost": func(tx *sql.Tx) error { return fmt.Errorf("disk: %w", tx.Commit()) },
	} {
		p := newPlant(t)
		p.release("A", "200 ohm")
		p.publish()
		fail := false
		with := store.Real()
		with.Commit = func(tx *sql.Tx) error {
			if fail {
				fail = false
				return commit(tx)
			}
			return tx.Commit()
		}
		s, err := results.OpenWith(t.Context(), emptyAt(t, "station.db"), with)
		require.NoError(t, err)
		taker, err := s.Notices.Taker(t.Context(), pinned, stale)
		require.NoError(t, err)
		list, head, err := board.Read(t.Context(), p.db, 0, 10)
		require.NoError(t, err)
		fail = true
		_, err = taker.Take(t.Context(), notices.Heard{Notices: list, Head: head})
		require.Error(t, err, name)
		done, err := taker.Take(t.Context(), notices.Heard{Notices: list, Head: head})
		require.NoError(t, err, name)
		assert.Nil(t, done.Trouble, name)
		assert.Equal(t, "A", inForce(t, s), name)
		sound(t, s)
		require.NoError(t, s.Close())
	}
}

// The office's clock may be put back by days: heads go on.
func TestAnOfficeWhoseClockIsPutBack(t *testing.T) {
	t.Parallel()
	p, s := newPlant(t), open(t, "station.db")
	now := time.Date(2026, 3, 9, 6, 0, 0, 0, time.UTC)
	with := store.Real()
	with.Now = func() time.Time { return now }
	office, err := results.OpenWith(t.Context(), emptyAt(t, "office.db"), with)
	require.NoError(t, err)
	defer office.Close()
	p.office = office
	p.release("A", "200 ohm")
	p.publish()
	p.look(s)
	now = now.AddDate(0, 0, -5)
	p.release("B", "100 ohm")
	p.publish()
	done := p.look(s)
	assert.Nil(t, done.Trouble)
	assert.Equal(t, "B", inForce(t, s))
}

// Of two offices with one key one is refused, until somebody decides that it takes over.
func TestTwoOffices(t *testing.T) {
	t.Parallel()
	p, s := newPlant(t), open(t, "station.db")
	p.release("A", "200 ohm")
	p.publish()
	p.look(s)
	first, second := p.office, open(t, "second.db")
	p.office = second
	p.release("X", "500 ohm")
	p.issue()
	require.ErrorIs(t, p.put(), board.ErrOtherNotices)
	p.office = first
	p.release("B", "100 ohm")
	p.publish()
	assert.Nil(t, p.look(s).Trouble)
	assert.Equal(t, "B", inForce(t, s))

	// The same office, from several programs at once.
	p.release("C", "90 ohm")
	p.issue()
	failed := make(chan error, 3)
	for range cap(failed) {
		go func() { failed <- p.put() }()
	}
	for range cap(failed) {
		if err := <-failed; err != nil {
			assert.ErrorContains(t, err, "newer head", "whoever came later said more")
		}
	}
	assert.Nil(t, p.look(s).Trouble)
	assert.Equal(t, "C", inForce(t, s))
}

// An office restored from a backup issues nothing over what hangs there, and goes on when it took that over.
func TestAnOfficeRestoredFromABackup(t *testing.T) {
	t.Parallel()
	p, s := newPlant(t), open(t, "station.db")
	path := emptyAt(t, "office.db")
	office, err := results.Open(t.Context(), path)
	require.NoError(t, err)
	p.office = office
	p.release("A", "200 ohm")
	p.publish()
	require.NoError(t, office.Close())
	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	p.office, err = results.Open(t.Context(), path)
	require.NoError(t, err)
	p.release("B", "100 ohm")
	p.publish()
	require.NoError(t, p.office.Close())
	require.NoError(t, os.WriteFile(path, kept, 0o600))
	p.office, err = results.Open(t.Context(), path)
	require.NoError(t, err)
	defer p.office.Close()
	require.ErrorIs(t, p.put(), board.ErrOtherNotices)
	list, _, err := board.Read(t.Context(), p.db, 2, 10)
	require.NoError(t, err)
	require.NoError(t, p.office.Notices.TakeOver(t.Context(), list))
	p.release("D", "80 ohm")
	p.publish()
	assert.Nil(t, p.look(s).Trouble)
	assert.Equal(t, "D", inForce(t, s))
	sound(t, p.office)
}

func TestAnotherPlant(t *testing.T) {
	t.Parallel()
	p, s := newPlant(t), open(t, "station.db")
	p.release("A", "200 ohm")
	p.publish()
	taker, err := s.Notices.Taker(t.Context(), []ed25519.PublicKey{notice.PublicOf(keyOf(9))}, stale)
	require.NoError(t, err)
	assert.Equal(t, notice.WrongSignature, p.by(taker).Trouble.Code)
	assert.Empty(t, inForce(t, s))
	p.look(s)
	assert.Equal(t, "A", inForce(t, s))
	_, err = s.Notices.Taker(t.Context(), []ed25519.PublicKey{notice.PublicOf(keyOf(9))}, stale)
	wrong := notice.Mistake{}
	require.ErrorAs(t, err, &wrong, "what it has is another plant's")
	_, err = p.office.Notices.Taker(t.Context(), pinned, stale)
	require.ErrorAs(t, err, &wrong)
	assert.Equal(t, notice.OtherOffice, wrong.Code)
	_, err = s.Notices.Issue(t.Context(), keyOf(1), notices.Further{})
	require.ErrorIs(t, err, notices.ErrStation)
	_, err = p.office.Notices.Issue(t.Context(), keyOf(9), notices.Further{})
	require.ErrorIs(t, err, notices.ErrOtherKey)
}

func TestTheNextKey(t *testing.T) {
	t.Parallel()
	p, s := newPlant(t), open(t, "station.db")
	p.release("A", "200 ohm")
	p.publish()
	p.look(s)
	p.issue(notices.Further{Next: notice.PublicOf(keyOf(2))})
	p.release("B", "100 ohm")
	_, err := p.office.Notices.Issue(t.Context(), keyOf(1), notices.Further{})
	require.ErrorIs(t, err, notices.ErrOtherKey)
	_, err = p.office.Notices.Issue(t.Context(), keyOf(2), notices.Further{})
	require.NoError(t, err)
	_, _, err = board.Put(t.Context(), p.db, ofOffice(t.Context(), p.office, keyOf(2)))
	require.NoError(t, err)
	assert.Nil(t, p.look(s).Trouble)
	assert.Equal(t, "B", inForce(t, s))
	sound(t, s)
}

// signed are notices made by hand, with the plant's key.
func signed(t *testing.T, all ...notice.ReleaseBody) notices.Heard {
	t.Helper()
	chain := notice.Begin(pinned)
	begin, chain, err := chain.Issue(notice.Beginning, "", notice.KeyBody{Key: fmt.Sprintf("%x", []byte(pinned[0]))}, time.Now(), keyOf(1))
	require.NoError(t, err)
	h := notices.Heard{Notices: []notice.Notice{begin}}
	for _, b := range all {
		n, next, err := chain.Issue(notice.Release, "CP-4", b, time.Now(), keyOf(1))
		require.NoError(t, err)
		h.Notices, chain = append(h.Notices, n), next
	}
	head := notice.Head{Count: chain.Number, Hash: chain.Hash, Issued: time.Now(), Products: map[string]int64{"CP-4": chain.Number}}.Sign(chain.Plant, keyOf(1))
	h.Head = &head
	return h
}

func bodyOf(t *testing.T, label, most string) notice.ReleaseBody {
	t.Helper()
	of, err := product.Parse("file", []byte(padText(label, most)))
	require.NoError(t, err)
	return notice.ReleaseBody{Label: label, Hash: of.Hash(), Source: padText(label, most), By: "Ines", Reason: "agreed with the customer"}
}

// An office that forgot the second person is not believed, nor one whose text is another one's.
func TestAnOfficeThatDoesWrong(t *testing.T) {
	t.Parallel()
	other := bodyOf(t, "B", "100 ohm")
	other.Source = padText("B", "100 kohm")
	alone, oneself := bodyOf(t, "B", "2 kohm"), bodyOf(t, "B", "2 kohm")
	oneself.Approved = "i nes"
	for name, c := range map[string]struct {
		b    notice.ReleaseBody
		want notice.Code
	}{"another text": {other, notice.NotAsSaid}, "one person": {alone, notice.NotTwo}, "the same person": {oneself, notice.NotTwo}} {
		s := open(t, "station.db")
		taker, err := s.Notices.Taker(t.Context(), pinned, stale)
		require.NoError(t, err)
		done, err := taker.Take(t.Context(), signed(t, bodyOf(t, "A", "200 ohm"), c.b))
		require.NoError(t, err)
		require.NotNil(t, done.Trouble, name)
		assert.Equal(t, c.want, done.Trouble.Code, name)
		assert.Equal(t, "A", inForce(t, s), name)
		blocks, _ := said(t, s, time.Now())
		assert.Equal(t, []notices.Code{notices.Ahead}, blocks, name)
		sound(t, s)
	}
}

// A label that means something else here keeps the product from being tested, until the plant takes another.
func TestALabelThatIsUsed(t *testing.T) {
	t.Parallel()
	p, s := newPlant(t), open(t, "station.db")
	require.NoError(t, releasestest.Release(t.Context(), s, padText("A", "150 ohm")))
	p.release("A", "200 ohm")
	p.publish()
	assert.Nil(t, p.look(s).Trouble)
	blocks, _ := said(t, s, time.Now())
	assert.Equal(t, []notices.Code{notices.LabelIsUsed}, blocks)
	p.release("A2", "190 ohm")
	p.publish()
	p.look(s)
	blocks, _ = said(t, s, time.Now())
	assert.Empty(t, blocks)
	assert.Equal(t, "A2", inForce(t, s))
	sound(t, s)
}
