package web_test

import (
	"maps"
	"net/http"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"
	"testing/fstest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web"
	"padjig/cmd/padjig/web/webtest"
	"padjig/results/answers/gauge"
	"padjig/results/linesim"
	"padjig/results/releases/releasestest"
	"padjig/results/report/returned"
	"padjig/results/returns"
	"padjig/results/studies"
	"padjig/sequence"
	"padjig/sequence/evidence"
	"padjig/sequence/wording"
)

// stays are words of pages that are the same in every language, or are what this test made.
var stays = func() map[string]bool {
	all := map[string]bool{}
	for _, words := range []string{
		"padjig devel UTC CET CEST GCC SIM jigsim linesim English Deutsch Vienna Europe/Vienna Nowhere/None no/longer/there.yaml",
		"ohm kohm Mohm Gohm mohm ms min mA uA nA pA mV kHz MHz MB KiB ppm",                      // units
		"Cp Cpk Pp Ppk CL UCL LCL EWMA CUSUM",                                                   // symbols of the standards
		"operator quality returns engineer test Nobody Second Person Rosa Qiu Abel Ann Bob Jon", // people of the tests
		"Ines Tomas Mirek Lea Pavel early late night",                                           // and of the line, with its shifts
		"HEAT VENT MIST SHADE LIGHT FAN CLR MENU OK SH TEMP DAY NIGHT UP DOWN",                  // keys and lines
		"Greenhouse climate controller keys silicone rubber",                                    // the title of the product
		"Esc Enter Tab Shift Ctrl",                                                              // keys of a keyboard
		"nine-side outside",                                                                     // names of rules, each of which stands in words beside its chart
		"lamp agreed with the customer three shifts tip worn through lot actuator",
		"the camera is broken", // written by one of the tests' people
	} {
		for word := range strings.FieldsSeq(words) {
			all[word] = true
		}
	}
	return all
}()

// english are the words of a text that no other language would have there: those of letters
// without accents, that are no names, numbers or units.
func english(text string) (words []string) {
	for _, one := range wordly.FindAllString(text, -1) {
		if bare.MatchString(one) && !digit.MatchString(one) && !stays[one] {
			words = append(words, one)
		}
	}
	return words
}

var (
	wordly = regexp.MustCompile(`[\pL\pN]+(?:[-_./:][\pL\pN]+)*`)
	mark   = regexp.MustCompile(`^\s*[a-z]{2}\s*$`) // of an event in a chart that has more than letters
	bare   = regexp.MustCompile(`[A-Za-z]{2}`)
	digit  = regexp.MustCompile(`\d`)
)

// foreign walks through pages in a language that nobody speaks, and keeps what is said in
// English there.
type foreign struct {
	*webtest.House
	found map[string]string // text and its place, and the address where it was seen first
	pages map[string]bool   // by the names of their templates
	seen  map[string]int    // addresses by their sort
}

func abroad(h *webtest.House) *foreign {
	h.Texts, h.Lang = webtest.Pseudo(h), webtest.PseudoTag
	h.Serve()
	return &foreign{h, map[string]string{}, map[string]bool{}, map[string]int{}}
}

// look reads one page, and gives the links on it.
func (f *foreign) look(role, address string) (links []string) {
	f.Helper()
	w := webtest.Fetch(f.T, f.Handler, webtest.Ask{Path: address, Role: role, Header: map[string]string{"Accept-Language": f.Lang}})
	if to := w.Header().Get("Location"); to != "" {
		return []string{to}
	}
	if !strings.HasPrefix(w.Header().Get("Content-Type"), "text/html") {
		return nil
	}
	doc, err := html.Parse(strings.NewReader(w.Body.String()))
	require.NoError(f, err)
	if attribute(first(doc, atom.Body), "data-page") == "" { // a document to send away, which says that it is in English
		assert.Equal(f, wording.First, attribute(first(doc, atom.Html), "lang"), address)
		return nil
	}
	f.read(doc, role+" "+address)
	for n := range doc.Descendants() {
		if n.DataAtom == atom.A {
			links = append(links, attribute(n, "href"))
		}
	}
	return links
}

func (f *foreign) read(doc *html.Node, where string) {
	f.Helper()
	if name := attribute(first(doc, atom.Body), "data-page"); name != "" {
		f.pages[name] = true
		assert.Equal(f, webtest.PseudoTag, attribute(first(doc, atom.Html), "lang"), where)
	}
	for n := range doc.Descendants() {
		if n.Type == html.TextNode {
			f.keep(n.Data, n.Parent, where)
		}
		for _, a := range n.Attr {
			if slices.Contains([]string{"title", "alt", "aria-label", "placeholder"}, a.Key) || strings.HasPrefix(a.Key, "data-") && strings.Contains(a.Val, " ") ||
				a.Key == "value" && slices.Contains([]string{"submit", "button", "reset"}, attribute(n, "type")) {
				f.keep(a.Val, n, where)
			}
		}
	}
}

