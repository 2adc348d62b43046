package web

import (
	"bytes"
	"crypto/subtle"
	"encoding/json"
	"errors"
	"net/http"
	"strings"
)

// page is something to look at.
type page struct {
	path string // as net/http's patterns have it, without the method
	name string // of its template, and of its title in the catalogue: title.NAME
	who  may
	menu string // key of its entry in the menu, empty for none
	bare bool   // without the frame: for printing
	view func(*visit) (any, error)
}

// address is where a page without a place for a value in its path is: a pattern
// that ends in {$} matches that path alone.
func (p page) address() string { return strings.TrimSuffix(p.path, "{$}") }

// elsewhere is a view that is to be seen at another address.
type elsewhere string

// action is something to do: a form that is sent.
type action struct {
	path  string
	who   may
	files bool // its form may bring files
	// do says where to go next; a script gets the same as JSON, see answer.
	do func(*visit) (answer, error)
}

func (a action) bound() bound {
	if a.files {
		return uploads
	}
	return forms
}

// answer is what comes of an action.
type answer struct {
	Go   string `json:"go,omitempty"`  // address to show next; empty: stay
	Say  string `json:"say,omitempty"` // to be said where the person looks
	Do   string `json:"do,omitempty"`  // for the script: what only a browser can do
	Good bool   `json:"good"`          // what was asked for was done

	page *page // to be shown in answer, with view; nil for none
	view any
}

// visit is one request and who makes it.
type visit struct {
	Person *person // nil for nobody
	Lang   string

	site *Site
	w    http.ResponseWriter
	r    *http.Request
}

func (s *Site) visit(w http.ResponseWriter, r *http.Request) *visit {
	return &visit{site: s, w: w, r: r, Lang: language(r)}
}

// language is the one chosen in this browser, else the one it asks for.
func language(r *http.Request) string {
	if cookie, err := r.Cookie("language"); err == nil {
		return choose(cookie.Value)
	}
	return choose(r.Header.Get("Accept-Language"))
}

func (v *visit) say(key string, args ...any) string { return v.site.text.say(v.Lang, key, args...) }

// problem is an error a person is told, with the status that fits it.
type problem struct {
	status int
	say    string
}

func (p *problem) Error() string { return p.say }

func notFound(say string) error { return &problem{http.StatusNotFound, say} }
func wrong(say string) error    { return &problem{http.StatusUnprocessableEntity, say} }
func refused(say string) error  { return &problem{http.StatusForbidden, say} }

// admit finds who it is and whether they may; it has answered when it says no.
func (v *visit) admit(who may, use bool) bool {
	p, err := v.site.who(v.r, use)
	v.Person = p
	switch {
	case err != nil:
		v.fail(http.StatusInternalServerError, v.say("error.records", err))
	case p.may(who):
		return true
	case p == nil:
		v.toDoor()
	default:
		v.fail(http.StatusForbidden, v.say("error.role", v.say("role."+string(p.Role))))
	}
	return false
}

// toDoor shows the way to the page where people say who they are, and back.
func (v *visit) toDoor() {
	if v.wantsJSON() {
		v.sendJSON(http.StatusUnauthorized, answer{Go: "/door", Say: v.say("door.first")})
		return
	}
	http.Redirect(v.w, v.r, "/door?next="+queryOf(v.r.URL.RequestURI()), http.StatusSeeOther)
}

func (s *Site) page(p page) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		v := s.visit(w, r)
		if !v.admit(p.who, true) {
			return
		}
		view, err := p.view(v)
		if err != nil {
			v.failed(err)
			return
		}
		if to, is := view.(elsewhere); is {
			http.Redirect(w, r, string(to), http.StatusSeeOther)
			return
		}
		if v.sendFile(view) {
			return
		}
		v.show(p, http.StatusOK, view)
	}
}

func (s *Site) action(a action) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		v := s.visit(w, r)
		if !v.admit(a.who, true) {
			return
		}
		defer dropForm(r)
		if err := takeForm(v, a.bound()); err != nil {
			v.failed(err)
			return
		}
		if v.Person != nil && !v.tokenFits() {
			v.fail(http.StatusForbidden, v.say("error.token"))
			return
		}
		done, err := a.do(v)
		if err != nil {
			v.failed(err)
			return
		}
		v.answer(done)
	}
}

func (v *visit) tokenFits() bool {
	given := v.r.FormValue("token")
	return subtle.ConstantTimeCompare([]byte(given), []byte(v.Person.token)) == 1
}

func (v *visit) answer(a answer) {
	a.Good = true
	switch {
	case a.page != nil:
		v.show(*a.page, http.StatusOK, a.view)
	case v.wantsJSON():
		v.sendJSON(http.StatusOK, a)
	case a.Go != "":
		http.Redirect(v.w, v.r, a.Go, http.StatusSeeOther)
	default:
		http.Redirect(v.w, v.r, here(v.r.Referer()), http.StatusSeeOther)
	}
}

// failed answers with what went wrong. A problem is the person's to mend; any
// other error is ours.
func (v *visit) failed(err error) {
	if p, ok := errors.AsType[*problem](err); ok {
		v.fail(p.status, p.say)
		return
	}
	if v.r.Context().Err() != nil {
		return // nobody is there to be told
	}
	v.fail(http.StatusInternalServerError, v.say("error.records", err))
}

// errorView is the page of something that went wrong.
type errorView struct {
	Status int    `json:"status"`
	Say    string `json:"say"`
}

func (v *visit) fail(status int, say string) {
	if v.wantsJSON() {
		v.sendJSON(status, answer{Say: say})
		return
	}
	v.show(page{name: "error"}, status, errorView{status, say})
}

func (v *visit) wantsJSON() bool {
	return strings.HasPrefix(v.r.Header.Get("Accept"), "application/json")
}

// show renders a view into a buffer before the first byte is sent, so that
// what goes wrong in a template is an error and not half a page.
func (v *visit) show(p page, status int, view any) {
	if v.wantsJSON() {
		v.sendJSON(status, view)
		return
	}
	var out bytes.Buffer
	if err := v.site.looks.render(&out, v, p, view); err != nil {
		http.Error(v.w, err.Error(), http.StatusInternalServerError)
		return
	}
	v.w.Header().Set("Content-Type", "text/html; charset=utf-8")
	v.w.WriteHeader(status)
	_, _ = out.WriteTo(v.w) // an error means that nobody listens any more
}

func (v *visit) sendJSON(status int, o any) {
	raw, err := json.MarshalIndent(o, "", "  ")
	if err != nil {
		http.Error(v.w, err.Error(), http.StatusInternalServerError)
		return
	}
	v.w.Header().Set("Content-Type", "application/json")
	v.w.WriteHeader(status)
	_, _ = v.w.Write(append(raw, '\n'))
}
