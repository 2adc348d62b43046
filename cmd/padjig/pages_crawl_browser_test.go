package main

import (
	"crypto/sha256"
	"encoding/json"
	"flag"
	"fmt"
	"maps"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/chromedp/chromedp"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
)

var wholeCrawl = flag.Bool("wholecrawl", false, "look at every page as every role in every language, size and theme")

// looks are the ways a page may be looked at; a covering choice takes some of them.
var (
	lookLanguages = []string{"en", "de"}
	lookSizes     = []string{"small", "laptop", "phone"}
	lookThemes    = []string{"light", "dark"}
	lookTexts     = []string{"normal", "large", "largest"}
)

// leastLooks is how often each page is looked at, by whoever sees it: at each size once.
const leastLooks = 3

// pageLook is one way to look at a page.
type pageLook struct{ language, size, theme, text string }

func (l pageLook) String() string {
	return l.language + " " + l.size + " " + l.theme + " " + l.text + " text"
}

// lookAt is the nth look at a page that is the atth of all: three in a row have every size of
// screen and of text, both languages and both themes. Which text meets which screen is another
// with every third page.
func lookAt(at, n int) pageLook {
	return pageLook{lookLanguages[(at+n)%2], lookSizes[(at+n)%3], lookThemes[(at+(n+1)/2)%2], lookTexts[(2*(at+n)+at/3)%3]}
}

// everyLook is every way there is.
func everyLook() (all []pageLook) {
	for _, language := range lookLanguages {
		for _, size := range lookSizes {
			for _, theme := range lookThemes {
				for _, text := range lookTexts {
					all = append(all, pageLook{language, size, theme, text})
				}
			}
		}
	}
	return all
}

// Three looks in a row cover what a page is looked at for, wherever they begin.
func TestThreeLooksCoverAPage(t *testing.T) {
	t.Parallel()
	meet := map[string]bool{}
	for at := range 12 {
		seen := map[string]bool{}
		for n := range leastLooks {
			l := lookAt(at, n)
			seen[l.language], seen[l.size], seen[l.theme], seen[l.text+" text"] = true, true, true, true
			meet[l.size+" "+l.text] = true
		}
		assert.Len(t, seen, len(lookLanguages)+len(lookSizes)+len(lookThemes)+len(lookTexts), "from %d", at)
	}
	assert.Len(t, meet, len(lookSizes)*len(lookTexts), "a text that is too large for a screen is met")
	assert.Len(t, everyLook(), 36)
}

// Every page, as everybody who sees it, in a real browser: no page of an error, no key in place
// of words, nothing said to the console, nothing cut off or sticking out, nothing that jumps
// once it is there, and nothing that keeps anybody from using it - with every fold and every
// dialog open too.
func TestEveryPageInABrowser(t *testing.T) {
	t.Parallel()
	b := makeBed(t, bedding{jigs: 2})
	b.aLittleOfEverything(t)
	tour := &tour{bed: b, keys: catalogueKeys(t), at: map[string]int{}, looked: map[string]int{}, last: map[string]visitor{}, found: map[string][]string{}}
	began := time.Now()
	for _, role := range append([]account.Role{""}, account.Roles...) {
		tour.walk(role)
	}
	tour.again()
	t.Logf("%d looks at %d pages in %v", tour.looks, len(tour.looked), time.Since(began).Round(time.Second))
	require.Greater(t, len(tour.looked), 35, "it came round")
	for _, what := range slices.Sorted(maps.Keys(tour.found)) {
		assert.Fail(t, what, "in %d looks, first as %s", len(tour.found[what]), tour.found[what][0])
	}
}

// visitor is somebody at an address.
type visitor struct {
	role    account.Role
	address string
}

// tour is one tab that goes through the station.
type tour struct {
	*bed
	page   *tab
	said   *console
	heard  int       // how much of it was read
	opened time.Time // the tab
	keys   map[string]bool
	at     map[string]int      // the number of each page, in the order they were met
	looked map[string]int      // how often at each page
	last   map[string]visitor  // who saw it last
	found  map[string][]string // what is wrong, and where
	looks  int
}

// named are the parts of an address that tell pages of one sort apart.
var named = regexp.MustCompile(`\d`)

// sortOf is the page an address leads to, whatever unit, jig or case it is about.
func sortOf(address string) string {
	path, _, _ := strings.Cut(address, "?")
	parts := strings.Split(path, "/")
	for i, p := range parts {
		if named.MatchString(p) {
			parts[i] = "*"
		}
	}
	return strings.Join(parts, "/")
}

// fresh takes another tab before one is as old as a tab gets.
func (w *tour) fresh() {
	if w.page != nil && time.Since(w.opened) < lifetime/2 {
		return
	}
	w.page, w.opened, w.heard = w.bed.look("laptop", "/door"), time.Now(), 0
	w.said = w.page.console()
}

