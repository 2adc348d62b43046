package returned

import (
	"cmp"
	"context"
	"errors"
	"slices"
	"strings"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results"
	"padjig/results/definition"
	"padjig/results/floor"
	"padjig/results/pads"
	"padjig/results/report/pad"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/wording"
)

// Life is everything the records say of a unit that came back.
type Life struct {
	Case      returns.Case
	Title     string // of the product
	Revision  string // label
	Simulated bool
	Events    []Event // oldest first
	Shipped   *returns.Shipped
	First     *runs.Stored // first press, of the stage that counts
	Test      *runs.Stored // return test, the last that counts
	Exercise  *runs.Stored // the last that counts
	Weakest   []Weakest    // insulation as shipped and now, of each step at which it was read
	Keys      []Beside     // in the order of the product; none before anything was measured
	Findings  []Found
	Gone      []Gone  // what one stage found and a later one did not
	Groups    []Group // ranked causes, as they were made
	Reworks   []returns.Rework
	Alike     []returns.Alike
	Identity  *pads.Identity // whether it is the pad that left; nil before anything was measured, or if none left
	Bound     *Bound
	Offers    []Offer
	Clock     floor.Clock
	At        string // what the commands it names need to reach the records, such as " --store FILE"

	pad    pad.Pad // as it is drawn, without what is known of the keys
	made   []runs.Stored
	starts []runs.Start
}

// Beside is one key as shipped and now.
type Beside struct {
	Key       string                `json:"key"`
	Lines     [2]string             `json:"lines"`
	Limit     quantity.Ohm          `json:"limit_ohm"` // the most it may have closed; 0 for none
	Shipped   *fixture.Resistance   `json:"shipped"`
	First     *fixture.Resistance   `json:"first_press"`
	Test      *fixture.Resistance   `json:"test"`
	Change    *Change               `json:"change"` // from shipped to now
	Now       string                `json:"now"`    // which reading that is: "return test" or "first press"
	Thin      bool                  `json:"thin"`   // it left with less margin than its guard band
	MakeThen  *fixture.Bounce       `json:"shipped_bounce_on_closing"`
	MakeNow   *fixture.Bounce       `json:"bounce_on_closing"`
	BreakThen *fixture.Bounce       `json:"shipped_bounce_on_opening"`
	BreakNow  *fixture.Bounce       `json:"bounce_on_opening"`
	Exercise  *sequence.KeyExercise `json:"exercise,omitempty"`
	Readings  []Reading             `json:"readings"` // of the stages that count, in their order
	Spread    bool                  `json:"spread"`   // it left with what it reads now from one press to the next
	Wrong     bool                  `json:"wrong"`    // a finding of the case is about it, or about a line of it
}

// Weakest is the pair of lines of whose insulation the least is known at a step, as shipped
// and now; nil where nothing was read, or of a run that kept none.
type Weakest struct {
	Step    string          `json:"step"`
	Shipped *sequence.Bound `json:"shipped"`
	Now     *sequence.Bound `json:"now"`
}

// Found is a finding and the stage that saw it first.
type Found struct {
	sequence.Finding
	Stage sequence.Purpose `json:"stage"`
}

// Of gathers what the records say of a case.
func Of(ctx context.Context, store *results.Store, c returns.Case) (*Life, error) {
	runs, err := store.Runs.Unit(ctx, c.Serial)
	if err != nil {
		return nil, err
	}
	clock, err := store.Floor.Clock(ctx)
	if err != nil {
		return nil, err
	}
	l := &Life{Case: c, Clock: clock, Simulated: c.Simulated() || len(c.Stages) == 0 && onlySimulated(runs)}
	if l.Shipped, err = store.Returns.Shipped(ctx, c.Serial, l.Simulated, c.AfterRun); err != nil {
		return nil, err
	}
	if l.Reworks, err = store.Returns.Reworks(ctx, c.Serial); err != nil {
		return nil, err
	}
	starts, err := store.Runs.Starts(ctx, c.Serial)
	if err != nil {
		return nil, err
	}
	l.stages(runs)
	l.made, l.starts = runs, starts
	l.Events = EventsIn(l, wording.Words{})
	if err := l.compare(ctx, store); err != nil {
		return nil, err
	}
	l.findings(runs)
	l.Gone = goneBetween(stagesMade(l))
	if err := l.alike(ctx, store); err != nil {
		return nil, err
	}
	if err := l.identify(ctx, store); err != nil {
		return nil, err
	}
	l.Groups, l.Bound, l.Offers = l.diagnosis(), boundOf(l.Exercise), OffersIn(l, wording.Words{})
	return l, nil
}

