package web_test

import (
	"bytes"
	"encoding/json"
	"net/http"
	"net/http/httptest"
	"net/url"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/net/html"
	"golang.org/x/net/html/atom"

	"padjig/cmd/padjig/web/door"
	"padjig/cmd/padjig/web/page"
	"padjig/cmd/padjig/web/products"
	"padjig/cmd/padjig/web/webtest"
)

// refusedForm is a form of the site sent badly by somebody who may send it.
type refusedForm struct {
	role, from, to string
	form           []string // pairs
	field          string   // that the message stands at; empty: at the head of the form
}

// badForms are one for each action that can be refused, by what is wrong with it.
func badForms(h *webtest.House, unit string) map[string]refusedForm {
	life := "/unit?serial=" + url.QueryEscape(unit)
	tried := triedDraft(h)
	return map[string]refusedForm{
		"a wrong password":       {"", "/door", "/door", []string{"name", "Ines", "password", "wrong one"}, ""},
		"a unit nobody can find": {"operator", "/fails", "/scan", []string{"text", "GCC-1"}, ""},
		"no serial number":       {"returns", "/returns", "/returns", []string{"serial", " "}, "serial"},
		"a part that is none":    {"engineer", "/jigs/1", "/jigs/1/wear", []string{"part", "lamp", "note", "it flickers"}, "part"},
		"limits the wrong way":   {"engineer", "/jigs/1", "/jigs/1/wear", []string{"part", "adapter", "warn", "9", "block", "3"}, "block"},
		"a reason that is too short": {"engineer", "/products/GCC-20/try", "/products/GCC-20/release",
			[]string{"hash", tried, "reason", "so"}, "reason"},
		"no release to go back to": {"engineer", "/products/GCC-20/try", "/products/GCC-20/release",
			[]string{"hash", tried, "back", "99", "reason", "as it was before"}, ""},
		"a draft from nothing":      {"engineer", "/products/GCC-20/edit", "/products/GCC-20/again", []string{"from", "x"}, ""},
		"a product without a code":  {"engineer", "/new-product", "/new-product", []string{"code", " ", "from", "template"}, "code"},
		"lots at no lane":           {"operator", "/lots", "/lots", []string{"lane", "7"}, ""},
		"a shift plan without zone": {"quality", "/shifts", "/shifts", []string{"zone", "Nowhere/None", "reason", "x"}, "zone"},
		"an account without a name": {"engineer", "/accounts", "/accounts/add", []string{"name", " ", "role", "operator", "way", "badge"}, "name"},
		"a role of nobody":          {"engineer", "/accounts", "/accounts/role", []string{"name", "Nobody", "role", "operator"}, ""},
		"a password of nobody":      {"engineer", "/accounts", "/accounts/password", []string{"name", "Nobody", "password", "x", "again", "y"}, "again"},
		"a badge of nobody":         {"engineer", "/accounts", "/accounts/badge", []string{"name", "Nobody"}, ""},
		"a session that is none":    {"engineer", "/accounts", "/accounts/end", []string{"session", "999"}, ""},
		"a lock of nobody":          {"engineer", "/accounts", "/accounts/lock", []string{"name", "Nobody"}, ""},
		"nobody to unlock":          {"engineer", "/accounts", "/accounts/unlock", []string{"name", "Nobody"}, ""},
		"nobody to close":           {"engineer", "/accounts", "/accounts/close", []string{"name", "Nobody"}, ""},
		"nothing to withdraw":       {"engineer", "/products/GCC-20", "/products/GCC-20/withdraw", []string{"hash", "0", "reason", "the customer said no"}, ""},
		"nothing to approve":        {"quality", "/products/GCC-20", "/products/GCC-20/approve", []string{"hash", "0"}, ""},
		"a study of one part": {"quality", "/quality/gauge", "/quality/gauge",
			[]string{"product", "GCC-20", "across", "jigs", "parts.list", "GCC-1", "appraisers.list", "SIM-1", "repeats", "3", "note", "first"}, "parts.list"},
		"repeats that are none": {"quality", "/quality/gauge", "/quality/gauge",
			[]string{"product", "GCC-20", "across", "jigs", "parts.list", "GCC-1", "appraisers.list", "SIM-1", "repeats", "x"}, "repeats"},
		"limits frozen for nothing": {"quality", "/quality/charts", "/quality/freeze", []string{"query", "", "reason", ""}, "reason"},
		"a shift of no plan":        {"quality", "/quality/shift", "/quality/handover", []string{"shift", "x", "day", "2026-01-01", "note", "all quiet"}, ""},
		"nothing chosen at closing": {"returns", life, "/returns/dispose", []string{"case", "1", "reason", "it smells"}, "code"},
		"no word for no photo":      {"returns", life, "/returns/nophoto", []string{"case", "1", "reason", "x"}, "reason"},
		"a deed nowhere":            {"returns", life, "/returns/rework", []string{"serial", unit, "did", "resoldered", "at", "???", "note", "cold joint"}, "at"},
		"a stage that is none":      {"returns", life, "/returns/stage", []string{"case", "1", "lane", "1"}, ""},
		"a stop of nothing":         {"returns", life, "/returns/stop", nil, ""},
		"nothing to give back":      {"returns", life, "/returns/giveback", nil, ""},
		"a watch that is over":      {"returns", "/returns/ohms?case=1", "/returns/ohms/reset", []string{"watch", "x"}, ""},
		"a check of nothing":        {"returns", life, "/returns/check", []string{"case", "1", "lane", "1"}, ""},
		"a key that is none":        {"returns", "/returns/ohms?case=1", "/returns/ohms", []string{"case", "1", "lane", "1", "key", "99"}, ""},
		"no reason to unlock":       {"engineer", life, "/returns/unlock", []string{"case", "1", "reason", "x"}, "reason"},
		"an intake that says nothing": {"returns", "/unit?serial=" + h.Unit(40), "/returns/intake",
			[]string{"serial", h.Unit(40), "customer", "Tomato & Sons", "condition", "other"}, "complaint"},
		"a photo that is none":         {"returns", life, "/returns/photo", []string{"case", "1", "note", "the tail"}, "photo"},
		"an override of nothing":       {"quality", "/lane/1", "/lane/1/override", []string{"serial", "GCC-1", "reason", "I know this unit"}, ""},
		"an override for nothing":      {"quality", "/lane/1", "/lane/1/override", []string{"serial", "GCC-1", "reason", "x"}, "reason"},
		"a stop that is none":          {"quality", "/lane/1", "/lane/1/lift", []string{"stop", "99", "reason", "x"}, ""},
		"a stop of no line":            {"quality", "/quality/stops", "/quality/stops/lift", []string{"stop", "9", "reason", "material"}, ""},
		"a lane that is none":          {"operator", "/lane/1", "/lane/7/next", nil, ""},
		"a jig that is not let go":     {"engineer", "/jigs/1", "/jigs/1/letgo", []string{"back", "yes", "since", "1"}, ""},
		"a part of a jig unknown":      {"engineer", "/jigs/1", "/jig/wear", []string{"serial", "J-9", "part", "nest", "lot", "7"}, ""},
		"a part without a name":        {"engineer", "/jigs/1", "/jigs/1/wear", []string{"part", "probe set", "lot", "L-1"}, "name"},
		"a zero of no lane":            {"engineer", "/jigs/1/do/zero", "/jigs/7/zero", nil, ""},
		"a box that is none":           {"engineer", "/jigs/1/do/verify", "/jigs/1/verify", []string{"box", "RB-9"}, "boxfile"},
		"no reference unit":            {"engineer", "/jigs/1/do/references", "/jigs/1/reference", []string{"unit", "GCC-1"}, ""},
		"a study that is none":         {"engineer", "/jigs/1", "/jigs/1/study/9", []string{"place", "1"}, ""},
		"a unit that does not wait":    {"operator", "/lane/1", "/lane/1/choose", []string{"serial", "GCC-1"}, ""},
		"a product that is tested":     {"operator", "/lane/1", "/lane/1/product", []string{"product", "GCC-20"}, ""},
		"a lane that cannot be chosen": {"operator", "/lane/1", "/lane/7/choose", nil, ""},
		"a product for no lane":        {"engineer", "/lane/1", "/lane/7/product", []string{"product", "x"}, ""},
		"a stop to lift that is none":  {"quality", "/quality/stops", "/quality/stops/lift", []string{"stop", "99", "reason", "x"}, ""},
		"a part of no jig":             {"engineer", "/jigs", "/jig/wear", []string{"jig", "J-9", "part", "lamp"}, ""},
		"a zero on no lane":            {"engineer", "/jigs/1", "/jigs/7/zero", nil, ""},
		"a verification on no lane":    {"engineer", "/jigs/1", "/jigs/7/verify", []string{"box", "x"}, ""},
		"a reference on no lane":       {"engineer", "/jigs/1", "/jigs/7/reference", nil, ""},
		"a reading on no lane":         {"engineer", "/jigs/1", "/jigs/7/study/1", nil, ""},
		"a halt on no lane":            {"engineer", "/jigs/1", "/jigs/7/halt", nil, ""},
		"a start on no jig":            {"engineer", "/jigs/1", "/jigs/7/start", nil, ""},
		"a start on no lane":           {"operator", "/lane/1", "/lane/7/start", nil, ""},
		"a start of nothing":           {"returns", life, "/returns/start", []string{"case", "1"}, ""},
		"a stop of no case":            {"returns", "/returns", "/returns/stop", []string{"case", "99", "lane", "9"}, ""},
		"a reset of no case":           {"returns", life, "/returns/ohms/reset", []string{"case", "99"}, ""},
	}
}

