package web

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"mime"
	"net/http"
	"net/url"
	"slices"
	"strconv"

	"padjig/cmd/padjig/log"
	"padjig/cmd/padjig/web/door"
	"padjig/cmd/padjig/web/page"
	"padjig/results/store"
)

// reply answers one visit: it alone writes to the browser.
type reply struct {
	*page.Visit
	site *Site
	w    http.ResponseWriter
	r    *http.Request
}

func (s *Site) visit(w http.ResponseWriter, r *http.Request) *reply {
	v := page.NewVisit(w, r, s.text)
	v.Words = v.By(s.zone)
	return &reply{v, s, w, r}
}

func (s *Site) page(p page.Page) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		r, end := s.plant.Within(r)
		defer end()
		v := s.visit(w, r)
		if !v.authorize(p.Who, true) {
			return
		}
		view, err := p.View(v.Visit)
		if err != nil {
			v.failed(err)
			return
		}
		if to, is := view.(page.Elsewhere); is {
			http.Redirect(w, r, string(to), http.StatusSeeOther)
			return
		}
		if !v.file(view) {
			v.show(p, http.StatusOK, view)
		}
	}
}

func (s *Site) action(a page.Action) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		r, end := s.plant.Within(atJig(r))
		defer end()
		v := s.visit(w, r)
		if !v.authorize(a.Who, true) {
			return
		}
		defer dropForm(r)
		if err := takeForm(v, boundOf(a)); err != nil {
			v.refused(err)
			return
		}
		if v.Person != nil && !v.tokenFits() {
			v.refused(page.Refused(v.Say("error.token", v.Person.Name)))
			return
		}
		done, err := a.Do(v.Visit)
		if err != nil {
			v.refused(err)
			return
		}
		v.done(done)
	}
}

// atJig has what is done on a page, and what follows a lane, wait for no report that others look at.
func atJig(r *http.Request) *http.Request { return r.WithContext(store.Reserved(r.Context())) }

func (s *Site) stream(t page.Stream) http.HandlerFunc {
	return func(w http.ResponseWriter, r *http.Request) {
		v := s.visit(w, atJig(r))
		if !v.authorize(t.Who, false) {
			return
		}
		e, err := page.NewEvents(w, s.over, func(name, part string, view any) (string, error) {
			return s.templates.part(v.Lang.Tag, name, part, view)
		})
		if err == nil {
			_ = t.Run(v.Visit, e) // it ends when the browser has gone
		}
	}
}

// authorize finds who it is and whether they may; it has answered when it says no.
func (v *reply) authorize(who page.Roles, use bool) bool {
	p, err := v.site.door.Who(v.r, use)
	v.Person = p
	switch {
	case err != nil:
		v.failed(err)
	case p.HasRole(who):
		return true
	case p == nil:
		v.toSignIn()
	default:
		v.denied(http.StatusForbidden, v.Say("error.role", v.Say("role."+string(p.Role))))
	}
	return false
}

// toSignIn shows the way to the page where people say who they are, and back.
func (v *reply) toSignIn() {
	if v.WantsJSON() {
		v.sendJSON(http.StatusUnauthorized, page.Answer{Go: "/door", Say: v.Say("door.first")})
		return
	}
	http.Redirect(v.w, v.r, "/door?next="+url.QueryEscape(v.Address()), http.StatusSeeOther)
}

func (v *reply) tokenFits() bool {
	return door.SameToken(v.Value("token"), v.Person.Token)
}

func (v *reply) done(a page.Answer) {
	a.Good = true
	switch {
	case a.Show != "":
		all := v.site.all.Pages
		v.show(all[slices.IndexFunc(all, func(p page.Page) bool { return p.Name == a.Show })], http.StatusOK, a.View)
	case v.WantsJSON():
		v.sendJSON(http.StatusOK, a)
	case a.Go != "":
		http.Redirect(v.w, v.r, a.Go, http.StatusSeeOther)
	default:
		http.Redirect(v.w, v.r, v.Address(), http.StatusSeeOther)
	}
}

// failed answers with what went wrong, on a page of its own.
func (v *reply) failed(err error) {
	if p := v.problem(err); p != nil {
		v.fail(p.Status, p.Say)
	}
}

// refused answers a form with what went wrong, where it stands.
func (v *reply) refused(err error) {
	p := v.problem(err)
	if p == nil {
		return
	}
	v.logRefused(p)
	if v.WantsJSON() {
		a := page.Answer{Say: p.Say, Fields: p.Fields}
		if v.Person != nil && v.r.PostForm != nil && !v.tokenFits() {
			a.Token = v.Person.Token
		}
		v.sendJSON(p.Status, a)
		return
	}
	if body, is := v.again(p); is {
		v.send(p.Status, "text/html; charset=utf-8", body)
		return
	}
	v.fail(p.Status, p.Say)
}

