package returns

import (
	"encoding/json"
	"fmt"
	"slices"
	"strings"

	"padjig/results/floor"
	"padjig/sequence"
)

// Contradiction is something in the records that speaks against how a case is to
// be closed: a code with its arguments, in words by [Contradiction.Say].
type Contradiction struct {
	Code sequence.Code `json:"code"`
	Args []string      `json:"args,omitempty"`
}

// Say is the contradiction as a fact of the catalogue.
func (c Contradiction) Say() sequence.Said {
	return sequence.Said{Code: "contradiction." + c.Code, Args: c.Args}
}

// The contradictions, each with its arguments.
const (
	StageFound       sequence.Code = "a stage found it"     // stage, worst finding
	NothingFound     sequence.Code = "nothing found"        // none
	NoExercise       sequence.Code = "no exercise"          // none
	JigWasGood       sequence.Code = "jig was good"         // jig
	LeftUnknown      sequence.Code = "left unknown"         // none
	MayHaveLeftSo    sequence.Code = "may have left so"     // jig
	NoDamageSeen     sequence.Code = "no damage seen"       // conditions
	CausesBlameJig   sequence.Code = "causes blame the jig" // cause
	GoodUnitScrapped sequence.Code = "good unit scrapped"   // none
	FaultGoesBack    sequence.Code = "fault goes back"      // stage, worst finding
	NothingRepaired  sequence.Code = "nothing repaired"     // none
	NotTestedSince   sequence.Code = "not tested since"     // none
	DamagedGoesBack  sequence.Code = "damage to production" // conditions
)

// ContradictionCodes are all there are.
var ContradictionCodes = []sequence.Code{StageFound, NothingFound, NoExercise, JigWasGood, LeftUnknown, MayHaveLeftSo, NoDamageSeen,
	CausesBlameJig, GoodUnitScrapped, FaultGoesBack, NothingRepaired, NotTestedSince, DamagedGoesBack}

// Evidence is what the records say of a case, as far as its end is held against it.
type Evidence struct {
	Stage, Worst string   // the first stage that found a fault; empty for none
	Exercised    bool     // an exercise was made
	Conditions   []string // seen at intake
	BlamesJig    string   // the likeliest cause, where it is the desk's jig and not the unit
	Left         bool     // the run it left with is known
	LeftOn       string   // its jig
	Doubtful     bool     // that jig was doubtful, or a margin less than its guard band
	Reworked     bool     // for this case
	TestedSince  bool     // a return test after the last rework found nothing
}

// EvidenceOf gathers it from a case, how its unit left, and what was done to it.
func EvidenceOf(c Case, shipped *Shipped, reworks []Rework) Evidence {
	e := Evidence{Exercised: c.Done(sequence.Exercise), Conditions: c.seen()}
	if found, any := c.FoundBy(); any {
		e.Stage, e.Worst = string(found.Purpose), found.Worst
	}
	if len(c.Diagnoses) > 0 {
		e.BlamesJig = blamesJig(c.Diagnoses[len(c.Diagnoses)-1].Causes)
	}
	if shipped != nil {
		e.Left, e.LeftOn = true, shipped.Run.Jig.Serial
		e.Doubtful = len(shipped.Doubts(floor.Clock{}))+len(shipped.Thin()) > 0
	}
	for _, r := range reworks {
		if r.Case != c.Number {
			continue
		}
		e.Reworked = true
		e.TestedSince = slices.ContainsFunc(c.Stages, func(s Stage) bool {
			return s.Purpose == sequence.ReturnTest && s.Outcome == sequence.Pass && s.Findings == 0 && s.Seq > r.AfterRun
		})
	}
	return e
}

// seen are the conditions of all intakes: a correction takes no damage back.
func (c Case) seen() (all []string) {
	if len(c.Intakes) > 0 {
		all = slices.Clone(c.Intake().Conditions)
	}
	if in := c.damaged(); in != nil {
		for _, condition := range in.Conditions {
			if IsDamage(condition) && !slices.Contains(all, condition) {
				all = append(all, condition)
			}
		}
	}
	return all
}

