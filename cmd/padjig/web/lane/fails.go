package lane

import (
	"sync"
	"time"

	"padjig/cmd/padjig/placing"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/page"
	"padjig/results/fails"
)

// FailsPath is where what is not placed is listed: for a screen at the fail place, which
// follows no lane.
const FailsPath = "/fails"

// hands are what people have scanned of place and tag, by screen and person.
type hands struct {
	mu sync.Mutex
	by map[string]*placing.Hand
}

// read takes a code in somebody's hand at a screen.
func (h *hands) read(v *page.Visit, records *fails.Records, text string) (placing.Answer, error) {
	h.mu.Lock()
	defer h.mu.Unlock()
	now := time.Now()
	for who, hand := range h.by {
		if !hand.Holds(now) {
			delete(h.by, who)
		}
	}
	hand := h.by[h.who(v)]
	if hand == nil {
		hand = &placing.Hand{}
	}
	answer, err := hand.Read(v.Ctx(), records, text, v.Person.Name, now.In(v.Zone()))
	if h.by == nil {
		h.by = map[string]*placing.Hand{}
	}
	h.by[h.who(v)] = hand
	return answer, err
}

func (h *hands) who(v *page.Visit) string { return v.Screen() + "\x00" + v.Person.Name }

// holdsPlace reports whether a place waits for its tag at the visitor's screen.
func (h *hands) holdsPlace(v *page.Visit) bool {
	h.mu.Lock()
	defer h.mu.Unlock()
	hand := h.by[h.who(v)]
	return hand != nil && hand.HoldsPlace(time.Now())
}

// empty forgets what was scanned at the visitor's screen.
func (h *hands) empty(v *page.Visit) {
	h.mu.Lock()
	defer h.mu.Unlock()
	delete(h.by, h.who(v))
}

// Place takes the code of a fail place or of a tag, at whichever screen.
func (p *Pages) Place(v *page.Visit, text string) (page.Answer, error) {
	answer, err := p.hands.read(v, p.store.Fails, text)
	if err != nil {
		return page.Answer{}, err
	}
	say := v.Facts().Placing(answer.Say)
	if !answer.Good {
		return page.Answer{}, page.Conflict(say)
	}
	if answer.Done == nil {
		return page.Answer{Say: say}, nil
	}
	for _, lane := range p.lanes.All() {
		lane.Refresh()
	}
	if at := page.Here(v.Value("next")); at == FailsPath {
		return page.Answer{Say: say, Go: at}, nil // its list is another one now
	}
	return page.Answer{Say: say}, nil
}

// NoTag says to somebody who scanned a place and then something that is no tag what is
// missing; nil where no place waits.
func (p *Pages) NoTag(v *page.Visit, text string) error {
	if !p.hands.holdsPlace(v) {
		return nil
	}
	return page.Wrong(v.Facts().Placing(placing.NoTag(text)))
}

type failsView struct {
	Owed   []owedView   `json:"owed"`
	Latest []placedView `json:"latest"`
}

// owedView is a unit that failed and was not placed.
type owedView struct {
	Serial    string    `json:"serial"`
	Jig       string    `json:"jig"`
	At        time.Time `json:"at,omitzero"`
	Attempt   int       `json:"attempt"`
	By        string    `json:"by"`
	Simulated bool      `json:"simulated"`
	Tag       string    `json:"tag"` // its address
}

type placedView struct {
	Serial    string    `json:"serial"`
	Jig       string    `json:"jig"`
	Place     string    `json:"place"`
	At        time.Time `json:"at,omitzero"`
	By        string    `json:"by"`
	Simulated bool      `json:"simulated"`
}

// latestShown is how many placements are listed.
const latestShown = 10

// failsPage lists what is not placed, and what was placed last.
func (p *Pages) failsPage(v *page.Visit) (any, error) {
	out := failsView{Owed: []owedView{}, Latest: []placedView{}}
	for _, simulated := range []bool{false, true} {
		owed, err := p.store.Fails.Open(v.Ctx(), simulated)
		if err != nil {
			return nil, err
		}
		for _, o := range owed {
			out.Owed = append(out.Owed, owedOf(o))
		}
	}
	latest, err := p.store.Fails.Latest(v.Ctx(), latestShown)
	for _, l := range latest {
		place := placeName(v.Words, l.Place)
		if l.How == fails.Lifted {
			place = v.Say("fails.lifted", l.Reason)
		}
		out.Latest = append(out.Latest, placedView{l.Serial, l.Jig, place, l.At, l.By, l.Simulated})
	}
	return out, err
}

func owedOf(o fails.Owed) owedView {
	return owedView{o.Serial, o.Jig, o.Started, o.Attempt, o.Operator, o.Simulated, "/tag/" + o.Run.String() + "?back=" + FailsPath}
}

// owed says which unit the lane waits for.
func (v saying) owed(serial, at string) {
	v.set("look", "owed", serial, at)
	v.steps(serial)
}

// steps says what is to be done with a unit that is not placed, in its order.
func (v saying) steps(serial string) {
	for _, step := range []string{"1", "2", "3"} {
		v.out.Steps = append(v.out.Steps, v.Say("owed.step."+step, serial))
	}
}

// forgo goes on without the units that are owed on the lane's jig, and then tests the
// one that waits. Its own rules hold for that as ever.
func (p *Pages) forgo(v *page.Visit, lane *station.Lane, reason string) error {
	state := lane.State()
	for _, o := range state.Owed {
		if o.Serial == state.Unit.Serial {
			continue
		}
		if _, err := p.store.Fails.Lift(v.Ctx(), o.Run, v.Person.Name, reason); err != nil {
			return err
		}
	}
	lane.Scan(station.Scan{Serial: state.Unit.Serial, Operator: v.Person.Name})
	return nil
}
