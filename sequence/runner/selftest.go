package runner

import (
	"padjig/fixture"
	"padjig/sequence"
	"padjig/sequence/judge"
	"padjig/sequence/prove"
)

// Memory is what is known of how a jig read itself before: at its last verification, and
// before units since it was opened. It belongs to one connection with one jig, and to one run
// at a time.
type Memory struct {
	verified *sequence.SelfTest
	units    []sequence.SelfTest // the first one's and the last one's
}

// Verified tells it of the jig's last good verification; nil: nothing was kept of it, or there
// was none. A new one ends what is known of units before: the jig was seen to. Of no memory it
// makes one.
func (m *Memory) Verified(self *sequence.SelfTest) *Memory {
	if m == nil {
		m = new(Memory)
	}
	if self != nil && (m.verified == nil || !self.Taken.Equal(m.verified.Taken)) {
		m.units = nil
	}
	m.verified = self
	return m
}

// between is how many times its stated drift a jig may be off what it was at a moment that is
// no verification.
const between = 2

// hold holds a self-test against all that is known, and keeps it if it is in order.
func (m *Memory) hold(jig fixture.Capabilities, now sequence.SelfTest) error {
	if m.verified != nil {
		if err := judge.Drifted(jig, sequence.DriftedVerified, *m.verified, now, 1); err != nil {
			return err
		}
	}
	for _, before := range m.units {
		if err := judge.Drifted(jig, sequence.DriftedSession, before, now, between); err != nil {
			return err
		}
	}
	m.units = append(m.units[:min(len(m.units), 1)], now)
	return nil
}

// itself is how a jig reads itself in one run.
type itself struct {
	memory *Memory
	began  sequence.SelfTest
}

// selfTest has the jig read itself. A jig that cannot, or does so in another way than before
// or than it states, measures nobody: the run is aborted, the unit untouched. All that is read
// from then on is corrected by what was found. Where something moves the inputs meanwhile, they
// are read once more, patiently.
func (a atRest) selfTest(shown prove.Shown) []exchange {
	quick := a.itself(false)
	return []exchange{{quick.Routine, func(d fixture.Done) error {
		now, err := a.reads(quick, d)
		if err != nil {
			return err
		}
		if !now.Own.Disturbed {
			return a.begins(now, shown)
		}
		return recovery{lost: func() {}, take: func() error {
			patient := a.itself(true)
			d, err := a.line.one(patient.Routine)
			if err == nil {
				now, err = a.reads(patient, d)
			}
			if err != nil {
				return err
			}
			return a.begins(now, shown)
		}}
	}}}
}

// itself reads the jig's checks, scale and inputs: nothing is grounded, so that no current
// goes through the unit.
func (m routines) itself(patient bool) sequence.Checking {
	stage := fixture.Stage{Range: m.set.Low, Feed: m.channels(m.set.Lines), Patient: patient}
	return sequence.CheckItself(m.set.Jig, stage, samplesValue)
}

// reads is what the jig read of itself, unless that is out of order as it is.
func (a atRest) reads(c sequence.Checking, d fixture.Done) (sequence.SelfTest, error) {
	all, now := c.Read(d)
	for i, got := range all {
		if err := judge.ReadsItself(a.set.Jig, i, got); err != nil {
			return now, err
		}
	}
	if now.Own.Disturbed {
		return now, nil // not known yet
	}
	return now, judge.Doubted(a.set.Jig, now.Own)
}

// begins goes by a self-test that is in order, if the ones before were like it. A jig without
// check resistors cannot be shown to be in order.
func (a atRest) begins(now sequence.SelfTest, shown prove.Shown) error {
	a.own.began, *a.line.own = now, now.Own
	if len(now.Checks) > 0 {
		shown.Note(prove.SelfTest, 0)
	}
	return a.own.memory.hold(a.set.Jig, now)
}

// selfTestAgain sees at the end of a run whether the jig is as it was at its beginning: a
// verdict rests on all that was read between the two.
func (a atRest) selfTestAgain() exchange {
	again := sequence.CheckAgain(a.set.Jig, a.line.own, samplesValue)
	return exchange{again.Routine, func(d fixture.Done) error {
		now, err := a.reads(again, d)
		if err != nil {
			return err
		}
		return judge.Drifted(a.set.Jig, sequence.DriftedMeanwhile, a.own.began, now, between)
	}}
}
