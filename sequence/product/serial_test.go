package product

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func TestSerialCheck(t *testing.T) {
	gcc := Serial{"GCC-######-*", "mod 37,36"}
	bay := Serial{"BAY@@####**", "mod 97-10"}
	for _, c := range []struct {
		name   string
		s      Serial
		sn     string
		reason string // "" for accepted
	}{
		{"right", gcc, gcc.Complete(123456), ""},
		{"two check digits", bay, bay.Complete(7), ""},
		{"too short", gcc, "GCC-12345-X", "it has 11 characters, not 12"},
		{"empty", gcc, "", "it is empty"},
		{"other product", gcc, "GCD-000001-3", `character 3 is "D" where "C" belongs`},
		{"letter for digit", gcc, "GCC-00O001-3", `character 7 is "O" where a digit belongs`},
		{"small letter", gcc, "gcc-000001-3", `character 1 is "g" where "G" belongs`},
		{"wrong check", gcc, "GCC-000002-3", "one character was misread or mistyped; scan the label again"},
		{"any", Serial{}, "X1", ""},
		{"any with space", Serial{}, "X 1", "printable characters without spaces"},
		{"any, empty", Serial{}, "", "printable characters without spaces"},
	} {
		t.Run(c.name, func(t *testing.T) {
			err := c.s.Check(c.sn)
			if c.reason == "" {
				require.NoError(t, err)
				return
			}
			require.ErrorIs(t, err, ErrSerial)
			assert.Contains(t, err.Error(), c.reason)
			assert.Contains(t, err.Error(), "scan the label again", "no remedy")
		})
	}
}

func TestSerialComplete(t *testing.T) {
	for _, s := range []Serial{
		{}, {"GCC-######-*", "mod 37,36"}, {"BAY@@####**", "mod 97-10"}, {"##-##*", "luhn"}, {"?-?*",
			"mod 37,36"}, {"X###", ""},
	} {
		seen := make(map[string]bool)
		for n := range 1000 {
			sn := s.Complete(n)
			require.NoError(t, s.Check(sn))
			require.False(t, seen[sn], "%s came twice", sn)
			seen[sn] = true
		}
	}
	s := Serial{"A#", ""}
	assert.Equal(t, "A3", s.Complete(13), "numbers begin again after the last")
	assert.Equal(t, "A0", s.Complete(-1))
	assert.Equal(t, "A1", s.Example())
}

func TestSerialFormatMistakes(t *testing.T) {
	const head = "product: P\ntail: R C\nmatrix: {rows: R, columns: C, keys: K}\nserial:\n"
	for serial, want := range map[string]string{
		"format: GCC-*\n  check: luhn": "f:5:11: serial format \"GCC-*\" is the same for every unit",
		"format: '###'\n  check: luhn": `has check characters (*): 0, but luhn needs 1; write "*" ` +
			`at its end`,
		"format: '###*'\n  check: mod 97-10": `has check characters (*): 1, but mod 97-10 needs 2; write ` +
			`"**" at its end`,
		"format: '##*#'\n  check: luhn": `goes on after its check characters; put "*" at its end`,
		"format: '@##*'\n  check: mod 11,10": `has letters, which mod 11,10 cannot check; write "check: ` +
			`mod 37,36"`,
		"format: '###*'":                      `has a check character (*) but no check; add "check: mod 37,36"`,
		"format: '##*'\n  check: crc":         `f:6:10: check cannot be "crc"; write one of "mod 11,10"`,
		"format: '## #'":                      "may hold only ASCII letters, digits and signs, no spaces",
		"format: " + strings.Repeat("#", 65):  `format is empty; write a value, in quotes if it begins with #`,
		"format: A" + strings.Repeat("#", 64): "is too long; write 64 characters at most",
		"format: '###'\n  digits: 3":          `unknown field "digits" in serial`,
	} {
		_, err := Parse("f", []byte(head+"  "+serial+"\n"))
		if assert.Error(t, err, serial) {
			assert.Contains(t, err.Error(), want, serial)
		}
	}
}
