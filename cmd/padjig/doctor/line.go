package doctor

import "strings"

// Line is a finding in words: what terminal, JSON and page show.
type Line struct {
	Check   Check    `json:"check"`
	Code    Code     `json:"code"`
	Outcome Outcome  `json:"outcome"`
	Args    []string `json:"args"` // of the code
	Name    string   `json:"name"` // of the check, in words
	Says    string   `json:"says"`
	Try     string   `json:"try,omitempty"` // a command, or a sentence
}

// Lines says findings in words.
func Lines(all []Finding, w Words) []Line {
	out := []Line{}
	for _, f := range all {
		args := f.Args
		if args == nil {
			args = []string{}
		}
		out = append(out, Line{f.Check(), f.Code, f.Outcome(), args, w.Say("doctor.check." + string(f.Check())), f.Say(w), f.Remedy(w)})
	}
	return out
}

// SayOutcome is an outcome in words.
func SayOutcome(o Outcome, w Words) string {
	return w.Say("doctor.outcome." + strings.ReplaceAll(string(o), " ", "-"))
}
