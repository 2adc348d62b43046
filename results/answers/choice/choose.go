package choice

import (
	"context"
	"slices"
	"time"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/lines"
)

// Of is what a question is usually about where nothing is said of it.
type Of struct {
	Product  bool // the one that was tested last
	Revision bool // the newest in force
	Times    bool // the last seven days
	OwnTimes bool // it has times of its own: what is said of times and shifts is left out
}

// What there is to ask about.
var (
	Runs   = Of{Product: true, Revision: true, Times: true}
	Stops  = Of{Times: true} // a line stands still whatever revision it is to test
	AShift = Of{OwnTimes: true}
	Ask    = Of{} // nothing is usual: it is about all there is
)

// Without is a question about all values of what it tells apart.
func (o Of) Without(by ...lines.Dimension) Of {
	o.Product = o.Product && !slices.Contains(by, lines.ByProduct)
	o.Revision = o.Revision && o.Product && !slices.Contains(by, lines.ByRevision)
	return o
}

// Chosen is the runs that a question is about.
type Chosen struct {
	answers.Selection
	Said   Asked         // with everything said that was usual: as it is sent to somebody
	Filled bool          // something was
	Before *lines.Filter // the same runs of the span before; nil where there is none
	Runs   bool          // there are some
	NoReal bool          // simulated ones are meant because there are no others
	// Last is when the newest unit was tested where the choice has no run for its times;
	// Instead is the choice of the days up to then.
	Last    time.Time
	Instead *Asked
}

// Choose completes what was said, for a question that is asked now.
func Choose(ctx context.Context, s *results.Store, a Asked, of Of, now time.Time) (Chosen, error) {
	if a.Filter.Zone == nil {
		a.Filter.Zone = time.UTC
	}
	kept := a
	if of.OwnTimes {
		a.Span, a.From, a.To, a.Filter.From, a.Filter.To, a.Filter.Shifts = "", "", "", time.Time{}, time.Time{}, nil
	}
	c := choosing{Chosen: Chosen{Said: a}, store: s, now: now}
	if err := c.product(ctx, of); err != nil {
		return c.Chosen, err
	}
	in, err := c.times(ctx, of)
	if err != nil {
		return c.Chosen, err
	}
	if err := c.revision(ctx, of, in); err != nil {
		return c.Chosen, err
	}
	c.Filter, c.Runs = c.Said.Filter, len(in) > 0
	if from := c.Filter.From; !from.IsZero() {
		before := c.Filter
		before.From, before.To = c.Said.Span.before(c.Filter, now)
		if c.Before, err = c.earlier(ctx, before); err != nil {
			return c.Chosen, err
		}
	}
	if err = c.instead(ctx); err == nil {
		err = c.retired(ctx)
	}
	if of.OwnTimes { // what was said holds again on other pages
		c.Said.Span, c.Said.From, c.Said.To, c.Said.Filter.Shifts = kept.Span, kept.From, kept.To, kept.Filter.Shifts
	}
	return c.Chosen, err
}

// choosing is a choice in the making.
type choosing struct {
	Chosen
	store  *results.Store
	now    time.Time
	tested []lines.TestedRevision // at any time
	newest bool                   // the revision was not asked for
}

// product settles whether it is about real runs, and about which product. Without any
// real run the simulated ones are meant, so that a demonstration has something to show.
func (c *choosing) product(ctx context.Context, of Of) (err error) {
	a := &c.Said
	f := a.Filter
	f.From, f.To = time.Time{}, time.Time{}
	if c.tested, err = c.store.Lines.Tested(ctx, f); err != nil {
		return err
	}
	if len(c.tested) == 0 && !a.Simulated {
		f.Simulated = true
		if c.tested, err = c.store.Lines.Tested(ctx, f); err != nil {
			return err
		}
		a.Filter.Simulated, c.NoReal = len(c.tested) > 0, len(c.tested) > 0
	}
	a.Simulated = a.Simulated || a.Filter.Simulated
	if a.Filter.Product != "" || a.Leaves("product") || len(c.tested) == 0 {
		return nil
	}
	newest := c.tested[0].Product
	other := func(r lines.TestedRevision) bool { return r.Product != newest }
	switch several := slices.ContainsFunc(c.tested, other); {
	case several && !of.Product:
		return nil
	case several:
		c.Filled = true
	}
	a.Filter.Product, c.tested = newest, slices.DeleteFunc(c.tested, other)
	return nil
}

