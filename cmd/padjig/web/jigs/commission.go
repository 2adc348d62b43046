package jigs

import (
	"strings"
	"time"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/page"
	"padjig/results/care"
	"padjig/sequence"
	"padjig/sequence/commission"
	"padjig/sequence/wording"
)

// commissionView is how a jig stands with its commissioning.
type commissionView struct {
	Status string               `json:"status"`
	Good   bool                 `json:"good"`
	Number int64                `json:"number"` // 0: there is none
	At     time.Time            `json:"at,omitzero"`
	By     string               `json:"by"`
	Of     string               `json:"of"` // board and firmware
	Steps  []commissionStepView `json:"steps"`
}

type commissionStepView struct {
	Step    string    `json:"step"`
	Outcome string    `json:"outcome"`
	Good    bool      `json:"good"`
	Say     []string  `json:"says"` // why, and the figures beyond their limits or the one nearest to it
	Remedy  string    `json:"remedy"`
	By      string    `json:"by"`
	At      time.Time `json:"at,omitzero"`
}

// commissioned is how the jig stands, as it states itself now or stated itself last.
func (p *pages) commissioned(v *page.Visit, jig station.JigState) (out commissionView, err error) {
	state, err := p.store.Care.CommissionState(v.Ctx(), sequence.JigName{Serial: jig.Serial, Model: jig.Caps.Model, Firmware: jig.Caps.Firmware}, jig.Simulated)
	if err != nil {
		return out, err
	}
	out = commissionView{Status: v.Say("jig.commission." + string(state.Status)), Good: state.Status == care.Commissioned, Steps: []commissionStepView{}}
	if state.Last == nil {
		return out, nil
	}
	out.Number, out.At, out.By = state.Last.Number, state.Last.Begun, state.Last.By
	out.Of = strings.Trim(state.Last.Jig.Model+", "+state.Last.Jig.Firmware, ", ")
	w := wording.Commission{Words: v.Facts()}
	for _, s := range state.Last.Last() {
		step := commissionStepView{Step: w.Step(s.Step), Outcome: w.Outcome(s.Outcome), Good: s.Outcome == commission.Pass, By: s.By, At: s.At}
		if why := w.Why(s.Why); why != "" {
			step.Say = append(step.Say, why)
		}
		figures := s.Bad()
		if worst, is := s.Worst(); is && len(figures) == 0 {
			figures = []commission.Figure{worst}
		}
		for _, f := range figures {
			step.Say = append(step.Say, w.Figure(f))
		}
		if s.Outcome == commission.Fail {
			step.Remedy = w.Remedy(s.Step)
		}
		out.Steps = append(out.Steps, step)
	}
	return out, nil
}