// keep notes the English of a text, unless it is data.
func (f *foreign) keep(text string, at *html.Node, where string) {
	if len(english(text)) == 0 || mark.MatchString(text) {
		return
	}
	place := at.Data
	for n := at; n != nil; n = n.Parent {
		switch {
		case slices.Contains([]atom.Atom{atom.Script, atom.Style, atom.Pre, atom.Textarea, atom.Code, atom.Noscript}, n.DataAtom):
			return // what is written there is for programs
		case attribute(n, "lang") != "" && n.DataAtom != atom.Html:
			place += " lang=" + attribute(n, "lang")
		case n != at && attribute(n, "class") != "":
			place = n.Data + "." + strings.ReplaceAll(attribute(n, "class"), " ", ".") + " " + place
		}
	}
	key := strings.Join(strings.Fields(text), " ")
	if strings.Contains(place, "lang=") {
		key += "   " + place[strings.Index(place, "lang="):]
	}
	if f.found[key] == "" {
		f.found[key] = where
	}
}

// walk follows the links that a role sees, some of each sort.
func (f *foreign) walk(role string, most int, from ...string) {
	f.Helper()
	seen, many := map[string]bool{}, map[string]int{}
	for queue := from; len(queue) > 0; queue = queue[1:] {
		u, err := url.Parse(queue[0])
		if err != nil || !strings.HasPrefix(u.Path, "/") || strings.HasSuffix(u.Path, "/live") || strings.HasPrefix(u.Path, "/static") || u.Query().Has("csv") {
			continue
		}
		u.Fragment = ""
		sort := variable.ReplaceAllString(u.Path, "*")
		if seen[u.String()] || many[sort] >= most {
			continue
		}
		seen[u.String()] = true
		many[sort]++
		queue = append(queue, f.look(role, u.String())...)
	}
}

var variable = regexp.MustCompile(`[^/]*\d[^/]*`)

// report names what was said in English; where it was all that there is to see, every reason
// for that has to be met.
func (f *foreign) report(reasons map[string]string, all bool) {
	f.Helper()
	met := map[string]bool{}
	for _, text := range slices.Sorted(maps.Keys(f.found)) {
		known := false
		for pattern := range reasons {
			if regexp.MustCompile(pattern).MatchString(text) {
				known, met[pattern] = true, true
			}
		}
		if !known {
			f.Errorf("%q at %s", text, f.found[text])
		}
	}
	for pattern := range reasons {
		assert.True(f, met[pattern] || !all, "%s is listed and was not met", pattern)
	}
}

// inEnglish is what stays English on a page in another language, as patterns, with why.
var inEnglish = map[string]string{
	`^(hello|identity|pending|refused|results|routine|state|status|stop)$`: "names of frames in the protocol of jigs",
	`^simulated jig$`:                 "the model of a jig, as it states it",
	`limits\.closed_ohm\[2\] from `:   "fields of the canonical definition that differ",
	`^distribution-free: .* lang=en$`: "an error of the statistics beside its row",
}

// lived gives a house what a line leaves behind: a week of production, units that failed and
// came back, calibrations, a study, a draft.
func lived(h *webtest.House) {
	h.Helper()
	line := linesim.Line{Product: h.Product, Runs: 300, Seed: 3, Begin: time.Now().Add(-10 * 24 * time.Hour), Zone: "Europe/Vienna"}
	entries, err := line.Entries(h.Context())
	require.NoError(h, err)
	require.NoError(h, h.Store.ImportSimulated(h.Context(), line.Seed, entries, nil))
	h.Calibrated(2)
	require.NoError(h, releasestest.Release(h.Context(), h.Store, h.Text))
	study := studies.Study{Across: studies.AcrossJigs, Parts: []string{h.Unit(51), h.Unit(52)}, Appraisers: []string{"SIM-0001", "SIM-0002"}, Repeats: 2, By: "Qiu", Seed: 5}
	study.Plan, err = gauge.PlanStudy(2, 2, 2, 5)
	require.NoError(h, err)
	_, err = h.Store.Studies.PlanStudy(h.Context(), station.RevisionOf(h.Product), study)
	require.NoError(h, err)
	h.Test(h.Unit(30))
	h.Put("key 7 open; line R2 adds 300 ohm")
	h.Test(h.Unit(31))
	c := h.Came(h.Unit(31))
	h.PutAway()
	for _, purpose := range []sequence.Purpose{sequence.FirstPress, sequence.ReturnTest} {
		h.Stage(c, purpose)
	}
	run, err := h.Store.Runs.Unit(h.Context(), h.Unit(31))
	require.NoError(h, err)
	d, err := evidence.Diagnose(run[len(run)-1].Run, h.Product)
	require.NoError(h, err)
	causes, err := returned.Snapshot(d)
	require.NoError(h, err)
	require.NoError(h, h.Store.Returns.Diagnosed(h.Context(), c, returns.Diagnosis{Run: run[len(run)-1].Seq, Causes: causes}))
	h.Came(h.Unit(30))
	triedDraft(h)
}

