// Package script looks at the characters of a number that was typed: letters of other scripts
// look like those of a label, and are none.
package script

import (
	"fmt"
	"unicode"
)

// Wrong says why a text of any characters is no number of so many ASCII ones, "" where it is
// one. From longest characters on it does not look at them one by one.
func Wrong(number string, places, longest int) string {
	given := []rune(number)
	switch foreign := Foreign(number); {
	case number == "":
		return "it is empty"
	case len(given) > longest:
		return fmt.Sprintf("it has %d characters, not %d", len(given), places)
	case foreign != "":
		return foreign
	case given[0] == ' ':
		return "character 1 is a space, which no number begins with"
	case given[len(given)-1] == ' ':
		return fmt.Sprintf("character %d is a space, which no number ends with", len(given))
	case len(given) != places:
		return fmt.Sprintf("it has %d characters, not %d", len(given), places)
	}
	return ""
}

// Foreign says which character of a number is none of those on a label, "" where all are.
func Foreign(number string) string {
	for i, r := range []rune(number) {
		if r > unicode.MaxASCII {
			return fmt.Sprintf("character %d is %q, %s", i+1, string(r), of(r))
		}
	}
	return ""
}

// of says what a character is that looks like one of a label and is none.
func of(r rune) string {
	for _, script := range []string{"Cyrillic", "Greek", "Han", "Hiragana", "Katakana", "Hangul", "Arabic", "Hebrew"} {
		if unicode.Is(unicode.Scripts[script], r) {
			return "a " + script + " letter: switch the keyboard to A to Z, or scan the label"
		}
	}
	return "which is none of A to Z, 0 to 9 and the signs on a keyboard"
}

// Short is what an error shows of a number: of one that is too long to be one, its beginning.
func Short(number string, longest int) string {
	if given := []rune(number); len(given) > longest {
		return string(given[:longest/2]) + "..."
	}
	return number
}
