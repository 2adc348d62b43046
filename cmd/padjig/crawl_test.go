package main

import (
	"cmp"
	"context"
	"crypto/sha256"
	"encoding/json"
	"fmt"
	"html"
	"log/slog"
	"maps"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/log"
	"padjig/cmd/padjig/station"
	"padjig/results/releases/releasestest"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/results/stats/gauge"
	"padjig/results/studies"
	"padjig/sequence"
)

// Every link of every page leads somewhere for whoever sees it: a crawler goes
// through the station as each role and as nobody, in each language.
func TestEveryLinkLeadsSomewhere(t *testing.T) {
	for _, lanes := range []int{1, 2} {
		t.Run(fmt.Sprint(lanes, " lanes"), func(t *testing.T) {
			b := makeBed(t, bedding{jigs: lanes})
			b.aLittleOfEverything(t)
			roles := []account.Role{account.Operator} // what one lane alone changes, everybody sees alike
			if lanes > 1 {
				roles = append([]account.Role{""}, account.Roles...)
			}
			for _, role := range roles {
				for _, lang := range []string{"en", "de"} {
					c := crawler{TB: t, bed: b, role: role, lang: lang, keys: catalogueKeys(t)}
					c.from, c.looks = map[string]string{}, map[string]int{}
					c.begin()
					c.crawl("/")
					want := []string{"/"}
					if role != "" {
						want = []string{"/", "/lane/1", "/codes"}
					}
					if role == account.Engineer {
						want = append(want, "/jigs/1", "/products/GCC-20", "/quality/gauge", "/returns")
					}
					for _, address := range want {
						assert.Contains(t, c.from, address, "%q never came there", role)
					}
					t.Logf("%q in %s: %d addresses", role, lang, len(c.from))
				}
			}
		})
	}
}

// The first screen of who tests takes a scan where there is one lane, and asks for the jig
// where there are several: it never asks for a scan it refuses.
func TestFirstScreen(t *testing.T) {
	t.Parallel()
	for _, lanes := range []int{1, 2} {
		b := makeBed(t, bedding{jigs: lanes})
		b.tested(b.product.Serial.Complete(1))
		for _, role := range account.Roles {
			t.Run(fmt.Sprint(lanes, " ", role), func(t *testing.T) {
				c := crawler{TB: t, bed: b, role: role, lang: "en"}
				c.begin()
				b.lanes().Lanes[0].Clear()
				at := "/"
				page := c.ask("GET", at)
				if to := page.Header().Get("Location"); to != "" {
					at = to
					page = c.ask("GET", at)
				}
				require.Equal(t, http.StatusOK, page.Code)
				shown := tags.ReplaceAllString(page.Body.String(), " ")
				serial := b.product.Serial.Complete(10 + slices.Index(account.Roles, role))
				lane := regexp.MustCompile(`data-lane="(\d+)"`).FindStringSubmatch(page.Body.String())
				fields := url.Values{"text": {serial}, "next": {at}, "screen": {"only"}, "token": {c.formToken(page.Body.String())}}
				if lane != nil {
					fields.Set("lane", lane[1])
				}
				code, answer := c.post("/scan", fields)
				if strings.Contains(shown, "SCAN") {
					assert.Equal(t, http.StatusOK, code, "it said SCAN: %v", answer)
					assert.NotContains(t, answer, "go", "the scan was for the lane")
					b.until(0, func(s station.State) bool { return s.Phase == station.Ended && s.Unit.Serial == serial })
					return
				}
				assert.Contains(t, shown, "Scan the unit or the code of its jig")
				assert.Equal(t, http.StatusOK, code)
				assert.Contains(t, answer["say"], serial+": which jig is it in?")
				for n, lane := range b.lanes().Lanes {
					assert.NotEqual(t, serial, lane.State().Unit.Serial, "lane %d", n+1)
				}
			})
		}
	}
}

func (c *crawler) formToken(page string) string {
	m := regexp.MustCompile(`data-token="([^"]*)"`).FindStringSubmatch(page)
	require.NotNil(c, m)
	return html.UnescapeString(m[1])
}

