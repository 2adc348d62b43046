package quality_test

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/csv"
	"encoding/json"
	"errors"
	"flag"
	"fmt"
	"html"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web"
	"padjig/cmd/padjig/web/door"
	"padjig/cmd/padjig/web/page"
	"padjig/cmd/padjig/web/quality"
	"padjig/cmd/padjig/web/webtest"
	"padjig/fixture/quantity"
	"padjig/results"
	"padjig/results/accounts"
	"padjig/results/answers"
	"padjig/results/floor"
	"padjig/results/linesim"
	"padjig/results/runs"
	"padjig/results/stats/gauge"
	kept "padjig/results/studies"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/wording"
)

// The pages of the quality engineer, asked for over HTTP from a real store with
// what a simulated line did.

var lineStore = flag.String("line", "", "store of a simulated line to measure the pages over, in place of a small one")

const testHost = "station.test:8317"

// reader is somebody of the quality department at a site.
type reader struct {
	testing.TB
	site   http.Handler
	store  *results.Store
	cookie *http.Cookie
	lang   string
}

// newReader opens a site over a store with so many runs of a simulated line.
func newReader(t testing.TB, runs int) *reader {
	t.Helper()
	ctx := context.Background()
	path, token := filepath.Join(t.TempDir(), "line.sqlite"), "token"
	if *lineStore != "" {
		path, token = *lineStore, rand.Text() // it may have a session from before
	}
	if runs > 0 && *lineStore == "" {
		require.NoError(t, os.WriteFile(path, simulatedLine(t, runs), 0o600))
	}
	store, err := results.Open(ctx, path)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, store.Close()) })
	require.NoError(t, store.Accounts.SaveAccountEvent(ctx, accounts.AccountEvent{Name: "Qiu", Kind: accounts.AccountRole,
		Role: "quality", By: "test"}))
	require.NoError(t, store.Accounts.StartSession(ctx, sha256.Sum256([]byte(token)), "Qiu", "password"))
	site, err := web.New(web.Config{Store: store, Hosts: []string{testHost}})
	require.NoError(t, err)
	return &reader{TB: t, site: site.Handler(), store: store, cookie: &http.Cookie{Name: "padjig", Value: token},
		lang: "en"}
}

// simulatedLine is a store with so many runs of a simulated line. It is made once: that takes longer than most tests
// that look at it.
func simulatedLine(t testing.TB, runs int) []byte {
	made, _ := lines.LoadOrStore(runs, sync.OnceValues(func() ([]byte, error) {
		dir, err := os.MkdirTemp("", "line")
		if err != nil {
			return nil, err
		}
		defer os.RemoveAll(dir)
		path := filepath.Join(dir, "line.sqlite")
		if err := simulate(t, path, runs); err != nil {
			return nil, err
		}
		return os.ReadFile(path)
	}))
	line, err := made.(func() ([]byte, error))()
	require.NoError(t, err)
	return line
}

var lines sync.Map // of simulatedLine, by the number of its runs

func simulate(t testing.TB, path string, runs int) error {
	ctx := context.Background()
	p, err := product.Load(webtest.ProductFile(t))
	if err != nil {
		return err
	}
	line := linesim.Line{Product: p, Runs: runs, Seed: 3, Begin: time.Date(2026, 3, 2, 5, 0, 0, 0, time.UTC),
		Zone: "Europe/Vienna"}
	entries, err := line.Entries(ctx)
	if err != nil {
		return err
	}
	store, err := results.Open(ctx, path)
	if err != nil {
		return err
	}
	return errors.Join(store.ImportSimulated(ctx, line.Seed, entries, nil), store.Close())
}

func (r *reader) ask(method, address string, form url.Values, accept string) *httptest.ResponseRecorder {
	r.Helper()
	q := httptest.NewRequest(method, "http://"+testHost+address, strings.NewReader(form.Encode()))
	q.Header.Set("Accept", accept)
	q.Header.Set("Accept-Language", r.lang)
	if form != nil {
		q.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	}
	q.AddCookie(r.cookie)
	w := httptest.NewRecorder()
	r.site.ServeHTTP(w, q)
	return w
}

