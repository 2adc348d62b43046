package lane

import (
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/control"
	"padjig/cmd/padjig/web/page"
	"padjig/results/stops"
)

// haltView is a stop that holds: what happened and where, who is needed, and how it is
// lifted by who may.
type haltView struct {
	Number     int64        `json:"number"`
	Unit       string       `json:"unit"` // the one that it holds for; empty: the line
	Word       string       `json:"word"`
	Line       string       `json:"line"`
	Next       string       `json:"next"`
	References []string     `json:"references"` // units that are tested all the same
	Reasons    []reasonView `json:"reasons"`    // none for who may not lift it
}

// reasonView is what was the matter, in a tap.
type reasonView struct {
	Code string `json:"code"`
	Text string `json:"text"`
}

// halt is the stop that holds at a lane, or for the unit that it shows; nil for none.
func halt(v *page.Visit, s station.State) *haltView {
	var c *station.Condition
	for i := range s.Conditions {
		if s.Conditions[i].Stop > 0 {
			c = &s.Conditions[i]
		}
	}
	if c == nil {
		c = unitStop(s)
	}
	if c == nil {
		return nil
	}
	key := "line"
	if c.Unit != "" {
		key = "unit"
	}
	out := &haltView{
		Number: c.Stop, Unit: c.Unit, Word: v.Say("halt." + key), Line: control.Say(v.Words, c.Code, c.Args, c.Text),
		Next: saying{v.Words, nil}.nextOf(&station.Refusal{Code: c.Code, Args: c.Args}), References: []string{}, Reasons: []reasonView{},
	}
	if refs := s.Product.References; refs != nil && c.Unit == "" {
		out.References = refs.All()
	}
	if v.Person != nil && v.Person.HasRole(page.Deciding) {
		for _, reason := range stops.Reasons() {
			out.Reasons = append(out.Reasons, reasonView{string(reason), v.Say("stopreason." + string(reason))})
		}
	}
	return out
}

// unitStop is the stop of the unit that a lane shows: one that it has just come to, or
// for which the unit was refused.
func unitStop(s station.State) *station.Condition {
	switch {
	case s.Phase == station.Refused && s.Refusal.Stop != nil && s.Refusal.Stop.Unit != "":
		return s.Refusal.Stop
	case s.Phase == station.Ended:
		for _, stop := range s.Verdict.Stops {
			if stop.Unit != "" {
				c := station.StopOf(stop, "")
				return &c
			}
		}
	}
	return nil
}

// lift lets a lane, or the unit that it shows, go on.
func (p *Pages) lift(v *page.Visit, _ int, _ *station.Lane) (page.Answer, error) {
	return p.lanes.LiftAsked(v, p.store.Stops)
}

// dues are the conditions that are no stop: that is said by itself.
func dues(list []station.Condition) (out []station.Condition) {
	for _, c := range list {
		if c.Stop == 0 {
			out = append(out, c)
		}
	}
	return out
}
