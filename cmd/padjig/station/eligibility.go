package station

import (
	"context"
	"errors"
	"fmt"
	"time"

	"padjig/cmd/padjig/station/apart"
	"padjig/fixture"
	"padjig/results/fails"
	"padjig/results/plant/asked"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence/product"
)

// CheckSerial refuses a serial number that is neither of the product's form nor one of its reference units.
func CheckSerial(p *product.Product, serial string) error {
	if (Job{Product: p, Serial: serial}).isReference() {
		return nil
	}
	err := p.Serial.Check(serial)
	if _, misread := errors.AsType[*product.MisreadError](err); misread {
		return refuse(Wrong, err, try("number like", p.Serial.Example()), SerialMisread, serial)
	}
	if err != nil {
		return refuse(Wrong, err, try("number like", p.Serial.Example()), SerialWrong, serial, p.Serial.Example())
	}
	return nil
}

// eligibility is whether a unit may be tested, by what the records say of it.
type eligibility struct {
	Records
	Job
}

func (a eligibility) eligible(ctx context.Context) (runs.History, error) {
	if err := a.Store.Room(ctx); errors.Is(err, store.ErrMoved) {
		return runs.History{}, a.unread(err)
	} else if err != nil {
		return runs.History{}, refuse(NotRecorded, err, try("make room"), NoRoom)
	}
	if err := a.revision(ctx); err != nil {
		return runs.History{}, err
	}
	history, err := a.free(ctx, a.Serial)
	if err != nil {
		return history, err
	}
	if a.Return != nil {
		if err := a.stage(ctx); err != nil {
			return history, err
		}
	}
	return history, a.allowed(history, false)
}

// free refuses a unit that is being tested somewhere.
func (r Records) free(ctx context.Context, serial string) (runs.History, error) {
	history, err := r.Store.Runs.History(ctx, serial)
	switch {
	case err != nil:
		err = r.unread(err)
	case history.InHand != nil:
		err = r.inHand(ctx, &runs.InHandError{Start: *history.InHand})
	}
	return history, err
}

// Hold takes a unit for what is no test, until it is released: nobody tests it meanwhile.
func (r Records) Hold(ctx context.Context, serial string) (release func(), err error) {
	release, err = r.Store.Runs.Hold(ctx, serial)
	if e, typed := errors.AsType[*runs.InHandError](err); typed {
		return nil, r.inHand(ctx, e)
	}
	if err != nil {
		return nil, r.unread(err)
	}
	return release, nil
}

func (r Records) inHand(ctx context.Context, e *runs.InHandError) error {
	if e.Checked() {
		return refuse(Wrong, e, try("read label"), LookedAt, e.Serial)
	}
	clock, err := r.Store.Floor.Clock(ctx)
	if err != nil {
		return r.unread(err)
	}
	return refuse(Wrong, e, try("read label"), InHand, e.Serial, e.Host, e.Jig.Serial, clock.Since(e.Started, time.Now()))
}

// ask asks the plant what other stations know of the unit, where that matters and it was not asked already.
func (r Records) ask(j Job) *asked.Question {
	if j.Asked != nil || j.Return != nil || j.isReference() {
		return j.Asked
	}
	return r.Plant.Ask(j.Serial)
}

// allowed refuses a unit for what is known of it here, and besides for what other stations have said by now.
func (a eligibility) allowed(h runs.History, simulated bool) error {
	there := a.Asked.Known()
	if err := a.alone(h, simulated); err != nil || there == nil {
		return err
	}
	u := apart.Unit{Together: h.With(there), There: there, Product: a.Product.Code, Simulated: simulated}
	refused, is := errors.AsType[*Refusal](a.alone(u.Together, simulated))
	code, args := apart.InHandElsewhere, u.InHand()
	switch {
	case is:
		if code, args = u.Said(string(refused.Code), refused.Args); code == string(refused.Code) {
			return refused
		}
	case args == nil, a.Study, a.Engineering, a.Overridden:
		return nil
	}
	return refuse(Wrong, nil, try("known elsewhere", a.Serial), Code(code), args...)
}

// alone refuses a unit for what is known of it. What simulated jigs found
// counts for tests on simulated jigs alone. Reference units come again and again.
func (a eligibility) alone(h runs.History, simulated bool) error {
	if a.Return != nil {
		return nil
	}
	if err := a.returned(h.Past); err != nil || a.isReference() {
		return err
	}
	where := ""
	if simulated {
		where = "simulated"
	}
	for _, other := range h.Products {
		if other.Product != a.Product.Code && other.Simulated == simulated {
			return refuse(Wrong, nil, try("right product", a.Serial, a.At),
				OtherProduct, a.Serial, other.Product, a.Product.Code)
		}
	}
	past := h.Of(a.Product.Code, simulated)
	switch {
	case a.Study, a.Engineering:
		return nil
	case a.looping(h.Past, past):
		return refuse(Wrong, nil, try("decide loop", a.Serial, a.At), RepairLoop, a.Serial, fmt.Sprint(past.Loops), a.Product.Code, where)
	case a.Overridden:
		return nil
	case past.Passed:
		return refuse(Wrong, nil, try("next unit", a.Serial, a.At), PassedAlready, a.Serial, past.PassedAs, where)
	case past.Alike >= alikeMost:
		return refuse(Wrong, nil, try("look at both", a.Serial, a.At), SamePadAgain, a.Serial, fmt.Sprint(past.Alike), where)
	case past.Used() >= a.Product.Attempts && past.Used() > past.Judged:
		return refuse(Wrong, nil, try("set aside", a.Serial, a.At), AttemptsSpent, a.Serial, fmt.Sprint(past.Judged),
			fmt.Sprint(past.Found), fmt.Sprint(past.Unfinished), a.Product.Code, where)
	case past.Judged >= a.Product.Attempts:
		return refuse(Wrong, nil, try("set aside", a.Serial, a.At), AttemptsUsed, a.Serial, fmt.Sprint(past.Judged),
			a.Product.Code, where)
	}
	return nil
}

