package control

import (
	"context"
	"errors"
	"strconv"

	"padjig/cmd/padjig/web/page"
	"padjig/results/stops"
)

// Lifter is the records of stops.
type Lifter interface {
	Lift(ctx context.Context, number int64, l stops.Lifting) (stops.Stop, error)
}

// LiftAsked lifts the stop that a form names.
func (l *Lanes) LiftAsked(v *page.Visit, records Lifter) (page.Answer, error) {
	if v.Late() {
		return page.Answer{}, page.Conflict(v.Say("halt.late"))
	}
	number, err := strconv.ParseInt(v.Value("stop"), 10, 64)
	if err != nil {
		return page.Answer{}, page.Wrong(v.Say("halt.none"))
	}
	return l.Lift(v, records, number, stops.Lifting{Reason: stops.Reason(v.Value("reason")), Note: v.Text("note")})
}

// Lift lets a line, or a unit, go on, wherever it is asked for. It is the stop of a number,
// so that a page that is old lifts no other; lanes look again at what is due.
func (l *Lanes) Lift(v *page.Visit, records Lifter, number int64, how stops.Lifting) (page.Answer, error) {
	how.By = v.Person.Name
	stop, err := records.Lift(v.Ctx(), number, how)
	lifted, before := errors.AsType[*stops.LiftedError](err)
	switch {
	case before:
		at := lifted.Lifted
		return page.Answer{}, page.Conflict(v.Say("halt.lifted", number, at.By, v.Moment(at.At)))
	case errors.Is(err, stops.ErrNoStop):
		return page.Answer{}, page.Wrong(v.Say("halt.none"))
	case errors.Is(err, stops.ErrNotLifted):
		return page.Answer{}, page.WrongField("reason", v.Say("halt.reason"))
	case err != nil:
		return page.Answer{}, err
	}
	for _, lane := range l.all {
		if stop.Unit != "" && lane.State().Unit.Serial == stop.Unit {
			lane.Clear()
		}
		lane.Refresh()
	}
	return page.Answer{Say: v.Say("halt.done", number)}, nil
}