// blamesJig gives the likeliest of causes where it is the jig's.
func blamesJig(kept json.RawMessage) string {
	var groups []struct {
		Causes []struct {
			Cause string `json:"cause"`
			OfJig bool   `json:"of_jig"`
		} `json:"causes"`
	}
	if json.Unmarshal(kept, &groups) != nil || len(groups) == 0 || len(groups[0].Causes) == 0 || !groups[0].Causes[0].OfJig {
		return ""
	}
	return groups[0].Causes[0].Cause
}

// Harm reports whether a condition can come from the customer's hands.
func Harm(condition string) bool {
	return IsDamage(condition) || slices.Contains([]string{"scratched", "tail creased", "overlay lifted", "opened before", "corroded", "other"}, condition)
}

// Contradictions lists what speaks against closing a case with a disposition and a
// disposal. It knows nothing but what it is given.
func (e Evidence) Contradictions(disposition, disposal string) []Contradiction {
	return append(e.ofDisposition(disposition), e.ofDisposal(disposal)...)
}

func (e Evidence) ofDisposition(disposition string) (list []Contradiction) {
	add := adder(&list)
	found, harmed := e.Stage != "", slices.ContainsFunc(e.Conditions, Harm)
	add(disposition == NotReproduced && found, StageFound, e.Stage, e.Worst)
	add(disposition == NotReproduced && !found && !e.Exercised, NoExercise)
	add((disposition == Confirmed || disposition == FalseAccept) && !found, NothingFound)
	add(disposition == FalseAccept && !e.Left, LeftUnknown)
	add(disposition == FalseAccept && e.Left && !e.Doubtful, JigWasGood, e.LeftOn)
	add(disposition == CustomerDamage && !harmed, NoDamageSeen, strings.Join(e.Conditions, ", "))
	add(disposition == CustomerDamage && e.Doubtful, MayHaveLeftSo, e.LeftOn)
	add((disposition == Confirmed || disposition == CustomerDamage) && e.BlamesJig != "", CausesBlameJig, e.BlamesJig)
	return list
}

func (e Evidence) ofDisposal(disposal string) (list []Contradiction) {
	add := adder(&list)
	found, harmed := e.Stage != "", slices.ContainsFunc(e.Conditions, Harm)
	damage := slices.DeleteFunc(slices.Clone(e.Conditions), func(c string) bool { return !IsDamage(c) })
	repaired := disposal == SentRepaired || disposal == ToProduction
	add(disposal == Scrapped && !found && !harmed, GoodUnitScrapped)
	add(disposal == SentAsItIs && found, FaultGoesBack, e.Stage, e.Worst)
	add(repaired && !e.Reworked, NothingRepaired)
	add(disposal == SentRepaired && e.Reworked && !e.TestedSince, NotTestedSince)
	add(disposal == ToProduction && len(damage) > 0, DamagedGoesBack, strings.Join(damage, ", "))
	return list
}

func adder(list *[]Contradiction) func(bool, sequence.Code, ...string) {
	return func(is bool, code sequence.Code, args ...string) {
		if is {
			*list = append(*list, Contradiction{code, args})
		}
	}
}

// UnansweredError refuses a disposition that the records speak against, until
// each contradiction has its answer.
type UnansweredError struct{ Contradictions []Contradiction }

func (e *UnansweredError) Error() string {
	codes := make([]string, len(e.Contradictions))
	for i, c := range e.Contradictions {
		codes[i] = string(c.Code)
	}
	return fmt.Sprintf("the records speak against it (%s): say why all the same", strings.Join(codes, "; "))
}

// Unwrap makes it one of what cannot be done at this point of a case.
func (e *UnansweredError) Unwrap() error { return ErrStage }

// answer puts answers to contradictions; each must have one.
func answer(list []Contradiction, answers map[string]string) (answered []Answered, err error) {
	var open []Contradiction
	for _, c := range list {
		why := strings.TrimSpace(answers[string(c.Code)])
		if why == "" {
			open = append(open, c)
		}
		answered = append(answered, Answered{c, why})
	}
	if len(open) > 0 {
		return nil, &UnansweredError{open}
	}
	return answered, nil
}
