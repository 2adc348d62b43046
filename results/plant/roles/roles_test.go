package roles_test

import (
	"context"
	"crypto/ed25519"
	"database/sql"
	"encoding/hex"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/lines"
	"padjig/results/plant/board"
	"padjig/results/plant/forward"
	"padjig/results/plant/notice"
	"padjig/results/plant/planttest"
	"padjig/results/plant/postgres"
	"padjig/results/plant/roles"
)

var server *planttest.Server

func TestMain(m *testing.M) { planttest.Run(m, &server) }

// plant is a database with its roles.
type plant struct {
	*roles.Plant
	owner, admin *sql.DB // the owner of the database, and that of the server
	address      string  // of the owner
}

func prepared(t *testing.T) plant {
	t.Helper()
	address := server.Empty(t)
	admin := open(t, address)
	for _, statement := range []string{ // as docs/plant.md says: the owner makes roles, and is no superuser
		`DO $$ BEGIN CREATE ROLE plant_owner LOGIN CREATEROLE; EXCEPTION WHEN duplicate_object THEN NULL; END $$`,
		`DO $$ BEGIN EXECUTE format('ALTER DATABASE %I OWNER TO plant_owner', current_database()); END $$`,
		`ALTER SCHEMA public OWNER TO plant_owner`,
	} {
		_, err := admin.ExecContext(t.Context(), statement)
		require.NoError(t, err)
	}
	address = strings.Replace(address, "user=owner", "user=plant_owner", 1)
	owner := open(t, address)
	_, err := postgres.Migrate(t.Context(), owner)
	require.NoError(t, err)
	p, err := roles.On(t.Context(), owner)
	require.NoError(t, err)
	for range 2 { // again changes nothing
		require.NoError(t, p.Prepare(t.Context()))
	}
	return plant{p, owner, admin, address}
}

func open(t *testing.T, address string) *sql.DB {
	t.Helper()
	db, err := postgres.Open(address)
	require.NoError(t, err)
	t.Cleanup(func() { _ = db.Close() })
	return db
}

// as signs in by a role.
func (p plant) as(t *testing.T, l roles.Login) *sql.DB {
	t.Helper()
	return open(t, strings.Replace(p.address, "user=plant_owner", "user="+l.Role, 1))
}

// station makes one, with records of its own that it forwards by its own role.
func (p plant) station(t *testing.T, name string, seed uint64) (roles.Login, *sql.DB) {
	t.Helper()
	l, err := p.AddStation(t.Context(), name, "")
	require.NoError(t, err)
	return l, p.as(t, l)
}

func (p plant) office(t *testing.T) *sql.DB {
	t.Helper()
	l, err := p.AddOffice(t.Context(), "pages", "")
	require.NoError(t, err)
	return p.as(t, l)
}

func (p plant) reader(t *testing.T) *sql.DB {
	t.Helper()
	l, err := p.AddReader(t.Context(), "quality", "")
	require.NoError(t, err)
	return p.as(t, l)
}

// What a station may do is enough to forward, and what a reader may do is enough to ask.
func TestRolesSufficeForTheirJob(t *testing.T) {
	p := prepared(t)
	_, one := p.station(t, "line-1", 1)
	records := planttest.Records(t, 20, 1)
	f := &forward.Forwarder{Plant: one, Records: records, Member: "line-1"}
	defer f.Close()
	m, err := f.Batch(t.Context(), forward.UsualSize)
	require.NoError(t, err)
	assert.EqualValues(t, 20, m.Runs)
	m, err = f.Batch(t.Context(), forward.UsualSize)
	require.NoError(t, err)
	assert.Zero(t, m.Rows)

	checked, err := forward.Check(t.Context(), one, records, "line-1", func(int64, int64) {})
	require.NoError(t, err)
	assert.True(t, checked.Same(), "%v", checked.Differences)

	y, err := results.Over(p.reader(t), "plant").Lines.Yields(t.Context(), lines.Filter{}, lines.ByProduct)
	require.NoError(t, err)
	own, err := results.Over(open(t, p.address), "plant").Lines.Yields(t.Context(), lines.Filter{}, lines.ByProduct)
	require.NoError(t, err)
	assert.Equal(t, own, y)

	again, err := p.AddStation(t.Context(), "line-1", "")
	require.NoError(t, err)
	assert.Equal(t, 1, again.Member)
	_, err = p.AddStation(t.Context(), "line\n2", "")
	require.Error(t, err)
	_, err = p.AddReader(t.Context(), "Robert'); DROP", "")
	require.ErrorIs(t, err, roles.ErrReaderName)
}