// problem is an error as a person is told. Those that are none of theirs to mend are ours:
// they may name files and addresses, so what they are stands in the log,
// and the person gets a word by which it is found there. It is nil when nobody is there any
// more to be told.
func (v *reply) problem(err error) *page.Problem {
	if p, is := errors.AsType[*page.Problem](err); is {
		return p
	}
	if v.site.plant.Silent(v.Ctx(), err) {
		v.log().WarnContext(v.Ctx(), log.PlantAway, "path", v.r.URL.Path, "why", err)
		v.w.Header().Set("Retry-After", strconv.Itoa(away))
		return &page.Problem{Status: http.StatusServiceUnavailable, Say: v.Say("office.away")}
	}
	if v.site.plant.Doubted(err) {
		v.log().ErrorContext(v.Ctx(), log.PlantUntrusted, "path", v.r.URL.Path, "why", err)
		return &page.Problem{Status: http.StatusBadGateway, Say: v.Say("office.untrusted")}
	}
	if v.Ctx().Err() != nil {
		return nil
	}
	return v.trouble("why", err.Error())
}

func (v *reply) nowhere() { v.fail(http.StatusNotFound, v.Say("error.nowhere")) }

// away is after how many seconds to ask for what the plant's database did not answer again.
const away = 5

// errorView is the page of something that went wrong.
type errorView struct {
	Status int    `json:"status"`
	Say    string `json:"say"`
	Again  string `json:"-"` // address to be asked for again, empty for none
}

func (v *reply) fail(status int, say string) {
	if v.WantsJSON() {
		v.sendJSON(status, page.Answer{Say: say})
		return
	}
	view := errorView{Status: status, Say: say}
	if status == http.StatusServiceUnavailable && v.r.Method == http.MethodGet {
		view.Again = v.Address()
	}
	v.show(page.Page{Name: errorPage}, status, view)
}

// show renders a view into a buffer before the first byte is sent, so that
// what goes wrong in a template is an error and not half a page.
func (v *reply) show(p page.Page, status int, view any) {
	if v.WantsJSON() {
		v.sendJSON(status, view)
		return
	}
	var out bytes.Buffer
	if err := v.site.templates.render(&out, v, p, view); err != nil {
		v.broken(err)
		return
	}
	v.send(status, "text/html; charset=utf-8", out.Bytes())
}

// broken is all that can be said when a view cannot be shown.
func (v *reply) broken(err error) {
	if p := v.problem(err); p != nil {
		v.send(p.Status, "text/plain; charset=utf-8", []byte(p.Say+"\n"))
	}
}

func (v *reply) sendJSON(status int, o any) {
	raw, err := json.MarshalIndent(o, "", "  ")
	if err != nil {
		v.broken(err)
		return
	}
	v.send(status, "application/json", append(raw, '\n'))
}

// file answers with a view that is a file itself, or with one table of a
// page as CSV when the address asks for one; it reports whether it has answered.
func (v *reply) file(view any) bool {
	if d, is := view.(page.Document); is {
		if d.Policy != "" {
			v.w.Header().Set("Content-Security-Policy", d.Policy)
		}
		v.send(http.StatusOK, d.Kind, d.Body)
		return true
	}
	name := v.Value("csv")
	of, has := view.(page.Tabled)
	if name == "" || !has {
		return false
	}
	tables := of.Tables()
	if i := slices.IndexFunc(tables, func(t page.Table) bool { return t.Name == name }); i >= 0 {
		v.sendCSV(tables[i])
	} else {
		v.nowhere()
	}
	return true
}

// sendCSV writes a table as package report writes files: RFC 4180, and nothing
// in it that a spreadsheet would run. It is whole before the first byte goes out.
func (v *reply) sendCSV(t page.Table) {
	var out bytes.Buffer
	if err := t.File().CSV(&out); err != nil {
		v.failed(fmt.Errorf("write the table as a file: %w", err))
		return
	}
	v.w.Header().Set("Content-Disposition", mime.FormatMediaType("attachment", map[string]string{"filename": "padjig-" + t.Name + ".csv"}))
	v.send(http.StatusOK, "text/csv; charset=utf-8; header=present", out.Bytes())
}

func (v *reply) send(status int, kind string, body []byte) {
	v.w.Header().Set("Content-Type", kind)
	sendBody(v.w, v.r, status, body)
}