// as is somebody of a role, empty for nobody.
func (w *tour) as(role account.Role) *crawler {
	c := &crawler{TB: w.TB, bed: w.bed, role: role, lang: "en", token: "tour-" + string(role)}
	if role == "" {
		c.token = ""
	} else if open, err := w.store.Accounts.Session(w.Context(), sha256.Sum256([]byte(c.token))); assert.NoError(w, err) && open == nil {
		require.NoError(w, w.store.Accounts.StartSession(w.Context(), sha256.Sum256([]byte(c.token)), names[role], "password"))
	}
	return c
}

// walk follows every link as somebody of a role.
func (w *tour) walk(role account.Role) {
	c := w.as(role)
	seen, many := map[string]bool{}, map[string]int{}
	most := 1
	if *wholeCrawl {
		most = mostOfAPath
	}
	queue := []string{"/"}
	for len(queue) > 0 {
		address := queue[0]
		queue = queue[1:]
		sort := sortOf(address)
		if seen[address] || many[sort] >= most {
			continue
		}
		seen[address] = true
		answer := c.ask("GET", address)
		if to := answer.Header().Get("Location"); to != "" {
			queue = append(queue, to)
			continue
		}
		many[sort]++
		if answer.Code >= http.StatusBadRequest {
			w.finds(sort, fmt.Sprint("an answer of ", answer.Code), visitor{role, address}, pageLook{})
			continue
		}
		if !strings.HasPrefix(answer.Header().Get("Content-Type"), "text/html") {
			continue
		}
		if _, met := w.at[sort]; !met {
			w.at[sort] = len(w.at)
		}
		looks := []pageLook{lookAt(w.at[sort], w.looked[sort])}
		if *wholeCrawl {
			looks = everyLook()
		}
		for _, l := range looks {
			queue = append(queue, w.look(sort, visitor{role, address}, l)...)
		}
	}
}

// again looks at the pages that few see until they have been looked at in every way.
func (w *tour) again() {
	for _, sort := range slices.Sorted(maps.Keys(w.looked)) {
		for w.looked[sort] < leastLooks {
			w.look(sort, w.last[sort], lookAt(w.at[sort], w.looked[sort]))
		}
	}
}

// finds keeps what is wrong with a page once, and where it was seen.
func (w *tour) finds(sort, what string, who visitor, l pageLook) {
	what = sort + ": " + what
	if w.found[what] == nil {
		w.Logf("%s (%q at %s, %s)", what, who.role, who.address, l)
	}
	w.found[what] = append(w.found[what], fmt.Sprintf("%q at %s, %s", who.role, who.address, l))
}

// seenPage is what the page says of itself.
type seenPage struct {
	Wrong, Links, Texts []string
	Shift               float64
	Moved               []string
}

// look looks at one page in one way and returns where it leads.
func (w *tour) look(sort string, who visitor, l pageLook) []string {
	w.looks++
	w.looked[sort]++
	w.last[sort] = who
	w.fresh()
	gone := map[bool]string{true: "; max-age=0"}[who.role == ""]
	w.page.eval(fmt.Sprintf("document.cookie = 'padjig=tour-%s; path=/%s', document.cookie = 'language=%s; path=/', document.cookie = 'theme=%s; path=/', document.cookie = 'text=%s; path=/'",
		who.role, gone, l.language, l.theme, l.text))
	w.page.resize(l.size)
	_, err := chromedp.Run(w.page.ctx, chromedp.Navigate(strings.TrimSuffix(w.address, "/")+who.address))
	require.NoError(w, err, who.address)
	w.page.await(settled)
	asked, err := chromedp.Run(w.page.ctx, chromedp.Evaluate[string](looking+"lookedAt()", chromedp.EvalAwaitPromise))
	require.NoError(w, err, who.address)
	var page seenPage
	require.NoError(w, json.Unmarshal([]byte(asked), &page))
	for _, wrong := range page.Wrong {
		w.finds(sort, wrong, who, l)
	}
	for _, text := range page.Texts {
		if w.keys[text] || strings.Contains(text, "⟦") || places.MatchString(text) {
			w.finds(sort, "a text that is none: "+text, who, l)
		}
	}
	if page.Shift > mostShift {
		w.finds(sort, "it jumps once it is there: "+strings.Join(page.Moved, ", "), who, l)
	}
	for _, violation := range strings.Split(strings.ReplaceAll(w.page.violations(), "\n  ", " "), "\n") {
		if violation != "" {
			w.finds(sort, strings.Join(strings.Fields(violation), " "), who, l)
		}
	}
	all := w.said.all()
	for _, said := range all[w.heard:] {
		w.finds(sort, said, who, l)
	}
	w.heard = len(all)
	return page.Links
}

