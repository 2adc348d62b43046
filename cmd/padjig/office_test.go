package main

import (
	"context"
	"errors"
	"fmt"
	"html"
	"maps"
	"net/http"
	"net/url"
	"os"
	"path/filepath"
	"sync"
	"syscall"
	"testing"
	"time"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/plant"
	"padjig/cmd/padjig/serve/notices"
	"padjig/results"
	"padjig/results/plant/board"
	"padjig/results/plant/forward"
	"padjig/results/plant/notice"
	"padjig/results/plant/planttest"
	"padjig/results/plant/postgres"
	"padjig/results/releases/releasestest"
	"padjig/results/store"
	"padjig/sequence/product"
)

// plantServer is one PostgreSQL server for all tests of the package that need one, started by the first.
var plantServer struct {
	once   sync.Once
	server *planttest.Server
	dir    string
	err    error

	lines sync.Once
	three string // address of a database with the records of three stations
}

func startedPlant() (*planttest.Server, error) {
	p := &plantServer
	p.once.Do(func() {
		if p.dir, p.err = os.MkdirTemp("", "plant"); p.err != nil {
			return
		}
		if p.server, p.err = planttest.Make(p.dir, "fsync=off", "synchronous_commit=off", "full_page_writes=off"); p.err == nil {
			p.err = p.server.Start()
		}
	})
	return p.server, p.err
}

// endPlant ends the server, where one was started.
func endPlant() error {
	p := &plantServer
	var err error
	if p.server != nil && p.err == nil {
		err = p.server.End(syscall.SIGINT)
	}
	if p.dir != "" {
		err = errors.Join(err, os.RemoveAll(p.dir))
	}
	return err
}

// aPlant is a database with the records of three stations in it: a line of each, and at the first a little of
// everything besides. It gives its address. They are brought there once, and copied.
func aPlant(t testing.TB) string {
	t.Helper()
	server, err := startedPlant()
	require.NoError(t, err)
	plantServer.lines.Do(func() { plantServer.three = threeStations(t, server) })
	require.NotEmpty(t, plantServer.three, "the first test that needed a plant could not make it")
	return server.Like(t, plantServer.three)
}

func threeStations(t testing.TB, server *planttest.Server) (address string) {
	t.Helper()
	address = server.Made(t)
	db, err := postgres.Open(address)
	require.NoError(t, err)
	defer db.Close()
	p, err := product.Load("../../testdata/products/gcc-20.yaml")
	require.NoError(t, err)
	for i := range 3 {
		s := planttest.Records(t, 300, uint64(i+1))
		if tt, is := t.(*testing.T); is && i == 0 {
			c := crowded(tt, s, p)
			b := &bed{TB: t, store: s, product: p}
			b.returned(p.Serial.Complete(77))
			b.calibrations("SIM-0001", 2)
			b.study(tt)
			require.NotZero(t, c.Number)
		}
		_, err := forward.All(t.Context(), db, s, fmt.Sprintf("line-%d", i+1))
		require.NoError(t, err)
	}
	return address
}

// makeOffice serves the office of a plant, with an account of each role. It is a bed without jigs.
func makeOffice(t testing.TB, address string) *bed {
	t.Helper()
	b := &bed{TB: t, dir: t.TempDir(), badges: map[account.Role]string{}}
	var err error
	b.product, err = product.Load("../../testdata/products/gcc-20.yaml")
	require.NoError(t, err)
	records := store.Real()
	records.Ballast = 1 << 10
	b.store, err = results.OpenWith(t.Context(), filepath.Join(b.dir, "office.sqlite"), records)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, b.store.Close()) })
	b.accounts()
	b.options = stationOptions{Listen: b.freeAddress(), Leave: time.Hour}
	db, err := postgres.Open(address)
	require.NoError(t, err)
	of := results.Over(db, "the plant's database")
	t.Cleanup(func() { _ = of.Close() })
	ctx, cancel := context.WithCancel(context.Background())
	cmd := &cobra.Command{}
	cmd.SetContext(ctx)
	key, err := notice.NewKey()
	require.NoError(t, err)
	b.publishes = notices.NewOffice(&notices.Publisher{Plant: db, Records: b.store.Notices, Key: key}, time.Hour, nil)
	s, err := b.options.Office(cmd, b.store, plant.Over(db, of, plant.Notices(db, b.store, b.publishes)))
	require.NoError(t, err)
	listener, err := b.options.Hear(ctx, b.store)
	require.NoError(t, err)
	over, ready := make(chan error, 1), make(chan string, 1)
	go func() { over <- s.Serve(ctx, listener, func(address string) { ready <- address }) }()
	b.address = <-ready
	b.lanes = func() *served { return s }
	t.Cleanup(func() {
		cancel()
		assert.NoError(t, <-over)
	})
	return b
}

