package checkdigit

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func system(t *testing.T, name string) System {
	t.Helper()
	s, ok := Named(name)
	require.True(t, ok, name)
	return s
}

// Published check characters. "Standard" marks the worked examples of ISO/IEC
// 7064 as the sources quote them; each was also recomputed by hand or script.
func TestPublishedCheckCharacters(t *testing.T) {
	const (
		stdnum    = "tests of the python-stdnum library"
		konfirm   = "readme and tests of the node-iso7064 library"
		release   = "check-sum function manual, release identifier example"
		datalab   = "Datalab help on model 00 and reference 11, quoting ISO 7064 7.4"
		loan      = "12 CFR Part 1003 Appendix C, universal loan identifier"
		lei       = "documentation of a public ISO 7064 library, legal entity identifier"
		luhnTests = "public tests of the Luhn algorithm"
	)
	for _, c := range []struct{ system, number, check, source string }{
		{"mod 11,10", "0794", "5", stdnum + "; standard"},
		{"mod 11,10", "79462", "3", stdnum},
		{"mod 11,10", "079", "2", konfirm},
		{"mod 11,10", "00200667308", "5", stdnum},
		{"mod 11,10", "6511224300430482", "7", konfirm},
		{"mod 37,36", "A12425GABC1234002", "M", stdnum + "; " + release},
		{"mod 37,36", "123AB", "X", release},
		{"mod 37,36", "RABD", "A", konfirm},
		{"mod 37,36", "X0H", "X", konfirm},
		{"mod 37,36", "TBR", "1", konfirm},
		{"mod 37,36", "EFWW032G2TI", "U", konfirm},
		{"mod 97-10", "794", "44", datalab + "; standard"},
		{"mod 97-10", "0600001234567", "58", datalab},
		{"mod 97-10", "0600001234586", "98", datalab},
		{"mod 97-10", "10BX939C5543TQA1144M999143X", "38", loan},
		{"mod 97-10", "969500KSV493XWY0PS", "33", lei},
		{"mod 97-10", "5367", "02", stdnum},
		{"mod 97-10", "5303", "97", stdnum},
		{"mod 97-10", "5335", "98", stdnum},
		{"luhn", "7992739871", "3", luhnTests},
		{"luhn", "7894", "9", stdnum},
		{"luhn", "4992739871", "6", stdnum},
		{"luhn", "142857", "2", stdnum},
		{"luhn", "49015420323751", "8", stdnum},
	} {
		assert.Equal(t, c.check, system(t, c.system).Of(c.number), "%s of %s (%s)", c.system, c.number,
			c.source)
	}
}

// What ISO/IEC 7064 promises of all its systems, and ISO/IEC 7812-1 of Luhn:
// no single wrong character goes unseen.
func TestEverySingleSubstitutionIsSeen(t *testing.T) {
	for name, number := range map[string]string{
		"mod 11,10": "079462", "luhn": "079462", "mod 37,36": "GCC004217Z", "mod 97-10": "GCC004217Z",
	} {
		c := system(t, name)
		for i := range number {
			for _, r := range c.Alphabet {
				wrong := number[:i] + string(r) + number[i+1:]
				if wrong != number {
					assert.NotEqual(t, c.Of(number), c.Of(wrong), "%s: %s for %s", name, wrong, number)
				}
			}
		}
	}
}

// The systems differ in transpositions: these are the known gaps.
func TestKnownGaps(t *testing.T) {
	l := system(t, "luhn")
	assert.Equal(t, l.Of("2091"), l.Of("2901"), "Luhn does not see 09 exchanged with 90")
	m := system(t, "mod 97-10")
	assert.NotEqual(t, m.Of("2091"), m.Of("2901"))
}

func TestSignsOutsideTheAlphabetDoNotCount(t *testing.T) {
	c := system(t, "mod 37,36")
	assert.Equal(t, c.Of("GCC001234"), c.Of("GCC-001-234"))
	assert.Equal(t, system(t, "luhn").Of("1234"), system(t, "luhn").Of("V-12A34"))
	assert.Len(t, c.Of(strings.Repeat("Z", 1000)), 1)
}
