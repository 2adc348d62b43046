package wording

import "padjig/sequence"

// Refusal says at a terminal what keeps a unit from being tested, by code and
// arguments; pages say it with fewer of them, under code.
func (w Words) Refusal(code string, args []string) string {
	return w.said("refused.", sequence.Said{Code: sequence.Code(code), Args: args})
}

// Try says what a person at a terminal can do; nothing for no code.
func (w Words) Try(what sequence.Said) string {
	if what.Code == "" {
		return ""
	}
	return w.said("try.", what)
}

// Placing says what came of a scan at the fail place.
func (w Words) Placing(what sequence.Said) string { return w.said("placing.", what) }
