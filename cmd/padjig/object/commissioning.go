package object

import (
	"time"

	"padjig/results/care"
	"padjig/sequence"
	"padjig/sequence/commission"
)

type Commissioning struct {
	Number    int64            `json:"number"` // of the commissioning
	Jig       sequence.JigName `json:"jig"`    // as it stated itself when it was begun
	Simulated bool             `json:"simulated"`
	Operator  string           `json:"operator"` // who began it
	Begun     string           `json:"begun"`    // RFC 3339, UTC
	Good      bool             `json:"good"`     // every step that the jig has was passed
	Missing   []string         `json:"missing"`  // steps that it has still to pass
	Steps     []CommissionStep `json:"steps"`    // the last result of each, in their order
}

type CommissionStep struct {
	Step     string              `json:"step"`
	Outcome  string              `json:"outcome"` // "pass", "fail", "not done"
	Why      sequence.Said       `json:"why,omitzero"`
	Operator string              `json:"operator"`
	At       string              `json:"at"` // RFC 3339, UTC
	Figures  []commission.Figure `json:"figures"`
}

func CommissioningOf(c care.Commissioning) Commissioning {
	missing := c.Progress().Missing(c.Caps())
	return Commissioning{
		Number: c.Number, Jig: c.Jig, Simulated: c.Simulated, Operator: c.By, Begun: c.Begun.Format(time.RFC3339Nano),
		Good: len(missing) == 0, Missing: each(missing, func(s commission.Step) string { return string(s) }),
		Steps: each(c.Last(), func(s care.CommissionStep) CommissionStep {
			return CommissionStep{string(s.Step), string(s.Outcome), s.Why, s.By, s.At.Format(time.RFC3339Nano), each(s.Figures, same)}
		}),
	}
}
