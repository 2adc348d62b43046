package wording

import "padjig/sequence"

// Refusal says at a terminal what keeps a unit from being tested, by code and
// arguments; pages say it with fewer of them, under code.
func (l Lang) Refusal(code string, args []string) string {
	return l.said("refused.", sequence.Said{Code: sequence.Code(code), Args: args})
}

// Try says what a person at a terminal can do; nothing for no code.
func (l Lang) Try(what sequence.Said) string {
	if what.Code == "" {
		return ""
	}
	return l.said("try.", what)
}