func (r *reader) page(address string) string {
	r.Helper()
	w := r.ask("GET", address, nil, "text/html")
	require.Equal(r, http.StatusOK, w.Code, "%s: %s", address, w.Body)
	return w.Body.String()
}

// studies are all pages, each in a form that has an answer for a whole line.
var studies = []string{
	"/quality", "/quality/yield", "/quality/yield?by=shift", "/quality/yield?by=operator", "/quality/causes", "/quality/causes?cause=line", "/quality/units?verdict=fail", "/quality/probes",
	"/quality/charts?revision=C", "/quality/charts?revision=C&chart=i-mr&rules=zones&key=7", "/quality/charts?revision=C&chart=xbar-r&group=lot",
	"/quality/charts?revision=C&chart=ewma", "/quality/charts?revision=C&chart=cusum", "/quality/charts?measure=failed&group=hour",
	"/quality/charts?revision=C&measure=closing&group=hour", "/quality/charts?revision=C&measure=insulation&key=7",
	"/quality/charts?revision=C&measure=loop&key=3", "/quality/charts?revision=C&measure=step", "/quality/charts?revision=C&measure=machine",
	"/quality/distributions?revision=C&measure=insulation&last=200", "/quality/distributions?revision=C&measure=step&last=200", "/quality/charts?revision=C&group=shift",
	"/quality/distributions?revision=C", "/quality/capability?revision=C&last=200", "/quality/compare?revision=C&last=100", "/quality/compare?what=revision&last=100",
	"/quality/lots", "/quality/stops", "/quality/shift", "/quality/limits?revision=C&limit=95,5&guardband=0.5",
}

// Every page is asked for in both languages at once, in opposite orders, of a site that made none of them before.
func TestPagesAskedForAtOnce(t *testing.T) {
	r := newReader(t, 12)
	var all sync.WaitGroup
	for n, lang := range wording.Languages {
		own, addresses := *r, slices.Clone(studies)
		own.lang = lang
		if n%2 == 1 {
			slices.Reverse(addresses)
		}
		all.Go(func() {
			for _, address := range addresses {
				w := own.ask("GET", address, nil, "text/html")
				assert.Equal(t, http.StatusOK, w.Code, "%s: %s", address, w.Body)
			}
		})
	}
	all.Wait()
}

// Every page answers in every state, in both languages, with all its words
// there and no number that is none.
func TestStudiesInEveryState(t *testing.T) {
	for name, runs := range map[string]int{"empty": 0, "one unit": 1, "all passed": 12, "a line": 3000} {
		t.Run(name, func(t *testing.T) {
			r := newReader(t, runs)
			for _, lang := range wording.Languages {
				r.lang = lang
				for _, address := range studies {
					page := r.page(address)
					for _, bad := range []string{"⟦", "NaN", "+Inf"} {
						assert.False(t, strings.Contains(page, bad), "%s in %s shows %s", address, lang, bad)
					}
					assert.Equal(t, runs > 0, strings.Contains(page, `class="simulated"`),
						"%s says that it is simulated", address)
					assert.False(t, strings.Contains(page, `style="`), "%s: the policy forbids it", address)
				}
			}
		})
	}
}

var unpicked = regexp.MustCompile(`\{[0-9]\}`)

// No text shows the place of an argument.
func TestTextsOfStudies(t *testing.T) {
	r := newReader(t, 1500)
	for _, address := range studies {
		assert.Empty(t, unpicked.FindString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(r.page(address), "")), address)
	}
}

var fileLinks = regexp.MustCompile(`href="(/quality[^"]*csv=[^"]*)"`)

