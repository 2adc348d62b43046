package returns

import (
	"errors"
	"fmt"
	"slices"
	"strings"
)

// ErrWords is returned for an intake that is not in the words of the returns desk.
var ErrWords = errors.New("intake refused")

// The words of the returns desk, so that cases can be counted. The words and
// what they mean are ours.

// Complaints are what customers say, in words that can be counted.
var Complaints = []string{
	"no key works", "some keys dead", "key dead", "key works sometimes", "key acts twice",
	"key acts by itself", "wrong key acts", "hard to press", "looks damaged", "none given", "other",
}

// Conditions are what can be seen before anything is plugged in.
var Conditions = []string{
	NothingVisible, "dirty", "scratched", "faded", "tail creased", "overlay lifted", "opened before",
	"corroded", "wet", "burnt", "tail torn", "crushed", "other",
}

// Damaging are the conditions that end electrical testing: current would tell
// nothing more, or change what can be seen.
var Damaging = []string{"wet", "burnt", "tail torn", "crushed"}

// NothingVisible is the condition of a unit on which nothing can be seen.
const NothingVisible = "nothing visible"

// check refuses an intake that is not in these words.
func (in Intake) check() error {
	var wrong []string
	if !slices.Contains(Complaints, in.Complaint) {
		wrong = append(wrong, fmt.Sprintf("complaint %q: write one of %s", in.Complaint, strings.Join(Complaints, ", ")))
	}
	for _, c := range in.Conditions {
		if !slices.Contains(Conditions, c) {
			wrong = append(wrong, fmt.Sprintf("condition %q: write one of %s", c, strings.Join(Conditions, ", ")))
		}
	}
	switch {
	case len(in.Conditions) == 0:
		wrong = append(wrong, fmt.Sprintf("what can be seen? write a condition, or %q", NothingVisible))
	case len(in.Conditions) > 1 && slices.Contains(in.Conditions, NothingVisible):
		wrong = append(wrong, fmt.Sprintf("%q and something else that can be seen: write one or the other", NothingVisible))
	case slices.Contains(in.Conditions, "other") && in.ConditionText == "":
		wrong = append(wrong, `condition "other" needs words of its own`)
	}
	if in.By == "" {
		wrong = append(wrong, "nobody took it in: say who")
	}
	if in.Complaint == "other" && in.ComplaintText == "" {
		wrong = append(wrong, `complaint "other" needs words of its own`)
	}
	if len(wrong) > 0 {
		return fmt.Errorf("%w: %s", ErrWords, strings.Join(wrong, "; "))
	}
	return nil
}

// IsDamage reports whether a condition ends electrical testing.
func IsDamage(condition string) bool { return slices.Contains(Damaging, condition) }