// placed refuses the next unit of production on a jig while another one that failed
// there was not put where fails go. The unit itself may come again.
func (a eligibility) placed(ctx context.Context, jig fixture.Capabilities) error {
	if a.isReference() || a.Return != nil || a.Study {
		return nil
	}
	owed, err := a.Store.Fails.On(ctx, jig.Serial, jig.Simulated)
	clock, without := a.Store.Floor.Clock(ctx)
	if err = errors.Join(err, without); err != nil {
		return a.unread(err)
	}
	for _, o := range owed {
		if o.Serial != a.Serial {
			return notPlaced(o, clock.Since(o.Started, time.Now()), a.At)
		}
	}
	return nil
}

func notPlaced(o fails.Owed, failed, at string) error {
	return refuse(NotMeasured, nil, try("place it", o.Serial, at),
		FailNotPlaced, o.Serial, o.Jig, failed)
}

// revision refuses a definition that must not be tested by: one whose label is
// another's, and for production, once there are releases, all but the one in force.
func (a eligibility) revision(ctx context.Context) error {
	release, holds, err := a.ReleasedFor(ctx, a.Product.Code, a.Serial)
	none, _ := errors.AsType[*Refusal](err) // for so early a serial number
	if err != nil && (none == nil || none.Code != NotFromSerial) {
		return err
	}
	if err := a.CheckLabel(ctx, a.Product); err != nil {
		return err
	}
	if a.unreleased() || holds == nil && none == nil || holds != nil && a.by(holds.Revision, holds.Hash()) {
		return nil
	}
	if a.Return != nil {
		if allowed, err := a.ofThatUnit(ctx); err != nil || allowed {
			return err
		}
	}
	if none != nil {
		return none
	}
	return a.notReleased(ctx, release, holds)
}

// unreleased reports whether a definition on trial will do: a gauge study judges the jig,
// and an engineering run the definition.
func (j Job) unreleased() bool { return j.Study || j.Engineering }

// notReleased says what the unit is to be tested by. It may be that the revision asked for
// is in force, but not for so early a serial number.
func (a eligibility) notReleased(ctx context.Context, release *runs.Release, holds *product.Product) error {
	list, err := a.Store.Runs.Releases(ctx, a.Product.Code)
	if err != nil {
		return a.unread(err)
	}
	if newest := list[0]; newest.Seq != release.Seq && a.by(newest.Label, newest.Hash) {
		return refuse(Wrong, nil, try("what was released", a.Product.Code, a.Serial, a.At),
			EarlierSerial, a.Serial, newest.Label, newest.FromSerial, holds.Revision, holds.Hash()[:12])
	}
	return refuse(Wrong, nil, try("what is released", a.Product.Code, a.At),
		NotReleased, a.Product.Code, a.Product.Revision, holds.Revision, holds.Hash()[:12])
}

// by reports whether the unit is judged by this revision.
func (a eligibility) by(label, hash string) bool {
	return a.Product.Revision == label && a.Product.Hash() == hash
}

// ofThatUnit reports whether a unit that came back may be judged by the product:
// by a revision that was in force at some time, or that the unit was made by.
func (a eligibility) ofThatUnit(ctx context.Context) (bool, error) {
	list, err := a.Store.Runs.Releases(ctx, a.Product.Code)
	for _, r := range list {
		if a.by(r.Label, r.Hash) {
			return true, nil
		}
	}
	tested := false
	if err == nil {
		tested, err = a.Store.Runs.Tested(ctx, a.Serial, a.Product.Hash())
	}
	if err != nil {
		return false, a.unread(err)
	}
	return tested, nil
}

// returned keeps a unit that came back out of production, whose first press must
// be a gentle one, also after its case was closed, unless it was to go back there.
func (a eligibility) returned(past runs.Past) error {
	switch {
	case past.Open:
		return refuse(Wrong, nil, try("returns case", a.Serial, a.At), Returned, a.Serial, fmt.Sprint(past.Case))
	case past.Disposal != "" && past.Disposal != returns.ToProduction && !a.Study:
		return refuse(Wrong, nil, try("back to production", a.Serial, a.At), NotForProduction, a.Serial, fmt.Sprint(past.Case), past.Disposal)
	}
	return nil
}

// looping reports whether the unit failed so often after a repair that an engineer
// has to decide before each further test. An override of something else is not that.
func (a eligibility) looping(past runs.Past, as runs.Attempts) bool {
	return as.Loops >= a.Product.RepairLoops && past.Decided.After < as.Failed
}

// stage refuses a stage that the case does not allow now, by the records as they are now.
func (a eligibility) stage(ctx context.Context) error {
	now, err := a.Store.Returns.Case(ctx, a.Return.Case.Number)
	if err != nil {
		return a.unread(err)
	}
	if err := now.Allows(a.Return.Purpose); err != nil {
		return a.stageRefused(err)
	}
	if now.Product != a.Product.Code {
		return refuse(Wrong, nil, try("product of case"), OtherProduct, a.Serial, now.Product, a.Product.Code)
	}
	return nil
}

func (a eligibility) stageRefused(err error) error {
	return refuse(Wrong, err, try("returns case", a.Serial, a.At),
		StageRefused, a.Serial, string(a.Return.Purpose))
}