// onlySimulated tells practice before the first stage has shown which it is.
func onlySimulated(made []runs.Stored) bool {
	return len(made) > 0 && !slices.ContainsFunc(made, func(r runs.Stored) bool { return !r.Simulated })
}

// of reports whether a run was made for the case.
func (l *Life) of(r runs.Stored) bool { return r.Case == l.Case.ID.String() }

// stages takes the runs of the case that count. The first reading of a first
// press that had to be made again is not here but in the records.
func (l *Life) stages(runs []runs.Stored) {
	for _, r := range runs {
		stage := returns.Stage{Outcome: r.Outcome}
		if !l.of(r) || !stage.Counts() {
			continue
		}
		switch r.Purpose {
		case sequence.FirstPress:
			l.First = new(r)
		case sequence.ReturnTest:
			l.Test = new(r)
		case sequence.Exercise:
			l.Exercise = new(r)
		}
	}
}

// newest is the run whose revision of the product is the one to show.
func (l *Life) newest() *runs.Stored {
	for _, r := range []*runs.Stored{l.Exercise, l.Test, l.First} {
		if r != nil {
			return r
		}
	}
	if l.Shipped != nil {
		return &l.Shipped.Run
	}
	return nil
}

// compare puts the keys beside each other.
func (l *Life) compare(ctx context.Context, records *results.Store) error {
	newest := l.newest()
	if newest == nil {
		return nil
	}
	rev, err := records.Runs.Revision(ctx, *newest)
	if err != nil && !errors.Is(err, store.ErrNotFound) {
		return err
	}
	l.Title, l.Revision = rev.Title, rev.Label
	limits := l.draw(definition.Keys(rev.Definition))
	for _, k := range newest.Keys {
		l.Keys = append(l.Keys, l.beside(k, limits[k.Key]))
	}
	for _, step := range newest.Steps {
		w := Weakest{Step: step.Name}
		if b, known := sequence.Weakest(newest.Insulation, step.Name); known && l.of(*newest) {
			w.Now = &b
		}
		if l.Shipped != nil {
			if b, known := sequence.Weakest(l.Shipped.Run.Insulation, step.Name); known {
				w.Shipped = &b
			}
		}
		if w.Now != nil || w.Shipped != nil {
			l.Weakest = append(l.Weakest, w)
		}
	}
	return nil
}

// draw takes the pad from its keys, and the largest resistance that each may have.
func (l *Life) draw(keys []definition.Key) map[string]quantity.Ohm {
	limits := map[string]quantity.Ohm{}
	for _, k := range keys {
		l.pad.Keys = append(l.pad.Keys, pad.Key{Label: k.Label, X: k.Place[0], Y: k.Place[1], W: k.Place[2], H: k.Place[3]})
		limits[k.Label] = quantity.Ohm(k.Limits.Closed[1])
	}
	return limits
}

func (l *Life) beside(k sequence.KeyResult, limit quantity.Ohm) Beside {
	b := Beside{Key: k.Key, Lines: k.Lines, Limit: limit}
	var now sequence.KeyResult
	if key, ok := keyOf(l.First, k.Key); ok {
		b.First, b.Now, now = key.Closed, string(sequence.FirstPress), key
	}
	if key, ok := keyOf(l.Test, k.Key); ok {
		b.Test, b.Now, now = key.Closed, string(sequence.ReturnTest), key
	}
	b.MakeNow, b.BreakNow = now.Make, now.Break
	if l.Shipped != nil {
		if then, ok := keyOf(&l.Shipped.Run, k.Key); ok {
			b.Shipped, b.MakeThen, b.BreakThen = then.Closed, then.Make, then.Break
		}
		b.Thin = slices.ContainsFunc(l.Shipped.Thin(), func(m returns.Margin) bool { return m.Key == k.Key })
	}
	if c, ok := ChangeOf(b.Shipped, now.Closed); ok {
		b.Change = &c
	}
	if l.Exercise != nil {
		i := slices.IndexFunc(l.Exercise.Exercised, func(x sequence.KeyExercise) bool { return x.Key == k.Key })
		if i >= 0 {
			b.Exercise = &l.Exercise.Exercised[i]
			b.Spread = within(b.Shipped, *b.Exercise)
		}
	}
	b.read(stagesMade(l))
	return b
}

