package object

import "padjig/cmd/padjig/doctor"

// Doctor is how a station stands: each check, what matters most first.
type Doctor struct {
	Outcome  doctor.Outcome `json:"outcome"` // that matters most
	Findings []doctor.Line  `json:"findings"`
}
