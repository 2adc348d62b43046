package answers

import (
	"cmp"
	"math"
	"strings"
)

// Target is the first-pass yield that somebody asks for: it is said with the question, and
// kept nowhere else. 0 is none.
type Target float64

// Check says what is wrong with it.
func (t Target) Check() error {
	if !(t >= 0 && t <= 1) {
		return &TargetError{}
	}
	return nil
}

// TargetError is returned for a target that is no share.
type TargetError struct{}

// Error says what to write.
func (*TargetError) Error() string { return "a target is a share of the units, such as 98 %" }

// Percent writes it with the digits that it was given with.
func (t Target) Percent() Percent {
	p := Percent{Value: float64(t)}
	for p.Digits < 4 && math.Abs(1e2*p.Value*math.Pow10(p.Digits)-math.Round(1e2*p.Value*math.Pow10(p.Digits))) > 1e-9 {
		p.Digits++
	}
	return p
}

// words say how a yield stands to its target, and which groups miss it with their whole
// interval. Where the interval holds the target nothing is shown, whichever side the yield
// itself is on.
func (t Target) words(total YieldRow, groups []YieldRow) (out []Sentence) {
	if t == 0 {
		return nil
	}
	switch first := total.First; {
	case first.High < float64(t):
		out = append(out, Warn("yield.target.missed", t.Percent(), Part(first)))
	case first.Low >= float64(t):
		out = append(out, Say("yield.target.kept", t.Percent(), Part(first)))
	default:
		out = append(out, Say("yield.target.open", t.Percent(), Part(first)))
	}
	var missed Names
	for _, g := range groups {
		if g.Units > 0 && g.First.High < float64(t) && len(groups) > 1 {
			missed = append(missed, cmp.Or(strings.TrimSpace(strings.Join(g.Groups, " ")), "–"))
		}
	}
	if len(missed) > 0 {
		out = append(out, Warn("yield.target.groups", len(missed), len(groups), missed))
	}
	return out
}