// Every link of every page of the office leads somewhere too, and no form is sent to where there is nothing.
func TestEveryLinkOfTheOfficeLeadsSomewhere(t *testing.T) {
	b := makeOffice(t, aPlant(t))
	most := 3 // as a station's are, all of them are looked at by -wholecrawl
	if *wholeCrawl {
		most = mostOfAPath
	}
	for role, lang := range map[account.Role]string{"": "de", account.Operator: "en", account.Returns: "de", account.Quality: "de", account.Engineer: "en"} {
		c := crawler{TB: t, bed: b, role: role, lang: lang, keys: catalogueKeys(t), most: most}
		c.from, c.looks = map[string]string{}, map[string]int{}
		c.begin()
		c.crawl("/")
		want := []string{"/"}
		if role == account.Engineer {
			want = append(want, "/jigs", "/products", "/quality", "/returns", "/fails", "/accounts", "/doctor", "/notices", "/lots", "/shifts", "/plant/conflicts",
				"/plant/stations", "/plant/compare", "/plant/due", "/plant/drift", "/plant/suspects", "/plant/life")
		}
		for _, address := range want {
			assert.Contains(t, c.from, address, "%q never came there", role)
		}
		t.Logf("%q in %s: %d addresses", role, lang, len(c.from))
	}
}

// The office publishes what was decided when somebody who may asks for it, says what came of it, and goes a revision back in one step:
// for an engineer with a password, of the revision that was looked at, and for nobody else.
func TestOfficePublishesWhatWasDecided(t *testing.T) {
	server, err := startedPlant()
	require.NoError(t, err)
	address := server.Empty(t)
	db, err := postgres.Open(address)
	require.NoError(t, err)
	defer db.Close()
	_, err = postgres.Migrate(t.Context(), db)
	require.NoError(t, err)
	_, err = forward.Join(t.Context(), db, "line-1")
	require.NoError(t, err)
	b := makeOffice(t, address)
	text := func(label, most string) string {
		return "product: CP-4\nrevision: " + label + "\ntail: K1 K2 COM\nlines: {direct: K1 K2, common: COM}\n" +
			"keys: {VENT: K1 COM, MIST: K2 COM}\nlimits: {contact resistance: at most " + most + "}\n"
	}
	require.NoError(t, releasestest.Release(t.Context(), b.store, text("A", "100 ohm")))
	require.NoError(t, releasestest.Release(t.Context(), b.store, text("B", "200 ohm")))
	list, err := b.store.Runs.Releases(t.Context(), "CP-4")
	require.NoError(t, err)
	back := url.Values{"code": {"CP-4"}, "hash": {list[1].Hash}, "reason": {"units fail in the field"}}

	as := map[account.Role]*crawler{}
	tokens := map[account.Role]string{}
	for _, role := range account.Roles {
		as[role] = &crawler{TB: t, bed: b, role: role, lang: "en"}
		as[role].begin()
		tokens[role] = as[role].formToken(as[role].ask("GET", "/notices").Body.String())
	}
	with := func(form url.Values, token string) url.Values {
		form = maps.Clone(form)
		form.Set("token", token)
		return form
	}
	for _, path := range []string{"/notices/publish", "/notices/return"} {
		code, _ := (&crawler{TB: t, bed: b}).post(path, back)
		assert.Equal(t, http.StatusUnauthorized, code, "signed out: %s", path)
		code, _ = as[account.Engineer].post(path, with(back, "made up"))
		assert.Equal(t, http.StatusForbidden, code, "another page sent it: %s", path)
		for _, role := range []account.Role{account.Operator, account.Returns} {
			code, _ = as[role].post(path, with(back, tokens[role]))
			assert.Equal(t, http.StatusForbidden, code, "%s: %s", role, path)
		}
	}
	code, _ := as[account.Quality].post("/notices/return", with(back, tokens[account.Quality]))
	assert.Equal(t, http.StatusForbidden, code, "an engineer answers for it")
	top, err := board.Top(t.Context(), db)
	require.NoError(t, err)
	assert.Zero(t, top, "nothing of it was put up")
	assert.Contains(t, as[account.Quality].ask("GET", "/notices").Body.String(), "In no notice yet: 2 releases")

	code, said := as[account.Quality].post("/notices/publish", with(url.Values{}, tokens[account.Quality]))
	require.Equal(t, http.StatusOK, code, "%v", said)
	page := as[account.Engineer].ask("GET", "/notices").Body.String()
	assert.Contains(t, page, "release of <b>CP-4</b>")
	assert.Contains(t, page, "1 station of 1 did not take every notice yet")
	assert.Contains(t, page, "never said which notices it took")
	top, err = board.Top(t.Context(), db)
	require.NoError(t, err)
	require.NoError(t, board.Took(t.Context(), db, "line-1", top, nil))
	assert.Contains(t, as[account.Operator].ask("GET", "/notices").Body.String(), "All stations (1) took every notice")

	engineer := with(back, tokens[account.Engineer])
	code, said = as[account.Engineer].post("/notices/return", engineer)
	require.Equal(t, http.StatusOK, code, "%v", said)
	code, _ = as[account.Engineer].post("/notices/return", engineer)
	assert.Equal(t, http.StatusConflict, code, "pressed twice it does not go forth again")
	list, err = b.store.Runs.Releases(t.Context(), "CP-4")
	require.NoError(t, err)
	assert.Equal(t, "A", list[0].Label)
	after, err := board.Top(t.Context(), db)
	require.NoError(t, err)
	assert.Equal(t, top+1, after, "the stations were told at once")

	// The role may no more: it is said, kept, and goes on as soon as it may again.
	_, err = db.ExecContext(t.Context(), `ALTER TABLE notice_head RENAME TO away`)
	require.NoError(t, err)
	code, said = as[account.Engineer].post("/notices/publish", with(url.Values{}, tokens[account.Engineer]))
	assert.Equal(t, http.StatusConflict, code)
	assert.Contains(t, fmt.Sprint(said), "padjig plant prepare")
	assert.Contains(t, as[account.Operator].ask("GET", "/notices").Body.String(), "tables of another version")
	_, err = db.ExecContext(t.Context(), `ALTER TABLE away RENAME TO notice_head`)
	require.NoError(t, err)
	code, said = as[account.Engineer].post("/notices/publish", with(url.Values{}, tokens[account.Engineer]))
	assert.Equal(t, http.StatusOK, code, "%v", said)
	assert.Empty(t, b.publishes.State().Trouble)
}

