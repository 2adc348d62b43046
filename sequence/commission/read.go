package commission

import (
	"context"
	"errors"
	"math"
	"slices"
	"time"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
	"padjig/sequence/judge"
	"padjig/sequence/product"
)

// Reader asks a jig what the criteria are about. Each of its methods leaves the jig inert.
type Reader struct {
	Jig  sequence.Jig
	Caps fixture.Capabilities
	Own  fixture.Own        // what the jig has read of itself; zero: nothing yet
	Tell func(done, of int) // readings; nil: nobody looks on
}

// all are the channels of the jig.
func (r *Reader) all() []int {
	out := make([]int, r.Caps.Channels)
	for c := range out {
		out[c] = c
	}
	return out
}

// others are channels without one.
func others(channels []int, c int) []int {
	return slices.DeleteFunc(slices.Clone(channels), func(o int) bool { return o == c })
}

func (r *Reader) top() int { return len(r.Caps.Ranges) - 1 }

// perform has routines performed and tells of each.
func (r *Reader) perform(ctx context.Context, routines []*fixture.Routine, each func(int, fixture.Done)) error {
	err := r.Jig.Perform(ctx, routines, func(i int, d fixture.Done) error {
		if r.Tell != nil {
			r.Tell(i+1, len(routines))
		}
		// The scale is corrected by what was read of it, and the inputs are not: what they take
		// beyond what the jig states is what is looked for.
		own := r.Own
		own.Input = fixture.Input{}
		each(i, d.Knowing(own))
		return nil
	})
	return errors.Join(err, sequence.MakeInert(ctx, r.Jig))
}

// checkSamples makes the noise of one reading small beside the rest, as at a verification.
const checkSamples = 128

// SelfTest has the jig read itself, with the inputs of all its channels.
func (r *Reader) SelfTest(ctx context.Context) (Result, error) {
	checking := sequence.CheckItself(r.Caps, fixture.Stage{Feed: r.all(), Patient: true}, checkSamples)
	var out Result
	err := r.Jig.Perform(ctx, []*fixture.Routine{checking.Routine}, func(_ int, d fixture.Done) error {
		checks, self := checking.Read(d)
		r.Own, out = self.Own, Checks(r.Caps, checks, self.Own)
		return nil
	})
	return out, errors.Join(err, sequence.MakeInert(ctx, r.Jig))
}

// Loops reads the loop of every channel; none where the jig has no second probes.
func (r *Reader) Loops(ctx context.Context) (loops []fixture.Resistance, err error) {
	if !r.Caps.Loop {
		return nil, nil
	}
	var routines []*fixture.Routine
	for _, c := range r.all() {
		routine := fixture.NewRoutine(r.Caps)
		routine.Loop(c, 0, glance)
		routines = append(routines, routine)
	}
	err = r.perform(ctx, routines, func(_ int, d fixture.Done) { loops = append(loops, d.Resistance(0)) })
	return loops, err
}

// Leakage reads what flows between each channel and all others, over whole periods of mains.
func (r *Reader) Leakage(ctx context.Context) (Result, error) {
	var routines []*fixture.Routine
	all := r.all()
	for _, c := range all {
		rest, routine := others(all, c), fixture.NewRoutine(r.Caps)
		routine.Stage(fixture.Stage{Range: r.top(), Feed: []int{c}, Ground: rest, Patient: true})
		routine.Steady(c, rest[0])
		routines = append(routines, routine)
	}
	var found []Through
	err := r.perform(ctx, routines, func(i int, d fixture.Done) {
		current, u := d.Flows(0)
		found = append(found, Through{i, current, u})
	})
	return Leaks(found), err
}

const (
	// lines is how many times longer than for a keypad that holds much is waited for one that
	// holds far too much.
	lines = 4
	// hums is how many conversions follow mains: as many as a reply has room for.
	hums = 20
	// humEvery is between two of them. With it they meet periods of 50 and 60 Hz everywhere, and
	// span so many that the two are told apart.
	humEvery = 3700 * time.Microsecond
)

// Mains follows each line.
func (r *Reader) Mains(ctx context.Context) (Result, error) {
	swings, err := r.swings(ctx, r.all())
	return Hum(r.Caps, swings), err
}

