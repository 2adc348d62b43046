package stats

import (
	"errors"
	"fmt"
	"math"
	"strings"
)

// What keeps data from answering a question. They end up in front of a
// person, so each is a sentence of its own.
var (
	ErrEmpty      = errors.New("no values: the chosen range is empty")
	ErrNoSpread   = errors.New("zero variance: all values are equal, so nothing can be said about their spread")
	ErrConfidence = errors.New("a confidence lies between 0 and 1, such as 0.95")
	ErrUnequal    = errors.New("the two lists have different lengths")
)

// A TooFewError says how many values there are and how many the question needs.
type TooFewError struct {
	Have, Need int
	What       string // "values", "groups", ...
}

func (e *TooFewError) Error() string {
	what := e.What
	if e.Have == 1 {
		what = strings.TrimSuffix(what, "s")
	}
	return fmt.Sprintf("%d %s where at least %d are needed", e.Have, what, e.Need)
}

// A NotFiniteError points at a value that is no finite number.
type NotFiniteError struct {
	Index int // from 0
	Value float64
}

func (e *NotFiniteError) Error() string {
	return fmt.Sprintf("value %d of the list is %v, which cannot be reckoned with", e.Index+1, e.Value)
}

// A CountError points at a count that cannot be: x of n with x < 0 or x > n.
type CountError struct{ X, N int }

func (e *CountError) Error() string { return fmt.Sprintf("%d of %d is no proportion", e.X, e.N) }

// Usable reports what keeps values from being reckoned with, if anything.
func Usable(values []float64, need int) error {
	if len(values) == 0 {
		return ErrEmpty
	}
	if len(values) < need {
		return &TooFewError{Have: len(values), Need: need, What: "values"}
	}
	return Finite(values)
}

func Finite(values []float64) error {
	for i, v := range values {
		if math.IsNaN(v) || math.IsInf(v, 0) {
			return &NotFiniteError{Index: i, Value: v}
		}
	}
	return nil
}

// UsableGroups is usable for a list of groups, each with its own least size.
func UsableGroups(groups [][]float64, needGroups, needEach int) error {
	if len(groups) == 0 {
		return ErrEmpty
	}
	if len(groups) < needGroups {
		return &TooFewError{Have: len(groups), Need: needGroups, What: "groups"}
	}
	for i, g := range groups {
		if err := Usable(g, needEach); err != nil {
			return fmt.Errorf("group %d: %w", i+1, err)
		}
	}
	return nil
}

// CheckProportion reports x of n that cannot be, and n = 0 as ErrEmpty.
func CheckProportion(x, n int) error {
	if n == 0 && x == 0 {
		return ErrEmpty
	}
	if n < 0 || x < 0 || x > n {
		return &CountError{X: x, N: n}
	}
	return nil
}

func CheckConfidence(confidence float64) error {
	if !(confidence > 0 && confidence < 1) {
		return ErrConfidence
	}
	return nil
}