// The same view comes as JSON, and every table as a file whose rows are those
// of the page.
func TestStudiesAsJSONAndFiles(t *testing.T) {
	r := newReader(t, 3000)
	for _, address := range studies {
		var view struct {
			Simulated bool `json:"simulated"`
			Figures   []struct {
				Table *struct {
					Name string
					Rows []map[string]any
				}
			}
		}
		raw := r.ask("GET", address, nil, "application/json")
		require.NoError(t, json.Unmarshal(raw.Body.Bytes(), &view), address)
		assert.True(t, view.Simulated)
		rows := map[string]int{}
		for _, f := range view.Figures {
			if f.Table != nil {
				assert.NotContains(t, rows, f.Table.Name, "%s has two tables of one name", address)
				rows[f.Table.Name] = len(f.Table.Rows)
			}
		}
		links := fileLinks.FindAllStringSubmatch(r.page(address), -1)
		assert.Equal(t, len(rows), len(links), address)
		for _, link := range links {
			file := r.ask("GET", strings.ReplaceAll(link[1], "&amp;", "&"), nil, "text/html")
			assert.Equal(t, "text/csv; charset=utf-8; header=present", file.Header().Get("Content-Type"))
			all, err := csv.NewReader(file.Body).ReadAll()
			require.NoError(t, err, link[1])
			at, err := url.Parse(strings.ReplaceAll(link[1], "&amp;", "&"))
			require.NoError(t, err)
			assert.Equal(t, rows[at.Query().Get("csv")]+1, len(all), link[1])
		}
	}
	assert.Equal(t, http.StatusNotFound, r.ask("GET", "/quality?csv=nothing", nil, "text/html").Code)
}

// The page of distributions is found at the address it had once, with what was chosen.
func TestOldAddressOfDistributions(t *testing.T) {
	r := newReader(t, 3000)
	for _, chosen := range []string{"", "?revision=C&jig=J-0041&jig=J-0042", "?to=2026-03-02&json=1"} {
		w := r.ask("GET", "/quality/spread"+chosen, nil, "text/html")
		assert.Equal(t, http.StatusSeeOther, w.Code)
		assert.Equal(t, "/quality/distributions"+chosen, w.Header().Get("Location"))
	}
}

// What is planted in the simulated line is found, and said in words.
func TestStudiesFindWhatIsThere(t *testing.T) {
	r := newReader(t, 12000)
	for name, c := range map[string]struct{ address, says string }{
		"a place on one jig":   {"/quality", "key HEAT (R2-C4) comes up on jig J-0042"},
		"revisions not pooled": {"/quality/distributions?revision=all", "revisions C, D judge by different limits. Choose one revision"},
		"revisions named":      {"/quality/yield?revision=all", "Revisions C, D judge by different limits and are counted together"},
		"a lot that reads higher": {"/quality/compare?revision=C&what=lot&a=M-2615&b=M-2616",
			"20 of 20 keys read differently"},
		"two alike": {"/quality/compare?revision=C&what=jig&a=J-0043&b=J-0044",
			"No difference in first-pass yield between J-0043 and J-0044 is shown"},
		"a key that is not there": {"/quality/charts?revision=C&key=Q", "there is no key Q here"},
		"a wrong day":             {"/quality/yield?from=yesterday", "is no time"},
		"a wrong number":          {"/quality/limits?revision=C&limit=much", "is no number that can be tried"},
		"nothing chosen":          {"/quality/causes?jig=J-9999", "No run fits this choice"},
		"an average run length":   {"/quality/charts?revision=C&rules=limits", "lag 1 is"},
		"a scale":                 {"/quality/charts?revision=C&measure=insulation", "Insulation is told as its logarithm to base ten"},
		"bounds":                  {"/quality/distributions?revision=C&measure=insulation&last=500", "are bounds: over range"},
		"no sums":                 {"/quality/distributions?revision=C&measure=loop&last=100", "Read from the last 100 units chosen"},
		"an event":                {"/quality/charts?revision=C&last=2000", "verify, good"},
	} {
		t.Run(name, func(t *testing.T) {
			assert.True(t, strings.Contains(html.UnescapeString(r.page(c.address)), c.says), "%s does not say %q",
				c.address, c.says)
		})
	}
}

// A page whose readings cannot be pooled has no numbers.
func TestMixedReadingsAreNotShown(t *testing.T) {
	r := newReader(t, 3000)
	for _, address := range []string{"/quality/distributions?revision=all", "/quality/charts?revision=all", "/quality/capability?revision=all", "/quality/limits?revision=all"} {
		assert.False(t, strings.Contains(r.page(address), `<article class="fig`), address)
	}
}