// within reports whether a key left with a resistance that it has today from
// one press to the next: then a change between two readings, real as it is,
// says nothing of what happened in between.
func within(shipped *fixture.Resistance, x sequence.KeyExercise) bool {
	return shipped != nil && x.Least != nil && !shipped.AtLeast &&
		shipped.Value >= x.Least.Value && shipped.Value <= x.Most.Value
}

func keyOf(r *runs.Stored, label string) (sequence.KeyResult, bool) {
	if r == nil {
		return sequence.KeyResult{}, false
	}
	i := slices.IndexFunc(r.Keys, func(k sequence.KeyResult) bool { return k.Key == label })
	if i < 0 || r.Keys[i].Verdict == sequence.KeyUntested && r.Keys[i].Closed == nil {
		return sequence.KeyResult{}, false
	}
	return r.Keys[i], true
}

// findings lists what the stages found, each thing once, by the stage that saw it first.
func (l *Life) findings(runs []runs.Stored) {
	said := map[string]bool{}
	for _, r := range runs {
		if !l.of(r) {
			continue
		}
		for _, f := range r.Findings {
			id := f.What + " " + f.Key + " " + strings.Join(f.Lines, " ")
			if !said[id] {
				l.Findings = append(l.Findings, Found{f, r.Purpose})
			}
			said[id] = true
		}
	}
	for i := range l.Keys {
		k := &l.Keys[i]
		k.Wrong = slices.ContainsFunc(l.Findings, func(f Found) bool { return concerns(f.Finding, *k) })
	}
}

func concerns(f sequence.Finding, k Beside) bool {
	if f.Key != "" {
		return f.Key == k.Key
	}
	return slices.Contains(f.Lines, k.Lines[0]) && slices.Contains(f.Lines, k.Lines[1]) ||
		len(f.Lines) == 1 && slices.Contains(k.Lines[:], f.Lines[0])
}

// identify holds what the unit reads now against what it left with.
func (l *Life) identify(ctx context.Context, store *results.Store) error {
	now := cmp.Or(l.Test, l.First)
	if now == nil || l.Shipped == nil {
		return nil
	}
	id, err := store.Pads.Returned(ctx, l.Shipped.Run, *now)
	if err == nil {
		l.Identity = &id
	}
	return err
}

// Identified says whether it is the pad that left, and what that rests on.
func (l *Life) Identified(words wording.Words) (said []string) {
	if l.Identity == nil {
		return nil
	}
	for _, fact := range l.Identity.Facts() {
		said = append(said, words.Pads(fact))
	}
	return said
}

// IsItself is the first of that, for the one page of the report.
func (l *Life) IsItself() string {
	said := l.Identified(wording.Words{})
	if len(said) == 0 {
		return ""
	}
	if l.Identity.Nearest != nil {
		return said[0] + "; " + said[1]
	}
	return said[0]
}

// mostAlike keeps the page a page.
const mostAlike = 12

func (l *Life) alike(ctx context.Context, store *results.Store) error {
	said := map[int64]bool{}
	for _, f := range l.Findings {
		list, err := store.Returns.Alike(ctx, l.Case, f.Finding, l.Shipped)
		if err != nil {
			return err
		}
		for _, a := range list {
			if !said[a.Seq] && len(l.Alike) < mostAlike {
				l.Alike = append(l.Alike, a)
			}
			said[a.Seq] = true
		}
	}
	return nil
}