// Each of these is tried by somebody who may sign in, and refused.
func TestWhatRolesMustNot(t *testing.T) {
	p := prepared(t)
	first, one := p.station(t, "line-1", 1)
	second, two := p.station(t, "line-2", 2)
	for i, db := range []*sql.DB{one, two} {
		f := &forward.Forwarder{Plant: db, Records: planttest.Records(t, 5, uint64(i+1)), Member: fmt.Sprintf("line-%d", i+1)}
		_, err := f.Batch(t.Context(), forward.UsualSize)
		require.NoError(t, err)
		f.Close()
	}
	reader, office := p.reader(t), p.office(t)
	putUp(t, office)
	_, err := one.ExecContext(t.Context(), `INSERT INTO notice_taken (member, number, trouble, about, told_us) VALUES (1, 1, '', 0, 0)`)
	require.NoError(t, err)
	var run, month string
	require.NoError(t, p.owner.QueryRowContext(t.Context(), `SELECT min(seq), tableoid::regclass FROM run WHERE member = 2 GROUP BY tableoid LIMIT 1`).Scan(&run, &month))
	before := everything(t, p.owner)

	const denied, outside = "42501", "42501"
	for what, c := range map[string]struct {
		by        *sql.DB
		statement string
		code      string
	}{
		"a station, another's stop":             {one, `INSERT INTO stop_beginning (seq, after_run, member, local) VALUES (9 * 4096 + 2, 0, 2, 9)`, outside},
		"a station, another's number":           {one, `INSERT INTO stop_beginning (seq, after_run, member, local) VALUES (9 * 4096 + 2, 0, 1, 9)`, "23514"},
		"a station, its number and another's":   {one, `INSERT INTO stop_beginning (seq, after_run, member, local) VALUES (9 * 4096 + 1, 0, 2, 9)`, "23514"},
		"a station, a part of another's run":    {one, `INSERT INTO run_step (run, place, step, done, took_us) VALUES (` + run + `, 99, 1, 1, 1)`, outside},
		"a station, by COPY":                    {one, "COPY run_step", outside},
		"a station, straight into the month":    {one, `INSERT INTO ` + strings.Replace(month, "run", "run_step", 1) + ` (run, place, step, done, took_us) VALUES (` + run + `, 99, 1, 1, 1)`, denied},
		"a station changes a run":               {one, `UPDATE run SET outcome = 'pass'`, denied},
		"a station changes another's":           {one, `UPDATE run SET outcome = 'pass' WHERE member = 2`, denied},
		"a station takes a run out":             {one, `DELETE FROM run`, denied},
		"a station empties a table":             {one, `TRUNCATE run_key`, denied},
		"a station changes a word":              {one, `UPDATE revision SET definition = ''`, denied},
		"a station stores over what is there":   {one, `INSERT INTO step (name) SELECT name FROM step ON CONFLICT (name) DO UPDATE SET name = 'other'`, denied},
		"a station makes a table":               {one, `CREATE TABLE mine (n bigint)`, denied},
		"a station makes one that is its own":   {one, `CREATE TEMP TABLE run (seq bigint)`, denied},
		"a station makes a schema":              {one, `CREATE SCHEMA mine`, denied},
		"a station makes a function":            {one, `CREATE FUNCTION open_from(n bigint) RETURNS bigint LANGUAGE sql AS 'SELECT 1'`, denied},
		"a station makes a role":                {one, `CREATE ROLE mine`, denied},
		"a station becomes the owner":           {one, `SET ROLE plant_owner`, denied},
		"a station becomes that of the server":  {one, `SET ROLE owner`, denied},
		"a station becomes another":             {one, `SET ROLE ` + second.Role, denied},
		"a station silences triggers":           {one, `SET session_replication_role = replica`, denied},
		"a station takes triggers away":         {one, `ALTER TABLE run DISABLE TRIGGER ALL`, denied},
		"a station reads passwords":             {one, `SELECT rolpassword FROM pg_authid`, denied},
		"a station reads the server's files":    {one, `SELECT pg_read_file('postgresql.conf')`, denied},
		"a station runs a program":              {one, `COPY step (name) FROM PROGRAM 'id'`, denied},
		"a station names itself anew":           {one, `UPDATE member SET name = 'line-9' WHERE member = 1`, denied},
		"a station has another's role":          {one, `UPDATE member SET login = '` + first.Role + `'`, denied},
		"a station joins a second time":         {one, `INSERT INTO member (member, name, since_us) VALUES (9, 'line-9', 0)`, denied},
		"a station retires a month":             {one, `INSERT INTO retired_month (low, high, name, by, closed_us) VALUES (0, 1::bigint << 52, 'all', 'x', 0)`, denied},
		"a station drops a month":               {one, `DROP TABLE ` + month, denied},
		"a station, a month before all":         {one, `SELECT month_of(-1)`, "22003"},
		"a station, a month of the year 10,000": {one, `SELECT month_of(9223372036854775807)`, "22003"},
		"a station, a month far away":           {one, `SELECT month_of((1::bigint << 52) - 4095)`, "22008"},
		"a station says how far another came":   {one, `INSERT INTO forwarded (member, source, local) VALUES (2, 'stop', 9)`, outside},
		"a reader stores":                       {reader, `INSERT INTO step (name) VALUES ('x')`, "25006"},
		"a reader who may write stores":         {reader, `BEGIN READ WRITE; INSERT INTO step (name) VALUES ('x')`, denied},
		"a reader changes":                      {reader, `BEGIN READ WRITE; UPDATE cell SET runs = 0`, denied},
		"a reader takes out":                    {reader, `BEGIN READ WRITE; DELETE FROM run`, denied},
		"a reader makes a month":                {reader, `BEGIN READ WRITE; SELECT month_of(1)`, denied},
		"a reader makes a table":                {reader, `BEGIN READ WRITE; CREATE TEMP TABLE x (n bigint)`, denied},
		"a reader reads passwords":              {reader, `SELECT rolpassword FROM pg_authid`, denied},
		"an office changes a run":               {office, `UPDATE run SET outcome = 'pass'`, denied},
		"an office stores a run's count":        {office, `UPDATE cell SET runs = 0`, denied},
		"an office takes out":                   {office, `DELETE FROM run`, denied},
		"an office stores a word":               {office, `INSERT INTO step (name) VALUES ('x')`, denied},
		"an office stores a release":            {office, `INSERT INTO release (seq, member, local) VALUES (4097, 1, 1)`, denied},
		"an office takes a notice out":          {office, `DELETE FROM notice`, denied},
		"an office changes a notice":            {office, `UPDATE notice SET body = '{}'`, denied},
		"an office empties the board":           {office, `TRUNCATE notice`, denied},
		"an office takes the head down":         {office, `DELETE FROM notice_head`, denied},
		"an office puts an old head up":         {office, `UPDATE notice_head SET issued_us = issued_us - 1`, "P0001"},
		"an office says there are fewer":        {office, `UPDATE notice_head SET count = count - 1`, "P0001"},
		"an office leaves a gap":                {office, `INSERT INTO notice VALUES (9, 'release', 'X', '{}', 1, repeat('x', 32)::bytea, repeat('x', 64)::bytea)`, "P0001"},
		"an office says what a station took":    {office, `INSERT INTO notice_taken VALUES (2, 1, '', 0, 0)`, denied},
		"an office changes what one took":       {office, `UPDATE notice_taken SET number = 0`, denied},
		"an office makes a month":               {office, `SELECT month_of(1)`, denied},
		"an office retires a month":             {office, `INSERT INTO retired_month (low, high, name, by, closed_us) VALUES (0, 1::bigint << 52, 'all', 'x', 0)`, denied},
		"an office makes a table":               {office, `CREATE TABLE x (n bigint)`, denied},
		"an office makes a table for itself":    {office, `CREATE TEMP TABLE x (n bigint)`, denied},
		"an office takes triggers away":         {office, `ALTER TABLE notice DISABLE TRIGGER ALL`, denied},
		"an office turns triggers off":          {office, `SET session_replication_role = replica`, denied},
		"an office is the owner":                {office, `SET ROLE plant_owner`, denied},
		"an office is a station":                {office, `SET ROLE ` + first.Role, denied},
		"an office reads passwords":             {office, `SELECT rolpassword FROM pg_authid`, denied},
		"an office runs a program":              {office, `COPY notice TO PROGRAM 'cat'`, denied},
		"a station puts a notice up":            {one, `INSERT INTO notice VALUES (2, 'release', 'X', '{}', 1, repeat('x', 32)::bytea, repeat('x', 64)::bytea)`, denied},
		"a station changes the head":            {one, `UPDATE notice_head SET count = 9`, denied},
		"a station says what another took":      {one, `INSERT INTO notice_taken VALUES (2, 9, '', 0, 0)`, outside},
		"a reader puts a notice up":             {reader, `BEGIN READ WRITE; INSERT INTO notice VALUES (2, 'release', 'X', '{}', 1, repeat('x', 32)::bytea, repeat('x', 64)::bytea)`, denied},
		"the owner changes a run":               {p.owner, `UPDATE run SET outcome = 'pass'`, denied},
		"the owner changes a month":             {p.owner, `UPDATE ` + month + ` SET outcome = 'pass'`, denied},
		"the owner takes out":                   {p.owner, `DELETE FROM run_step`, denied},
		"the owner empties a month":             {p.owner, `TRUNCATE ` + month, denied},
		"the owner empties all months":          {p.owner, `TRUNCATE run`, denied},
	} {
		t.Run(what, func(t *testing.T) {
			conn, err := c.by.Conn(t.Context())
			require.NoError(t, err)
			defer conn.Close()
			defer func() { _, _ = conn.ExecContext(context.WithoutCancel(t.Context()), `ROLLBACK`) }()
			if table, is := strings.CutPrefix(c.statement, "COPY run_step"); is && table == "" {
				number := 0
				_, err := fmt.Sscan(run, &number)
				require.NoError(t, err)
				err = postgres.Copy(t.Context(), conn, "run_step", []string{"run", "place", "step", "done", "took_us"}, [][]any{{int64(number), int64(99), int64(1), int64(1), int64(1)}})
				assert.Equal(t, c.code, postgres.Code(err), "%v", err)
				return
			}
			_, err = conn.ExecContext(t.Context(), c.statement)
			assert.Equal(t, c.code, postgres.Code(err), "%v", err)
		})
	}
	moved, err := one.ExecContext(t.Context(), `UPDATE forwarded SET local = 0 WHERE member = 2`)
	require.NoError(t, err)
	n, err := moved.RowsAffected()
	require.NoError(t, err)
	assert.Zero(t, n, "another's row is not there for it")
	_, err = one.ExecContext(t.Context(), `UPDATE member SET first_id = '\x00' WHERE member = 2`)
	require.NoError(t, err)
	assert.Equal(t, before, everything(t, p.owner))
}

