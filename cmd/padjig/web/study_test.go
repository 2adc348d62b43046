package web

import (
	"context"
	"crypto/rand"
	"crypto/sha256"
	"encoding/csv"
	"encoding/json"
	"flag"
	"fmt"
	"html"
	"net/http"
	"net/http/httptest"
	"net/url"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/quantity"
	"padjig/results"
	"padjig/results/accounts"
	"padjig/results/answers"
	"padjig/results/gauge"
	"padjig/results/linesim"
	"padjig/results/runs"
	"padjig/results/stats"
	"padjig/sequence"
	"padjig/sequence/product"
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
	store, err := results.Open(ctx, path)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, store.Close()) })
	if runs > 0 && *lineStore == "" {
		p, err := product.Load("../../../testdata/products/gcc-20.yaml")
		require.NoError(t, err)
		line := linesim.Line{Product: p, Runs: runs, Seed: 3, Begin: time.Date(2026, 3, 2, 5, 0, 0, 0, time.UTC),
			Zone: "Europe/Vienna"}
		entries, err := line.Entries(ctx)
		require.NoError(t, err)
		require.NoError(t, store.ImportSimulated(ctx, 3, entries, nil))
	}
	require.NoError(t, store.Accounts.SaveAccountEvent(ctx, accounts.AccountEvent{Name: "Qiu", Kind: accounts.AccountRole,
		Role: "quality", By: "test"}))
	require.NoError(t, store.Accounts.StartSession(ctx, sha256.Sum256([]byte(token)), "Qiu", "password"))
	site, err := New(Config{Store: store, Hosts: []string{testHost}})
	require.NoError(t, err)
	return &reader{TB: t, site: site.Handler(), store: store, cookie: &http.Cookie{Name: "padjig", Value: token},
		lang: "en"}
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
	"/quality", "/quality/yield", "/quality/yield?by=shift", "/quality/yield?by=operator", "/quality/causes", "/quality/causes?cause=line",
	"/quality/charts?revision=C", "/quality/charts?revision=C&chart=i-mr&rules=zones&key=7", "/quality/charts?revision=C&chart=xbar-r&group=lot",
	"/quality/charts?revision=C&chart=ewma", "/quality/charts?revision=C&chart=cusum", "/quality/charts?measure=failed&group=hour",
	"/quality/charts?revision=C&measure=make&group=hour", "/quality/charts?revision=C&group=shift",
	"/quality/spread?revision=C", "/quality/capability?revision=C&last=200", "/quality/compare?revision=C&last=100", "/quality/compare?what=revision&last=100",
	"/quality/lots", "/quality/shift", "/quality/limits?revision=C&limit=95,5&guardband=0.5",
}

