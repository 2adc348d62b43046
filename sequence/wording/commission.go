package wording

import (
	"fmt"
	"math"
	"time"

	"padjig/fixture/quantity"
	"padjig/sequence"
	"padjig/sequence/commission"
)

// Commission words what a commissioning says.
type Commission struct{ Words Words }

// Step is the name of a step.
func (w Commission) Step(s commission.Step) string {
	return w.Words.Say("commission.step." + string(s))
}

// Does says what is done in a step, and Criterion when it is passed.
func (w Commission) Does(s commission.Step) string {
	return w.Words.Say("commission.does." + string(s))
}

// Criterion is described at Does.
func (w Commission) Criterion(s commission.Step) string {
	return w.Words.Say("commission.criterion." + string(s))
}

// Remedy says what to do where a step failed.
func (w Commission) Remedy(s commission.Step) string {
	return w.Words.Say("commission.remedy." + string(s))
}

// Outcome is how a step ended.
func (w Commission) Outcome(o commission.Outcome) string {
	return w.Words.Say("commission.outcome." + string(o))
}

// Ask says what a person is to do.
func (w Commission) Ask(ask sequence.Said) string { return w.Words.said("commission.ask.", ask) }

// Why says why a step was not done, or failed; nothing for no code.
func (w Commission) Why(why sequence.Said) string {
	if why.Code == "" {
		return ""
	}
	return w.Words.said("commission.why.", why)
}

// Figure says a figure with its limit.
func (w Commission) Figure(f commission.Figure) string {
	name := w.Words.Say("commission.figure."+f.Of, f.At)
	if f.Unit == "" && f.Limit == 1 && f.Value <= 1 && f.Of != "counted" {
		if f.Good {
			return w.Words.Say("commission.yes", name)
		}
		return w.Words.Say("commission.no", name)
	}
	key := "commission.most"
	if f.Least {
		key = "commission.least"
	}
	return w.Words.Say(key, name, amount(f.Value, f.Unit), amount(f.Limit, f.Unit))
}

// amount is a value with its unit.
func amount(v float64, unit string) string {
	sign := ""
	if v < 0 {
		sign, v = "-", math.Abs(v)
	}
	switch unit {
	case "ohm":
		return sign + quantity.Ohm(v).String()
	case "A":
		return sign + quantity.Ampere(v).String()
	case "V":
		return sign + quantity.Volt(v).String()
	case "F":
		return sign + quantity.Farad(v).String()
	case "s":
		return sign + quantity.FormatDuration(time.Duration(v*float64(time.Second)))
	}
	return sign + fmt.Sprintf("%g", v)
}