// putUp puts a notice and a head up, as an office does.
func putUp(t *testing.T, office *sql.DB) {
	t.Helper()
	key, err := notice.NewKey()
	require.NoError(t, err)
	first, chain, err := notice.Begin([]ed25519.PublicKey{notice.PublicOf(key)}).Issue(notice.Beginning, "", notice.KeyBody{Key: hex.EncodeToString(notice.PublicOf(key))}, time.Now(), key)
	require.NoError(t, err)
	put, _, err := board.Put(t.Context(), office, board.Office{
		Own: func(int64) ([]notice.Notice, error) { return []notice.Notice{first}, nil },
		Head: func() (notice.Head, error) {
			return notice.Head{Count: 1, Hash: chain.Hash, Products: map[string]int64{}, Issued: time.Now()}.Sign(chain.Plant, key), nil
		},
	})
	require.NoError(t, err)
	assert.Equal(t, 1, put)
}

// everything is a sum over all rows of the plant.
func everything(t *testing.T, db *sql.DB) string {
	t.Helper()
	var all string
	require.NoError(t, db.QueryRowContext(t.Context(), `SELECT database_to_xml(true, false, '')::text`).Scan(&all))
	return all
}

// Every table of the plant says what a station may do with it: a table that is new is decided on, not forgotten.
func TestEveryTableHasItsPrivileges(t *testing.T) {
	p := prepared(t)
	var all string
	require.NoError(t, p.owner.QueryRowContext(t.Context(), `SELECT string_agg(relname, ' ' ORDER BY relname COLLATE "C") FROM pg_class
		WHERE relnamespace = 'public'::regnamespace AND relkind IN ('r', 'p') AND NOT relispartition`).Scan(&all))
	assert.Equal(t, strings.Fields(all), roles.Tables(), "a new table has a line in results/plant/roles")

	// What is recorded is guarded: each table that a station only adds to, but words, which are of no station.
	var open *string
	require.NoError(t, p.owner.QueryRowContext(t.Context(), `
		SELECT string_agg(table_name, ' ' ORDER BY table_name) FROM information_schema.role_table_grants AS g
		WHERE grantee = current_database() || '_station' AND privilege_type = 'INSERT'
		  AND NOT EXISTS (SELECT FROM pg_trigger WHERE tgrelid = table_name::regclass AND tgname = 'own_rows')
		  AND NOT EXISTS (SELECT FROM pg_class WHERE oid = table_name::regclass AND relrowsecurity)
		  AND table_name <> ALL ('{revision,key,pin,step,jig,station,line_split,fault,run_cell,cell,cell_reading,cell_finding,span,span_cell,span_reading,span_finding,unit}')`).Scan(&open))
	assert.Nil(t, open)
}

