package metrics

import (
	"cmp"
	"context"
	"slices"
	"strconv"
	"sync"
	"time"

	"padjig/cmd/padjig/station"
	"padjig/results"
	"padjig/results/listing"
	"padjig/results/store"
)

// mostProducts is how many products have series of their own; what comes after is "other".
const mostProducts = 100

// cycleBounds are the classes of a run's seconds: around the tact of a line, and far beyond it.
var cycleBounds = []float64{1, 2, 3, 4, 5, 6, 8, 10, 15, 20, 30, 60, 120, 300}

// Source gives further families, of what stands beside the lanes: what waits to be handed on, how old the newest
// backup is.
type Source func(context.Context) ([]Family, error)

// Collector gathers the figures of a station.
type Collector struct {
	store *results.Store
	lanes []*station.Lane
	more  []Source

	counting sync.Mutex // held while new runs are counted, which may take a while; guards the next five
	seq      int64      // run up to which is counted
	runs     map[runSort]int64
	products map[string]bool
	cycles   []int64
	took     time.Duration

	mu       sync.Mutex // never held for long: every answer waits for it
	requests map[string]int64
	refused  map[string]int64
	lost     []int64 // by lane
}

// runSort is what runs are counted by.
type runSort struct{ product, verdict, simulated string }

// New gathers those of a store, of lanes and of what stands beside them.
func New(s *results.Store, lanes []*station.Lane, more ...Source) *Collector {
	return &Collector{
		store: s, lanes: lanes, more: more, runs: map[runSort]int64{}, products: map[string]bool{}, cycles: make([]int64, len(cycleBounds)+1),
		requests: map[string]int64{}, refused: map[string]int64{}, lost: make([]int64, len(lanes)),
	}
}

// Answered counts an answer by the class of its status.
func (c *Collector) Answered(status int) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.requests[strconv.Itoa(status/100)+"xx"]++
}

// Refused counts a token that was refused, by why.
func (c *Collector) Refused(why string) {
	c.mu.Lock()
	defer c.mu.Unlock()
	c.refused[why]++
}

// Watch counts how often the jig of each lane was lost, until ctx ends.
func (c *Collector) Watch(ctx context.Context) {
	var group sync.WaitGroup
	for i, lane := range c.lanes {
		group.Go(func() {
			changes, stop := lane.Subscribe()
			defer stop()
			for there := lane.State().Jig.Present; ; {
				select {
				case <-ctx.Done():
					return
				case <-changes:
				}
				now := lane.State().Jig.Present
				if there && !now {
					c.mu.Lock()
					c.lost[i]++
					c.mu.Unlock()
				}
				there = now
			}
		})
	}
	group.Wait()
}

// Collect gives the figures as they are now. Runs are counted once each, when they are new.
func (c *Collector) Collect(ctx context.Context) ([]Family, error) {
	tried, err := c.store.Listing.Tried(ctx)
	if err != nil {
		return nil, err
	}
	var beside []Family
	for _, source := range c.more {
		families, err := source(ctx)
		if err != nil {
			return nil, err
		}
		beside = append(beside, families...)
	}
	c.counting.Lock()
	defer c.counting.Unlock()
	if c.seq, err = c.store.Listing.Since(ctx, c.seq, c.count); err != nil {
		return nil, err
	}
	c.mu.Lock()
	defer c.mu.Unlock()
	return slices.Concat([]Family{{
		Name: "padjig_build", Kind: Info, Help: "The program that serves the station.", Labels: []string{"version"},
		Points: []Point{{Labels: []string{store.Software()}, Value: 1}},
	}}, c.counted(), c.stand(), []Family{
		{
			Name: "padjig_sign_ins", Kind: Counter, Help: "Sign-ins of people by what came of them, in the records.", Labels: []string{"outcome"},
			Points: byName(map[string]int64{"in": tried["in"], "wrong": tried["wrong"], "too many": tried["too many"]}),
		},
		{
			Name: "padjig_tokens_refused", Kind: Counter, Help: "Requests whose token opened nothing, by why, since the start.", Labels: []string{"why"},
			Points: byName(c.refused),
		},
		{
			Name: "padjig_requests", Kind: Counter, Help: "Answered requests by the class of their status, since the start.", Labels: []string{"class"},
			Points: byName(c.requests),
		},
	}, beside), nil
}

// count counts one run. It has the lock of counting.
func (c *Collector) count(r listing.Run) {
	product := r.Product
	if !c.products[product] {
		if len(c.products) == mostProducts {
			product = "other"
		} else {
			c.products[product] = true
		}
	}
	c.runs[runSort{product, string(r.Outcome), strconv.FormatBool(r.Simulated)}]++
	at, _ := slices.BinarySearch(cycleBounds, r.Duration.Seconds()) // a bound belongs to the class below it
	c.cycles[at]++
	c.took += r.Duration
}

func (c *Collector) counted() []Family {
	runs := Family{
		Name: "padjig_runs", Kind: Counter, Help: "Stored runs by product and verdict, in the records.", Labels: []string{"product", "verdict", "simulated"},
	}
	for s, n := range c.runs {
		runs.Points = append(runs.Points, Point{Labels: []string{s.product, s.verdict, s.simulated}, Value: float64(n)})
	}
	slices.SortFunc(runs.Points, func(a, b Point) int { return slices.Compare(a.Labels, b.Labels) })
	commits := c.store.Commits()
	return []Family{runs, {
		Name: "padjig_cycle_seconds", Kind: Histogram, Unit: "seconds", Help: "What stored runs took, from the first step to the last.",
		Points: []Point{{Value: c.took.Seconds(), Counts: slices.Clone(c.cycles), Bounds: cycleBounds}},
	}, {
		Name: "padjig_save_seconds", Kind: Histogram, Unit: "seconds", Help: "What commits of the records took, until they were on the disk, since the start.",
		Points: []Point{{Value: commits.Took.Seconds(), Counts: commits.Counts, Bounds: store.Each(store.CommitBounds, time.Duration.Seconds)}},
	}}
}

// phases are how a lane can stand.
var phases = []station.Phase{station.Ready, station.Lid, station.Armed, station.Running, station.Storing, station.Ended, station.Refused,
	station.Exclusive, station.Changing, station.Locked}

func (c *Collector) stand() []Family {
	state := Family{Name: "padjig_lane_state", Kind: StateSet, Help: "How each lane stands.", Labels: []string{"lane", "padjig_lane_state"}}
	there := Family{Name: "padjig_jig_present", Kind: Gauge, Help: "Whether the jig of each lane is there.", Labels: []string{"lane"}}
	lost := Family{Name: "padjig_jig_lost", Kind: Counter, Help: "How often the jig of each lane was lost, since the start.", Labels: []string{"lane"}}
	for i, lane := range c.lanes {
		s, n := lane.State(), strconv.Itoa(i+1)
		for _, p := range phases {
			state.Points = append(state.Points, Point{Labels: []string{n, string(p)}, Value: truth(s.Phase == p)})
		}
		there.Points = append(there.Points, Point{Labels: []string{n}, Value: truth(s.Jig.Present)})
		lost.Points = append(lost.Points, Point{Labels: []string{n}, Value: float64(c.lost[i])})
	}
	return []Family{state, there, lost}
}

func truth(is bool) float64 {
	if is {
		return 1
	}
	return 0
}

func byName(counts map[string]int64) (points []Point) {
	for name, n := range counts {
		points = append(points, Point{Labels: []string{name}, Value: float64(n)})
	}
	slices.SortFunc(points, func(a, b Point) int { return cmp.Compare(a.Labels[0], b.Labels[0]) })
	return points
}
