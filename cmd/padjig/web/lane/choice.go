package lane

import (
	"fmt"
	"strconv"
	"sync"
	"time"

	"padjig/cmd/padjig/placing"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/station/watch"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
)

// choices are the serial numbers that wait until somebody says in which jig the unit lies,
// one for each screen and person. They are no record: what is lost of them is scanned again.
type choices struct {
	notifier watch.Notifier

	mu sync.Mutex
	by map[chooser]waiting
}

// chooser is one person at one screen.
type chooser struct {
	session      int64
	screen, name string
}

type waiting struct {
	serial string
	since  time.Time
}

func chooserOf(v *page.Visit) chooser {
	return chooser{v.Person.Session, v.Screen(), v.Person.Name}
}

// waits gives the serial number that waits at the visitor's screen, empty for none.
func (c *choices) waits(v *page.Visit) string {
	c.mu.Lock()
	defer c.mu.Unlock()
	w := c.by[chooserOf(v)]
	if time.Since(w.since) >= placing.Within {
		return ""
	}
	return w.serial
}

// keep has a serial number wait, in place of the one that waited before, which it gives.
func (c *choices) keep(v *page.Visit, serial string) (before string) {
	before = c.waits(v)
	c.mu.Lock()
	for who, w := range c.by {
		if time.Since(w.since) >= placing.Within {
			delete(c.by, who)
		}
	}
	if c.by == nil {
		c.by = map[chooser]waiting{}
	}
	c.by[chooserOf(v)] = waiting{serial, time.Now()}
	c.mu.Unlock()
	time.AfterFunc(placing.Within, c.notifier.Notify)
	c.notifier.Notify()
	return before
}

// take takes a serial number that waits out, and reports whether it waited.
func (c *choices) take(v *page.Visit, serial string) bool {
	if serial == "" || c.waits(v) != serial {
		return false
	}
	c.mu.Lock()
	delete(c.by, chooserOf(v))
	c.mu.Unlock()
	c.notifier.Notify()
	return true
}

// choiceView asks in which jig a unit lies.
type choiceView struct {
	Serial string      `json:"serial"` // empty: none waits
	Takers []takerView `json:"takers"` // lanes that test such a unit
	Others []string    `json:"others"` // what the others test
	Token  string      `json:"-"`
	Screen string      `json:"-"`
}

// takerView is a lane to choose.
type takerView struct {
	Lane  int    `json:"lane"`
	Jig   string `json:"jig"`
	Tests string `json:"tests"`
	Say   string `json:"say"`  // what it does, while it is busy
	Busy  bool   `json:"busy"` // it has another unit in hand
}

// choice is what waits at the visitor's screen, and where it could go.
func (p *Pages) choice(v *page.Visit) choiceView {
	out := choiceView{Takers: []takerView{}, Others: []string{}, Screen: v.Screen()}
	if v.Person == nil {
		return out
	}
	out.Serial, out.Token = p.choices.waits(v), v.Person.Token
	if out.Serial == "" {
		return out
	}
	for i, lane := range p.lanes.All() {
		state := lane.State()
		view := p.view(v, i+1, state)
		taker := takerView{Lane: i + 1, Jig: control.JigName(state), Tests: view.Product, Busy: state.Phase.Busy()}
		if taker.Busy { // else it would say of another unit that it passed
			taker.Say = view.Card
		}
		if station.CheckSerial(state.Product, out.Serial) != nil {
			out.Others = append(out.Others, v.Say("choice.tests", i+1, control.JigName(state), view.Product))
			continue
		}
		out.Takers = append(out.Takers, taker)
	}
	return out
}

// takers are the lanes that test units with such a number.
func (p *Pages) takers(serial string) (out []int) {
	for i, lane := range p.lanes.All() {
		if station.CheckSerial(lane.State().Product, serial) == nil {
			out = append(out, i+1)
		}
	}
	return out
}