// Limits are frozen as the page shows them, with a name and a reason, and hold
// from then on.
func TestFreezeLimits(t *testing.T) {
	r := newReader(t, 3000)
	address := "/quality/charts?revision=C&key=7"
	form := url.Values{"token": {door.FormToken("token")}, "query": {"simulated=1&product=GCC-20&revision=C&key=7"}}
	refusedWithout := r.ask("POST", "/quality/freeze", form, "application/json")
	assert.Equal(t, http.StatusUnprocessableEntity, refusedWithout.Code, "a reason is asked for")
	form.Set("reason", "verified on Monday")
	done := r.ask("POST", "/quality/freeze", form, "application/json")
	require.Equal(t, http.StatusOK, done.Code, done.Body)
	assert.True(t, strings.Contains(r.page(address), "verified on Monday"))
	assert.False(t, strings.Contains(r.page(address), "until then new points move them"))
	form.Del("token")
	assert.Equal(t, http.StatusForbidden, r.ask("POST", "/quality/freeze", form, "application/json").Code)
}

// A shift is signed for with a name, once it is one.
func TestHandover(t *testing.T) {
	r := newReader(t, 1500)
	form := url.Values{"token": {door.FormToken("token")}, "shift": {"early"}, "day": {"2026-03-02"}, "simulated": {"1"},
		"note": {"HEAT on J-0042"}}
	require.Equal(t, http.StatusOK, r.ask("POST", "/quality/handover", form, "application/json").Code)
	page := r.page("/quality/shift?day=2026-03-02&at=early")
	assert.True(t, strings.Contains(page, "HEAT on J-0042"))
	assert.False(t, strings.Contains(page, "Nobody has signed"))
	assert.True(t, strings.Contains(r.page("/quality/shift?day=2026-03-03&at=early"), "Nobody has signed") ||
		strings.Contains(r.page("/quality/shift?day=2026-03-03&at=early"), "No unit was judged"))
	form.Set("day", "soon")
	assert.Equal(t, http.StatusUnprocessableEntity, r.ask("POST", "/quality/handover", form, "application/json").Code)
}

// measured plans a study of four units by two persons, three times each, and
// stores its readings: units ten ohm apart, persons one, and some noise.
func (r *reader) measured() kept.Study {
	r.Helper()
	ctx := r.Context()
	recent, err := r.store.Runs.Recent(ctx, 20)
	require.NoError(r, err)
	i := slices.IndexFunc(recent, func(s runs.Summary) bool { return s.Outcome == sequence.Pass })
	pattern, err := r.store.Runs.Run(ctx, recent[i].ID)
	require.NoError(r, err)
	revision, err := r.store.Runs.Revision(ctx, pattern)
	require.NoError(r, err)
	study := kept.Study{Across: kept.AcrossOperators,
		Parts:      []string{"GCC-900001", "GCC-900002", "GCC-900003", "GCC-900004"},
		Appraisers: []string{"Ann", "Bob"}, Repeats: 3, Seed: 5, By: "Qiu"}
	order, err := gauge.PlanStudy(4, 2, 3, 5)
	require.NoError(r, err)
	for _, at := range order {
		study.Plan = append(study.Plan, kept.Planned{Part: at.Part, Appraiser: at.Operator, Repeat: at.Repeat})
	}
	study, err = r.store.Studies.PlanStudy(ctx, revision, study)
	require.NoError(r, err)
	for place, at := range study.Plan {
		run := pattern.Run
		run.Serial, run.Operator, run.Purpose = study.Parts[at.Part], study.Appraisers[at.Appraiser], sequence.GaugeStudy
		run.Keys = slices.Clone(run.Keys)
		for k := range run.Keys {
			read := *run.Keys[k].Closed
			read.Value = quantity.Ohm(80 + 10*float64(at.Part) + float64(at.Appraiser) + 0.2*float64(at.Repeat*at.Part%3))
			run.Keys[k].Closed = &read
		}
		id, err := r.store.Runs.Save(ctx, revision, run)
		require.NoError(r, err)
		require.NoError(r, r.store.Studies.AddReading(ctx, study.Number, place, id))
	}
	return study
}