// settled is a page that is whole and listens, as long as it has scripts: one to print has none.
const settled = `document.readyState === 'complete' && (!document.querySelector('script[src*="station"]') ||
  globalThis.padjigLags && (!document.querySelector('[data-live]') || document.body.dataset.live === 'on'))`

// mostShift is how much of a page may move once it is there, as browsers count it: the share
// of the screen times how far. What people notice begins at about 0.1 (web.dev, Cumulative Layout Shift).
const mostShift = 0.02

// looking is what the browser does to look at a page.
const looking = `
globalThis.lookedAt = async () => {
  const wrong = new Set(), texts = new Set(), root = document.documentElement;
  const name = e => e.tagName.toLowerCase() + (e.id ? '#' + e.id : '') + [...e.classList].map(c => '.' + c).join('') +
    ' in ' + (e.parentElement?.closest('[id],[class]')?.tagName.toLowerCase() ?? '') + [...(e.parentElement?.closest('[class]')?.classList ?? [])].map(c => '.' + c).join('');
  let shift = 0;
  const moved = new Set();
  const add = list => { for (const e of list) if (!e.hadRecentInput) {
    shift += e.value;
    for (const s of e.sources) moved.add(s.node?.nodeType === 1 ? name(s.node) : s.node?.parentElement ? name(s.node.parentElement) : 'what is gone');
  } };
  const watch = new PerformanceObserver(list => add(list.getEntries()));
  watch.observe({type: 'layout-shift', buffered: true});
  await new Promise(done => setTimeout(done));
  add(watch.takeRecords());
  watch.disconnect();
  const scrolls = e => { for (let p = e.parentElement; p && p !== document.body; p = p.parentElement) if (getComputedStyle(p).overflowX !== 'visible') return true; return false; };
  const wide = root.clientWidth; // a phone's innerWidth grows with what sticks out
  const whole = when => {
    if (root.scrollWidth > wide) wrong.add('the page scrolls sideways' + when);
    if (getComputedStyle(document.body).overflowY === 'hidden' && root.scrollHeight > innerHeight + 1) wrong.add('a page that does not scroll is cut off below' + when);
    for (const e of document.body.querySelectorAll('*')) {
      if (!e.checkVisibility({visibilityProperty: true}) || e.closest('svg') !== null && e.tagName !== 'svg') continue;
      const s = getComputedStyle(e), r = e.getBoundingClientRect();
      if (r.width < 2 || r.height < 2) continue; // for screen readers only
      if (r.right > wide + 1 && s.position !== 'fixed' && !scrolls(e)) wrong.add(name(e) + ' sticks out at the right' + when);
      const told = [...e.childNodes].some(n => n.nodeType === 3 && n.data.trim());
      if (!told || e.closest('[aria-hidden=true]')) continue; // what marks lines below an editor scrolls with it
      if (/hidden|clip/.test(s.overflowX) && e.scrollWidth > e.clientWidth + 1) wrong.add(name(e) + ' is cut off at the side' + when);
      if (/hidden|clip/.test(s.overflowY) && e.scrollHeight > e.clientHeight + 3) wrong.add(name(e) + ' is cut off below' + when);
    }
  };
  whole('');
  for (const drop of document.querySelectorAll('details.drop:not([open])')) { drop.open = true; whole(', with ' + name(drop) + ' open'); drop.open = false; }
  for (const dialog of document.querySelectorAll('dialog:not([open])')) { dialog.showModal(); whole(', with ' + name(dialog) + ' open'); dialog.close(); }
  for (const fold of document.querySelectorAll('details:not(.drop)')) fold.open = true;
  whole(', with all folds open');
  const walker = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT, n =>
    n.parentElement.closest('script, style, pre, textarea') ? NodeFilter.FILTER_REJECT : NodeFilter.FILTER_ACCEPT);
  while (walker.nextNode()) texts.add(walker.currentNode.data.trim());
  for (const e of document.body.querySelectorAll('[aria-label], [title], [placeholder], [alt]'))
    for (const a of ['aria-label', 'title', 'placeholder', 'alt']) texts.add(e.getAttribute(a)?.trim() ?? '');
  texts.delete('');
  const links = new Set(), here = a => { const u = new URL(a, location); if (u.origin === location.origin) links.add(u.pathname + u.search); };
  for (const a of document.querySelectorAll('a[href]')) here(a.getAttribute('href'));
  for (const f of document.querySelectorAll('form[method=get]')) here(f.getAttribute('action') + '?' + new URLSearchParams(new FormData(f)));
  return JSON.stringify({Wrong: [...wrong], Links: [...links], Texts: [...texts], Shift: shift, Moved: [...moved]});
};`
