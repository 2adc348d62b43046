package fails

import (
	"fmt"
	"math/big"
	"strconv"
	"strings"

	"padjig/results/store"
)

// Codes that a scanner reads. Behind their beginnings stand digits alone, which every
// keyboard's layout has in one order and Code 128 packs two to a symbol, and a letter,
// so that the tail of a scan that was cut is no number of a unit that has digits only.
const (
	tagBegins   = "PJT0"
	placeBegins = "PJF0"
	codeEnds    = "P"
	tagDigits   = 39 // of 128 bits
	placeDigits = 4
)

// TagCode is what the barcode of a tag holds: the id of the run.
func TagCode(run store.ID) string {
	return fmt.Sprintf("%s%0*d%s", tagBegins, tagDigits, new(big.Int).SetBytes(run[:]), codeEnds)
}

// Code is what the barcode of the place holds.
func (p Place) Code() string {
	return fmt.Sprintf("%s%0*d%s", placeBegins, placeDigits, p.Number, codeEnds)
}

// IsCode reports whether a scan began as the code of a tag or of a place.
func IsCode(text string) bool {
	return strings.HasPrefix(text, tagBegins) || strings.HasPrefix(text, placeBegins)
}

// TagOf reads the code of a tag; false for anything else, and for one that was not
// read whole.
func TagOf(text string) (run store.ID, ok bool) {
	digits, ok := between(text, tagBegins, tagDigits)
	n, read := new(big.Int).SetString(digits, 10)
	if !ok || !read || n.BitLen() > 8*len(run) {
		return run, false
	}
	n.FillBytes(run[:])
	return run, true
}

// PlaceOf reads the number in the code of a place.
func PlaceOf(text string) (number int64, ok bool) {
	digits, ok := between(text, placeBegins, placeDigits)
	number, err := strconv.ParseInt(digits, 10, 64)
	return number, ok && err == nil
}

// between gives the digits of a code of that form.
func between(text, begins string, count int) (digits string, ok bool) {
	digits, begun := strings.CutPrefix(text, begins)
	digits, whole := strings.CutSuffix(digits, codeEnds)
	return digits, begun && whole && len(digits) == count && strings.Trim(digits, "0123456789") == ""
}
