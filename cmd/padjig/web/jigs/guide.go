package jigs

import (
	"context"
	"fmt"
	"strings"
	"time"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/station/lid"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
)

// Guide is what is done at a jig step by step: what to do now, what came of it, and what is
// next. All of it is in the lane and in the records, so that a page that is loaded again, or
// elsewhere, goes on where it was.
type Guide struct {
	Lane      int         `json:"lane"`
	Jig       string      `json:"jig"`
	What      string      `json:"what"` // zero, verify, references or study
	Title     string      `json:"title"`
	Simulated bool        `json:"simulated"`
	Address   string      `json:"-"`
	Steps     []guideStep `json:"steps"`
	Moves     bool        `json:"moves"` // keys are pressed
	Lid       string      `json:"lid"`   // lid.State, where keys are pressed
	Busy      bool        `json:"busy"`
	Wait      string      `json:"wait"` // what is waited for
	Done      int         `json:"done"`
	Total     int         `json:"total"`
	Start     *startForm  `json:"start"`  // nil: it cannot be begun now
	Why       string      `json:"why"`    // it cannot, or came to nothing
	Lang      string      `json:"-"`      // of Why, where it is another
	Remedy    string      `json:"remedy"` // English, as everywhere
	Result    *resultView `json:"result"`
	List      []listed    `json:"list"` // units, or readings, and how they stand
	Go        *goView     `json:"go"`   // what is next
}

// guideStep is one step of what a person does.
type guideStep struct {
	Say  string `json:"say"`
	Mark string `json:"mark"` // done, now or later
}

// startForm begins it.
type startForm struct {
	Action string        `json:"action"`
	Button string        `json:"button"`
	Fields []page.Option `json:"-"` // hidden: value under text
	Boxes  []page.Option `json:"-"`
	Box    bool          `json:"-"` // it takes a reference box
}

// resultView is what came of it.
type resultView struct {
	Good bool      `json:"good"`
	Head string    `json:"head"`
	Why  string    `json:"why"` // English, as the records have it
	Rows []readRow `json:"rows"`
}

// readRow is a value against its limit.
type readRow struct {
	Name  string  `json:"name"`
	Value string  `json:"value"`
	U     string  `json:"u"`
	Limit string  `json:"limit"`
	Part  float64 `json:"part"` // of the limit that is used up
	Good  bool    `json:"good"`
}

// Long is how long the bar of a value is, in percent; what is beyond its limit fills it.
func (r readRow) Long() int { return bar(r.Part) }

// Over reports whether the value is beyond its limit.
func (r readRow) Over() bool { return !r.Good }

func bar(part float64) int { return int(100*min(max(part, 0), 1) + 0.5) }

// listed is a unit or a reading of many.
type listed struct {
	Name   string    `json:"name"`
	By     string    `json:"by"`
	Say    string    `json:"say"`
	At     time.Time `json:"at,omitzero"`
	Mark   string    `json:"mark"` // done, bad, now or later
	Serial string    `json:"-"`    // may be asked for; empty: not
}

// goView leads to what is next.
type goView struct {
	Path string `json:"path"`
	Say  string `json:"say"`
}

// guided is one sort of guide: load reads the records, and view makes it of them and of how
// the lane stands.
type guided interface {
	load(ctx context.Context, s station.State) error
	view(w page.Words, n int, s station.State) Guide
	moves() bool
}

// guide is the page of a guide.
func (p *pages) guide(v *page.Visit, n int, lane *station.Lane) (any, error) {
	g, err := p.guideOf(v, n, lane)
	if err != nil {
		return nil, err
	}
	s := lane.State()
	if g.moves() {
		s = seeLid(v.Ctx(), lane)
	}
	if err := g.load(v.Ctx(), s); err != nil {
		return nil, err
	}
	return g.view(v.Words, n, s), nil
}

// lidPatience is how long a page waits for the jig to say how its lid stands.
const lidPatience = time.Second

