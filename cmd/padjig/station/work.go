package station

import (
	"context"

	"padjig/results/plant/asked"
)

// work is what a lane has in hand, from when it is taken on: a unit to be tested
// or an exclusive task. It can be stopped also before the loop takes it up.
type work struct {
	scan      Scan
	asked     *asked.Question // what other stations know of the unit
	back      bool            // the unit's verdict stands again if nobody can have taken it out
	press     chan struct{}   // of one: start was pressed for it
	exclusive *exclusive      // nil for a test
	ctx       context.Context
	stop      context.CancelFunc
}

func newWork(ctx context.Context, scan Scan, e *exclusive) *work {
	ctx, stop := context.WithCancel(ctx)
	return &work{scan: scan, press: make(chan struct{}, 1), exclusive: e, ctx: ctx, stop: stop}
}