// No page says anything that is not in the catalogue: in a language made from it, with an accent
// on every letter, nothing without accents is left but names, numbers and units.
func TestNoEnglishAbroad(t *testing.T) {
	webtest.At(t, 2, "", func(h *webtest.House) {
		lived(h)
		f := abroad(h)
		for _, role := range append([]account.Role{""}, account.Roles...) {
			f.walk(string(role), 3, "/", "/door", "/help", "/codes", "/accounts", "/shifts", "/lots", "/new-product", "/products/GCC-20/edit", "/products/GCC-20/try",
				"/quality/sampling", "/quality/retest", "/nowhere", "/find?part=1", "/jigs/1/do/zero", "/jigs/1/do/verify", "/jigs/1/do/references",
				"/returns/check?case=1")
		}
		for address, form := range map[string][]string{"/accounts/badge": {"name", "operator"}} {
			f.read(parsed(h, h.Send("engineer", address, "text/html", form...)), address)
		}
		for _, p := range h.Site.All().Pages {
			assert.True(h, f.pages[p.Name] || p.Name == "error", "nobody came to the page %s", p.Name)
		}
		f.report(inEnglish, true)
	})
}

// Nothing that is refused is refused in English.
func TestNothingIsRefusedInEnglish(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		h.Test(h.Unit(30))
		h.Came(h.Unit(30))
		f := abroad(h)
		for name, c := range badForms(h, h.Unit(30)) {
			w := submitted(h, c.role, c.from, c.to, c.form...)
			require.GreaterOrEqual(h, w.Code, http.StatusBadRequest, name)
			f.read(parsed(h, w), name)
		}
		f.report(inEnglish, false)
	})
}

// What a lane shows of whatever may become of a unit is in the language of who looks.
func TestLanesAbroad(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		f := abroad(h)
		look := func() { f.walk("operator", 2, "/lane/1", "/fails") }
		look()
		for n, faults := range []string{
			"", "key 7 open", "key 7 stuck 80 ohm", "key 7 high 640 ohm", "key 7 releases late 80 ms", "lines R3 R4 shorted 2 ohm", "lines R3 C1 leak 800 kohm",
			"line R3 broken between 7 and 8", "tail shifted 1", "tail reversed", "pins 3 5 swapped", "channel 4 dirty open", "actuator of key 7 stuck", "jig emergency",
		} {
			h.Put(faults)
			h.Test(h.Unit(60 + n))
			look()
			h.PutAway()
			h.Lanes[0].Clear()
		}
		h.Put("")
		for _, text := range []string{h.Unit(60), "GCC-0", "PJC0FLY", h.Unit(70)} {
			h.Send("operator", "/scan", "application/json", "text", text, "lane", "1")
			time.Sleep(time.Minute)
			look()
		}
		h.Came(h.Unit(71))
		h.Test(h.Unit(71))
		look()
		h.Ports.Unplug("sim/SIM-0001")
		h.Until(1, func(s station.State) bool { return !s.Jig.Present })
		look()
		f.report(inEnglish, false)
	})
}

// A language is there as soon as one file of it is: the pages offer it by its own name, say what
// it says, and the rest in English. A text that is there twice is a mistake at the start.
func TestAFileMakesALanguage(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		h.Texts = fstest.MapFS{"text/little.fr.json": {Data: []byte(`{"frame.language": "Français", "title.lanes": "Essais", "number.point": ","}`)}}
		h.Lang = "fr-CH, de;q=0.5"
		h.Serve()
		shown := h.Page("engineer", "/jigs")
		assert.Contains(h, shown, `<html lang="fr"`)
		assert.Contains(h, shown, `lang="fr" aria-pressed="true">Français<`)
		assert.Contains(h, shown, `lang="de" aria-pressed="false">Deutsch<`)
		assert.Contains(h, h.Page("engineer", "/help"), "Essais")
		english := texts(t)[wording.First]
		assert.Contains(h, shown, english["title.jigs"], "what it lacks")
		h.Texts = fstest.MapFS{"text/nameless.fr.json": {Data: []byte(`{"title.lanes": "Essais"}`)}}
		h.Serve()
		assert.Contains(h, h.Page("engineer", "/jigs"), `lang="fr" aria-pressed="true">fr<`, "a language that does not say its name goes by its tag")
		_, err := web.Texts(fstest.MapFS{"text/again.en.json": {Data: []byte(`{"title.lanes": "Lanes"}`)}})
		assert.ErrorContains(h, err, `"title.lanes" is there twice`)
	})
}