// Every page answers in every state, in both languages, with all its words
// there and no number that is none.
func TestStudiesInEveryState(t *testing.T) {
	for name, runs := range map[string]int{"empty": 0, "one unit": 1, "all passed": 12, "a line": 3000} {
		t.Run(name, func(t *testing.T) {
			r := newReader(t, runs)
			for _, lang := range languages {
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

// No text shows the place of an argument, and both languages have the same texts
// with the same places.
func TestTextsOfStudies(t *testing.T) {
	text, err := loadCatalogue()
	require.NoError(t, err)
	for key, en := range text["en"] {
		de, there := text["de"][key]
		if assert.True(t, there, "no German text for %s", key) {
			assert.ElementsMatch(t, unique(unpicked.FindAllString(en, -1)), unique(unpicked.FindAllString(de, -1)), key)
		}
	}
	assert.Equal(t, len(text["en"]), len(text["de"]))
	r := newReader(t, 1500)
	for _, address := range studies {
		assert.Empty(t, unpicked.FindString(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(r.page(address), "")), address)
	}
}

func unique(list []string) []string {
	seen := map[string]bool{}
	out := []string{}
	for _, s := range list {
		if !seen[s] {
			out = append(out, s)
		}
		seen[s] = true
	}
	return out
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

// What is planted in the simulated line is found, and said in words.
func TestStudiesFindWhatIsThere(t *testing.T) {
	r := newReader(t, 12000)
	for name, c := range map[string]struct{ address, says string }{
		"a place on one jig":   {"/quality", "key HEAT (R2-C4) comes up on jig J-0042"},
		"revisions not pooled": {"/quality/spread", "revisions C, D judge by different limits. Choose one revision"},
		"revisions named":      {"/quality/yield", "Revisions C, D judge by different limits and are counted together"},
		"a lot that reads higher": {"/quality/compare?revision=C&what=lot&a=M-2615&b=M-2616",
			"20 of 20 keys read differently"},
		"two alike": {"/quality/compare?revision=C&what=jig&a=J-0043&b=J-0044",
			"No difference in first-pass yield between J-0043 and J-0044 is shown"},
		"a key that is not there": {"/quality/charts?revision=C&key=Q", "there is no key Q here"},
		"a wrong day":             {"/quality/yield?from=yesterday", "is no time"},
		"a wrong number":          {"/quality/limits?revision=C&limit=much", "is no number that can be tried"},
		"nothing chosen":          {"/quality/causes?jig=J-9999", "No run fits this choice"},
		"an average run length":   {"/quality/charts?revision=C&rules=limits", "one false alarm in 370 points on average"},
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
	for _, address := range []string{"/quality/spread", "/quality/charts", "/quality/capability", "/quality/limits"} {
		assert.False(t, strings.Contains(r.page(address), `<article class="fig`), address)
	}
}

// Limits are frozen as the page shows them, with a name and a reason, and hold
// from then on.
func TestFreezeLimits(t *testing.T) {
	r := newReader(t, 3000)
	address := "/quality/charts?revision=C&key=7"
	form := url.Values{"token": {formToken("token")}, "query": {"simulated=1&product=GCC-20&revision=C&key=7"}}
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
	form := url.Values{"token": {formToken("token")}, "shift": {"early"}, "day": {"2026-03-02"}, "simulated": {"1"},
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
func (r *reader) measured() gauge.Study {
	r.Helper()
	ctx := r.Context()
	recent, err := r.store.Runs.Recent(ctx, 20)
	require.NoError(r, err)
	i := slices.IndexFunc(recent, func(s runs.Summary) bool { return s.Outcome == sequence.Pass })
	pattern, err := r.store.Runs.Run(ctx, recent[i].ID)
	require.NoError(r, err)
	revision, err := r.store.Runs.Revision(ctx, pattern)
	require.NoError(r, err)
	study := gauge.Study{Across: gauge.AcrossOperators,
		Parts:      []string{"GCC-900001", "GCC-900002", "GCC-900003", "GCC-900004"},
		Appraisers: []string{"Ann", "Bob"}, Repeats: 3, Seed: 5, By: "Qiu"}
	order, err := stats.PlanStudy(4, 2, 3, 5)
	require.NoError(r, err)
	for _, at := range order {
		study.Plan = append(study.Plan, gauge.Planned{Part: at.Part, Appraiser: at.Operator, Repeat: at.Repeat})
	}
	study, err = r.store.Gauge.PlanStudy(ctx, revision, study)
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
		require.NoError(r, r.store.Gauge.AddReading(ctx, study.Number, place, id))
	}
	return study
}

// A study that is complete says where the spread comes from, and how far its
// verdicts can be trusted; its numbers are those of package stats.
func TestGaugeStudyOnItsPage(t *testing.T) {
	r := newReader(t, 20)
	study := r.measured()
	for _, lang := range languages {
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
	anova, err := stats.NewCrossed(y)
	require.NoError(t, err)
	want, err := anova.Reduced().Study(answers.Confidence)
	require.NoError(t, err)
	for _, says := range []string{
		fmt.Sprintf("%.1f %% of the variance seen; it tells %d groups", want.Component(stats.Gauge).Contribution,
			want.Categories),
		"4 of 4 parts had the same verdict every time", "Only one verdict was given", "All readings are taken",
	} {
		assert.True(t, strings.Contains(page, says), says)
	}
	assert.True(t, strings.Contains(r.page("/quality/gauge"), "24"))
	assert.True(t, strings.Contains(r.page("/quality/gauge?study=7"), "There is no study 7"))
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
	require.Equal(t, len(sections), len(links))
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
