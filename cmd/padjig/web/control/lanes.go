// Package control is what every subject knows of the station's lanes: which there
// are, what they test, which screen each listens to, and how to say what they say.
package control

import (
	"fmt"
	"slices"
	"strconv"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/page"
	"padjig/sequence/product"
)

// Lanes are the station's lanes, numbered from 1, and who controls each.
type Lanes struct {
	all     []*station.Lane
	screens []*screens
}

// New gives each lane to nobody yet.
func New(all []*station.Lane) *Lanes {
	l := &Lanes{all: all}
	for range all {
		l.screens = append(l.screens, newScreens())
	}
	return l
}

// All gives them in their order.
func (l *Lanes) All() []*station.Lane { return l.all }

// Of is the lane that the path of a visit names.
func (l *Lanes) Of(v *page.Visit) (int, *station.Lane, error) { return l.called(v, v.Place("lane")) }

// Named makes a page or an action of one that is about the lane in its path.
func Named[T any](l *Lanes, do func(v *page.Visit, n int, lane *station.Lane) (T, error)) func(*page.Visit) (T, error) {
	return func(v *page.Visit) (out T, err error) {
		n, lane, err := l.Of(v)
		if err != nil {
			return out, err
		}
		return do(v, n, lane)
	}
}

// Asked is the lane that a form names.
func (l *Lanes) Asked(v *page.Visit) (int, *station.Lane, error) {
	if v.Value("lane") == "" {
		return 0, nil, page.Wrong(v.Say("lanes.choose"))
	}
	return l.called(v, v.Value("lane"))
}

func (l *Lanes) called(v *page.Visit, text string) (int, *station.Lane, error) {
	var n int
	if _, err := fmt.Sscan(text, &n); err != nil || n < 1 || n > len(l.all) {
		return 0, nil, page.NotFound(v.Say("error.lane"))
	}
	return n, l.all[n-1], nil
}

// Watch notes that a screen watches lane n, and tells of each change of who has
// control of it.
func (l *Lanes) Watch(n int, screen string) (changes <-chan struct{}, leave func()) {
	gone := l.screens[n-1].arrive(screen)
	changes, stop := l.screens[n-1].notifier.Subscribe()
	return changes, func() { stop(); gone() }
}

// Use has lane n listen to a screen, and refuses one that only watches.
func (l *Lanes) Use(v *page.Visit, n int, screen string) error {
	if l.screens[n-1].use(screen, v.Person.Name, false) {
		return nil
	}
	return page.Conflict(v.Say("control.held", l.Elsewhere(n, v.Screen())))
}

// UseAtDesk has lane n listen to the desk of a person.
func (l *Lanes) UseAtDesk(v *page.Visit, n int) error { return l.Use(v, n, DeskOf(v)) }

// DeskOf is the screen that the desk of a person is to the lanes.
func DeskOf(v *page.Visit) string { return "desk " + v.Person.Name }

// Take has lane n listen to this screen, whoever had it.
func (l *Lanes) Take(v *page.Visit, n int) {
	l.screens[n-1].use(v.Screen(), v.Person.Name, true)
}

// Elsewhere gives the name of the person at another screen that has control of lane n,
// empty when this screen may have it.
func (l *Lanes) Elsewhere(n int, screen string) string { return l.screens[n-1].elsewhere(screen) }

// Testing are the lanes that test a product, to choose from.
func (l *Lanes) Testing(w page.Words, code string) (out []page.Option) {
	for i, lane := range l.all {
		if state := lane.State(); state.Product.Code == code {
			out = append(out, page.Option{Value: strconv.Itoa(i + 1), Text: w.Say("stage.lane", i+1, state.Jig.Serial)})
		}
	}
	return out
}

// With is the lane that has a unit in hand, 0 for none.
func (l *Lanes) With(serial string) int {
	return 1 + slices.IndexFunc(l.all, func(lane *station.Lane) bool {
		state := lane.State()
		return state.Phase.Busy() && state.Unit.Serial == serial
	})
}

// Products are what the lanes test now.
func (l *Lanes) Products() (out []*product.Product) {
	for _, lane := range l.all {
		p := lane.State().Product
		if !slices.ContainsFunc(out, func(q *product.Product) bool { return q.Hash() == p.Hash() }) {
			out = append(out, p)
		}
	}
	return out
}

// Holding is the first product that fits, of those the lanes test now; nil for none.
func (l *Lanes) Holding(fits func(*product.Product) bool) *product.Product {
	for _, lane := range l.all {
		if p := lane.State().Product; fits(p) {
			return p
		}
	}
	return nil
}
