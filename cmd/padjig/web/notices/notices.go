// Package notices is the page of what an office decides for all stations: which notices were put up, which station took
// which, what keeps them from it, and the way back of a product in one step.
//
// The office publishes by itself where it has its key ([Publishing]); where it has not, the page says how it is done
// instead. What waits, what hangs at the plant and what a station says it took are asked anew each time. While the
// plant's database is away, what the office itself knows is shown all the same.
package notices

import (
	"context"
	"errors"
	"time"

	"padjig/cmd/padjig/web/page"
	"padjig/results"
	"padjig/results/answers/plant"
	"padjig/results/notices"
	"padjig/results/plant/board"
	"padjig/results/plant/notice"
	"padjig/results/releases"
)

// Path is where it is.
const Path = "/notices"

// Why is why nothing was put up when that was tried last.
type Why string

// The reasons, each with its sentence: notices.why.CODE.
const (
	Away         Why = "away"          // the plant's database does not answer
	Untrusted    Why = "untrusted"     // it does not show who it is
	NotPermitted Why = "not permitted" // the role that the office signs in by may not
	OtherTables  Why = "other tables"  // of another version
	OtherOffice  Why = "other office"  // other notices hang there
	OtherKey     Why = "other key"     // another key is in force than the office's
	OfAStation   Why = "of a station"  // the records are a station's
	Broken       Why = "broken"        // notices in the office's records are not as they were signed
	Unknown      Why = "unknown"       // anything else: the log says what
)

// Whys are all of them.
func Whys() []Why {
	return []Why{Away, Untrusted, NotPermitted, OtherTables, OtherOffice, OtherKey, OfAStation, Broken, Unknown}
}

// State is how an office stands that publishes by itself.
type State struct {
	Last  time.Time `json:"last,omitzero"`  // everything that was decided then hangs at the plant; zero: not yet
	Tried time.Time `json:"tried,omitzero"` // for the last time
	Count int64     `json:"count"`          // notices that hung there then
	Why   Why       `json:"why,omitempty"`  // empty: it went well
	Since time.Time `json:"since,omitzero"` // it does not
}

// Publishing is an office that has its key.
type Publishing struct {
	Every time.Duration
	State func() State
	Now   func(context.Context) State // publishes at once
}

// Plant is the database of a plant, as the page needs it.
type Plant struct {
	Stations func(context.Context) ([]board.Taken, error)
	// Away reports whether an error says that the database does not answer, or does not show who it is.
	Away func(error) bool
}

// Set is what there is to see and to do. by is nil for an office without its key.
func Set(store *results.Store, plant Plant, by *Publishing) page.Set {
	p := pages{store, plant, by}
	set := page.Set{
		Pages:   []page.Page{{Path: Path, Name: "notices", Menu: "menu.notices", Who: page.Everyone, View: p.view}},
		Actions: []page.Action{{Path: Path + "/return", Who: page.Engineers, Do: p.back}},
	}
	if by != nil {
		set.Actions = append(set.Actions, page.Action{Path: Path + "/publish", Who: page.Deciding, Do: p.publish})
	}
	return set
}

type pages struct {
	store *results.Store
	plant Plant
	by    *Publishing
}

// View is what was decided, and how far it came.
type View struct {
	Publishes bool      `json:"publishes"` // by itself
	Seconds   int       `json:"every_s,omitempty"`
	State     State     `json:"state"`
	Waiting   Waiting   `json:"waiting"`
	Plant     string    `json:"plant,omitempty"` // fingerprint that stations know it by
	Issued    int64     `json:"issued"`          // notices in all
	Notices   []Notice  `json:"notices"`         // the newest, newest first
	Away      bool      `json:"away"`            // the database does not answer: of the stations nothing is known
	Stations  []Station `json:"stations"`        // those that lack something first
	Behind    int       `json:"behind"`          // how many of them lack something
	Doubting  int       `json:"doubting"`        // how many do not believe something
	Silent    int       `json:"silent_min"`      // of how many minutes without word a station is shown as silent
	Returns   []Return  `json:"-"`
	May       bool      `json:"-"` // whoever looks may publish
	Engineer  bool      `json:"-"`
	Strong    bool      `json:"-"`
}

// Waiting is what was decided and is in no notice yet.
type Waiting struct {
	Releases int `json:"releases"`
	Accounts int `json:"accounts"`
	Lots     int `json:"lots"`
}

// Any reports whether anything waits.
func (w Waiting) Any() bool { return w.Releases+w.Accounts+w.Lots > 0 }

// Notice is one, and who lacks it.
type Notice struct {
	Number  int64     `json:"number"`
	Kind    string    `json:"kind"`
	Subject string    `json:"subject"`
	Issued  time.Time `json:"issued,omitzero"`
	Up      bool      `json:"up"` // it hangs at the plant, as far as the office knows
	Took    int       `json:"took"`
	Of      int       `json:"of"`
	Lack    []string  `json:"lack"` // stations
}

// Station is one, and how far it is.
type Station struct {
	Name    string      `json:"name"`
	Number  int64       `json:"number"` // of the last notice that it took
	Behind  int64       `json:"behind"` // notices that it lacks
	Told    time.Time   `json:"told,omitzero"`
	Silent  bool        `json:"silent"` // it said nothing for long: what it has may be more
	Trouble notice.Code `json:"trouble,omitempty"`
	About   int64       `json:"about,omitempty"`
}

