package plant

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"
	"time"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/pads"
	"padjig/results/plant/postgres"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence/samepad"
)

// IdentityAsked asks which unit a run reads like, whatever its label says: of a station's records, or of all stations.
type IdentityAsked struct {
	What     string    // the id of a run, or a serial number: its newest run that read enough keys
	From, To time.Time // only units whose runs were stored from then on, and to before then; zero for all. Of a plant alone
	Station  string    // only of this station of a plant
	Most     int       // units that are named at most; 0: [pads.Candidates]
}

// ErrStation is a station that the plant does not have, and a choice that the records of one station do not take.
var ErrStation = errors.New("no such station")

// Identity is the answer: the units it may be, the likeliest first.
type Identity struct {
	IdentityAsked
	pads.Found
	Stations    []string // of each candidate; empty where there is one station alone
	At          []string // of each jig in Besides, likewise
	Conclusions []answers.Sentence
}

// AskIdentity searches for it. told is told how many runs were looked at; it may be nil.
func AskIdentity(ctx context.Context, s *results.Store, a IdentityAsked, told func(runs int)) (Identity, error) {
	out := Identity{IdentityAsked: a}
	run, err := identified(ctx, s, a.What)
	if err != nil {
		return out, err
	}
	asked := pads.SearchAsked{Run: run, Most: a.Most}
	names := map[int]string{}
	if s.OfMany() {
		if names, err = s.Plant.Names(ctx); err != nil {
			return out, err
		}
		if !a.From.IsZero() {
			asked.From = postgres.RunNumber(0, a.From, 0)
		}
		if !a.To.IsZero() {
			asked.To = postgres.RunNumber(0, a.To, 0)
		}
	} else if a.Station != "" || !a.From.IsZero() || !a.To.IsZero() {
		return out, fmt.Errorf("%w: these are the records of one, and all of them are searched", ErrStation)
	}
	if a.Station != "" {
		member := -1
		for number, name := range names {
			if name == a.Station {
				member = number
			}
		}
		if member < 0 {
			return out, fmt.Errorf("%w: %q is not at this plant", ErrStation, a.Station)
		}
		asked.Station = func(run int64) bool { return postgres.MemberOf(run) == member }
	}
	if out.Found, err = s.Pads.Search(ctx, asked, told); err != nil {
		return out, err
	}
	for _, c := range out.Candidates {
		out.Stations = append(out.Stations, names[postgres.MemberOf(c.Seq)])
	}
	for _, b := range out.Besides {
		out.At = append(out.At, names[postgres.MemberOf(b.Number)])
	}
	out.Conclusions = out.words()
	return out, nil
}

// identified is the run that is asked about.
func identified(ctx context.Context, s *results.Store, what string) (runs.Stored, error) {
	if id, err := store.ParseID(what); err == nil {
		return s.Runs.Run(ctx, id)
	}
	made, err := s.Runs.Unit(ctx, what)
	if err != nil {
		return runs.Stored{}, err
	}
	if len(made) == 0 {
		return runs.Stored{}, fmt.Errorf("unit %q: %w", what, store.ErrNotFound)
	}
	for _, run := range slices.Backward(made) {
		if pads.Comparable(run) {
			return run, nil
		}
	}
	return made[len(made)-1], nil
}

func (i Identity) words() (out []answers.Sentence) {
	run, searched := i.Run.ID.String(), i.Searched
	chance := func(p float64) answers.Number { return answers.Number{Value: 100 * p, Digits: 1} }
	switch i.Conclusion {
	case pads.NotAsked:
		return []answers.Sentence{answers.Warn("plant.identify.notasked", run, i.Keys, samepad.LeastKeys)}
	case pads.TooFew:
		out = append(out, answers.Warn("plant.identify.few", run, searched, samepad.LeastPads))
	case pads.NotTold:
		out = append(out, answers.Warn("plant.identify.alike", run, searched, i.Keys))
	case pads.SamePad:
		out = append(out, answers.Say("plant.identify.is", run, i.Candidates[0].Serial, searched, i.Candidates[0].Keys,
			answers.Number{Value: 100 * (1 - i.Candidates[0].Chance), Digits: 3}))
	case pads.OneOfSeveral:
		out = append(out, answers.Warn("plant.identify.several", run, searched, chance(i.Candidates[0].Chance), i.Candidates[0].Serial))
	default:
		if len(i.Candidates) > 0 {
			out = append(out, answers.Warn("plant.identify.none", run, searched, chance(i.None), i.Candidates[0].Serial, chance(i.Candidates[0].Chance)))
		} else {
			out = append(out, answers.Warn("plant.identify.nobody", run, searched))
		}
	}
	byBasis := map[samepad.Basis]answers.Names{}
	for n, b := range i.Besides {
		name := strings.TrimSpace(i.At[n] + " " + b.Jig)
		if !slices.Contains(byBasis[b.Basis], name) {
			byBasis[b.Basis] = append(byBasis[b.Basis], name)
		}
	}
	if names := byBasis[samepad.FromUnits]; len(names) > 0 {
		out = append(out, answers.Say("plant.identify.units", names))
	}
	if names := byBasis[samepad.NotKnown]; len(names) > 0 {
		out = append(out, answers.Say("plant.identify.unknown", names))
	}
	if i.Gone > 0 {
		out = append(out, answers.Warn("plant.identify.gone", i.Gone, answers.Names(i.Months)))
	}
	if i.Conclusion == pads.SamePad || i.Conclusion == pads.OneOfSeveral || i.Conclusion == pads.OtherPads {
		years := samepad.Years()
		out = append(out, answers.Say("plant.identify.rests", answers.Number{Value: 100 * cmp.Or(i.spread(), math.NaN()), Digits: 1},
			answers.Number{Value: 100 * years.Most, Digits: 0}, answers.Number{Value: 100 * years.Changed, Digits: 0}))
	}
	return out
}

// spread is what pads of the jig with the largest of them differ by.
func (i Identity) spread() (most float64) {
	for _, b := range i.Besides {
		most = max(most, b.Spread)
	}
	return most
}