// A study that is complete says where the spread comes from, and how far its
// verdicts can be trusted; its numbers are those of package stats.
func TestGaugeStudyOnItsPage(t *testing.T) {
	r := newReader(t, 20)
	study := r.measured()
	for _, lang := range wording.Languages {
		r.lang = lang
		page := r.page("/quality/gauge?study=1&key=VENT")
		assert.False(t, strings.Contains(page, "⟦"))
		assert.False(t, strings.Contains(page, "NaN"))
		assert.True(t, strings.Contains(page, `class="simulated"`))
	}
	r.lang = "en"
	page := html.UnescapeString(r.page("/quality/gauge?study=1&key=VENT"))
	y := make([][][]float64, len(study.Parts))
	for i := range y {
		y[i] = make([][]float64, 2)
		for j := range y[i] {
			for k := range 3 {
				y[i][j] = append(y[i][j], 80+10*float64(i)+float64(j)+0.2*float64(k*i%3))
			}
		}
	}
	anova, err := gauge.NewCrossed(y)
	require.NoError(t, err)
	want, err := anova.Reduced().Study(answers.Confidence)
	require.NoError(t, err)
	for _, says := range []string{
		fmt.Sprintf("%.1f %% of the variance seen; it tells %d groups", want.Component(gauge.Gauge).Contribution,
			want.Categories),
		"4 of 4 parts had the same verdict every time", "Only one verdict was given", "All readings are taken",
	} {
		assert.True(t, strings.Contains(page, says), says)
	}
	assert.True(t, strings.Contains(r.page("/quality/gauge"), "24"))
	assert.True(t, strings.Contains(r.page("/quality/gauge?study=7"), "There is no study 7"))
}

// Pages about plans reckon with what is written, ask for it again, and say what is no
// number; no runs are chosen on them.
func TestPlans(t *testing.T) {
	r := newReader(t, 20)
	for address, says := range map[string]string{
		"/quality/sampling": "", "/quality/sampling?n=50&accept=1&lotsize=400&good=0,5&bad=5&sequential=1": `value="0.5"`,
		"/quality/sampling?n=x": "x", "/quality/sampling?good=101": "101", "/quality/sampling?good=5&bad=1": "",
		"/quality/retest": "", "/quality/retest?tests=3&policy=all&falsereject=1": `value="3"`, "/quality/retest?sticks=much": "much",
	} {
		for _, r.lang = range wording.Languages {
			page := r.page(address)
			assert.NotContains(t, page, "⟦", address)
			assert.Contains(t, page, says, address)
			assert.NotContains(t, page, `class="simulated"`, address)
		}
	}
}

// What was chosen wrongly, or is not there, is said on the page in the reader's words,
// and what is out of bounds is kept within them.
func TestStudiesSayWhatIsWrong(t *testing.T) {
	r := newReader(t, 3000)
	for address, says := range map[string]string{
		"/quality/yield?by=colour":                                "colour",
		"/quality/charts?revision=C&measure=taste":                "",
		"/quality/charts?revision=C&measure=make":                 "closing",
		"/quality/charts?revision=C&measure=closed":               "contact",
		"/quality/charts?revision=C&chart=individuals":            "i-mr",
		"/quality/charts?revision=C&chart=pie":                    "",
		"/quality/charts?revision=C&rules=none":                   "none",
		"/quality/charts?revision=C&size=many&last=3":             "",
		"/quality/charts?revision=C&chart=i-mr&last=1000":         "<svg",
		"/quality/capability?revision=C&key=Q":                    "there is no key Q",
		"/quality/compare?what=colour":                            "",
		"/quality/compare?what=jig&a=J-0042&b=J-0042":             "",
		"/quality/compare?what=jig&across=jig":                    "",
		"/quality/compare?what=jig&a=none":                        "J-0042",
		"/quality/compare?what=product":                           "",
		"/quality/lots?material=tea":                              "",
		"/quality/lots?revision=C&material=" + floor.Materials[0]: "<svg",
		"/quality/limits?revision=C":                              "<svg",
		"/quality/limits?revision=C&guardband=-1":                 "-1",
		"/quality/causes?cause=weather":                           "<svg",
		"/quality/shift?day=soon":                                 "soon",
		"/quality/shift?at=noon":                                  "",
		"/quality/gauge":                                          "",
		"/quality/gauge?from=yesterday":                           "is no time",
		"/quality/gauge?ofjig=J-0042":                             "J-0042",
		"/quality/gauge?ofjig=J-0042&unit=REF-G":                  "REF-G",
	} {
		page := html.UnescapeString(r.page(address))
		assert.NotContains(t, page, "⟦", address)
		assert.True(t, strings.Contains(page, says), "%s does not say %q", address, says)
	}
}

