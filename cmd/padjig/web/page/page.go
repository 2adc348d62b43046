// Package page is what the subjects of the station bring to the site, and what the
// site brings to them: pages, actions and streams as plain values, the visit of one
// request, the words and tables of its language.
//
// Nothing here or in a subject can write an answer or register a route: a page
// gives a view, an action an Answer, a stream Events, and the site does the rest.
package page

import (
	"net/http"
	"slices"
	"strings"

	"padjig/cmd/padjig/account"
)

// Set is all that a subject brings.
type Set struct {
	Pages   []Page
	Actions []Action
	Streams []Stream
}

// Page is something to look at.
type Page struct {
	Path  string // as net/http's patterns have it, without the method
	Name  string // of its template, and of its title in the catalogue: title.NAME
	Who   Roles
	Menu  string // key of its entry in the menu, empty for none
	Below string // where else pages lie that belong to its entry
	Bare  bool   // without the frame: for printing
	View  func(*Visit) (any, error)
}

// Address is where a page without a place for a value in its path is: a pattern
// that ends in {$} matches that path alone.
func (p Page) Address() string { return strings.TrimSuffix(p.Path, "{$}") }

// Holds reports whether an address lies below the page's entry in the menu.
func (p Page) Holds(path string) bool {
	return within(path, p.Address()) || p.Below != "" && within(path, p.Below)
}

func within(path, place string) bool {
	return path == place || strings.HasPrefix(path, place+"/")
}

// Elsewhere is a view that is to be seen at another address.
type Elsewhere string

// Document is a view that is a file as it stands.
type Document struct {
	Kind, Policy string // Policy is its own, empty for the site's
	Body         []byte
}

// Action is something to do: a form that is sent.
type Action struct {
	Path  string
	Who   Roles
	Files bool // its form may bring files
	// Do says where to go next; a script gets the same as JSON.
	Do func(*Visit) (Answer, error)
}

// Answer is what comes of an action.
type Answer struct {
	Go   string `json:"go,omitempty"`  // address to show next; empty: stay
	Say  string `json:"say,omitempty"` // to be said where the person looks
	Do   string `json:"do,omitempty"`  // for the script: what only a browser can do
	Good bool   `json:"good"`          // what was asked for was done

	Show string `json:"-"` // name of the page to be shown in answer, with View; empty for none
	View any    `json:"-"`
}

// Stream is a row of events that a live page holds open (server-sent events,
// HTML standard section 9.2).
type Stream struct {
	Path string
	Who  Roles
	Run  func(*Visit, *Events) error // until the visit's context ends
}

// Roles say who may see a page or do a thing; nil is anybody, also without a
// session. An engineer may see whatever others may.
type Roles []account.Role

// Who most things are for.
var (
	Everyone  = Roles(account.Roles)
	Engineers = Roles(account.Engineers)
	Deciding  = Roles(account.Deciding)
)

// Person is who looks at a page.
type Person struct {
	Name   string
	Role   account.Role
	Strong bool // came by a password: a badge alone releases nothing

	Session int64
	Token   string // of forms
}

// HasRole reports whether somebody is allowed what these may.
func (p *Person) HasRole(who Roles) bool {
	return who == nil || p != nil && slices.Contains(who, p.Role)
}

// Problem is an error a person is told, with the status that fits it.
type Problem struct {
	Status int
	Say    string
}

func (p *Problem) Error() string { return p.Say }

// Fail is a problem with its status.
func Fail(status int, say string) error { return &Problem{status, say} }

// NotFound is of what there is nothing.
func NotFound(say string) error { return Fail(http.StatusNotFound, say) }

// Wrong is what was asked for in a way that cannot be.
func Wrong(say string) error { return Fail(http.StatusUnprocessableEntity, say) }

// Refused is what this person may not do.
func Refused(say string) error { return Fail(http.StatusForbidden, say) }

// Conflict is what cannot be done as things stand.
func Conflict(say string) error { return Fail(http.StatusConflict, say) }