// swings follows lines, each of which hangs on the largest reference resistor alone.
func (r *Reader) swings(ctx context.Context, channels []int) (found []Swing, err error) {
	var routines []*fixture.Routine
	all, apart := r.all(), max(humEvery, 3*r.Caps.Conversion)
	for _, c := range channels {
		rest, routine := others(all, c), fixture.NewRoutine(r.Caps)
		routine.Stage(fixture.Stage{Range: r.top(), Feed: []int{c}, Ground: rest, Patient: true})
		routine.Wait(lines * r.Caps.Aside())
		for range hums {
			routine.Read(c, rest[0], 1)
			if wait := apart - 3*r.Caps.Conversion; wait > 0 {
				routine.Wait(wait)
			}
		}
		routines = append(routines, routine)
	}
	err = r.perform(ctx, routines, func(i int, d fixture.Done) {
		wave := make([]float64, hums)
		for k := range wave {
			wave[k] = d.Bus(fixture.Slot(k)) - r.end()
		}
		found = append(found, swing(channels[i], wave, apart))
	})
	return found, err
}

// end is where a line comes to rest that is fed through the largest reference resistor, as a
// part of Vref: what inputs take is missing.
func (r *Reader) end() float64 {
	if r.Caps.Input == 0 {
		return 1
	}
	return float64(r.Caps.Input / (r.Caps.Input + r.Caps.Ranges[r.top()].Ohm))
}

// swing is that of a wave about zero. A converter that stops at its ends cuts one half of it
// off, so that the whole is twice the larger half.
func swing(channel int, wave []float64, apart time.Duration) Swing {
	s := Swing{Channel: channel, At50: at(50, wave, apart), At60: at(60, wave, apart)}
	for _, v := range wave {
		s.Whole = max(s.Whole, 2*v, -2*v)
	}
	return s
}

// at is what a wave has of a frequency, from one end to the other: the sine that fits best by
// least squares, about the mean.
func at(hertz float64, wave []float64, apart time.Duration) float64 {
	mean := 0.0
	for _, v := range wave {
		mean += v / float64(len(wave))
	}
	var cc, cs, ss, cv, sv float64
	for k, v := range wave {
		sin, cos := math.Sincos(2 * math.Pi * hertz * float64(k) * apart.Seconds())
		cc, cs, ss, cv, sv = cc+cos*cos, cs+cos*sin, ss+sin*sin, cv+cos*(v-mean), sv+sin*(v-mean)
	}
	det := cc*ss - cs*cs
	if det == 0 {
		return 0
	}
	return 2 * math.Hypot((cv*ss-sv*cs)/det, (sv*cc-cv*cs)/det)
}

const (
	// steps is how many conversions follow a line that charges.
	steps = 16
	// slower is how many times the time of a conversion lies between two of them when the line is
	// followed once more, in case it is slow.
	slower = 16
)

// charge follows channels that charge together from ground through the largest reference.
func (r *Reader) charge(channels, rest []int, steps int, wait time.Duration) *fixture.Routine {
	routine := fixture.NewRoutine(r.Caps)
	routine.Stage(fixture.Stage{Range: r.top(), Ground: slices.Concat(channels, rest), Patient: true})
	routine.Wait(lines * r.Caps.Aside())
	routine.Switch(fixture.Stage{Range: r.top(), Feed: channels, Ground: rest})
	for range steps {
		routine.Read(channels[0], rest[0], 1)
		if wait > 0 {
			routine.Wait(wait)
		}
	}
	return routine
}

// Lines reads what each of some channels holds: how long it takes to charge through the largest
// reference resistor, less what the feed bus holds by itself. That is told from two channels,
// one by one and together.
func (r *Reader) Lines(ctx context.Context, step Step, channels []int) (Result, error) {
	swings, err := r.swings(ctx, channels)
	if err != nil {
		return Result{}, err
	}
	all := r.all()
	charged := [][]int{channels[:2]}
	for _, c := range channels {
		charged = append(charged, []int{c})
	}
	var best []Holds
	for _, wait := range []time.Duration{0, slower * r.Caps.Conversion} {
		found, err := r.charges(ctx, all, charged, wait, swings)
		if err != nil {
			return Result{}, err
		}
		for i, h := range found {
			if len(best) < len(found) {
				best = append(best, h)
			} else if best[i].Fast || !h.Fast && h.U < best[i].U {
				best[i] = h
			}
		}
	}
	pair, found := best[0], best[1:]
	if pair.Fast || found[0].Fast || found[1].Fast {
		return Lines(step, r.Caps, found), nil // the bus is part of what it holds at most
	}
	bus := found[0].Farad + found[1].Farad - pair.Farad
	u := math.Hypot(math.Hypot(float64(found[0].U), float64(found[1].U)), float64(pair.U))
	for i := range found {
		found[i].Farad -= bus
		found[i].U = quantity.Farad(math.Hypot(float64(found[i].U), u))
	}
	return Lines(step, r.Caps, found), nil
}

