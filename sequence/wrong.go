package sequence

import (
	"errors"
	"fmt"
)

// WrongError is what is wrong with something that a person wrote or asked for: a code with its
// arguments, which pages say in every language, and the sentence of it for terminals.
type WrongError struct {
	What Said
	text string
}

func (e *WrongError) Error() string { return e.text }

// Wrong is such an error, whose code has the arguments of its sentence.
func Wrong(code Code, sentence string, args ...any) error {
	e := &WrongError{Said{Code: code}, fmt.Sprintf(sentence, args...)}
	for _, arg := range args {
		e.What.Args = append(e.What.Args, fmt.Sprint(arg))
	}
	return e
}

// Wrongs is all that an error says is wrong, several where it joins them; none where it is
// another error.
func Wrongs(err error) (all []Said) {
	if joined, is := err.(interface{ Unwrap() []error }); is {
		for _, one := range joined.Unwrap() {
			all = append(all, Wrongs(one)...)
		}
		return all
	}
	if one, is := errors.AsType[*WrongError](err); is {
		all = append(all, one.What)
	}
	return all
}