// A study is planned for a product of the lanes, in an order that its parts decide; what
// cannot be one is refused.
func TestAStudyIsPlanned(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		plan := func(change ...string) (int, page.Answer) {
			form := map[string]string{"product": "GCC-20", "across": "jig", "parts.list": "A B C", "appraisers.list": "J-1\n\n J-2 \n", "repeats": "2"}
			for i := 0; i < len(change); i += 2 {
				form[change[i]] = change[i+1]
			}
			var pairs []string
			for name, value := range form {
				pairs = append(pairs, name, value)
			}
			return h.Post("quality", "/quality/gauge", pairs...)
		}
		for name, change := range map[string][]string{
			"a product of none": {"product", "GCC-21"}, "no number": {"repeats", "some"}, "one part": {"parts.list", "A"},
			"across what": {"across", "colours"},
		} {
			status, said := plan(change...)
			assert.Equal(h, http.StatusUnprocessableEntity, status, name)
			assert.NotEmpty(h, said.Say, name)
		}
		assert.Contains(h, h.Page("quality", "/quality/gauge"), `name="parts.list"`)
		status, said := plan()
		require.Equal(h, http.StatusOK, status, said.Say)
		assert.Equal(h, "/quality/gauge?study=1", said.Go)
		for _, h.Lang = range wording.Languages {
			assert.Contains(h, h.Page("quality", said.Go), "J-2")
			assert.Contains(h, h.Page("quality", "/quality/gauge"), "study=1")
		}
		all, err := h.Store.Studies.Studies(h.Context())
		require.NoError(h, err)
		require.Len(h, all, 1)
		assert.Equal(h, []string{"J-1", "J-2"}, all[0].Appraisers)
		assert.Len(h, all[0].Plan, 12)
		h.Calibrated(4)
		assert.Contains(h, h.Page("quality", "/quality/gauge?ofjig=SIM-0001&simulated=1"), "<table")
	})
}

// An operator may not look; somebody without a session is sent to the door.
func TestStudiesAreForTheRole(t *testing.T) {
	r := newReader(t, 1)
	require.NoError(t, r.store.Accounts.SaveAccountEvent(t.Context(), accounts.AccountEvent{Name: "Qiu",
		Kind: accounts.AccountRole, Role: "operator", By: "test"}))
	assert.Equal(t, http.StatusForbidden, r.ask("GET", "/quality", nil, "text/html").Code)
	r.cookie = &http.Cookie{Name: "padjig", Value: "other"}
	assert.Equal(t, http.StatusSeeOther, r.ask("GET", "/quality", nil, "text/html").Code)
}

// A filter is in the address: what a page links to keeps it.
func TestFilterStaysInTheAddress(t *testing.T) {
	page := newReader(t, 1500).page("/quality/yield?revision=C&jig=J-0042&jig=J-0043&from=2026-03-02")
	_, page, _ = strings.Cut(page, `<nav class="sections`)
	page, _, _ = strings.Cut(page, "</nav>")
	links := regexp.MustCompile(`<li><a href="(/quality[^"]*)"`).FindAllStringSubmatch(page, -1)
	require.Equal(t, len(quality.Set(nil, nil).Pages)-1, len(links), "all but the address that a page had before")
	for _, link := range links {
		query, err := url.ParseQuery(strings.ReplaceAll(link[1][strings.Index(link[1], "?")+1:], "&amp;", "&"))
		require.NoError(t, err)
		assert.Equal(t, []string{"J-0042", "J-0043"}, query["jig"], link[1])
		assert.Equal(t, "C", query.Get("revision"))
		assert.Equal(t, "1", query.Get("simulated"), "simulated stays said")
	}
}