// charges follows each of some groups of channels.
func (r *Reader) charges(ctx context.Context, all []int, groups [][]int, wait time.Duration, swings []Swing) (found []Holds, err error) {
	rest := func(group []int) []int {
		return slices.DeleteFunc(slices.Clone(all), func(c int) bool { return slices.Contains(group, c) })
	}
	routines := []*fixture.Routine{r.charge(groups[0], rest(groups[0]), steps/2, wait)}
	for _, group := range groups {
		routines = append(routines, r.charge(group, rest(group), steps, wait))
	}
	var half, apart time.Duration
	err = r.perform(ctx, routines, func(i int, d fixture.Done) {
		switch i {
		case 0: // how far conversions are apart, the jig knows best
			half = d.Took()
			return
		case 1:
			apart = max((d.Took()-half)/(steps-steps/2), r.Caps.Conversion)
		}
		wave := make([]float64, steps)
		for k := range wave {
			wave[k] = d.Bus(fixture.Slot(k))
		}
		line := max(i-2, 0)
		h := r.holds(wave, apart.Seconds(), swings[line].Whole/2)
		h.Channel = swings[line].Channel
		found = append(found, h)
	})
	return found, err
}

// seen is how many deviations of a conversion a line must still be below its end to tell by it.
const seen = 5

// holds is what charges as a wave shows: ln(1 - v/end) falls by t/(R C), fitted by least squares
// with the weight that noise, and what else moves the line, leave each conversion. Conversions
// are so many seconds apart.
func (r *Reader) holds(wave []float64, apart, moved float64) Holds {
	ref, end := r.Caps.Ranges[r.top()], r.end()
	noise := max(math.Hypot(r.Caps.Noise, r.Caps.Resolution/math.Sqrt(12)), r.Own.Noise.Deviation, moved)
	var w, wt, wl, wtt, wtl float64
	n := 0
	for k, v := range wave {
		left := 1 - v/end
		if left <= seen*noise {
			break
		}
		t, log, weight := float64(k)*apart, math.Log(left), math.Pow(left/noise, 2)
		w, wt, wl, wtt, wtl = w+weight, wt+weight*t, wl+weight*log, wtt+weight*t*t, wtl+weight*t*log
		n++
	}
	if n < 2 {
		// The second conversion of the bus came that long after the step.
		tau := apart / math.Log(1/min(seen*noise, 0.5))
		return Holds{Farad: quantity.Farad(tau / float64(ref.Ohm)), Fast: true}
	}
	det := w*wtt - wt*wt
	slope := -(w*wtl - wt*wl) / det
	c := 1 / (slope * float64(ref.Ohm))
	u := math.Hypot(math.Sqrt(w/det)/slope, math.Hypot(ref.U, r.Caps.Drift))
	return Holds{Farad: quantity.Farad(c), U: quantity.Farad(math.Abs(c) * u)}
}

// Strokes has each actuator press the key of a good keypad that lies under it, one after the
// other, and watches the contact.
func (r *Reader) Strokes(ctx context.Context, p *product.Product) (Result, error) {
	set := judge.NewSetting(p, r.Caps, sequence.Mechanical)
	if len(set.Ranges) == 0 {
		return Skipped(Travel, "no range", p.Code), nil
	}
	var routines []*fixture.Routine
	var watched [][2]fixture.Slot
	for k, key := range p.Keys {
		feed, ground := set.EndLines(k)
		lower, upper := set.Thresholds(k)
		routine := fixture.NewRoutine(r.Caps)
		channel := p.Lines[feed].Pin - 1
		routine.Stage(fixture.Stage{Range: set.Mid, Feed: []int{channel}, Ground: []int{p.Lines[ground].Pin - 1}})
		watch := fixture.Watch{Channel: channel, Lower: lower, Upper: upper}
		routine.Press(key.Actuator)
		watch.Window, watch.Quiet = late(r.Caps.TravelDown), r.Caps.TravelDown
		closes := routine.Capture(watch)
		routine.Release(key.Actuator)
		watch.Window, watch.Quiet = late(r.Caps.TravelUp), r.Caps.TravelUp
		watched = append(watched, [2]fixture.Slot{closes, routine.Capture(watch)})
		routines = append(routines, routine)
	}
	var found []Stroke
	err := r.perform(ctx, routines, func(i int, d fixture.Done) {
		down, up := d.Make(watched[i][0]), d.Break(watched[i][1])
		// A key that was closed before, as one under an actuator that hangs, did not close.
		closed := down.Settled && down.Delay > 0
		found = append(found, Stroke{p.Keys[i].Actuator, down.Delay, up.Delay, closed, closed && up.Settled})
	})
	return Strokes(r.Caps, found), err
}

// late is how long an actuator is watched that is far slower than it states.
func late(travel time.Duration) time.Duration { return 3*travel + 50*time.Millisecond }
