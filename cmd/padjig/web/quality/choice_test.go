package quality_test

import (
	"encoding/json"
	"html"
	"net/url"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web/quality"
	"padjig/sequence/wording"
)

// plain are the addresses of all pages about runs, with nothing chosen.
func plain() (all []string) {
	for _, p := range quality.Set(nil, nil).Pages {
		if !slices.Contains([]string{"/quality/spread", "/quality/sampling", "/quality/retest", "/quality/gauge", "/quality/stops"}, p.Path) {
			all = append(all, p.Path)
		}
	}
	return all
}

// Where there are runs no page is empty for want of a choice, although two revisions judge
// by different limits: it is about the newest, and the last days.
func TestNoPageIsEmptyByDefault(t *testing.T) {
	r := newReader(t, 3000)
	for _, address := range plain() {
		assert.True(t, strings.Contains(r.page(address), `<article class="fig`), address)
	}
}

// A choice of a time without a unit says when the last ones were, and offers them.
func TestATimeWithoutUnitsOffersTheLast(t *testing.T) {
	r := newReader(t, 1500)
	for _, r.lang = range wording.Languages {
		page := html.UnescapeString(r.page("/quality/yield?span=today&jig=J-0042&by=shift"))
		link := regexp.MustCompile(`<a href="(/quality/yield\?[^"]*from=2026-02-24[^"]*)"`).FindStringSubmatch(page)
		require.NotNil(t, link, page)
		at, err := url.Parse(link[1])
		require.NoError(t, err)
		assert.Equal(t, url.Values{"jig": {"J-0042"}, "by": {"shift"}, "from": {"2026-02-24"}, "to": {"2026-03-02"}, "product": {"GCC-20"}, "simulated": {"1"}},
			at.Query(), "and keeps the rest")
		assert.True(t, strings.Contains(r.page(link[1]), `<article class="fig`), `<article class="fig`)
	}
}

var (
	chips   = regexp.MustCompile(`<li class="chip">.*?</li>`)
	offLink = regexp.MustCompile(`<a href="([^"]*)" aria-label="([^"]*)"`)
)

// chipsOf are what a page shows as chosen, and the addresses that take each off.
func chipsOf(page string) map[string]url.Values {
	out := map[string]url.Values{}
	for _, chip := range chips.FindAllString(page, -1) {
		text := strings.Join(strings.Fields(regexp.MustCompile(`<[^>]*>`).ReplaceAllString(chip, " ")), " ")
		link := offLink.FindStringSubmatch(chip)
		if link == nil {
			out[text] = nil
			continue
		}
		at, _ := url.Parse(html.UnescapeString(link[1]))
		out[strings.TrimSuffix(text, " ×")] = at.Query()
	}
	return out
}

// Every part of a choice is a chip that one link takes off, with all else kept; what is
// usual can be opened.
func TestChips(t *testing.T) {
	r := newReader(t, 3000)
	got := chipsOf(r.page("/quality/yield?revision=C&jig=J-0042&jig=J-0043&from=2026-03-02&to=2026-03-02&by=shift&shift=early&operator=Ines&lot=M-2612"))
	all := url.Values{"revision": {"C"}, "jig": {"J-0042", "J-0043"}, "from": {"2026-03-02"}, "to": {"2026-03-02"}, "by": {"shift"}, "shift": {"early"},
		"operator": {"Ines"}, "lot": {"M-2612"}, "product": {"GCC-20"}, "simulated": {"1"}}
	but := func(change url.Values) url.Values {
		out := url.Values{}
		for name, v := range all {
			out[name] = v
		}
		for name, v := range change {
			if out[name] = v; v == nil {
				delete(out, name)
			}
		}
		return out
	}
	assert.Equal(t, map[string]url.Values{
		"SIMULATED": nil, "Product GCC-20": nil, // there are no others
		"Revision C": but(url.Values{"revision": {"all"}}), "Time 2026-03-02": but(url.Values{"from": nil, "to": nil, "span": {"all"}}),
		"Jig J-0042": but(url.Values{"jig": {"J-0043"}}), "Jig J-0043": but(url.Values{"jig": {"J-0042"}}),
		"Shift early": but(url.Values{"shift": nil}), "Operator Ines": but(url.Values{"operator": nil}), "Lot M-2612": but(url.Values{"lot": nil}),
	}, got)

	usual := chipsOf(r.page("/quality/yield"))
	assert.Contains(t, usual, "Revision D")
	assert.Contains(t, usual, "Time 2026-02-24 to 2026-03-02")
	open := r.page("/quality/yield?revision=all&span=all")
	assert.Equal(t, map[string]url.Values{"SIMULATED": nil, "Product GCC-20": nil}, chipsOf(open))
	assert.True(t, strings.Contains(open, "Revisions C, D judge by different limits"), "Revisions C, D judge by different limits")
}

