package linesim

import (
	"fmt"
	"time"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results"
	"padjig/results/care"
	"padjig/results/floor"
	"padjig/sequence"
)

// What is planted, and when: parts of the whole from 0 to 1.
const (
	tighterFrom = 0.6 // the second revision begins

	membraneLots = 16
	boardLots    = 5
	highLot      = 6    // of the membrane lots, from 0
	highBy       = 1.35 // its contacts read this much more

	wearJig   = 2 // from 0
	wearKey   = 8 // in the product's order, from 0
	wearFrom  = 0.20
	wearUntil = 0.55 // the actuator is replaced
	wearTo    = 1.1  // its contact reads this much more in the end

	localJig  = 1
	localKey  = 7 // fails on that jig only
	localRate = 0.006
	commonKey = 18 // fails on every jig
	allRate   = 0.003

	verifications = 10 // of each jig
)

// Planted is something there is to be found.
type Planted struct {
	What     string
	From, To float64 // parts of the line's runs
}

// Story lists what is planted in a line of this product.
func (l Line) Story() []Planted {
	key := func(i int) string { return l.Product.Keys[i%len(l.Product.Keys)].Label }
	lot := func(i int) float64 { return float64(i) / membraneLots }
	return []Planted{
		{fmt.Sprintf("contacts of membrane lot %s read %.0f %% more", membrane(highLot), 100*(highBy-1)), lot(highLot), lot(highLot + 1)},
		{fmt.Sprintf("the actuator of key %s wears on jig %s until it is replaced", key(wearKey), jigName(wearJig)), wearFrom, wearUntil},
		{fmt.Sprintf("key %s does not close in %.1f %% of the units on jig %s, and on no other", key(localKey), 100*localRate, jigName(localJig)), 0, 1},
		{fmt.Sprintf("key %s does not close in %.1f %% of the units on every jig", key(commonKey), 100*allRate), 0, 1},
		{fmt.Sprintf("revision %s allows a tenth less resistance", following(l.Product.Revision)), tighterFrom, 1},
	}
}

func membrane(i int) string { return fmt.Sprintf("M-26%02d", 10+i) }
func board(i int) string    { return fmt.Sprintf("B-%03d", 310+i) }

// calendar holds what happens beside the runs, by the number of runs made before it.
type calendar struct {
	at      []int
	entries []results.Entry
}

func newCalendar(l Line) *calendar {
	c := new(calendar)
	for i := range membraneLots {
		c.lots(l, float64(i)/membraneLots, floor.Lots{"membrane": membrane(i)})
	}
	for i := range boardLots {
		c.lots(l, float64(i)/boardLots, floor.Lots{"board": board(i)})
	}
	for i := range verifications {
		for jig := range jigs {
			part := (float64(i) + float64(jig)/jigs) / verifications
			c.add(l, part, results.Entry{Calibration: verification(l, jig, part)})
		}
	}
	c.add(l, wearUntil, results.Entry{Wear: &care.WearEvent{
		Jig: jigName(wearJig), Part: care.ActuatorPart(l.Product.Keys[wearKey%len(l.Product.Keys)].Actuator),
		By: "Ines", Simulated: true, Lot: "T-12", Note: "tip worn through"}})
	return c
}

func (c *calendar) lots(l Line, part float64, lots floor.Lots) {
	for jig := range jigs {
		c.add(l, part, results.Entry{Lots: &floor.LotChange{
			Jig: jigName(jig), Product: l.Product.Code, Simulated: true, Lots: lots, By: "Ines"}})
	}
}

// add keeps the calendar in order; what comes at the same time stays in the order it was added.
func (c *calendar) add(l Line, part float64, e results.Entry) {
	at := int(part * float64(l.Runs))
	i := len(c.at)
	for i > 0 && c.at[i-1] > at {
		i--
	}
	c.at = append(c.at[:i], append([]int{at}, c.at[i:]...)...)
	c.entries = append(c.entries[:i], append([]results.Entry{e}, c.entries[i:]...)...)
}

// until gives what is due before the next run, once.
func (c *calendar) until(made int) []results.Entry {
	n := 0
	for n < len(c.at) && c.at[n] <= made {
		n++
	}
	due := c.entries[:n]
	c.at, c.entries = c.at[n:], c.entries[n:]
	return due
}

// verification reads a certified resistor, a little off and inside its limit.
func verification(l Line, jig int, part float64) *sequence.Calibration {
	const certified = 100.0
	off := 0.05*part + 0.01*float64(jig)
	at := l.Begin.Add(time.Duration(part * float64(l.Runs) / jigs * float64(l.cycle())))
	return &sequence.Calibration{
		Kind: sequence.KindVerify, Jig: jigOf(jig), Simulated: true, Operator: "Ines",
		Performed: at, Interval: 30 * 24 * time.Hour, Box: "RB-1", BoxSerial: "RB-1-0007", Certificate: "DEMO-1",
		CertificateDue: at.AddDate(1, 0, 0), Good: true,
		Readings: []sequence.CalibrationReading{{
			Channel: 1, Mate: 2, Resistor: "A", Reference: 500,
			Certified: fixture.Resistance{Value: certified, U: 0.0025},
			Measured:  fixture.Resistance{Value: quantity.Ohm(certified + off), U: 0.02},
			Deviation: fixture.Resistance{Value: quantity.Ohm(off), U: 0.02}, Limit: 0.5, Good: true,
		}},
	}
}

func jigOf(i int) sequence.JigName {
	return sequence.JigName{Serial: jigName(i), Model: "simulated jig", Firmware: "linesim 1", Adapter: "A-20"}
}
