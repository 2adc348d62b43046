package page

import (
	"cmp"
	"context"
	"mime/multipart"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"
)

// Visit is one request and who makes it, as subjects see it.
type Visit struct {
	Words
	Person *Person // nil for nobody

	text   Catalogue
	r      *http.Request
	header http.Header       // of the answer
	said   map[string]string // keys of the catalogue, by what was said; see [Visit.Code]
}

// NewVisit is the visit of a request, of nobody yet.
func NewVisit(w http.ResponseWriter, r *http.Request, text Catalogue) *Visit {
	return &Visit{Words: In(language(r, text), text), text: text, r: r, header: w.Header(), said: map[string]string{}}
}

// Say is [Words.Say], and is remembered for [Visit.Code].
func (v *Visit) Say(key string, args ...any) string {
	text := v.Words.Say(key, args...)
	v.said[text] = key
	return text
}

// Code is what a log says of a problem: its own code, else the key of the sentence that told it,
// since that holds nothing of what was typed. Empty where it was told in the words of something else.
func (v *Visit) Code(p *Problem) string {
	if p.Code != "" {
		return p.Code
	}
	return v.said[p.Say]
}

// language is the one chosen in this browser, else the one it asks for.
func language(r *http.Request, text Catalogue) string {
	if cookie, err := r.Cookie("language"); err == nil {
		return Choose(text, cookie.Value)
	}
	return Choose(text, r.Header.Get("Accept-Language"))
}

// Chosen is the language that somebody asks for by its tag, as far as there is one.
func (v *Visit) Chosen(tag string) string { return Choose(v.text, tag) }

// Ctx ends when nobody waits for the answer any more.
func (v *Visit) Ctx() context.Context { return v.r.Context() }

// Value is what a form, or the address, says for a name.
func (v *Visit) Value(name string) string { return v.r.FormValue(name) }

// Text is a value without the blanks around it.
func (v *Visit) Text(name string) string { return strings.TrimSpace(v.Value(name)) }

// Values are all that a form that was sent says for a name.
func (v *Visit) Values(name string) []string { return v.r.Form[name] }

// Place is what stands at a place of the path.
func (v *Visit) Place(name string) string { return v.r.PathValue(name) }

// Form is all values.
func (v *Visit) Form() (url.Values, error) {
	err := v.r.ParseForm()
	return v.r.Form, err
}

// AsIf is the same visit with other values.
func (v *Visit) AsIf(form url.Values) *Visit {
	then := *v
	then.r = v.r.Clone(v.Ctx())
	then.r.Form, then.r.PostForm = form, url.Values{}
	return &then
}

// Files are those a form brought under a name.
func (v *Visit) Files(name string) []*multipart.FileHeader {
	if v.r.MultipartForm == nil {
		return nil
	}
	return v.r.MultipartForm.File[name]
}

// Remote is where the connection comes from.
func (v *Visit) Remote() string { return v.r.RemoteAddr }

// Cookie is what the browser has kept under a name.
func (v *Visit) Cookie(name string) string {
	if c, err := v.r.Cookie(name); err == nil {
		return c.Value
	}
	return ""
}

// SetCookie leaves a cookie in the browser.
func (v *Visit) SetCookie(c *http.Cookie) { v.header.Add("Set-Cookie", c.String()) }

// WantsJSON reports whether a script or a program asks.
func (v *Visit) WantsJSON() bool {
	return strings.HasPrefix(v.r.Header.Get("Accept"), "application/json")
}

// FromPage is the field in which a form that stands on the answer to another form says
// which page it belongs to: the address of that answer is none.
const FromPage = "from page"

// Address is where this page can be had again. What a form brought up is no
// address of its own: there it is the page with the form.
func (v *Visit) Address() string {
	if v.r.Method == http.MethodGet {
		return Here(v.r.URL.RequestURI())
	}
	return Here(cmp.Or(v.r.PostForm.Get(FromPage), v.r.Referer()))
}

// Screen names the browser window.
func (v *Visit) Screen() string { return v.Value("screen") }

// Late reports whether a form lay somewhere until its page had to take the station
// for gone: in the queue of a process that hung, say. What is in it is expected
// by nobody any more. The times are all of the station's clock.
func (v *Visit) Late() bool {
	heard, err := strconv.ParseInt(v.Value("heard"), 10, 64)
	return err == nil && time.Since(time.UnixMilli(heard)) > Silence
}

// ShortestReason is in characters: "retest" says nothing.
const ShortestReason = 8

// Reason is why somebody decides so.
func (v *Visit) Reason() (string, error) {
	reason := v.Text("reason")
	if len([]rune(reason)) < ShortestReason {
		return reason, WrongField("reason", v.Say("override.reason", ShortestReason))
	}
	return reason, nil
}

// Here keeps an address on this site.
func Here(address string) string {
	u, err := url.Parse(address)
	if err != nil || !strings.HasPrefix(u.Path, "/") || strings.HasPrefix(u.Path, "//") || strings.Contains(u.Path, `\`) {
		return "/"
	}
	return (&url.URL{Path: u.Path, RawQuery: u.RawQuery, Fragment: u.Fragment}).String()
}