// A role of one plant is nobody in another plant of the same server.
func TestPlantsOfOneServerAreApart(t *testing.T) {
	here, there := prepared(t), prepared(t)
	l, err := here.AddStation(t.Context(), "line-1", "")
	require.NoError(t, err)
	_, err = there.AddStation(t.Context(), "line-1", "")
	require.NoError(t, err)
	stranger := there.as(t, l)
	assert.Equal(t, "42501", postgres.Code(stranger.PingContext(t.Context())))

	_, err = here.admin.ExecContext(t.Context(), `CREATE DATABASE odd_station_plant`)
	require.NoError(t, err)
	t.Cleanup(func() {
		_, err := here.admin.ExecContext(context.WithoutCancel(t.Context()), `DROP DATABASE odd_station_plant`)
		assert.NoError(t, err)
	})
	odd := open(t, server.Address("odd_station_plant"))
	_, err = roles.On(t.Context(), odd)
	require.ErrorIs(t, err, roles.ErrName)
	require.NoError(t, odd.Close())
}

// What the server keeps of a password is what it would make of it itself: it lets in who has it.
func TestPasswords(t *testing.T) {
	for _, bad := range []string{"", "short", "twenty characters but", strings.Repeat("ä", 20), strings.Repeat("x", 201)} {
		_, err := roles.Verifier(bad)
		require.ErrorIs(t, err, roles.ErrPassword, bad)
	}
	v, err := roles.Verifier("aZ3-klmnopqrstuvwxyz")
	require.NoError(t, err)
	again, err := roles.Verifier("aZ3-klmnopqrstuvwxyz")
	require.NoError(t, err)
	assert.NotEqual(t, v, again, "another salt each time")
	p := prepared(t)
	l, err := p.AddStation(t.Context(), "line-1", v)
	require.NoError(t, err)
	var kept string
	require.NoError(t, p.admin.QueryRowContext(t.Context(), `SELECT rolpassword FROM pg_authid WHERE rolname = ?`, l.Role).Scan(&kept))
	assert.Equal(t, v, kept)
	_, err = p.AddStation(t.Context(), "line-2", "in the clear")
	require.Error(t, err)
}
