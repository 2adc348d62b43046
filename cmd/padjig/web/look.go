package web

import (
	"net/http"
	"slices"
	"strings"

	"padjig/cmd/padjig/web/page"
)

// How pages look is chosen in each browser and kept there, so that a page comes as it
// is to look, and nothing flashes.

// choice is something that a browser keeps, with what can be chosen; the first is what holds
// without one.
type choice struct {
	name string // of the cookie and of the field
	of   []string
}

var (
	themes    = choice{"theme", []string{"auto", "light", "dark"}}
	textSizes = choice{"text", []string{"normal", "large", "largest"}}
)

// kept is what a browser has chosen.
func (c choice) kept(v *page.Visit) string {
	if kept := v.Cookie(c.name); slices.Contains(c.of, kept) {
		return kept
	}
	return c.of[0]
}

// options are what can be chosen, to choose from.
func (c choice) options(v *page.Visit) (out []page.Option) {
	kept := c.kept(v)
	for _, one := range c.of {
		out = append(out, page.Option{Value: one, Text: v.Say(c.name + "." + one), Chosen: one == kept})
	}
	return out
}

// look keeps what somebody chose.
func (s *Site) look(v *page.Visit) (page.Answer, error) {
	for _, c := range []choice{themes, textSizes} {
		if chosen := v.Value(c.name); slices.Contains(c.of, chosen) {
			s.keep(v, c.name, chosen)
		}
	}
	return page.Answer{Go: page.Here(v.Value("next"))}, nil
}

// keep leaves something of no secrecy in the browser for a year.
func (s *Site) keep(v *page.Visit, name, value string) {
	v.SetCookie(&http.Cookie{
		Name: name, Value: value, Path: "/", MaxAge: 365 * 24 * 3600, Secure: s.secure, HttpOnly: true, SameSite: http.SameSiteStrictMode,
	})
}

// darkStyle takes the colours of dark pages out of a style that brings its own, for reports
// that are files and know nothing but the browser: on pages the choice decides.
func darkStyle(style string) (light, dark string) {
	light, rest, is := strings.Cut(style, "@media screen and (prefers-color-scheme: dark) {")
	if !is {
		return style, ""
	}
	depth := 1
	for i, r := range rest {
		switch r {
		case '{':
			depth++
		case '}':
			depth--
		}
		if depth == 0 {
			return light + rest[i+1:], rest[:i]
		}
	}
	return style, ""
}
