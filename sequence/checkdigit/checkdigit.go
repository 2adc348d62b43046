// Package checkdigit computes check characters as ISO/IEC 7064 or, for luhn, ISO/IEC
// 7812-1 define them.
package checkdigit

import (
	"slices"
	"strings"
)

// System is one way to compute check characters.
type System struct {
	Name     string
	Length   int    // check characters
	Alphabet string // what may stand in the number; other characters do not count
	compute  func(values []int) string
}

// The characters of the systems.
const (
	Digits       = "0123456789"
	Alphanumeric = Digits + "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
)

var systems = []System{
	{"mod 11,10", 1, Digits, func(v []int) string { return hybrid(v, Digits) }},
	{"mod 37,36", 1, Alphanumeric, func(v []int) string { return hybrid(v, Alphanumeric) }},
	{"mod 97-10", 2, Alphanumeric, mod97},
	{"luhn", 1, Digits, luhn},
}

// Names are those of the systems that there are.
func Names() (all []string) {
	for _, s := range systems {
		all = append(all, s.Name)
	}
	return all
}

// Named gives the system of that name.
func Named(name string) (System, bool) {
	i := slices.IndexFunc(systems, func(s System) bool { return s.Name == name })
	if i < 0 {
		return System{}, false
	}
	return systems[i], true
}

// Of gives the check characters of text.
func (s System) Of(text string) string {
	var values []int
	for _, r := range text {
		if v := strings.IndexRune(s.Alphabet, r); v >= 0 {
			values = append(values, v)
		}
	}
	return s.compute(values)
}

// hybrid is the recursive system of ISO/IEC 7064 with the two moduli M+1 and M,
// M the size of the alphabet, from which the check character comes too.
func hybrid(values []int, alphabet string) string {
	m := len(alphabet)
	p := m
	for _, v := range values {
		if p = (p + v) % m; p == 0 {
			p = m
		}
		p = p * 2 % (m + 1)
	}
	return string(alphabet[(m+1-p)%m])
}

// mod97 is MOD 97-10 of ISO/IEC 7064; letters count as two Digits, A = 10 to
// Z = 35, as is usual where it is used for more than Digits.
func mod97(values []int) string {
	remainder := 0
	for _, v := range values {
		shift := 10
		if v > 9 {
			shift = 100
		}
		remainder = (remainder*shift + v) % 97
	}
	check := 98 - remainder*100%97
	return string([]byte{Digits[check/10], Digits[check%10]})
}

// luhn doubles every second digit, beginning beside the check digit.
func luhn(values []int) string {
	sum, double := 0, true
	for i := len(values) - 1; i >= 0; i-- {
		v := values[i]
		if double {
			v = v*2/10 + v*2%10
		}
		sum += v
		double = !double
	}
	return string(Digits[(10-sum%10)%10])
}
