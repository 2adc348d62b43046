package station

import (
	"context"
	"fmt"

	"padjig/results/stops"
	"padjig/sequence/product"
	"padjig/sequence/wording"
)

// stops gives the stops that hold on a line, and for a unit if one is named.
func (r Records) stops(ctx context.Context, p *product.Product, line stops.Line, unit string) ([]stops.Stop, error) {
	list, err := r.Store.Stops.Holding(ctx, line, p, unit)
	if err != nil {
		return nil, r.unread(err)
	}
	return list, nil
}

// stopped are the stops that hold on this jig with this product, as conditions.
func (f Fitness) stopped(ctx context.Context, unit string) ([]Condition, error) {
	list, err := f.stops(ctx, f.Product, stops.Line{
		Jig: f.Caps.Serial, Product: f.Product.Code, Simulated: f.Caps.Simulated,
	}, unit)
	var all []Condition
	for _, s := range list {
		all = append(all, StopOf(s, f.At))
	}
	return all, err
}

// StopOf is a stop as a condition of its jig; at is what [Records] says of it.
func StopOf(s stops.Stop, at string) Condition {
	args := s.Args()
	text := wording.Words{}.Refusal(string(LineStopped), args)
	return Condition{
		Warning: Warning{LineStopped, args, text}, Blocks: true, Remedy: try("lift stop", fmt.Sprint(s.Number), at),
		Stop: s.Number, Unit: s.Unit,
	}
}

// running refuses a unit while the line is stopped, or that was reseated too often. It is
// asked whatever anybody overrode. Reference units and gauge studies say what is wrong with
// the jig; a unit that came back waits, since its first press is made once, and is not
// counted among those that are reseated.
func (f Fitness) running(ctx context.Context, job Job) error {
	if job.isReference() || job.Study {
		return nil
	}
	unit := job.Serial
	if job.Return != nil {
		unit = ""
	}
	list, err := f.stopped(ctx, unit)
	if err != nil {
		return err
	}
	return checkConditions(list, nil)
}