// Return is the way back of a product in one step.
type Return struct {
	Code, Now, Before, Hash string
}

// shown is how many notices are listed.
const shown = 30

func (p pages) view(v *page.Visit) (any, error) {
	out := View{Publishes: p.by != nil, May: v.Person.HasRole(page.Deciding), Engineer: v.Person.HasRole(page.Engineers), Strong: v.Person != nil && v.Person.Strong}
	if p.by != nil {
		out.State, out.Seconds = p.by.State(), int(p.by.Every.Seconds())
	}
	waiting, err := p.store.Notices.Waiting(v.Ctx())
	if err != nil {
		return nil, err
	}
	out.Waiting = Waiting(waiting)
	id, _, err := p.store.Notices.Plant(v.Ctx())
	switch {
	case err == nil:
		out.Plant = id.String()
	case !errors.Is(err, notices.ErrNoNotices):
		if _, is := errors.AsType[notice.Mistake](err); !is {
			return nil, err
		}
	}
	if err := p.notices(v, &out); err != nil {
		return nil, err
	}
	if out.Engineer {
		if out.Returns, err = p.returns(v.Ctx()); err != nil {
			return nil, err
		}
	}
	return out, nil
}

// notices adds the newest ones, and who took them.
func (p pages) notices(v *page.Visit, out *View) error {
	list, _, err := p.store.Notices.Newest(v.Ctx(), shown)
	if err != nil {
		return err
	}
	if len(list) > 0 {
		out.Issued = list[len(list)-1].Number
	}
	stations, err := p.plant.Stations(v.Ctx())
	switch {
	case err != nil && p.plant.Away(err):
		out.Away = true
	case err != nil:
		return err
	}
	out.Silent = int(plant.Silent.Minutes())
	out.Stations, out.Behind, out.Doubting = standing(stations, out.Issued, time.Now())
	out.Notices = []Notice{}
	for i := len(list) - 1; i >= 0; i-- {
		n := list[i]
		one := Notice{Number: n.Number, Kind: string(n.Kind), Subject: n.Subject, Issued: n.Issued, Of: len(stations), Lack: []string{},
			Up: p.by == nil || n.Number <= out.State.Count}
		for _, s := range stations {
			if s.Number >= n.Number {
				one.Took++
			} else {
				one.Lack = append(one.Lack, s.Station)
			}
		}
		out.Notices = append(out.Notices, one)
	}
	return nil
}

// standing says how far each station is, those that lack something or do not believe something first.
func standing(stations []board.Taken, issued int64, now time.Time) (all []Station, behind, doubting int) {
	all = []Station{}
	var good []Station
	for _, s := range stations {
		one := Station{Name: s.Station, Number: s.Number, Behind: max(issued-s.Number, 0), Told: s.Told,
			Silent: now.Sub(s.Told) > plant.Silent, Trouble: s.Trouble, About: s.About}
		if one.Behind > 0 {
			behind++
		}
		if one.Trouble != "" {
			doubting++
		}
		if one.Behind > 0 || one.Trouble != "" {
			all = append(all, one)
		} else {
			good = append(good, one)
		}
	}
	return append(all, good...), behind, doubting
}

// returns are the products that have a revision to go back to.
func (p pages) returns(ctx context.Context) (all []Return, err error) {
	codes, err := p.store.Releases.Codes(ctx)
	for _, code := range codes {
		list, err := p.store.Runs.Releases(ctx, code)
		if err != nil {
			return nil, err
		}
		if before := releases.Before(list); before != nil {
			all = append(all, Return{Code: code, Now: list[0].Label, Before: before.Label, Hash: before.Hash})
		}
	}
	return all, err
}

// publish does so at once.
func (p pages) publish(v *page.Visit) (page.Answer, error) {
	if state := p.by.Now(v.Ctx()); state.Why != "" {
		return page.Answer{}, page.Conflict(v.Say("notices.why." + string(state.Why)))
	}
	return page.Answer{Go: Path}, nil
}

// back puts the revision before in force again, and has the stations told at once.
func (p pages) back(v *page.Visit) (page.Answer, error) {
	if !v.Person.Strong {
		return page.Answer{}, page.Refused(v.Say("error.weak"))
	}
	hash := v.Value("hash")
	if hash == "" {
		return page.Answer{}, page.Wrong(v.Say("notices.back.which"))
	}
	reason, err := v.Reason()
	if err != nil {
		return page.Answer{}, err
	}
	asked, err := p.store.Releases.Return(v.Ctx(), v.Value("code"), hash, v.Person.Name, reason)
	refused, isRefused := errors.AsType[*releases.Refused](err)
	switch {
	case errors.Is(err, releases.ErrNoneBefore), errors.Is(err, releases.ErrOtherBefore):
		return page.Answer{}, page.Conflict(v.Say("notices.back.other"))
	case isRefused && refused.Code == releases.NoReason:
		return page.Answer{}, page.WrongField("reason", v.Facts().Release(string(refused.Code), refused.Args))
	case isRefused:
		return page.Answer{}, page.Wrong(v.Facts().Release(string(refused.Code), refused.Args))
	case err != nil:
		return page.Answer{}, err
	case asked.Released == 0:
		return page.Answer{Go: "/products/" + asked.Code}, nil // where the second person approves it
	}
	if p.by != nil {
		p.by.Now(v.Ctx()) // what comes of it stands on the page, and is tried again
	}
	return page.Answer{Go: Path}, nil
}
