// Package page is what the subjects of the station bring to the site, and what the
// site brings to them: pages, actions and streams as plain values, the visit of one
// request, the words and tables of its language.
//
// Nothing here or in a subject can write an answer or register a route: a page
// gives a view, an action an Answer, a stream Events, and the site does the rest.
//
// An action that cannot be done returns a [Problem], and its form stays where it is with
// all that was typed: the site puts the message into it. [WrongField] and [WrongFields]
// name the fields that are wrong, by the names the form has for them, and each message
// stands at its field; what [Wrong], [Conflict], [Refused] and the others say stands at
// the head of the form. So a subject says every mistake at once:
//
//	var wrong []page.Mistake
//	if lot == "" {
//		wrong = append(wrong, page.Mistake{Field: "lot", Say: v.Say("lot.which")})
//	}
//	...
//	if err := page.WrongFields(wrong...); err != nil {
//		return page.Answer{}, err
//	}
//
// Its templates need nothing for that, but one thing: a form whose answer is a page
// (Answer.Show) carries data-whole, so that the browser itself sends it.
package page

import (
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

// Join is what several bring, in their order.
func Join(sets ...Set) (all Set) {
	for _, one := range sets {
		all.Pages = append(all.Pages, one.Pages...)
		all.Actions = append(all.Actions, one.Actions...)
		all.Streams = append(all.Streams, one.Streams...)
	}
	return all
}

// Read is what of a subject is left where units are not tested and the records are only
// read: pages that are about no lane, and forms that only lead somewhere.
func (s Set) Read() Set {
	lane := func(p Page) bool { return p.Lane || strings.Contains(p.Path, "{lane}") }
	return Set{Pages: slices.DeleteFunc(slices.Clone(s.Pages), lane), Actions: slices.DeleteFunc(slices.Clone(s.Actions), func(a Action) bool { return !a.Leads })}
}

// Page is something to look at.
type Page struct {
	Path  string // as net/http's patterns have it, without the method
	Name  string // of its template, and of its title in the catalogue: title.NAME
	Who   Roles
	Menu  string     // key of its entry in the menu, empty for none
	Below string     // where else pages lie that belong to its entry
	Bare  bool       // without the frame: for printing
	Keys  []Shortcut // that do something on it, for its help
	Lane  bool       // it is about what goes on in a lane, see [Set.Read]
	View  func(*Visit) (any, error)
}

// Shortcut is a key that does something on a page, see [Page.Keys]; what it does is said by its
// key in the catalogue: key.NAME.
type Shortcut struct{ Press, Name string }

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
	Leads bool // it only leads somewhere: nothing is written, see [Set.Read]
	// Do says where to go next; a script gets the same as JSON.
	Do func(*Visit) (Answer, error)
}

// Answer is what comes of an action.
type Answer struct {
	Go   string `json:"go,omitempty"`  // address to show next; empty: stay
	Say  string `json:"say,omitempty"` // to be said where the person looks
	Do   string `json:"do,omitempty"`  // for the script: what only a browser can do
	Good bool   `json:"good"`          // what was asked for was done

	// Fields and Token are of what was refused: what is wrong with which field, and the
	// form's new token, when somebody signed in anew since its page was made.
	Fields []Mistake `json:"fields,omitempty"`
	Token  string    `json:"token,omitempty"`

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