// Choose has a serial number that was scanned where no lane is wait for its jig.
func (p *Pages) Choose(v *page.Visit, serial string) (page.Answer, error) {
	if v.Late() {
		return page.Answer{}, page.Conflict(v.Say("scan.late", serial))
	}
	if len(p.takers(serial)) == 0 {
		return page.Answer{}, page.Wrong(v.Say("choice.none", serial))
	}
	return page.Answer{Say: p.keep(v, serial, "choice.waits")}, nil
}

// keep has a number wait, and says so; also of the one that waited before, which is not tested.
func (p *Pages) keep(v *page.Visit, serial, say string, args ...any) string {
	said := v.Say(say, append([]any{serial}, args...)...)
	if before := p.choices.keep(v, serial); before != "" && before != serial {
		said = v.Say("choice.dropped", before) + " " + said
	}
	return said
}

// Jig takes the code of a jig: the unit that waits at this screen is tested in it, and the
// screen shows its lane from now on, so that what is scanned next is for it.
func (p *Pages) Jig(v *page.Visit, code string) (page.Answer, error) {
	n := p.lanes.OfCode(code)
	if n == 0 {
		return page.Answer{}, page.Wrong(v.Say("choice.jig"))
	}
	if serial := p.choices.waits(v); serial != "" {
		return p.chosen(v, n, serial)
	}
	jig := control.JigName(p.lanes.All()[n-1].State())
	return page.Answer{Go: at(n), Say: v.Say("choice.here", jig)}, nil
}

func at(n int) string { return fmt.Sprintf("/lane/%d", n) }

// choose is the button of a lane for the unit that waits.
func (p *Pages) choose(v *page.Visit, n int, _ *station.Lane) (page.Answer, error) {
	serial := v.Value("serial")
	if serial == "" || p.choices.waits(v) != serial { // it waited for too long, or another one waits
		return page.Answer{}, page.Conflict(v.Say("choice.gone", serial))
	}
	return p.chosen(v, n, serial)
}

// chosen tests the unit that waits in the jig that was chosen. Where that cannot be it
// goes on waiting.
func (p *Pages) chosen(v *page.Visit, n int, serial string) (page.Answer, error) {
	lane := p.lanes.All()[n-1]
	state := lane.State()
	jig := control.JigName(state)
	switch {
	case v.Late():
		return page.Answer{}, page.Conflict(v.Say("scan.late", serial))
	case station.CheckSerial(state.Product, serial) != nil:
		return page.Answer{}, page.Conflict(v.Say("choice.other", serial, jig, state.Product.Code))
	case state.Phase.Busy():
		return page.Answer{}, page.Conflict(v.Say("choice.busy", serial, jig, state.Unit.Serial))
	}
	if err := p.lanes.Use(v, n, v.Screen()); err != nil {
		return page.Answer{}, err
	}
	if !p.choices.take(v, serial) {
		return page.Answer{}, page.Conflict(v.Say("choice.gone", serial))
	}
	lane.Scan(station.Scan{Serial: serial, Operator: v.Person.Name})
	return page.Answer{Go: at(n), Say: v.Say("choice.here", jig)}, nil
}

// forget lets go of what waits.
func (p *Pages) forget(v *page.Visit) (page.Answer, error) {
	p.choices.take(v, v.Value("serial"))
	return page.Answer{Go: All}, nil
}

// elsewhere says of a number that a lane does not test which lanes do: it waits there for
// one of their codes, and goes to none by itself.
func (p *Pages) elsewhere(v *page.Visit, n int, serial string) error {
	takers := p.takers(serial)
	if len(takers) == 0 || station.CheckSerial(p.lanes.All()[n-1].State().Product, serial) == nil {
		return nil
	}
	where := ""
	for _, taker := range takers {
		where += v.Say("choice.tests", strconv.Itoa(taker), control.JigName(p.lanes.All()[taker-1].State()), p.lanes.All()[taker-1].State().Product.Code) + ". "
	}
	return page.Wrong(p.keep(v, serial, "choice.elsewhere", where))
}
