package plant

import (
	"cmp"
	"context"
	"math"
	"slices"
	"strings"
	"time"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/upkeep"
	"padjig/results/lines"
	"padjig/results/plant/view"
)

// The usual bounds (common practice, no source).
const (
	// Silent is how long nothing comes of a station before it is called silent.
	Silent = 15 * time.Minute
	// ClockOff is how far a station's clock may be off before it is said.
	ClockOff = time.Minute
	// Late is how long a run may wait at its station before that is behind.
	Late = 5 * time.Minute
)

// State is how a station stands to the plant.
type State string

// The states, what matters most first. Of a station that says nothing of itself it is silent, never or testing.
const (
	StateSilent  State = "silent"  // nothing comes of it
	StateNever   State = "never"   // nothing ever came
	StateStopped State = "stopped" // its forwarding waits for a person
	StateBehind  State = "behind"  // runs wait there for long
	StateNotices State = "notices" // it does not have what the plant decided
	StateClock   State = "clock"   // its clock is off
	StateIdle    State = "idle"    // all is here, and nothing was tested lately
	StateTesting State = "testing"
)

// StationsAsked asks how the stations stand at a time.
type StationsAsked struct {
	Now       time.Time
	Zone      *time.Location // whose day is counted
	Silent    time.Duration  // 0: [Silent]
	Simulated bool           // units of simulated jigs are counted, else of real ones
}

// Stations are all of them: the silent ones first, the longest silent at the top, then those with
// something to do.
type Stations struct {
	StationsAsked
	Rows        []Station
	Conclusions []answers.Sentence
}

// Station is one, and how it stands.
type Station struct {
	view.Station
	State    State
	Silent   time.Duration // nothing came for so long; 0 where it is not silent
	Jigs     []string
	Units    int              // whose first judgement is of today
	First    answers.Estimate // first-pass yield of these
	Stops    int              // that hold
	Troubles []Trouble        // the first of each jig, what must be done first, first
}

// Trouble is the first that is to be done about a jig.
type Trouble struct {
	Jig string
	upkeep.Trouble
	rank int
}

// Words say it.
func (t Trouble) Words() answers.Sentence {
	words := t.Trouble.Words()
	return answers.Sentence{Code: "plant.trouble", Tone: words.Tone, Args: []any{t.Jig, words}}
}

// stateAt says how it stands at a time, when one that tested within a time is testing.
func (s Station) stateAt(now time.Time, lately time.Duration) State {
	switch {
	case s.Heard.IsZero():
		return StateNever
	case s.Silent > 0:
		return StateSilent
	case s.Stopped != "":
		return StateStopped
	case !s.Oldest.IsZero() && now.Sub(s.Oldest) > Late:
		return StateBehind
	case s.Notice > 0 && s.Notice < s.Notices:
		return StateNotices
	case s.clockOff():
		return StateClock
	case now.Sub(s.Tested) > lately:
		return StateIdle
	}
	return StateTesting
}

// Attention reports whether somebody should look at the station now.
func (s Station) Attention() bool {
	return s.State != StateIdle && s.State != StateTesting || s.Stops > 0 || len(s.Troubles) > 0 && s.Troubles[0].Stops()
}

func (s Station) clockOff() bool { return s.Ahead.Abs() > ClockOff }

// AskStations tells how they stand.
func AskStations(ctx context.Context, s *results.Store, a StationsAsked) (Stations, error) {
	a.Silent = cmp.Or(a.Silent, Silent)
	if a.Zone == nil {
		a.Zone = time.UTC
	}
	out := Stations{StationsAsked: a}
	list, err := s.Plant.Stations(ctx)
	if err != nil {
		return out, err
	}
	q := standing{ctx: ctx, store: s, asked: a, at: map[string]*Station{}}
	if q.places, err = s.Plant.Places(ctx); err != nil {
		return out, err
	}
	out.Rows = make([]Station, len(list))
	for i, one := range list {
		out.Rows[i] = Station{Station: one, First: answers.Unknown()}
		if silent := a.Now.Sub(one.Heard); one.Heard.IsZero() || silent > a.Silent {
			out.Rows[i].Silent = silent
			if one.Heard.IsZero() {
				out.Rows[i].Silent = a.Now.Sub(one.Since)
			}
		}
		out.Rows[i].State = out.Rows[i].stateAt(a.Now, a.Silent)
		q.at[one.Name] = &out.Rows[i]
	}
	for _, fill := range []func() error{q.jigs, q.today, q.stops} {
		if err := fill(); err != nil {
			return out, err
		}
	}
	slices.SortStableFunc(out.Rows, func(a, b Station) int {
		return cmp.Or(cmp.Compare(b.Silent, a.Silent), flag(b.Attention())-flag(a.Attention()), strings.Compare(a.Name, b.Name))
	})
	out.Conclusions = out.words()
	return out, nil
}