// triedDraft has the engineer draft a revision and see its trial, and gives its hash.
func triedDraft(h *webtest.House) string {
	h.Helper()
	text := strings.Replace(h.Text, "revision: C\n", "revision: D\n", 1)
	w := h.Send("engineer", "/products/GCC-20/check", "application/json", "text", text)
	require.Equal(h, http.StatusOK, w.Code, w.Body)
	var seen products.Try
	h.Get("engineer", "/products/GCC-20/try", &seen)
	require.NotEmpty(h, seen.Hash)
	return seen.Hash
}

// harmless are the actions that cannot be refused.
var harmless = []string{"/leave", "/language", "/look", "/met", "/lanes/forget", "/lane/{lane}/stop", "/lane/{lane}/here",
	"/products/{code}/check"}

// Whatever is refused, the form stays: a script is told what is wrong with which field, and
// without a script the same page comes again, with what was typed and the same message at the
// same field, which has the focus. None says where anything lies.
func TestRefusedFormsStay(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		h.Test(h.Unit(30))
		h.Came(h.Unit(30))
		forms := badForms(h, h.Unit(30))
		tried := map[string]bool{}
		for name, c := range forms {
			status, said := h.Post(c.role, c.to, c.form...)
			assert.GreaterOrEqual(h, status, 400, name)
			assert.NotEmpty(h, said.Say, name)
			assertNoPlace(h, name, said.Say)
			if c.field != "" && assert.NotEmpty(h, said.Fields, "%s: %s", name, said.Say) {
				assert.Equal(h, c.field, said.Fields[0].Field, name)
			}
			r, err := http.NewRequest(http.MethodPost, c.to, nil)
			require.NoError(h, err)
			tried[h.Site.Handled(r)] = true

			w := submitted(h, c.role, c.from, c.to, c.form...)
			require.Equal(h, status, w.Code, "%s: %s", name, w.Body)
			doc := parsed(h, w)
			assert.Equal(h, pageOf(h, c.role, c.from), attribute(first(doc, atom.Body), "data-page"), "%s: it is the page of the form", name)
			assertSaid(h, name, doc, c, said)
		}
		for _, a := range h.Site.All().Actions {
			if !slices.Contains(harmless, a.Path) {
				assert.True(h, tried["POST "+a.Path], "%s was never refused here", a.Path)
			}
		}
	})
}