// BenchmarkStudies asks for each page over a store, that of -line or a small one.
func BenchmarkStudies(b *testing.B) {
	r := newReader(b, 12000)
	for _, address := range studies {
		b.Run(address, func(b *testing.B) {
			for b.Loop() {
				r.page(address)
			}
		})
	}
}

var (
	spots     = regexp.MustCompile(`<a class="c-spot[^"]*" href="([^"]+)"[^>]*><title>([^<]*)</title>`)
	unitsSaid = regexp.MustCompile(`(?m)(?:n |units: )(\d+)$`)
	barSaid   = regexp.MustCompile(`(?m)^units: (\d+) \(`) // of a cause: what follows is of how many
)

// Every point, bar and cell leads to a list of units, as many as it says it stands for, and
// each of these to its runs.
func TestWhatIsDrawnLeadsToItsUnits(t *testing.T) {
	r := newReader(t, 1500)
	followed := 0
	for _, address := range []string{"/quality/charts?revision=C&key=7&last=100", "/quality/charts?revision=C&key=7&last=20&chart=i-mr",
		"/quality/yield?by=jig", "/quality/distributions?revision=C", "/quality/capability?revision=C&key=7&last=100",
		"/quality/limits?revision=C&key=7&last=100", "/quality/lots?revision=C", "/quality/shift?day=2026-03-02&at=early",
		"/quality/compare?revision=C&what=jig"} {
		var seen []string
		for _, spot := range spots.FindAllStringSubmatch(r.page(address), -1) {
			to := html.UnescapeString(spot[1])
			said := barSaid.FindStringSubmatch(spot[2])
			if said == nil {
				said = unitsSaid.FindStringSubmatch(spot[2])
			}
			if said == nil || slices.Contains(seen, to) || len(seen) >= 12 || strings.Contains(address, "i-mr") && strings.Contains(spot[2], "n 2") || strings.Count(spot[2], " n ") > 1 {
				continue // the moving range of two units is named after the second; two groups have their own test
			}
			seen = append(seen, to)
			var view struct {
				Figures []struct {
					Says  []struct{ Text string }
					Table struct{ Rows []map[string]any }
				}
			}
			require.NoError(t, json.Unmarshal(r.ask("GET", to, nil, "application/json").Body.Bytes(), &view), to)
			require.NotEmpty(t, view.Figures, "%s of %s has no unit", to, address)
			assert.True(t, strings.HasPrefix(view.Figures[0].Says[0].Text, said[1]+map[bool]string{true: " unit,", false: " units,"}[said[1] == "1"]), "%s says %q, its units %q", address, spot[2], view.Figures[0].Says[0].Text)
			followed++
		}
		require.NotEmpty(t, seen, address)
	}
	require.Greater(t, followed, 20)
	list := r.page("/quality/units?verdict=fail")
	assert.Contains(t, list, `href="/unit?serial=GCC-`)
	assert.Contains(t, r.page("/quality/units?runs=9-3"), "such as 120-124")
}

// A part of a chart is an address: the same limits, fewer points, and none where it is wrong.
func TestPartOfAChartIsAnAddress(t *testing.T) {
	r := newReader(t, 1500)
	points := func(page string) int { return strings.Count(page, `class="c-spot" href`) }
	whole := r.page("/quality/charts?revision=C&key=7")
	part := r.page("/quality/charts?revision=C&key=7&part=200-400")
	assert.Less(t, points(part), points(whole))
	assert.Positive(t, points(part))
	ucl := regexp.MustCompile(`UCL [0-9.]+`)
	assert.Equal(t, ucl.FindString(whole), ucl.FindString(part), "the limits are those of the whole")
	assert.Contains(t, part, "the limits are those of all")
	wrong := r.page("/quality/charts?revision=C&key=7&part=9-3")
	assert.Equal(t, points(whole), points(wrong))
	assert.Contains(t, wrong, "The part in the address is none")
	assert.NotContains(t, r.page("/quality/charts?revision=C&key=7&part=900000-900001"), "NaN")
}