func flag(is bool) int {
	if is {
		return 1
	}
	return 0
}

// standing is the question.
type standing struct {
	ctx   context.Context
	store *results.Store
	asked StationsAsked
	at    map[string]*Station // by name

	places map[view.Jig]string // at which station each jig was seen last
}

// jigs puts every jig to the station at which it was seen last, with the first that is to be done
// about it.
func (q standing) jigs() error {
	all, err := upkeep.Of(q.ctx, q.store, upkeep.Asked{Now: q.asked.Now})
	if err != nil {
		return err
	}
	for _, j := range all.Jigs {
		s := q.at[q.places[jigOf(j.Jig.Serial, j.Simulated)]]
		if s == nil || j.Simulated != q.asked.Simulated {
			continue
		}
		s.Jigs = append(s.Jigs, j.Jig.Serial)
		if len(j.Troubles) > 0 {
			s.Troubles = append(s.Troubles, Trouble{Jig: j.Jig.Serial, Trouble: j.Troubles[0], rank: j.Rank()})
		}
	}
	for _, s := range q.at {
		slices.Sort(s.Jigs)
		slices.SortStableFunc(s.Troubles, func(a, b Trouble) int { return cmp.Compare(a.rank, b.rank) })
	}
	return nil
}

// today counts the units of the day so far.
func (q standing) today() error {
	year, month, day := q.asked.Now.In(q.asked.Zone).Date()
	f := lines.Filter{Simulated: q.asked.Simulated, Zone: q.asked.Zone, From: time.Date(year, month, day, 0, 0, 0, 0, q.asked.Zone)}
	rows, err := yields(q.ctx, q.store, answers.Selection{Filter: f})
	for _, y := range rows {
		if s := q.at[y.Groups[0]]; s != nil {
			s.Units, s.First = y.Units, y.First
		}
	}
	return err
}

func (q standing) stops() error {
	list, err := q.store.Stops.List(q.ctx, q.asked.Simulated)
	for _, stop := range list {
		if s := q.at[q.places[jigOf(stop.Jig, stop.Simulated)]]; s != nil && stop.Lifted == nil {
			s.Stops++
		}
	}
	return err
}

func (s Stations) words() []answers.Sentence {
	var silent, never, off, stopped, halted, behind, unheard answers.Names
	for _, one := range s.Rows {
		switch {
		case one.Heard.IsZero():
			never = append(never, one.Name)
		case one.Silent > 0:
			silent = append(silent, one.Name)
		}
		switch one.State {
		case StateStopped:
			halted = append(halted, one.Name)
		case StateBehind:
			behind = append(behind, one.Name)
		case StateNotices:
			unheard = append(unheard, one.Name)
		}
		if one.clockOff() {
			off = append(off, one.Name)
		}
		if one.Stops > 0 {
			stopped = append(stopped, one.Name)
		}
	}
	if len(s.Rows) == 0 {
		return []answers.Sentence{answers.Say("plant.none")}
	}
	out := []answers.Sentence{answers.Say("plant.stations", len(s.Rows))}
	if len(silent) > 0 {
		out = append(out, answers.Warn("plant.silent", len(silent), minutes(s.StationsAsked.Silent), silent))
	}
	if len(never) > 0 {
		out = append(out, answers.Warn("plant.never", len(never), never))
	}
	if len(halted) > 0 {
		out = append(out, answers.Warn("plant.halted", len(halted), halted))
	}
	if len(behind) > 0 {
		out = append(out, answers.Warn("plant.behind", len(behind), minutes(Late), behind))
	}
	if len(unheard) > 0 {
		out = append(out, answers.Warn("plant.unheard", len(unheard), unheard))
	}
	if len(stopped) > 0 {
		out = append(out, answers.Warn("plant.stopped", stopped))
	}
	if len(off) > 0 {
		out = append(out, answers.Warn("plant.clocks", minutes(ClockOff), off))
	}
	return out
}

// minutes are whole ones.
func minutes(d time.Duration) int { return int(math.Round(d.Minutes())) }