// notTyped are the sorts of fields that nobody types into, or whose text is never given back.
var notTyped = []string{"password", "hidden", "radio", "checkbox", "file"}

// assertSaid expects the message where it belongs, and what was typed where it was.
func assertSaid(h *webtest.House, name string, doc *html.Node, c refusedForm, said page.Answer) {
	h.Helper()
	var messages []*html.Node
	for n := range doc.Descendants() {
		if attribute(n, "class") == "mistake" {
			messages = append(messages, n)
		}
	}
	require.NotEmpty(h, messages, name)
	var focused []*html.Node
	for n := range doc.Descendants() {
		if has(n, "autofocus") {
			focused = append(focused, n)
		}
	}
	if assert.Len(h, focused, 1, "%s: one thing has the focus", name) && formSent(doc, c.to) != nil && c.field != "" {
		assert.Equal(h, c.field, attribute(focused[0], "name"), name)
		assert.Equal(h, "true", attribute(focused[0], "aria-invalid"), name)
		assert.Contains(h, attribute(focused[0], "aria-describedby"), attribute(messages[0], "id"), name)
	} else if c.field == "" {
		assert.Equal(h, "alert", attribute(messages[0], "role"), name)
		assert.Equal(h, said.Say, textOf(messages[0]), name)
	}
	form := formSent(doc, c.to)
	if form == nil {
		return
	}
	var shown []string
	for n := range form.Descendants() {
		switch {
		case attribute(n, "type") == "password":
			assert.False(h, has(n, "value"), "%s: a password is never given back", name)
		case n.DataAtom == atom.Input:
			shown = append(shown, attribute(n, "value"))
		case n.DataAtom == atom.Textarea:
			shown = append(shown, textOf(n))
		}
	}
	for i := 0; i < len(c.form); i += 2 {
		typed, is := c.form[i+1], false
		for n := range form.Descendants() {
			is = is || (n.DataAtom == atom.Input || n.DataAtom == atom.Textarea) && attribute(n, "name") == c.form[i] && !slices.Contains(notTyped, attribute(n, "type"))
		}
		if is {
			assert.Contains(h, shown, typed, "%s: what was typed as %s", name, c.form[i])
		}
	}
	assert.Contains(h, shown, c.from, "%s: a second try knows its page too", name)
}