// times settles the time, and gives the revisions that were tested in it. Where the usual
// days have no run, they are those up to the last one.
func (c *choosing) times(ctx context.Context, of Of) (in []lines.TestedRevision, err error) {
	a := &c.Said
	usual := of.Times && !a.Timed()
	if usual {
		a.Span, c.Filled = Usual, true
	}
	if a.Span != "" {
		if a.Filter.From, err = a.Span.begins(ctx, c.store, a.Filter, c.now); err != nil {
			return nil, err
		}
	}
	in, err = c.store.Lines.Tested(ctx, a.Filter)
	if err != nil || len(in) > 0 || !usual || len(c.tested) == 0 {
		return in, err
	}
	last, err := c.upToLast(ctx)
	if err != nil || last == nil {
		return nil, err
	}
	*a = *last
	c.Usual = append(c.Usual, answers.Say("choice.last", Usual.Days(), a.To))
	return c.store.Lines.Tested(ctx, a.Filter)
}

// upToLast is the same choice with the usual days up to the newest run.
func (c *choosing) upToLast(ctx context.Context) (*Asked, error) {
	a := c.Said
	a.Filter.From, a.Filter.To = time.Time{}, time.Time{}
	at, err := c.store.Lines.LastTested(ctx, a.Filter)
	if err != nil || at.IsZero() {
		return nil, err
	}
	day := dayOf(at, a.Filter.Zone)
	a.Filter.From, a.Filter.To = day.AddDate(0, 0, 1-Usual.Days()), day.AddDate(0, 0, 1)
	a.Span, a.From, a.To = "", a.Filter.From.Format("2006-01-02"), day.Format("2006-01-02")
	return &a, nil
}

// revision settles the revision: the newest in force, or where it has no run here the one
// tested last.
func (c *choosing) revision(ctx context.Context, of Of, in []lines.TestedRevision) error {
	a := &c.Said
	if !of.Revision || len(a.Filter.Revisions) > 0 || a.Leaves("revision") || a.Filter.Product == "" || len(in) == 0 {
		return nil
	}
	force := in[0].Label
	releases, err := c.store.Runs.Releases(ctx, a.Filter.Product)
	if err != nil {
		return err
	}
	if len(releases) > 0 {
		force = releases[0].Label
	}
	if !slices.ContainsFunc(in, func(r lines.TestedRevision) bool { return r.Label == force }) {
		c.Usual = append(c.Usual, answers.Say("choice.revision", force, in[0].Label))
		force = in[0].Label
	}
	if force != "" { // else nothing can name it
		a.Filter.Revisions, c.newest, c.Filled = []string{force}, true, c.Filled || len(c.tested) > 1
	}
	return nil
}

// earlier are the runs of the time before. Where the revision is new, and nobody asked for
// it, they are those of the one before it.
func (c *choosing) earlier(ctx context.Context, before lines.Filter) (*lines.Filter, error) {
	in, err := c.store.Lines.Tested(ctx, before)
	if err != nil || len(in) > 0 || !c.newest {
		return &before, err
	}
	before.Revisions = nil
	if in, err = c.store.Lines.Tested(ctx, before); len(in) > 0 {
		before.Revisions = []string{in[0].Label}
	}
	return &before, err
}

// instead looks for what there is where a choice of times has no run.
func (c *choosing) instead(ctx context.Context) (err error) {
	if c.Runs || !c.Said.Timed() {
		return nil
	}
	if c.Instead, err = c.upToLast(ctx); c.Instead != nil {
		c.Last = c.Instead.Filter.To.AddDate(0, 0, -1)
	}
	return err
}

// retired tells of months whose readings are gone, in the records of a plant.
func (c *choosing) retired(ctx context.Context) error {
	months, err := c.store.Plant.RetiredWithin(ctx, c.Filter.From, c.Filter.To)
	c.Usual = append(c.Usual, answers.Retired(months)...)
	return err
}
