package station

import (
	"context"
	"slices"
	"strings"

	"padjig/cmd/padjig/station/note"
	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/results/floor"
	"padjig/sequence"
	"padjig/sequence/product"
)

// Products are the codes of those that a lane may test: every one that was released, and the
// one that the station was started with for it.
func (l *Lane) Products(ctx context.Context) ([]string, error) {
	codes, err := l.setup.Store.Releases.Codes(ctx)
	if err != nil {
		return nil, l.loop().records().unread(err)
	}
	if given := l.setup.Product.Code; !slices.Contains(codes, given) {
		codes = append(codes, given)
	}
	slices.Sort(codes)
	return codes, nil
}

// ChangeProduct has the lane test another of its products from the next unit on. It is
// refused where that product could not be tested on this jig, and while anything of the one
// before is not done; what is only due then refuses units, as ever. It is in the records
// before the lane shows it.
func (l *Lane) ChangeProduct(ctx context.Context, code, by string) error {
	to, err := l.product(ctx, code)
	if err != nil {
		return err
	}
	var stood State
	if !l.shown.changeIf(func(s *State) bool {
		if err = s.mayChange(to); err != nil {
			return false
		}
		stood = s.clone()
		s.Phase, s.Note = Changing, nil
		s.Epoch++
		return true
	}) {
		return err
	}
	lane := l.loop()
	if err = lane.suits(ctx, to, stood.Jig.Caps); err == nil {
		err = Hooks{around: l.setup.around}.step("change the product", func() error {
			return lane.saveChange(ctx, stood.Product.Code, to.Code, by, stood.Jig.Caps)
		})
	}
	l.shown.advance(func(s *State) {
		if err != nil {
			s.Phase, s.Note = stood.Phase, stood.Note
			s.takeNext()
			return
		}
		s.Product, s.next = to, nil
		s.ready()
		s.say(note.Changed, stood.Product.Code, to.Code)
	})
	if err != nil {
		l.shown.linger(l.setup.LockAfter)
		return err
	}
	lane.restore(ctx, stood.Jig.Caps)
	l.Refresh()
	return nil
}

// product is the one of a code that the lane may test: its revision in force, or what the
// station was started with while it has no release.
func (l *Lane) product(ctx context.Context, code string) (*product.Product, error) {
	codes, err := l.Products(ctx)
	if err != nil {
		return nil, err
	}
	if !slices.Contains(codes, code) {
		return nil, refuse(Wrong, nil, sequence.Said{}, NotInForce, code, strings.Join(codes, ", "))
	}
	p, err := l.loop().records().Released(ctx, code)
	if err == nil && p == nil {
		p = l.setup.Product
	}
	return p, err
}

// mayChange refuses a change while the lane is not between two units.
func (s *State) mayChange(to *product.Product) error {
	switch {
	case !s.Jig.Present:
		return noJig(link.ErrLost, s.Jig.Name)
	case s.Phase.Busy():
		return refuse(NotMeasured, nil, sequence.Said{}, LaneBusy, s.Unit.Serial, s.Jig.Serial)
	case s.Product.Hash() == to.Hash():
		return refuse(Wrong, nil, sequence.Said{}, TestedAlready, to.Code)
	}
	return nil
}

// suits refuses a product that could not be tested on the jig, and any while a unit that
// failed there was not put where it goes.
func (l *loop) suits(ctx context.Context, to *product.Product, caps fixture.Capabilities) error {
	job := Job{Product: to, How: l.setup.Press}
	asked := eligibility{l.records(), job}
	if err := asked.placed(ctx, caps); err != nil {
		return err
	}
	if err := asked.revision(ctx); err != nil {
		return err
	}
	fits, err := l.fitness(to, caps).adapter(ctx)
	if err == nil {
		err = checkConditions(fits, func(Warning) {})
	}
	if err != nil {
		return err
	}
	plan, err := job.plan(caps)
	if err != nil {
		return err
	}
	return job.provable(plan, func(Warning) {})
}

func (l *loop) saveChange(ctx context.Context, before, to, by string, caps fixture.Capabilities) error {
	err := l.setup.Store.Floor.SaveProductChange(context.WithoutCancel(ctx), floor.ProductChange{
		Jig: caps.Serial, Simulated: caps.Simulated, Before: before, Product: to, Given: l.setup.Product.Code, By: by,
	})
	if err != nil {
		return l.records().refused(err, sequence.Said{})
	}
	return nil
}

// byStart is who changed the product where the station was started with another one.
const byStart = "padjig station"

// resume has the lane test what it tested last on this jig, if the station was started with
// the same product as then: whoever starts it with another one wants that one.
func (l *loop) resume(ctx context.Context, caps fixture.Capabilities) {
	last, err := l.setup.Store.Floor.LastProductChange(ctx, caps.Serial, caps.Simulated)
	given := l.setup.Product
	if err != nil || last == nil || last.Given == given.Code && last.Product == given.Code {
		return // records that cannot be read are said before the first unit
	}
	if last.Given != given.Code {
		_ = l.saveChange(ctx, last.Product, given.Code, byStart, caps) // likewise
		return
	}
	p, err := l.records().Released(ctx, last.Product)
	l.shown.advance(func(s *State) {
		if err != nil || p == nil {
			s.say(note.NotResumed, last.Product, given.Code)
			return
		}
		s.Product = p
		s.ready()
		s.say(note.Resumed, p.Code)
	})
}
