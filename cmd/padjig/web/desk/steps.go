package desk

import (
	"padjig/cmd/padjig/web/page"
	"padjig/results/report/returned"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/sequence"
)

// stepView is a step of a case and how it stands, said for people.
type stepView struct {
	Name  string `json:"name"`
	State string `json:"state"`
	Title string `json:"title"`
	Word  string `json:"word"`           // its state
	Says  string `json:"says,omitempty"` // what came of it, or why it is not made
	Note  string `json:"note,omitempty"` // what was begun and does not count
	Bad   bool   `json:"bad,omitempty"`  // it found a fault
}

// stepsOf are the steps along the top of a case.
func stepsOf(v page.Words, life *returned.Life) (out []stepView) {
	c, words := life.Case, v.Facts()
	for _, s := range c.Steps(life.Reworks) {
		view := stepView{Name: string(s.Name), State: string(s.State), Title: v.Say("step.case." + page.Key(string(s.Name))),
			Word: v.Say("step.state." + string(s.State))}
		if s.Why.Code != "" {
			view.Says = words.Desk(s.Why)
		}
		switch s.Name {
		case returns.StepIntake:
			view.Says = v.Say("complaint." + page.Key(c.Intake().Complaint))
		case returns.StepPhoto:
			view.Says = photosSaid(v, c)
		case returns.StepDiagnosis:
			if len(life.Groups) > 0 && len(life.Groups[0].Causes) > 0 {
				likeliest := life.Groups[0].In(words).Causes[0]
				view.Says = likeliest.Cause + ": " + likeliest.Place
			}
		case returns.StepEnd:
			if c.Closed() {
				view.Says = returned.Disposed(words, c.Disposition())
			}
		default:
			view.ofStage(v, life, s)
		}
		out = append(out, view)
	}
	return out
}

func photosSaid(v page.Words, c returns.Case) string {
	switch n := len(c.NoPhotos); {
	case len(c.Photos) > 0:
		return v.Say("step.photos", len(c.Photos))
	case n > 0:
		return v.Say("unit.nophoto.is", c.NoPhotos[n-1].Reason)
	}
	return ""
}

// ofStage says what a stage found, or what became of its last try.
func (view *stepView) ofStage(v page.Words, life *returned.Life, s returns.Step) {
	p := sequence.Purpose(s.Name)
	run := map[sequence.Purpose]*runs.Stored{sequence.FirstPress: life.First, sequence.ReturnTest: life.Test, sequence.Exercise: life.Exercise}[p]
	if s.Stage != nil && run != nil {
		view.Says, view.Bad = v.Say("step.nothing"), len(run.Findings) > 0
		if view.Bad {
			view.Says = v.Facts().Brief(run.Findings[0])
			if place, known := v.Facts().Place(run.Findings[0]); known {
				view.Says = place + ": " + view.Says
			}
			if more := len(run.Findings) - 1; more > 0 {
				view.Says += v.Facts().Desk(sequence.Fact("event.more", v.Num(0, float64(more))))
			}
		}
	}
	begun := s.Unfinished
	if now := returned.InHand(life); now != nil && now.Purpose == p {
		begun--
	}
	if begun > 0 {
		view.Note = v.Say("step.unfinished", begun)
	}
	if last := lastAt(life.Case, p); last != nil && !last.Counts() {
		view.Note = v.Say("step.notcounted", v.Say("outcome."+string(last.Outcome)))
	}
}

// lastAt is the last run at a stage, whether it counts or not; nil for none.
func lastAt(c returns.Case, p sequence.Purpose) (last *returns.Stage) {
	for i := range c.Stages {
		if c.Stages[i].Purpose == p {
			last = &c.Stages[i]
		}
	}
	return last
}

// inJigs says what a jig does with the unit of a case, or could do: the stage that is next, and one that
// may be made besides.
func (l lives) inJigs(v *page.Visit, view *unitView, life *returned.Life) {
	c, next := life.Case, life.Next()
	if view.InJig = l.stages.inJig(v, c); view.InJig != nil && (view.InJig.Moves || view.InJig.Over) {
		view.Watched = watched(c.Number)
		if view.InJig.Moves {
			return
		}
	}
	if now := returned.InHand(life); now != nil { // at a terminal, or at another station
		view.InJig = &inJig{Say: v.Say("stage.elsewhere", now.Jig.Serial, now.Operator)}
		return
	}
	stage := func(p sequence.Purpose, quiet bool) *stageView {
		s := &stageView{Purpose: string(p), Button: v.Say("stage." + page.Key(string(p))), Case: c.Number, Jigs: jigs(v, l.lanes, c.Product, sortOf(c)), Quiet: quiet, Token: v.Person.Token}
		for _, jig := range s.Jigs {
			if jig.Refused == "" {
				s.Free++
			}
		}
		if len(s.Jigs) == 0 {
			s.Nowhere = v.Say("nextcheck.nolane", c.Product)
		}
		return s
	}
	switch p := next.Code.Purpose(); {
	case p != "":
		view.Stage = stage(p, false)
		if len(view.Stage.Jigs) == 0 {
			view.Command = next.Command
		}
	case next.Code == returns.NextEnd && !c.Done(sequence.Exercise):
		view.Free = stage(sequence.Exercise, true)
	}
}