// A second try from the page that came again is refused in place too: its address is that of
// the action, which is no page.
func TestRefusedTwice(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		form := []string{"serial", h.Unit(40), "customer", "Tomato & Sons", page.FromPage, "/unit?serial=" + h.Unit(40)}
		w := submitted(h, "returns", "/returns/intake", "/returns/intake", form...)
		assert.Equal(h, http.StatusUnprocessableEntity, w.Code)
		doc := parsed(h, w)
		assert.Equal(h, "unit", attribute(first(doc, atom.Body), "data-page"))
		assert.Contains(h, w.Body.String(), `value="Tomato &amp; Sons"`)
		for _, elsewhere := range []string{"http://evil.example/door", "//evil.example", "/lane/1/live", "/static/station.css", "/nowhere", "/jigs"} {
			w := submitted(h, "returns", elsewhere, "/returns/intake", "serial", h.Unit(40))
			assert.Equal(h, http.StatusUnprocessableEntity, w.Code, elsewhere)
			assert.NotContains(h, w.Body.String(), "evil", elsewhere)
		}
	})
}

// Every mistake is said at once, each at its field.
func TestEveryMistakeAtOnce(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		_, said := h.Post("returns", "/returns/intake", "serial", h.Unit(40), "complaint", "other", "condition", "other")
		assert.Len(h, said.Fields, 2)
		w := submitted(h, "returns", "/unit?serial="+h.Unit(40), "/returns/intake", "serial", h.Unit(40), "complaint", "other", "condition", "other")
		form, at := formSent(parsed(h, w), "/returns/intake"), map[string]string{}
		for n := range form.Descendants() {
			if attribute(n, "class") == "mistake" {
				at[attribute(n, "id")] = textOf(n)
			}
			if n.DataAtom == atom.Option && has(n, "selected") {
				assert.Equal(h, "other", attribute(n, "value"), "what was chosen")
			}
			assert.Equal(h, attribute(n, "name") == "condition" && attribute(n, "value") == "other", has(n, "checked"))
		}
		assert.Equal(h, map[string]string{"mistake-text": said.Fields[0].Say, "mistake-seen": said.Fields[1].Say}, at)
	})
}

