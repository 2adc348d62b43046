package sequence

import (
	"slices"
	"time"

	"padjig/fixture"
	"padjig/fixture/quantity"
)

// SelfTest is what a jig read of itself before a unit, or at a verification.
type SelfTest struct {
	Jig    string      // serial number
	Taken  time.Time   // wall clock, UTC
	Checks []CheckRead // one for each range
	Own    fixture.Own // ends of the scale, current of inputs, noise
}

// CheckRead is what a jig read of the built-in check resistor of a range.
type CheckRead struct {
	Reference quantity.Ohm // nominal, as the next
	Check     quantity.Ohm
	Ohm       quantity.Ohm // as it was read
	U         quantity.Ohm // standard uncertainty of what differs from one reading of it to the next
}

// SameChecks reports whether both are of the same jig with the same resistors, so that
// one can be held against the other.
func (s SelfTest) SameChecks(other SelfTest) bool {
	return s.Jig == other.Jig && slices.EqualFunc(s.Checks, other.Checks, func(a, b CheckRead) bool {
		return a.Reference == b.Reference && a.Check == b.Check
	})
}

// Checking is a routine in which a jig reads itself, and what each result of it is.
type Checking struct {
	Routine *fixture.Routine
	jig     fixture.Capabilities
	checks  []fixture.Slot
	own     fixture.OwnSlots
	known   *fixture.Own // in place of reading it
}

// CheckItself has a jig read the check resistor of every range with so many samples, the ends
// of its converter's scale, and what the inputs of all channels that the stage feeds take.
func CheckItself(jig fixture.Capabilities, stage fixture.Stage, samples int) Checking {
	c := checkEach(jig, samples)
	c.own = c.Routine.Own(stage)
	return c
}

// CheckAgain has it read its check resistors only; the rest is known by when they are.
func CheckAgain(jig fixture.Capabilities, known *fixture.Own, samples int) Checking {
	c := checkEach(jig, samples)
	c.known = known
	return c
}

func checkEach(jig fixture.Capabilities, samples int) Checking {
	c := Checking{Routine: fixture.NewRoutine(jig), jig: jig}
	for i := range jig.Checks {
		c.checks = append(c.checks, c.Routine.Check(i, samples))
	}
	return c
}

// Read gives what was read, check by check with all that makes it uncertain, and as what a
// later self-test is held against.
func (c Checking) Read(d fixture.Done) (all []fixture.Resistance, self SelfTest) {
	self = SelfTest{Jig: c.jig.Serial, Taken: time.Now().UTC()}
	if c.known != nil {
		self.Own = *c.known
	} else {
		self.Own = d.Own(c.own, c.checks...)
	}
	d = d.Knowing(self.Own)
	for i, slot := range c.checks {
		got := d.Resistance(slot)
		all = append(all, got)
		self.Checks = append(self.Checks, CheckRead{
			Reference: c.jig.Ranges[i].Ohm, Check: c.jig.Checks[i].Ohm, Ohm: got.Value, U: d.Repeats(slot),
		})
	}
	return all, self
}
