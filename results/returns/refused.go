package returns

import (
	"errors"
	"fmt"

	"padjig/sequence"
)

// RefusedError says why something cannot be done to a case or a unit now: a code with
// its arguments, and the sentence of it for terminals.
type RefusedError struct {
	Code sequence.Said // none where there are no words but the sentence
	Text string

	kind error
}

func (e *RefusedError) Error() string { return e.kind.Error() + ": " + e.Text }

// Unwrap says which sort of refusal it is: [ErrStage] or [ErrRework].
func (e *RefusedError) Unwrap() error { return e.kind }

// refused is a refusal with a code, of the same arguments as its sentence.
func refused(kind error, code sequence.Code, sentence string, args ...any) error {
	e := &RefusedError{Text: fmt.Sprintf(sentence, args...), kind: kind}
	if code == "" {
		return e
	}
	e.Code.Code = "not now." + code
	for _, arg := range args {
		e.Code.Args = append(e.Code.Args, fmt.Sprint(arg))
	}
	return e
}

// A place that a product does not have, where it has one of a like name and where not.
const (
	noPlace     sequence.Code = "no place"
	noPlaceNear sequence.Code = "no place, near"
)

// WhyNot is the code of a refusal; none where it has none.
func WhyNot(err error) sequence.Said {
	if e, is := errors.AsType[*RefusedError](err); is {
		return e.Code
	}
	return sequence.Said{}
}
