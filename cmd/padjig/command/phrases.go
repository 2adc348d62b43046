package command

import (
	"fmt"
	"strings"
	"time"

	"padjig/sequence"
	"padjig/sequence/script"
)

// What several commands say, said in one way.

// Count gives "1 mistake", "2 mistakes".
func Count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}

// Each turns a list into another; never nil, so that JSON says [] and not null.
func Each[A, B any](list []A, turn func(A) B) []B {
	out := make([]B, 0, len(list))
	for _, a := range list {
		out = append(out, turn(a))
	}
	return out
}

// Named is a product with its revision.
func Named(code, revision string) string { return strings.TrimSpace(code + " " + revision) }

// PressWord says how keys are pressed.
func PressWord(how sequence.Actuation) string {
	switch how {
	case sequence.Mechanical:
		return "by actuators"
	case sequence.Electrical:
		return "electrically"
	}
	return "by hand"
}

// Seconds is how long a test took.
func Seconds(d time.Duration) string { return fmt.Sprintf("%.2f s", d.Seconds()) }

// OnSimulated stands beside what is told of a simulated jig.
func OnSimulated(simulated bool) string {
	if simulated {
		return " (on a simulated jig)"
	}
	return ""
}

// By names whoever did something, where that is known.
func By(operator string) string {
	if operator == "" {
		return ""
	}
	return ", by " + operator
}

// OneLine keeps an error of several causes on one line.
func OneLine(text string) string {
	return strings.Join(strings.Split(strings.TrimSpace(text), "\n"), "; ")
}

// NeverTested is the failure of a unit that the records do not know, with the character of its
// number that cannot be on a label, where there is one.
func NeverTested(serial, path string) error {
	remedy := "the number on the label, letter by letter, or another --store"
	if foreign := script.Foreign(serial); foreign != "" {
		remedy = foreign
	}
	return Fail(Wrong, fmt.Errorf("unit %s was never tested, as far as %s knows", serial, path), remedy)
}