// Of two forms that send to the same place the message stands in the one that was sent.
func TestTheRightOfTwoForms(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		for _, name := range []string{"engineer", "quality"} {
			w := submitted(h, "engineer", "/accounts", "/accounts/password", "name", name, "password", "one of two", "again", "another")
			doc, wrong := parsed(h, w), 0
			for form := range doc.Descendants() {
				if attribute(form, "action") != "/accounts/password" {
					continue
				}
				var of string
				var marked bool
				for n := range form.Descendants() {
					if attribute(n, "name") == "name" {
						of = attribute(n, "value")
					}
					marked = marked || attribute(n, "class") == "mistake"
				}
				if marked {
					wrong++
					assert.Equal(h, name, of)
					assert.True(h, has(form.Parent, "open"), "it is not folded away")
				}
			}
			assert.Equal(h, 1, wrong, "%s: %s", name, w.Body)
		}
	})
}

// Whoever signed in anew since a page was made is told so, and can send the form as it stands.
func TestFormOfAnotherSession(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		form := url.Values{"token": {"of another session"}, "serial": {h.Unit(40)}, "customer": {"Tomato & Sons"}}
		ask := webtest.Ask{Method: "POST", Path: "/returns/intake", Role: "returns", Form: form, Header: map[string]string{"Accept": "application/json"}}
		w := webtest.Fetch(h.T, h.Handler, ask)
		assert.Equal(h, http.StatusForbidden, w.Code)
		var a page.Answer
		h.Decode(w, &a)
		assert.Contains(h, a.Say, "signed in as returns")
		assert.True(h, door.SameToken(door.FormToken("token of returns"), a.Token), a.Token)
		ask.Header = map[string]string{"Referer": "http://" + webtest.OurHost + "/unit?serial=" + h.Unit(40)}
		w = webtest.Fetch(h.T, h.Handler, ask)
		assert.Equal(h, http.StatusForbidden, w.Code)
		assert.Contains(h, w.Body.String(), `value="Tomato &amp; Sons"`)
		var tokens int
		for _, field := range regexp.MustCompile(`name="token" value="([^"]*)"`).FindAllStringSubmatch(w.Body.String(), -1) {
			assert.True(h, door.SameToken(door.FormToken("token of returns"), field[1]), field[1])
			tokens++
		}
		assert.Positive(h, tokens)
		ask.Role = ""
		w = webtest.Fetch(h.T, h.Handler, ask)
		assert.Equal(h, "/door?next="+url.QueryEscape("/unit?serial="+h.Unit(40)), w.Header().Get("Location"), "back to the page, not to what was sent")
	})
}

// What goes wrong in the station itself is named by an id that stands in its log
// too; no page says where its files lie.
func TestOurErrorsAreFoundByAWord(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		h.Spoil("ALTER TABLE return_case RENAME TO gone")
		for _, accept := range []string{"text/html", "application/json"} {
			h.Logged()
			w := webtest.Fetch(h.T, h.Handler, webtest.Ask{Path: "/returns", Role: "returns", Header: map[string]string{"Accept": accept}})
			assert.Equal(h, http.StatusInternalServerError, w.Code)
			assertFound(h, w.Body.String())
			w = h.Send("returns", "/returns/intake", accept, "serial", h.Unit(2), "complaint", "key dead", "condition", "dirty")
			assert.Equal(h, http.StatusInternalServerError, w.Code)
			assertFound(h, w.Body.String())
		}
	})
}