// post sends a form as the pages' script does.
func (c *crawler) post(address string, fields url.Values) (code int, answer map[string]any) {
	r := httptest.NewRequest("POST", "http://"+c.bed.options.Listen+address, strings.NewReader(fields.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Accept", "application/json")
	r.AddCookie(&http.Cookie{Name: "padjig", Value: c.token})
	w := httptest.NewRecorder()
	c.bed.lanes().Site.Handler().ServeHTTP(w, r)
	require.NoError(c, json.Unmarshal(w.Body.Bytes(), &answer), w.Body.String())
	return w.Code, answer
}

// crawler is somebody who follows every link.
type crawler struct {
	testing.TB
	bed   *bed
	role  account.Role // empty: nobody has signed in
	lang  string
	token string
	keys  map[string]bool   // of the catalogue
	from  map[string]string // addresses seen, and where each stood
	looks map[string]int    // how many addresses of a path
	most  int               // of them; 0: mostOfAPath
	queue []string
}

// begin signs in, as long as the crawler is somebody.
func (c *crawler) begin() {
	if c.role == "" {
		return
	}
	c.token = "crawler " + c.lang + " " + string(c.role)
	require.NoError(c, c.bed.store.Accounts.StartSession(c.Context(), sha256.Sum256([]byte(c.token)), names[c.role], "password"))
}

// mostOfAPath bounds how many questions are put to one page: those of the
// quality engineer link to one another with every choice.
const mostOfAPath = 12

func (c *crawler) crawl(start string) {
	c.meet(start, "the address bar")
	for len(c.queue) > 0 {
		address := c.queue[0]
		c.queue = c.queue[1:]
		w := c.ask("GET", address)
		where := fmt.Sprintf("%s as %q in %s, linked from %s", address, c.role, c.lang, c.from[address])
		if !assert.Less(c, w.Code, 400, where) {
			continue
		}
		if to := w.Header().Get("Location"); to != "" {
			c.meet(to, address)
		}
		if strings.HasPrefix(w.Header().Get("Content-Type"), "text/html") {
			c.read(address, where, w.Body.String())
		}
	}
}

// ask sends one request. A stream would never end: what is asked for with
// nobody there to hear it ends at once.
func (c *crawler) ask(method, address string) *httptest.ResponseRecorder {
	return c.askAs(method, address, "text/html")
}

func (c *crawler) askAs(method, address, accept string) *httptest.ResponseRecorder {
	r := httptest.NewRequest(method, "http://"+c.bed.options.Listen+address, nil)
	r.Header.Set("Accept", accept)
	r.Header.Set("Accept-Language", c.lang)
	if c.token != "" {
		r.AddCookie(&http.Cookie{Name: "padjig", Value: c.token})
	}
	if strings.HasSuffix(strings.SplitN(address, "?", 2)[0], "/live") {
		gone, cancel := context.WithTimeout(c.Context(), 100*time.Millisecond)
		defer cancel()
		r = r.WithContext(gone)
	}
	w := httptest.NewRecorder()
	c.bed.lanes().Site.Handler().ServeHTTP(w, r.WithContext(log.Into(r.Context(), slog.New(slog.NewTextHandler(c.Output(), &slog.HandlerOptions{Level: slog.LevelError})))))
	return w
}

// meet queues an address that was not seen before.
func (c *crawler) meet(address, from string) {
	u, err := url.Parse(address)
	if !assert.NoError(c, err, "%q on %s", address, from) || !assert.Empty(c, u.Host, "%q on %s leads away", address, from) {
		return
	}
	assert.NotContains(c, u.Path, "{", "%q on %s is a route pattern", address, from)
	assert.NotContains(c, u.Path, "}", "%q on %s is a route pattern", address, from)
	u.Fragment = ""
	address = u.String()
	if _, seen := c.from[address]; seen || c.looks[u.Path] >= cmp.Or(c.most, mostOfAPath) {
		return
	}
	c.looks[u.Path]++
	c.from[address] = from
	c.queue = append(c.queue, address)
}

var (
	addresses = regexp.MustCompile(`\s(href|src|data-live)="([^"]*)"`)
	forms     = regexp.MustCompile(`(?s)<form([^>]*)>(.*?)</form>`)
	formTo    = regexp.MustCompile(`\s(?:form)?action="([^"]*)"`)
	emptyLink = regexp.MustCompile(`(?s)<a\b([^>]*)>(.*?)</a>`)
	tags      = regexp.MustCompile(`(?s)<(script|style|pre|textarea)\b.*?</(?:script|style|pre|textarea)>|<[^>]*>`)
	places    = regexp.MustCompile(`\{\d\}`)
)

// read takes the addresses out of a page and looks at its words.
func (c *crawler) read(address, where, page string) {
	for _, m := range addresses.FindAllStringSubmatch(page, -1) {
		to := html.UnescapeString(m[2])
		switch {
		case !assert.NotEmpty(c, to, "an empty %s on %s", m[1], where), strings.HasPrefix(to, "#"), strings.HasPrefix(to, "data:"):
		default:
			c.meet(to, address)
		}
	}
	for _, m := range forms.FindAllStringSubmatch(page, -1) {
		c.form(address, where, m[1], m[2])
	}
	for _, m := range emptyLink.FindAllStringSubmatch(page, -1) {
		shown := strings.TrimSpace(tags.ReplaceAllString(m[2], ""))
		named := strings.Contains(m[1], "aria-label") || strings.Contains(m[2], " alt=")
		assert.True(c, shown != "" || named, "a link without words on %s: %s", where, m[0])
	}
	assert.NotContains(c, page, "⟦", "a text is not in the catalogue: %s", where)
	for text := range strings.SplitSeq(tags.ReplaceAllString(page, "\n"), "\n") {
		text = html.UnescapeString(strings.TrimSpace(text))
		assert.False(c, c.keys[text], "%s shows the key %q", where, text)
		assert.Empty(c, places.FindString(text), "%s shows the place of an argument: %s", where, text)
	}
}

// form expects that what a form is sent to is there. One that only asks is sent
// as it stands; for what changes something it is enough that there is a handler.
func (c *crawler) form(address, where, attributes, inside string) {
	for _, m := range formTo.FindAllStringSubmatch(attributes+" "+inside, -1) {
		to := html.UnescapeString(m[1])
		if !assert.NotEmpty(c, to, "a form without an address on %s", where) {
			continue
		}
		if strings.Contains(attributes, `method="get"`) {
			c.meet(to, address)
			continue
		}
		w := c.ask("POST", to) // without the session's token, so that nothing is done
		assert.NotContains(c, []int{http.StatusNotFound, http.StatusMethodNotAllowed}, w.Code, "%s on %s", to, where)
		assert.False(c, strings.ContainsAny(to, "{}"), "%s on %s", to, where)
		c.languages(address, inside)
		c.languages(to+" as sent from "+address, w.Body.String())
	}
}

var nextAfterLanguage = regexp.MustCompile(`name="next" value="([^"]*)"`)

// languages follows where a page leads once its language was changed.
func (c *crawler) languages(address, page string) {
	for _, m := range nextAfterLanguage.FindAllStringSubmatch(page, -1) {
		c.meet(html.UnescapeString(m[1]), address+", in the other language")
	}
}

// catalogueKeys are the keys that no page may show.
func catalogueKeys(t *testing.T) map[string]bool {
	keys := map[string]bool{}
	files, err := filepath.Glob("web/text/*.en.json")
	require.NoError(t, err)
	for _, name := range files {
		raw, err := os.ReadFile(name)
		require.NoError(t, err)
		words := map[string]string{}
		require.NoError(t, json.Unmarshal(raw, &words))
		for key := range maps.Keys(words) {
			keys[key] = true
		}
	}
	require.Greater(t, len(keys), 500)
	return keys
}

// aLittleOfEverything puts something of each sort into the records: a unit that
// failed, a returns case with photos and stages, a gauge study, calibrations, a
// release, a signed shift's worth of runs.
func (b *bed) aLittleOfEverything(t *testing.T) {
	t.Helper()
	ctx := t.Context()
	crowded(t, b.store, b.product)
	b.returned(b.product.Serial.Complete(77))
	b.calibrations("SIM-0001", 2)
	text, err := os.ReadFile(b.file)
	require.NoError(t, err)
	require.NoError(t, releasestest.Release(ctx, b.store, string(text)))
	serial := b.product.Serial.Complete(78)
	b.jigs[0].put("key 7 open")
	b.tested(serial)
	b.study(t)
}

// returned opens a returns case for a unit.
func (b *bed) returned(serial string) returns.Case {
	b.Helper()
	c, err := b.store.Returns.OpenCase(b.Context(), serial, b.product.Code,
		returns.Intake{Received: time.Now(), Complaint: "key dead", Conditions: []string{returns.NothingVisible}, By: "Rosa"})
	require.NoError(b, err)
	require.NoError(b, b.store.Returns.SayNoPhoto(b.Context(), c, returns.NoPhoto{Reason: "the camera is broken", By: "Rosa"}))
	return c
}

func passedInProduction(s runs.Summary) bool {
	return s.Purpose == sequence.Production && s.Outcome == sequence.Pass
}

// tested has lane 1 test a unit and waits for its verdict.
func (b *bed) tested(serial string) station.State {
	b.Helper()
	b.until(0, func(s station.State) bool { return s.Jig.Present })
	b.lanes().Lanes[0].Scan(station.Scan{Serial: serial, Operator: "Abel"})
	return b.until(0, func(s station.State) bool { return s.Phase == station.Ended && s.Unit.Serial == serial })
}

// until waits until a lane, from 0, stands as it should.
func (b *bed) until(n int, is func(station.State) bool) station.State {
	b.Helper()
	lane := b.lanes().Lanes[n]
	changes, stop := lane.Subscribe()
	defer stop()
	for {
		if s := lane.State(); is(s) {
			return s
		}
		select {
		case <-changes:
		case <-time.After(patience):
			require.Fail(b, "the lane came to nothing", "%+v", lane.State())
		}
	}
}

// study plans a small gauge study and takes its readings, all alike.
func (b *bed) study(t *testing.T) {
	t.Helper()
	ctx := t.Context()
	recent, err := b.store.Runs.Recent(ctx, 100)
	require.NoError(t, err)
	i := slices.IndexFunc(recent, passedInProduction)
	pattern, err := b.store.Runs.Run(ctx, recent[i].ID)
	require.NoError(t, err)
	revision, err := b.store.Runs.Revision(ctx, pattern)
	require.NoError(t, err)
	study := studies.Study{
		Across: studies.AcrossOperators, Parts: []string{"GCC-900001", "GCC-900002"}, Appraisers: []string{"Ann", "Bob"},
		Repeats: 2, Seed: 5, By: "Qiu",
	}
	order, err := gauge.PlanStudy(2, 2, 2, 5)
	require.NoError(t, err)
	for _, at := range order {
		study.Plan = append(study.Plan, studies.Planned{Part: at.Part, Appraiser: at.Operator, Repeat: at.Repeat})
	}
	study, err = b.store.Studies.PlanStudy(ctx, revision, study)
	require.NoError(t, err)
	for place, at := range study.Plan {
		run := pattern.Run
		run.Serial, run.Operator, run.Purpose = study.Parts[at.Part], study.Appraisers[at.Appraiser], sequence.GaugeStudy
		id, err := b.store.Runs.Save(ctx, revision, run)
		require.NoError(t, err)
		require.NoError(t, b.store.Studies.AddReading(ctx, study.Number, place, id))
	}
}

// A scan that lay in a queue until its page had to take the station for gone is
// not tested; one that says nothing of when, or was quick, is.
func TestLateScanIsNotTested(t *testing.T) {
	b := makeBed(t, bedding{change: func(o *stationOptions) { o.Twice = time.Nanosecond }})
	b.until(0, func(s station.State) bool { return s.Jig.Present })
	c := b.somebody(account.Operator, "en")
	token := c.formToken(c.page("/lane/1"))
	scan := func(n int, heard string) (int, map[string]any) {
		return c.post("/scan", url.Values{
			"text": {b.product.Serial.Complete(n)}, "lane": {"1"}, "screen": {"only"}, "token": {token}, "heard": {heard},
		})
	}
	ago := func(d time.Duration) string { return fmt.Sprint(time.Now().Add(-d).UnixMilli()) }
	code, answer := scan(1, ago(time.Minute))
	assert.Equal(t, http.StatusConflict, code)
	assert.Contains(t, answer["say"], "reached the station late and was not tested")
	assert.Empty(t, b.lanes().Lanes[0].State().Unit.Serial)
	for n, heard := range map[int]string{2: "", 3: ago(time.Second), 4: "nonsense"} {
		code, _ = scan(n, heard)
		assert.Equal(t, http.StatusOK, code, heard)
		b.until(0, func(s station.State) bool {
			return s.Phase == station.Ended && s.Unit.Serial == b.product.Serial.Complete(n)
		})
	}
}
