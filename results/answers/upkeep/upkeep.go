// Package upkeep tells how the jigs stand: every one that the records know, what is due on
// it and when, what is wrong with it, and how its readings drift.
package upkeep

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"math"
	"slices"
	"time"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/care"
	"padjig/results/store"
	"padjig/sequence/product"
)

// Asked asks after the jigs at a time.
type Asked struct{ Now time.Time }

// Upkeep is the answer: all jigs, those that need something done first.
type Upkeep struct {
	Asked
	Jigs        []Jig
	Conclusions []answers.Sentence
}

// Jig is one, and how it stands.
type Jig struct {
	care.Known
	Zero, Verify care.Due
	Commission   care.CommissionState
	References   []Reference
	Part         *care.PartWear // the one nearest to its limit; nil where none has one
	Drift        Drift
	Troubles     []Trouble // what must be done first, first
}

// Reference is how a reference unit stands on a jig.
type Reference struct {
	care.ReferenceState
	Left care.ReferenceLeft
}

// Code names a trouble; its words are the text "upkeep.CODE".
type Code string

// The troubles, what must be done first, first. The first ones stop the line.
const (
	VerifyBad    Code = "verify bad"
	ZeroBad      Code = "zero bad"
	ZeroNever    Code = "zero never"
	VerifyNever  Code = "verify never"
	ZeroOver     Code = "zero overdue"
	VerifyOver   Code = "verify overdue"
	ReferenceBad Code = "reference bad"
	ReferenceDue Code = "reference due"
	PartWorn     Code = "part worn"
	Suspects     Code = "suspects"
	Drifting     Code = "drifting"
	PartWearing  Code = "part wearing"
	ZeroSoon     Code = "zero soon"
	VerifySoon   Code = "verify soon"

	CommissionNever  Code = "commission never"
	CommissionOpen   Code = "commission unfinished"
	CommissionFailed Code = "commission failed"
	CommissionOther  Code = "commission other" // of another board or firmware than it has now
)

// order is that of how much they matter.
var order = []Code{VerifyBad, ZeroBad, ZeroNever, VerifyNever, ZeroOver, VerifyOver, ReferenceBad, ReferenceDue, PartWorn,
	Suspects, CommissionFailed, CommissionOther, Drifting, PartWearing, ZeroSoon, VerifySoon, CommissionOpen, CommissionNever}

// Trouble is something to do about a jig.
type Trouble struct {
	Code Code
	Args []string // of its words
}

// Stops reports whether no unit is tested until it is mended.
func (t Trouble) Stops() bool { return slices.Index(order, t.Code) <= slices.Index(order, PartWorn) }

// Words say it.
func (t Trouble) Words() answers.Sentence {
	args := make([]any, len(t.Args))
	for i, a := range t.Args {
		args[i] = a
	}
	if t.Stops() || slices.Contains([]Code{Suspects, Drifting, CommissionFailed, CommissionOther}, t.Code) {
		return answers.Warn("upkeep."+string(t.Code), args...)
	}
	return answers.Say("upkeep."+string(t.Code), args...)
}

// Of tells of all jigs.
func Of(ctx context.Context, s *results.Store, a Asked) (Upkeep, error) {
	out := Upkeep{Asked: a}
	known, err := s.Care.Jigs(ctx)
	if err != nil {
		return out, err
	}
	asking := asking{ctx, s, a.Now, map[string]*product.Product{}}
	stopped := 0
	for _, k := range known {
		jig, err := asking.jig(k)
		if err != nil {
			return out, err
		}
		if len(jig.Troubles) > 0 && jig.Troubles[0].Stops() {
			stopped++
		}
		out.Jigs = append(out.Jigs, jig)
	}
	slices.SortStableFunc(out.Jigs, func(a, b Jig) int { return cmp.Or(cmp.Compare(a.Rank(), b.Rank()), a.sooner(b)) })
	out.Conclusions = []answers.Sentence{answers.Say("upkeep.words", len(out.Jigs), stopped)}
	if stopped > 0 {
		out.Conclusions[0].Tone = answers.Attention
	}
	return out, nil
}

// OfJig tells of one jig; of one that the records do not know, that nothing is known of it.
func OfJig(ctx context.Context, s *results.Store, a Asked, serial string, simulated bool) (Jig, error) {
	known, err := s.Care.Jigs(ctx)
	if err != nil {
		return Jig{}, err
	}
	this := care.Known{Simulated: simulated}
	this.Jig.Serial = serial
	for _, k := range known {
		if k.Jig.Serial == serial && k.Simulated == simulated {
			this = k
		}
	}
	return asking{ctx, s, a.Now, map[string]*product.Product{}}.jig(this)
}

// Rank is how much its first trouble matters: the smaller, the more.
func (j Jig) Rank() int {
	if len(j.Troubles) == 0 {
		return len(order)
	}
	return slices.Index(order, j.Troubles[0].Code)
}

// sooner compares when anything is due by time.
func (j Jig) sooner(other Jig) int {
	due := func(j Jig) int64 {
		first := int64(math.MaxInt64)
		for _, d := range []care.Due{j.Zero, j.Verify} {
			if d.Last != nil {
				first = min(first, d.Last.Due().UnixNano())
			}
		}
		return first
	}
	return cmp.Compare(due(j), due(other))
}

