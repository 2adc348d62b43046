// Package prove keeps the account of a test: what a unit has to be shown to be, what was
// shown of it, and what is missing. It holds the one rule by which a unit passes; pure,
// over codes and numbers.
package prove

import (
	"fmt"
	"maps"
	"slices"
	"strings"
)

// Proof is one thing that a test can show.
type Proof string

// The proofs, in the order in which they are told.
const (
	SelfTest      Proof = "self-test"             // the jig reads its own check resistors
	Seating       Proof = "seating"               // each pin of the tail reaches its channel
	Insulation    Proof = "insulation resistance" // no two lines are connected, before the keys are pressed and after
	Closes        Proof = "closes"                // the key closes when it is pressed
	Contact       Proof = "contact resistance"    // within its limits
	DiodeDrop     Proof = "diode drop"            // of the series diode, within its limits
	DiodeBlocks   Proof = "diode blocks"          // nothing flows against the series diode
	Alone         Proof = "no second contact"     // the key closes nothing else
	BounceClosing Proof = "bounce on closing"     // within its limit
	BounceOpening Proof = "bounce on opening"     // within its limit
	Opens         Proof = "opens again"           // the key opens when it is let go
	Rectangles    Proof = "rectangles"            // the diode blocks with two neighbours of a rectangle held beside its key
	Harness       Proof = "harness"               // jig and harness read the jig's resistor in the key's place
)

// All lists the proofs in their order.
func All() []Proof {
	return []Proof{SelfTest, Seating, Insulation, Closes, Contact, DiodeDrop, DiodeBlocks, Alone, BounceClosing, BounceOpening,
		Opens, Rectangles, Harness}
}

// Before and After are the two of insulation: before the keys are pressed, and after.
const (
	Before = iota
	After
)

// Subjects are what proofs have to be given of: keys by number, pins by number, for
// insulation Before and After, for what is one thing 0. A proof that stands there
// without any subject can never be given.
type Subjects map[Proof][]int

// Add asks for a proof of one subject more.
func (s Subjects) Add(p Proof, of int) {
	if !slices.Contains(s[p], of) {
		s[p] = append(s[p], of)
	}
}

// Only leaves what is among others too. What it has nothing of there is gone.
func (s Subjects) Only(others Subjects) Subjects {
	out := Subjects{}
	for p, subjects := range s {
		for _, of := range subjects {
			if slices.Contains(others[p], of) {
				out.Add(p, of)
			}
		}
	}
	return out
}

// Without leaves what is not among others.
func (s Subjects) Without(others Subjects) Subjects {
	out := Subjects{}
	for p, subjects := range s {
		for _, of := range subjects {
			if !slices.Contains(others[p], of) {
				out.Add(p, of)
			}
		}
	}
	return out
}

// Proofs are those that are asked for, in their order.
func (s Subjects) Proofs() []Proof {
	return slices.DeleteFunc(All(), func(p Proof) bool { return len(s[p]) == 0 })
}

// Shown is what was shown, from readings that were taken and found good.
type Shown map[Proof]map[int]bool

// Note writes down that a proof was given of a subject.
func (s Shown) Note(p Proof, of int) {
	if s[p] == nil {
		s[p] = map[int]bool{}
	}
	s[p][of] = true
}

// Subjects are what was shown.
func (s Shown) Subjects() Subjects {
	out := Subjects{}
	for p, subjects := range s {
		out[p] = slices.Sorted(maps.Keys(subjects))
	}
	return out
}

// Passes is the one rule of a pass: everything required was shown, nothing was found and
// no step was left out. Whoever requires nothing, or a proof of nothing, gets no pass.
func Passes(required Subjects, shown Shown, found, stepsLeft int) bool {
	if len(required) == 0 || found > 0 || stepsLeft > 0 {
		return false
	}
	for _, subjects := range required {
		if len(subjects) == 0 {
			return false
		}
	}
	return len(required.Without(shown.Subjects())) == 0
}

// Gap is a proof that was not given, or not of all.
type Gap struct {
	Proof Proof    `json:"proof"`
	Of    []string `json:"of,omitempty"` // labels of keys, or pins; none: of all that it has to be given of
}

// String says a gap as the record does.
func (g Gap) String() string {
	if len(g.Of) == 0 {
		return string(g.Proof)
	}
	return fmt.Sprintf("%s (%s)", g.Proof, strings.Join(g.Of, " "))
}

// Account is what a run proved, as it is recorded. A key has every proof of its
// construction but those that stand with it among the gaps.
type Account struct {
	Proved      []Proof `json:"proved"`       // of all that they have to be given of
	Missing     []Gap   `json:"missing"`      // required for a pass
	NotRequired []Gap   `json:"not_required"` // not proved, and the product does without it
}

// AccountOf draws up the account. Called is what the unit's construction calls for; names
// are those of the subjects.
func AccountOf(called, required Subjects, shown Shown, name func(Proof, int) string) *Account {
	seen := shown.Subjects()
	a := &Account{Proved: []Proof{}, Missing: gaps(required, required.Without(seen), name)}
	open := called.Without(seen)
	a.NotRequired = gaps(called, open.Without(required), name)
	for _, p := range All() {
		whole := len(called[p]) + len(required[p])
		if whole == 0 {
			whole = len(seen[p])
		}
		if whole > 0 && len(seen[p]) > 0 && len(open[p]) == 0 && len(required.Without(seen)[p]) == 0 {
			a.Proved = append(a.Proved, p)
		}
	}
	return a
}

func gaps(of, left Subjects, name func(Proof, int) string) []Gap {
	out := []Gap{}
	for _, p := range left.Proofs() {
		g := Gap{Proof: p}
		if len(left[p]) < len(of[p]) {
			for _, subject := range left[p] {
				g.Of = append(g.Of, name(p, subject))
			}
		}
		out = append(out, g)
	}
	return out
}

// Listed says proofs, or gaps, as the record does.
func Listed[T any](all []T) string {
	said := make([]string, len(all))
	for i, one := range all {
		said[i] = fmt.Sprint(one)
	}
	return strings.Join(said, ", ")
}
