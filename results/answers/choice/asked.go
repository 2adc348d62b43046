// Package choice decides which runs a question is about: what was said of them, on a
// command line or in an address, and what is usual where nothing was said. It is asked
// by every surface before the question itself, so that terminal and pages are about the
// same runs.
package choice

import (
	"cmp"
	"errors"
	"net/url"
	"slices"
	"strings"
	"time"

	"padjig/results/lines"
	"padjig/sequence"
)

// Asked is what was said of the runs.
type Asked struct {
	Filter lines.Filter // without what a span says of times
	Span   Span         // empty: none was named
	// From and To are the times as they were written, Simulated whether it was said which.
	From, To  string
	Simulated bool
	Open      []string // parts that are to be open: "product", "revision"
}

// All stands for everything where a part of a choice has a usual value; Since is the
// parameter with which a [Span] is named.
const (
	All   = "all"
	Since = "span"
)

// Params are the names of all parameters of a choice.
var Params = append([]string{Since}, lines.FilterParams...)

// Parse reads what was said, as URL parameters; the error says every mistake at once.
func Parse(v url.Values, zone *time.Location) (Asked, error) {
	plain := url.Values{}
	for _, name := range append(slices.Clone(lines.FilterParams), "press") {
		if v.Has(name) {
			plain[name] = slices.Clone(v[name])
		}
	}
	a := Asked{Simulated: strings.TrimSpace(v.Get("simulated")) != "", From: strings.TrimSpace(v.Get("from")), To: strings.TrimSpace(v.Get("to"))}
	for _, name := range []string{"product", "revision"} {
		if slices.Contains(plain[name], All) {
			a.Open = append(a.Open, name)
			plain.Del(name)
		}
	}
	var wrong, other error
	a.Span, wrong = ParseSpan(v.Get(Since))
	if a.Span != "" && (a.From != "" || a.To != "") {
		wrong = errors.Join(wrong, sequence.Wrong("span and times", "%s %s and times of your own: choose one of them", Since, a.Span))
	}
	a.Filter, other = lines.ParseFilter(plain, zone)
	a.Filter.Zone = zone
	return a, errors.Join(wrong, other)
}

// Values writes it as URL parameters; [Parse] reads them back the same.
func (a Asked) Values() url.Values {
	f := a.Filter
	f.From, f.To = time.Time{}, time.Time{}
	v := f.Values()
	for name, text := range map[string]string{Since: string(a.Span), "from": a.From, "to": a.To} {
		if text != "" {
			v.Set(name, text)
		}
	}
	for _, name := range a.Open {
		v.Set(name, All)
	}
	if a.Simulated && !f.Simulated {
		v.Set("simulated", "0")
	}
	return v
}

// Leaves reports whether a part is to be open, or is left out of what was said.
func (a Asked) Leaves(name string) bool { return slices.Contains(a.Open, name) }

// Timed reports whether anything was said of times.
func (a Asked) Timed() bool { return cmp.Or(string(a.Span), a.From, a.To) != "" }
