package product

import "strings"

// checkSystem computes check characters as ISO/IEC 7064 or, for luhn, ISO/IEC
// 7812-1 define them.
type checkSystem struct {
	name     string
	length   int    // check characters
	alphabet string // what may stand in the number; other characters do not count
	compute  func(values []int) string
}

const (
	digits       = "0123456789"
	alphanumeric = digits + "ABCDEFGHIJKLMNOPQRSTUVWXYZ"
)

var checkSystems = []checkSystem{
	{"mod 11,10", 1, digits, func(v []int) string { return hybrid(v, digits) }},
	{"mod 37,36", 1, alphanumeric, func(v []int) string { return hybrid(v, alphanumeric) }},
	{"mod 97-10", 2, alphanumeric, mod97},
	{"luhn", 1, digits, luhn},
}

func checkNames() []string {
	names := make([]string, len(checkSystems))
	for i, c := range checkSystems {
		names[i] = c.name
	}
	return names
}

// of gives the check characters of text.
func (c checkSystem) of(text string) string {
	var values []int
	for _, r := range text {
		if v := strings.IndexRune(c.alphabet, r); v >= 0 {
			values = append(values, v)
		}
	}
	return c.compute(values)
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

// mod97 is MOD 97-10 of ISO/IEC 7064; letters count as two digits, A = 10 to
// Z = 35, as is usual where it is used for more than digits.
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
	return string([]byte{digits[check/10], digits[check%10]})
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
	return string(digits[(10-sum%10)%10])
}
