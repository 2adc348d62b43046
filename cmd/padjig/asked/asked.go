// Package asked is what the command line and the station answer to programs alike: a
// question is completed and answered here, so that --json and the address say the same,
// byte for byte.
package asked

import (
	"context"
	"errors"
	"fmt"
	"net/url"
	"time"

	"padjig/cmd/padjig/object"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/choice"
	"padjig/results/answers/upkeep"
	"padjig/results/fails"
	"padjig/results/lines"
	"padjig/results/pads"
	"padjig/results/plant/view"
	"padjig/results/report"
	"padjig/results/returns"
	"padjig/results/runs"
)

// Certainty is how sure intervals are, and of which kind.
type Certainty struct {
	Confidence float64
	Interval   string // wilson or exact
}

// Usual is what holds where nothing is said.
var Usual = Certainty{answers.Confidence, "wilson"}

// Check says what is wrong with it.
func (c Certainty) Check() error {
	var wrong []error
	if !(c.Confidence > 0 && c.Confidence < 1) {
		wrong = append(wrong, fmt.Errorf("confidence %v: write a number between 0 and 1, such as 0.95", c.Confidence))
	}
	if c.Interval != "wilson" && c.Interval != "exact" {
		wrong = append(wrong, fmt.Errorf("interval %q: write wilson or exact", c.Interval))
	}
	return errors.Join(wrong...)
}

// Of completes what was said of runs, for a question asked now.
func (c Certainty) Of(ctx context.Context, s *results.Store, a choice.Asked, of choice.Of, now time.Time) (choice.Chosen, error) {
	chosen, err := choice.Choose(ctx, s, a, of, now)
	chosen.Confidence, chosen.Exact = c.Confidence, c.Interval == "exact"
	return chosen, err
}

// Zone is the time zone of a name, and the one of the plant where none is said.
func Zone(name string, plant *time.Location) (*time.Location, error) {
	if name == "" {
		return plant, nil
	}
	zone, err := time.LoadLocation(name)
	if err != nil {
		return time.UTC, fmt.Errorf("zone %q is not known: write one such as Europe/Vienna", name)
	}
	return zone, nil
}

// Told is an answer about runs that were chosen, by the clock it was asked by; where something
// usual was chosen it says so.
func Told(d report.Document, c choice.Chosen) report.Document {
	if c.Filled {
		d.Remarks = append(d.Remarks, "the usual choice where nothing is said; --revision all and --span all take in everything")
	}
	if c.Filter.Zone != nil {
		d = d.By(c.Filter.Zone)
	}
	return d
}

// Yield is what is asked of yields beside the runs they are of.
type Yield struct {
	By     []lines.Dimension
	Rule   answers.StopRule
	Target float64
}

// Of is the usual choice of runs for it.
func (y Yield) Of() choice.Of { return choice.Runs.Without(y.By...) }

// Answer is the yields of runs that were chosen.
func (y Yield) Answer(ctx context.Context, s *results.Store, c choice.Chosen) (report.Document, error) {
	a, err := answers.AskYield(ctx, s, answers.YieldAsked{Selection: c.Selection, By: y.By, Rule: y.Rule, Target: answers.Target(y.Target)})
	return report.Yield(a), err
}

// Choice are the parameters of a choice of runs, of an address or of flags.
func Choice(v url.Values, zone *time.Location) (choice.Asked, error) { return choice.Parse(v, zone) }

// Jigs is how every jig that the records know stands, by the clock of a zone.
func Jigs(ctx context.Context, s *results.Store, zone *time.Location, now time.Time) (upkeep.Upkeep, report.Document, error) {
	all, err := upkeep.Of(ctx, s, upkeep.Asked{Now: now})
	if err != nil {
		return all, report.Document{}, err
	}
	return all, report.Upkeep(all).By(zone), nil
}

// Life is all that was stored of a unit.
type Life struct {
	Serial     string
	History    runs.History
	Starts     []runs.Start
	Runs       []runs.Stored
	Reworks    []returns.Rework
	Placements []fails.Placement
	Owed       []fails.Owed
	Compared   []pads.Comparison  // of each run, with the units before
	Months     []view.Retired     // in which readings of its runs were retired
	Retired    []answers.Sentence // that they are not at the plant any more, and where they are
}

// LifeOf reads it. The starts come first: one that gets its run meanwhile is then not missed.
func LifeOf(ctx context.Context, s *results.Store, serial string) (l Life, err error) {
	l.Serial = serial
	for _, read := range []func() error{
		func() (err error) { l.Starts, err = s.Runs.Starts(ctx, serial); return err },
		func() (err error) { l.Runs, err = s.Runs.Unit(ctx, serial); return err },
		func() (err error) { l.Reworks, err = s.Returns.Reworks(ctx, serial); return err },
		func() (err error) { l.Placements, err = s.Fails.Of(ctx, serial); return err },
		func() (err error) { l.Owed, err = s.Fails.OpenOf(ctx, serial); return err },
		func() error { return l.compare(ctx, s) },
		func() error { return l.retired(ctx, s) },
		func() (err error) { l.History, err = s.Runs.History(ctx, serial); return err },
	} {
		if err := read(); err != nil {
			return l, err
		}
	}
	return l, nil
}

// retired looks which of its runs have no readings any more.
func (l *Life) retired(ctx context.Context, s *results.Store) error {
	var numbers []int64
	for _, run := range l.Runs {
		numbers = append(numbers, run.Seq)
	}
	var err error
	l.Months, err = s.Plant.RetiredOf(ctx, numbers)
	l.Retired = answers.Retired(l.Months)
	return err
}

// compare holds each run against the units before it.
func (l *Life) compare(ctx context.Context, s *results.Store) error {
	for _, run := range l.Runs {
		c, err := s.Pads.Before(ctx, run)
		if err != nil {
			return err
		}
		l.Compared = append(l.Compared, c)
	}
	return nil
}

// Known reports whether there is anything of such a unit.
func (l Life) Known() bool { return len(l.Runs)+len(l.Starts)+len(l.Reworks) > 0 }

// Object is it as it is printed.
func (l Life) Object() object.Unit {
	unit := object.UnitOf(l.Serial, l.Runs, l.Starts, l.Reworks, l.Placements, l.Owed)
	for _, a := range l.History.Products {
		unit.Products = append(unit.Products, object.AsProductOf(a))
	}
	for _, m := range l.Months {
		unit.Retired = append(unit.Retired, object.RetiredMonth{Month: m.Month, Folder: m.Folder, By: m.By, Dropped: m.Dropped.UTC()})
	}
	for i, c := range l.Compared {
		unit.Runs[i].Compared = object.ComparedOf(c)
	}
	return unit
}