// Where two groups are compared each key leads to the units of both; a probe leads to the
// units with doubtful contact at it, and a reading of a gauge study to the unit.
func TestOtherMarksLeadToTheirUnits(t *testing.T) {
	r := newReader(t, 3000)
	units := func(to string) (n int) {
		page := html.UnescapeString(r.page(to))
		said := regexp.MustCompile(`<p class="says[^"]*">(\d+) units`).FindStringSubmatch(page)
		require.NotNil(t, said, to)
		_, err := fmt.Sscan(said[1], &n)
		require.NoError(t, err)
		return n
	}
	both := regexp.MustCompile(`J-0041 n (\d+), J-0042 n (\d+)$`)
	compared := 0
	for _, spot := range spots.FindAllStringSubmatch(r.page("/quality/compare?revision=C&what=jig&a=J-0041&b=J-0042&last=2000"), -1) {
		if said := both.FindStringSubmatch(spot[2]); said != nil && compared < 4 {
			var a, b int
			_, err := fmt.Sscan(said[1]+" "+said[2], &a, &b)
			require.NoError(t, err)
			assert.Equal(t, a+b, units(html.UnescapeString(spot[1])), spot[2])
			compared++
		}
	}
	assert.Positive(t, compared, "keys that are compared")

	doubtful := regexp.MustCompile(`doubtful at (\d+) of`)
	probes := 0
	for _, spot := range spots.FindAllStringSubmatch(r.page("/quality/probes?span=all&revision=all"), -1) {
		said := doubtful.FindStringSubmatch(spot[2])
		require.NotNil(t, said, spot[2])
		assert.Equal(t, said[1], fmt.Sprint(units(html.UnescapeString(spot[1]))), "%s: %s", spot[2], spot[1])
		probes++
	}
	assert.Positive(t, probes, "probes with doubtful contact")

	study := newReader(t, 20)
	study.measured()
	page := html.UnescapeString(study.page("/quality/gauge?study=1&key=VENT"))
	assert.Regexp(t, `<a class="c-spot" href="/unit\?serial=GCC-900001"[^>]*><title>GCC-900001\n`, page)
}

// What stands behind a mark of a shift is of that shift, whatever the other pages are about.
func TestMarksOfAShiftAreOfTheShift(t *testing.T) {
	r := newReader(t, 3000)
	followed := 0
	for _, spot := range spots.FindAllStringSubmatch(r.page("/quality/shift?day=2026-03-02&at=early&span=7d"), -1) {
		at, err := url.Parse(html.UnescapeString(spot[1]))
		require.NoError(t, err)
		q := at.Query()
		from, err := time.Parse(time.RFC3339, q.Get("from"))
		require.NoError(t, err, spot[1])
		assert.Equal(t, "2026-03-02", from.Format(time.DateOnly), spot[1])
		assert.Equal(t, []string{"early"}, q["shift"], spot[1])
		assert.Empty(t, q.Get("span"), spot[1])
		followed++
	}
	assert.Greater(t, followed, 10)
}

// A target is said with the question: it is a line on the charts of yields, a sentence, and a
// part of the address; what is no share is refused with the field's name.
func TestTargetOfTheYield(t *testing.T) {
	r := newReader(t, 3000)
	page := html.UnescapeString(r.page("/quality/yield?revision=C&by=jig&target=99,5"))
	assert.Equal(t, 4, strings.Count(page, ">target 99.5 %</text>"), "on both charts, wide and narrow")
	assert.Regexp(t, `target of 99\.5 % (is missed|is kept)|Whether the target of 99\.5 % is kept`, page)
	assert.Contains(t, page, `name="target" value="99.5"`)
	assert.Regexp(t, `href="/quality/yield\?[^"]*sort=yield\.1[^"]*target=99%2C5`, page, "sorting keeps it")
	assert.NotContains(t, r.page("/quality/yield?revision=C&target="), "target of")
	for _, wrong := range []string{"101", "-1", "all", "NaN"} {
		assert.Contains(t, html.UnescapeString(r.page("/quality/yield?revision=C&target="+wrong)), "is no number that can be tried", wrong)
	}
	r.lang = "de"
	assert.Contains(t, html.UnescapeString(r.page("/quality/yield?revision=C&target=98%25")), ">Ziel 98 %</text>")
}
