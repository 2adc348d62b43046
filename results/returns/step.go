package returns

import (
	"slices"

	"padjig/sequence"
)

// Next is what is to be done next in a case: a code, in words by [Next.Say].
type Next string

// What can be next, in the order of a case.
const (
	NextSeen       Next = "seen"        // the intake does not say what can be seen
	NextPhoto      Next = "photo"       // or why there can be none
	NextDamaged    Next = "damaged"     // damage ended electrical testing: close it, or an engineer decides
	NextFirstPress Next = "first press" // the stages have their purposes for names
	NextTest       Next = "return test"
	NextExercise   Next = "exercise"
	NextAgain      Next = "test again" // it was reworked since the return test
	NextEnd        Next = "dispose"
	NextReport     Next = "report" // the case is closed
)

// Say is what is next as a fact of the catalogue.
func (n Next) Say() sequence.Said { return sequence.Fact("next." + sequence.Code(n)) }

// Purpose is the stage that is next; empty where it is none.
func (n Next) Purpose() sequence.Purpose {
	switch n {
	case NextFirstPress, NextTest, NextExercise:
		return sequence.Purpose(n)
	case NextAgain:
		return sequence.ReturnTest
	}
	return ""
}

// Next says what is to be done next, of a unit that was reworked so.
func (c Case) Next(reworks []Rework) Next {
	_, found := c.FoundBy()
	switch {
	case c.Closed():
		return NextReport
	case len(c.Intake().Conditions) == 0:
		return NextSeen
	case !c.Seen():
		return NextPhoto
	case c.Locked():
		return NextDamaged
	case !c.Done(sequence.FirstPress):
		return NextFirstPress
	case !c.Done(sequence.ReturnTest):
		return NextTest
	case c.reworkedSince(reworks):
		return NextAgain
	case !found && !c.Done(sequence.Exercise):
		return NextExercise
	}
	return NextEnd
}

// reworkedSince reports rework for the case of which no return test knows yet.
func (c Case) reworkedSince(reworks []Rework) bool {
	test := c.Counting(sequence.ReturnTest)
	return test != nil && slices.ContainsFunc(reworks, func(r Rework) bool { return r.Case == c.Number && r.AfterRun >= test.Seq })
}

// Counting is the last run at a stage that came far enough for the next one; nil for none.
func (c Case) Counting(p sequence.Purpose) *Stage {
	for _, s := range slices.Backward(c.Stages) {
		if s.Purpose == p && s.Counts() {
			return &s
		}
	}
	return nil
}

// StepName names a part of the way that a case goes.
type StepName string

// The steps, in their order. The stages have their purposes for names.
const (
	StepIntake     StepName = "intake"
	StepPhoto      StepName = "photo"
	StepFirstPress StepName = StepName(sequence.FirstPress)
	StepTest       StepName = StepName(sequence.ReturnTest)
	StepExercise   StepName = StepName(sequence.Exercise)
	StepDiagnosis  StepName = "diagnosis"
	StepEnd        StepName = "end"
)

// StepState is how a step stands.
type StepState string

// The states of a step.
const (
	StepDone    StepState = "done"
	StepNow     StepState = "now"     // it is next
	StepLater   StepState = "later"   // something else comes before it
	StepFree    StepState = "free"    // it may be made, and nothing asks for it
	StepRefused StepState = "refused" // it is not made, and Why says why
)

// Step is a part of the way, and how it stands.
type Step struct {
	Name       StepName
	State      StepState
	Why        sequence.Said
	Stage      *Stage // the run that counts; nil for none
	Unfinished int    // how often it was begun and has no run: what was read then is not known
}

// Steps are the way of the case and how far it is, as [Case.Next] sees it.
func (c Case) Steps(reworks []Rework) []Step {
	next := c.Next(reworks)
	seen := next == NextSeen
	steps := []Step{
		{Name: StepIntake, State: map[bool]StepState{true: StepNow, false: StepDone}[seen]},
		{Name: StepPhoto, State: c.photoStep(next)},
	}
	for _, p := range []sequence.Purpose{sequence.FirstPress, sequence.ReturnTest, sequence.Exercise} {
		steps = append(steps, c.stageStep(p, next))
	}
	diagnosis := Step{Name: StepDiagnosis, State: StepLater}
	switch {
	case len(c.Diagnoses) > 0:
		diagnosis.State = StepDone
	case c.Closed(), next == NextDamaged:
		diagnosis.State, diagnosis.Why = StepRefused, sequence.Fact("step.nothing measured")
	}
	return append(steps, diagnosis, Step{Name: StepEnd, State: c.endStep(next)})
}

func (c Case) photoStep(next Next) StepState {
	switch {
	case len(c.Photos)+len(c.NoPhotos) > 0:
		return StepDone
	case next == NextPhoto:
		return StepNow
	case c.Closed():
		return StepFree
	}
	return StepLater
}

func (c Case) endStep(next Next) StepState {
	switch next {
	case NextReport:
		return StepDone
	case NextEnd, NextDamaged:
		return StepNow
	}
	return StepLater
}

func (c Case) stageStep(p sequence.Purpose, next Next) Step {
	s := Step{Name: StepName(p), Stage: c.Counting(p)}
	for _, begun := range c.Unfinished {
		if begun == p {
			s.Unfinished++
		}
	}
	switch why := c.Allows(p); {
	case next.Purpose() == p:
		s.State = StepNow
	case s.Stage != nil:
		s.State = StepDone
	case why == nil:
		s.State = StepFree
	case c.Closed(), next == NextDamaged:
		s.State, s.Why = StepRefused, WhyNot(why)
	default:
		s.State = StepLater
	}
	return s
}