// While the plant's database is away, whatever needs it says so with what to do, and people sign in; when it
// is back, so are the pages.
func TestOfficeWithoutItsDatabase(t *testing.T) {
	dir, err := os.MkdirTemp("", "plant")
	require.NoError(t, err)
	defer os.RemoveAll(dir)
	server, err := planttest.Make(dir, "fsync=off")
	require.NoError(t, err)
	require.NoError(t, server.Start())
	running := true
	defer func() {
		if running {
			assert.NoError(t, server.End(syscall.SIGINT))
		}
	}()
	address := server.Empty(t)
	db, err := postgres.Open(address)
	require.NoError(t, err)
	defer db.Close()
	_, err = postgres.Migrate(t.Context(), db)
	require.NoError(t, err)
	b := makeOffice(t, address)
	c := crawler{TB: t, bed: b, role: account.Engineer, lang: "en"}
	c.begin()
	needs := []string{"/", "/quality", "/jigs", "/returns", "/fails", "/unit?serial=GCC-000001-3", "/find?part=GCC", "/products"}
	all := func(code int) {
		t.Helper()
		for _, address := range needs {
			assert.Equal(t, code, c.ask("GET", address).Code, address)
		}
	}
	all(http.StatusOK)
	require.NoError(t, server.End(syscall.SIGKILL)) // connections that are open break
	running = false
	for _, address := range needs {
		w := c.ask("GET", address)
		assert.Equal(t, http.StatusServiceUnavailable, w.Code, address)
		assert.Equal(t, "5", w.Header().Get("Retry-After"), address)
		assert.Contains(t, w.Body.String(), "database does not answer", address)
		assert.Contains(t, w.Body.String(), `data-again="`+html.EscapeString(address)+`"`, "it comes back by itself")
	}
	for _, address := range []string{"/door", "/accounts", "/help"} {
		assert.Equal(t, http.StatusOK, c.ask("GET", address).Code, address)
	}
	ready := c.askAs("GET", "/readyz", "application/json")
	assert.Equal(t, http.StatusServiceUnavailable, ready.Code)
	assert.Contains(t, ready.Body.String(), `"plant": "away"`)
	code, answer := (&crawler{TB: t, bed: b}).post("/door", url.Values{"name": {names[account.Engineer]}, "password": {engineersPassword}})
	assert.Equal(t, http.StatusOK, code, "%v", answer)
	require.NoError(t, server.Start())
	running = true
	all(http.StatusOK)
}

// What writes to the records of a station has no way there at an office: a form that was made up gets no
// further than one of nobody.
func TestOfficeWritesNothingToStations(t *testing.T) {
	address := aPlant(t)
	b := makeOffice(t, address)
	c := crawler{TB: t, bed: b, role: account.Engineer, lang: "en"}
	c.begin()
	token := c.formToken(c.ask("GET", "/").Body.String())
	for _, path := range []string{"/returns/intake", "/returns/dispose", "/returns/rework", "/returns/photo", "/quality/stops/lift", "/quality/freeze",
		"/quality/handover", "/jig/wear", "/notices", "/lots", "/shifts", "/lane/1/start", "/jigs/1/zero"} {
		code, _ := c.post(path, url.Values{"token": {token}, "case": {"1"}, "serial": {"GCC-000001-3"}})
		assert.Equal(t, http.StatusNotFound, code, path)
	}
	for text, want := range map[string]string{"PJC0NEXT": "is a code for a lane", "GCC-000001-3": "/unit?serial=GCC-000001-3"} {
		_, answer := c.post("/scan", url.Values{"token": {token}, "text": {text}})
		assert.Contains(t, fmt.Sprint(answer), want, text)
	}
	unit := c.ask("GET", "/unit?serial=GCC-000001-3").Body.String()
	assert.Contains(t, unit, "<td>line-1</td>", "where a run was made")
	assert.Contains(t, unit, "do it at the station")
	assert.NotContains(t, unit, `action="/returns/`)
}