// The menu puts on what is not there, and takes off what is, at once.
func TestMenuOfTheBar(t *testing.T) {
	r := newReader(t, 3000)
	page := html.UnescapeString(r.page("/quality/causes?revision=C&cause=place"))
	for text, want := range map[string]string{
		"J-0041":       "cause=place&from=2026-02-24&jig=J-0041&product=GCC-20&revision=C&simulated=1&to=2026-03-02",
		"D":            "cause=place&from=2026-02-24&product=GCC-20&revision=C&revision=D&simulated=1&to=2026-03-02",
		"C":            "cause=place&from=2026-02-24&product=GCC-20&revision=all&simulated=1&to=2026-03-02",
		"today":        "cause=place&product=GCC-20&revision=C&simulated=1&span=today",
		"last 30 days": "cause=place&product=GCC-20&revision=C&simulated=1&span=30d",
		"all times":    "cause=place&product=GCC-20&revision=C&simulated=1&span=all",
	} {
		assert.True(t, regexp.MustCompile(`<a href="/quality/causes\?`+regexp.QuoteMeta(want)+`"[^>]*>`+text+`</a>`).MatchString(page), `<a href="/quality/causes\?`+regexp.QuoteMeta(want)+`"[^>]*>`+text+`</a>`)
	}
	form := regexp.MustCompile(`(?s)<form method="get" action="/quality/causes">.*?</form>`).FindString(page)
	for _, field := range []string{`name="revision" value="C"`, `name="cause" value="place"`, `name="simulated" value="1"`, `name="from" type="date" value="2026-02-24"`} {
		assert.Contains(t, form, field)
	}
	assert.NotContains(t, form, `name="span"`)
}

// Whatever is linked to from the overview is about the same runs.
func TestLinksOfTheOverviewKeepTheChoice(t *testing.T) {
	r := newReader(t, 12000)
	page := html.UnescapeString(r.page("/quality?revision=C&jig=J-0042&jig=J-0043&from=2026-03-02&lot=M-2612"))
	_, page, _ = strings.Cut(page, `<div class="tiles">`)
	links := regexp.MustCompile(`href="(/quality/[^"]*)"`).FindAllStringSubmatch(page, -1)
	require.GreaterOrEqual(t, len(links), 20)
	for _, link := range links {
		at, err := url.Parse(link[1])
		require.NoError(t, err)
		q := at.Query()
		assert.Equal(t, [][]string{{"J-0042", "J-0043"}, {"2026-03-02"}, {"1"}, {"M-2612"}}, [][]string{q["jig"], q["from"], q["simulated"], q["lot"]}, link[1])
		assert.NotEmpty(t, q.Get("revision"), link[1])
	}
}

// A table is sorted by the address, numbers as numbers, what is none last; the page says how,
// keeps it among its own, and each head turns it round.
func TestTablesAreSortedByTheAddress(t *testing.T) {
	r := newReader(t, 3000)
	names := func(address string) (out []string) {
		var view struct {
			Figures []struct {
				Table *struct {
					Name string
					Rows []map[string]any
				}
			}
		}
		require.NoError(t, json.Unmarshal(r.ask("GET", address, nil, "application/json").Body.Bytes(), &view), address)
		for _, f := range view.Figures {
			if f.Table != nil && f.Table.Name == "yield" {
				for _, row := range f.Table.Rows {
					out = append(out, strconv.Itoa(int(row["units"].(float64))))
				}
			}
		}
		return out
	}
	const address = "/quality/yield?revision=C&by=operator"
	up, down, asIs := names(address+"&sort=yield.1"), names(address+"&sort=-yield.1"), names(address)
	sorted := slices.Clone(asIs)
	slices.SortFunc(sorted, func(a, b string) int {
		x, _ := strconv.Atoi(a)
		y, _ := strconv.Atoi(b)
		return x - y
	})
	assert.Equal(t, sorted, up)
	slices.Reverse(sorted)
	assert.Equal(t, sorted, down)
	page := r.page(address + "&sort=yield.1")
	assert.True(t, regexp.MustCompile(`<th scope="col" class="num" aria-sort="ascending"><a href="[^"]*sort=-yield\.1[^"]*#t-yield"`).MatchString(page), `<th scope="col" class="num" aria-sort="ascending"><a href="[^"]*sort=-yield\.1[^"]*#t-yield"`)
	assert.True(t, strings.Contains(r.page(address+"&sort=-yield.1"), `aria-sort="descending"`), `aria-sort="descending"`)
	for _, odd := range []string{"yield.99", "yield.-1", "yield", "-", "other.1", "yield.x"} {
		assert.False(t, strings.Contains(r.page(address+"&sort="+odd), "aria-sort"), odd)
	}
}

// A time that is meant is said with its days and by whose clock, also where it is the usual one.
func TestTimesAreSaidWithTheirDays(t *testing.T) {
	r := newReader(t, 3000)
	about := regexp.MustCompile(`<p class="about">([^<]*)`)
	today := time.Now().In(time.UTC)
	for address, says := range map[string]string{
		"/quality/yield":                     "2026-02-24 to 2026-03-02 by the clock of UTC",
		"/quality/yield?from=2026-03-02":     "from 2026-03-02 by the clock of UTC",
		"/quality/yield?span=9000d":          "last 9000 days: " + today.AddDate(0, 0, -8999).Format("2006"),
		"/quality/yield?span=all&jig=J-0042": "all times",
	} {
		said := html.UnescapeString(about.FindStringSubmatch(r.page(address))[1])
		assert.Contains(t, said, says, address)
	}
	assert.Regexp(t, `last 9000 days: \d{4}-\d\d-\d\d to `+today.Format("2006"), html.UnescapeString(r.page("/quality/yield?span=9000d")))
}