// asking is one question.
type asking struct {
	ctx      context.Context
	store    *results.Store
	now      time.Time
	products map[string]*product.Product // by the run that they made last
}

func (q asking) jig(k care.Known) (j Jig, err error) {
	j.Known = k
	state, err := q.store.Care.DueState(q.ctx, k.Jig.Serial, k.Simulated, q.now)
	if err != nil {
		return j, err
	}
	j.Zero, j.Verify = state.Zero, state.Verify
	if j.Commission, err = q.store.Care.CommissionState(q.ctx, k.Jig, k.Simulated); err != nil {
		return j, err
	}
	refs, err := q.demand(k)
	if err != nil {
		return j, err
	}
	if err := q.references(&j, refs); err != nil {
		return j, err
	}
	parts, err := q.store.Care.LimitedParts(q.ctx, k.Jig.Serial, k.Simulated)
	if err != nil {
		return j, err
	}
	if len(parts) > 0 {
		j.Part = &parts[0]
	}
	if j.Drift, err = q.drift(j, refs); err != nil {
		return j, err
	}
	suspects, err := q.suspects(j)
	j.Troubles = j.troubles(suspects)
	return j, err
}

// demand is what the product that a jig made last asks of reference units; nil for nothing.
// A definition that this version does not understand asks for nothing that could be said here.
func (q asking) demand(k care.Known) (*product.References, error) {
	if k.Made == nil {
		return nil, nil
	}
	name := k.Definition
	if _, read := q.products[name]; !read {
		run, err := q.store.Runs.Run(q.ctx, *k.Made)
		if err != nil {
			return nil, err
		}
		p, err := q.store.Runs.Product(q.ctx, run)
		if errors.Is(err, store.ErrMoved) || q.ctx.Err() != nil {
			return nil, err
		}
		q.products[name] = p
	}
	if p := q.products[name]; p != nil {
		return p.References, nil
	}
	return nil, nil
}

func (q asking) references(j *Jig, refs *product.References) error {
	if refs == nil {
		return nil
	}
	units := slices.Clone(refs.Good)
	for _, bad := range refs.Bad {
		units = append(units, bad.Serial)
	}
	for _, unit := range units {
		state, err := q.store.Care.Reference(q.ctx, j.Jig.Serial, unit, j.Simulated)
		if err != nil {
			return err
		}
		j.References = append(j.References, Reference{state, state.Left(refs.Every, refs.Units, q.now)})
	}
	return nil
}

// suspects counts the units that were tested since the last verification that was good, where
// one failed since.
func (q asking) suspects(j Jig) (int, error) {
	if j.Verify.Status != care.StatusBad {
		return 0, nil
	}
	good, err := q.store.Care.LastGood(q.ctx, j.Jig.Serial, j.Verify.Kind, j.Simulated)
	if err != nil {
		return 0, err
	}
	after := int64(0)
	if good != nil {
		after = good.AfterRun
	}
	return q.store.Care.TestedSince(q.ctx, j.Jig.Serial, j.Simulated, after)
}

// commissioning are the troubles with it: none of them stops a jig, since what it was
// commissioned for is shown again by zero, verification and the self-test before each unit.
var commissioning = map[care.CommissionStatus]Code{
	care.CommissionNever: CommissionNever, care.CommissionOpen: CommissionOpen, care.CommissionFailed: CommissionFailed,
	care.CommissionBoard: CommissionOther, care.CommissionOther: CommissionOther,
}

func (j Jig) troubles(suspects int) (all []Trouble) {
	add := func(is bool, code Code, args ...string) {
		if is {
			all = append(all, Trouble{code, args})
		}
	}
	for _, d := range []struct {
		due                    care.Due
		bad, never, over, soon Code
	}{{j.Zero, ZeroBad, ZeroNever, ZeroOver, ZeroSoon}, {j.Verify, VerifyBad, VerifyNever, VerifyOver, VerifySoon}} {
		add(d.due.Status == care.StatusBad, d.bad)
		add(d.due.Status == care.StatusNever && !j.Simulated, d.never)
		add(d.due.Status == care.StatusOverdue, d.over)
		add(d.due.Status == care.StatusDueSoon, d.soon)
	}
	for _, r := range j.References {
		bad := r.Last != nil && !r.Last.Good
		add(bad, ReferenceBad, r.Unit)
		add(!bad && r.Left.Over(), ReferenceDue, r.Unit)
	}
	if p := j.Part; p != nil {
		add(p.Worn(), PartWorn, p.Part)
		add(p.Wearing() && !p.Worn(), PartWearing, p.Part)
	}
	add(suspects > 0, Suspects, fmt.Sprint(suspects))
	add(j.Drift.Far() && j.Verify.Status != care.StatusBad, Drifting) // else it is beyond, and that is said
	if code, is := commissioning[j.Commission.Status]; is && (code != CommissionNever || !j.Simulated) {
		add(true, code)
	}
	slices.SortStableFunc(all, func(a, b Trouble) int {
		return cmp.Compare(slices.Index(order, a.Code), slices.Index(order, b.Code))
	})
	return all
}