// seeLid is how a lane stands, with its lid where that can be said.
func seeLid(ctx context.Context, lane *station.Lane) station.State {
	stop := lane.WatchLid()
	defer stop()
	changes, leave := lane.Subscribe()
	defer leave()
	late := time.NewTimer(lidPatience)
	defer late.Stop()
	for {
		s := lane.State()
		if s.Jig.Lid != lid.Unknown || s.Phase.Busy() || !s.Jig.Present {
			return s
		}
		select {
		case <-changes:
		case <-late.C:
			return s
		case <-ctx.Done():
			return s
		}
	}
}

// follow sends the guide anew after each change of what it shows.
func (p *pages) follow(v *page.Visit, e *page.Events) error {
	n, lane, err := p.lanes.Of(v)
	if err != nil {
		return err
	}
	g, err := p.guideOf(v, n, lane)
	if err != nil {
		return err
	}
	if g.moves() {
		defer lane.WatchLid()()
	}
	changes, stop := lane.Subscribe()
	defer stop()
	kept, leave := p.keepers[n-1].Subscribe()
	defer leave()
	var epoch uint64
	var shown string
	return e.Follow(v, changes, kept, func() error {
		s := lane.State()
		if s.Epoch != epoch || shown == "" {
			if err := g.load(v.Ctx(), s); err != nil {
				return err
			}
			epoch = s.Epoch
		}
		html, err := e.Part("guide", "doing", []any{g.view(v.Words, n, s), v.Person.Token})
		if err != nil || html == shown { // nothing jumps for what does not change
			return err
		}
		shown = html
		return e.Send("lane", map[string]string{"html": html})
	})
}

// guideOf is the guide that a path names.
func (p *pages) guideOf(v *page.Visit, n int, lane *station.Lane) (guided, error) {
	if v.Place("study") != "" {
		return p.study(v)
	}
	switch what := v.Place("what"); what {
	case "zero", "verify":
		return &calibrationGuide{p: p, keeper: p.keepers[n-1], kind: kinds[what]}, nil
	case "references":
		return &referenceGuide{p: p, lane: lane, chosen: v.Value("unit")}, nil
	}
	return nil, page.NotFound(v.Say("error.nowhere"))
}

// begun is the guide of a lane as far as all are alike.
func begun(w page.Words, n int, s station.State, what string) Guide {
	g := Guide{Lane: n, Jig: s.Jig.Serial, What: what, Title: w.Say("guide.title."+what, s.Jig.Serial), Simulated: s.Jig.Simulated,
		Address: fmt.Sprintf("/jigs/%d/do/%s", n, what)}
	switch {
	case !s.LetGo.IsZero():
		g.Why = w.Say("guide.letgo")
	case !s.Jig.Present:
		g.Why = w.Say("jigs.absent")
	}
	return g
}

// step adds a step; those before now are done.
func (g *Guide) step(w page.Words, now int, keys ...string) {
	for i, key := range keys {
		mark := "later"
		switch {
		case i < now:
			mark = "done"
		case i == now:
			mark = "now"
		}
		g.Steps = append(g.Steps, guideStep{w.Say(key), mark})
	}
}

// busy says what a lane has in hand.
func busy(w page.Words, s station.State) string {
	if s.Unit.Serial == "" {
		return w.Say("guide.calibrated")
	}
	return w.Say("guide.busy", s.Unit.Serial)
}

// stilled says why a lane that has work in hand waits; empty where it does not.
func stilled(w page.Words, code station.Code) string {
	if code == "" {
		return ""
	}
	return w.Say("guide.wait." + string(code))
}

// refused says why a lane did not do what it was asked, with the remedy of the terminal where
// there is one.
func (g *Guide) refused(w page.Words, err error) {
	g.Why = control.Refusal(w, station.RefusalOf(err))
}

// halt stops what is done at a lane: anybody who sees that something is wrong.
func (p *pages) halt(v *page.Visit, n int, lane *station.Lane) (page.Answer, error) {
	lane.Stop()
	return page.Answer{Go: back(v, fmt.Sprintf("/jigs/%d", n))}, nil
}

// back is the guide that a form came from, as it says itself.
func back(v *page.Visit, otherwise string) string {
	if to := page.Here(v.Value("back")); strings.HasPrefix(to, "/jigs/") {
		return to
	}
	return otherwise
}