func assertFound(h *webtest.House, said string) {
	h.Helper()
	lines := h.Logged()
	require.Len(h, lines, 1)
	assert.Contains(h, lines[0], "no such table: return_case")
	var line struct{ ID, Who string }
	require.NoError(h, json.Unmarshal([]byte(lines[0]), &line))
	assert.Regexp(h, "^[a-hjkmnp-z2-9]{8}$", line.ID, "nothing that is taken for another")
	assert.Equal(h, "returns", line.Who)
	assert.Contains(h, said, line.ID)
	assert.NotContains(h, said, "return_case")
	assertNoPlace(h, "an error", said)
}

// assertNoPlace expects no path of a file and no address in what a person is told.
func assertNoPlace(h *webtest.House, name, said string) {
	h.Helper()
	assert.NotContains(h, said, h.TempDir(), name)
	assert.NotRegexp(h, `(^|\s)/\w+/|127\.0\.0\.1|\.sqlite|\.go:`, said, name)
}

// submitted sends a form as a browser without scripts does, from a page.
func submitted(h *webtest.House, role, from, to string, pairs ...string) *httptest.ResponseRecorder {
	h.Helper()
	form := url.Values{"token": {door.FormToken("token of " + role)}}
	for i := 0; i < len(pairs); i += 2 {
		form.Add(pairs[i], pairs[i+1])
	}
	address := from
	if strings.HasPrefix(from, "/") && !strings.HasPrefix(from, "//") {
		address = "http://" + webtest.OurHost + from
	}
	w, body := fetched(h.T, h.Handler, webtest.Ask{ // as browsers do, which take answers compressed
		Method: http.MethodPost, Path: to, Role: role, Form: form, Header: map[string]string{"Accept": "text/html", "Accept-Language": h.Lang, "Referer": address},
	}, "gzip")
	w.Body = bytes.NewBufferString(body)
	return w
}

func pageOf(h *webtest.House, role, path string) string {
	h.Helper()
	return attribute(first(parsed(h, webtest.Fetch(h.T, h.Handler, webtest.Ask{Path: path, Role: role})), atom.Body), "data-page")
}

func parsed(h *webtest.House, w *httptest.ResponseRecorder) *html.Node {
	h.Helper()
	doc, err := html.Parse(strings.NewReader(w.Body.String()))
	require.NoError(h, err)
	return doc
}

func first(doc *html.Node, sort atom.Atom) *html.Node {
	for n := range doc.Descendants() {
		if n.DataAtom == sort {
			return n
		}
	}
	return nil
}

// formSent is the form with a message in it, or that sends there.
func formSent(doc *html.Node, to string) *html.Node {
	var found *html.Node
	for n := range doc.Descendants() {
		if n.DataAtom != atom.Form {
			continue
		}
		sends := attribute(n, "action") == to
		for in := range n.Descendants() {
			sends = sends || attribute(in, "formaction") == to
			if attribute(in, "class") == "mistake" {
				return n
			}
		}
		if sends && found == nil {
			found = n
		}
	}
	return found
}

func attribute(n *html.Node, key string) string {
	if n != nil {
		for _, a := range n.Attr {
			if a.Key == key {
				return a.Val
			}
		}
	}
	return ""
}

func has(n *html.Node, key string) bool {
	return slices.ContainsFunc(n.Attr, func(a html.Attribute) bool { return a.Key == key })
}

func textOf(n *html.Node) string {
	var b strings.Builder
	for in := range n.Descendants() {
		if in.Type == html.TextNode {
			b.WriteString(in.Data)
		}
	}
	return b.String()
}
