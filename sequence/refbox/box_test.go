package refbox

import (
	"os"
	"path/filepath"
	"regexp"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/quantity"
)

const boxes = "../../testdata/boxes/"

func TestDemoBox(t *testing.T) {
	b, err := Load(boxes + "rb-1.yaml")
	require.NoError(t, err)
	assert.Equal(t, "RB-1 (serial RB-1-0007)", b.String())
	assert.Equal(t, "DEMO-2026-0418", b.Certificate)
	assert.Equal(t, time.Date(2099, 12, 31, 0, 0, 0, 0, time.UTC), b.Due)
	require.Len(t, b.Resistors, 9)
	assert.Equal(t, Resistor{Name: "E", Pins: [2]int{5, 6}, Ohm: 100.0031, U: 0.0025}, b.Resistors[4])
	assert.Equal(t, 10, b.Highest())
}

func TestCertificateHoldsToTheEndOfItsLastDay(t *testing.T) {
	b := Box{Due: time.Date(2027, 4, 18, 0, 0, 0, 0, time.UTC)}
	assert.False(t, b.Expired(time.Date(2027, 4, 18, 23, 59, 59, 0, time.UTC)))
	assert.True(t, b.Expired(time.Date(2027, 4, 19, 0, 0, 0, 0, time.UTC)))
}

func TestCoverageFactor(t *testing.T) {
	text := "box: B\nserial: 1\ncertificate: c\nissued: 2026-01-01\ndue: 2027-01-01\n" +
		"resistors:\n  A: {pins: 1 2, value: 1 kohm, uncertainty: 30 mohm, k: 3}\n" +
		"  B: {pins: 2 3, value: 1 kohm, uncertainty: 30 mohm}\n"
	b, err := Parse("b.yaml", []byte(text))
	require.NoError(t, err)
	assert.InDelta(t, 0.010, float64(b.Resistors[0].U), 1e-12)
	assert.InDelta(t, 0.015, float64(b.Resistors[1].U), 1e-12, "k = 2 unless said otherwise")
}

// Each file in testdata/boxes/bad holds its mistakes as comments, "#! COLUMN
// part of the message" under the line meant, or "#! LINE:COLUMN part". Every
// mistake is marked and every mark is a mistake.
var mark = regexp.MustCompile(`^#! (?:(\d+):)?(\d+) (.+)$`)

func TestBadFiles(t *testing.T) {
	files, err := filepath.Glob(boxes + "bad/*.yaml")
	require.NoError(t, err)
	require.GreaterOrEqual(t, len(files), 3)
	for _, file := range files {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		_, err = Load(file)
		found, ok := err.(Mistakes)
		require.True(t, ok, "%s: %v", file, err)
		marks := 0
		above := 0
		for i, line := range strings.Split(string(text), "\n") {
			m := mark.FindStringSubmatch(line)
			if m == nil {
				above = i + 1
				continue
			}
			marks++
			at := above
			if m[1] != "" {
				at, _ = strconv.Atoi(m[1])
			}
			column, _ := strconv.Atoi(m[2])
			assert.True(t, has(found, at, column, m[3]), "%s:%d:%d: %s\nfound:\n%v", file, at, column, m[3], found)
		}
		assert.Equal(t, marks, len(found), "%v", found)
	}
}

func has(found Mistakes, line, column int, part string) bool {
	for _, m := range found {
		if m.Line == line && m.Column == column && strings.Contains(m.Message, part) {
			return true
		}
	}
	return false
}

func TestOddFiles(t *testing.T) {
	for text, want := range map[string]string{
		"":                  "x:1:1: nothing in this file",
		"# only a comment":  "x:1:1: nothing in this file",
		"- a\n- b\n":        "x:1:1: a box must be a set of fields",
		"box: a\x00":        "this is no text",
		"a: 1\n---\nb: 2\n": "a box file is UTF-8 text with one box in it",
		"box: &x RB-1\n":    "box must be plain text",
	} {
		_, err := Parse("x", []byte(text))
		assert.ErrorContains(t, err, want, "%q", text)
	}
	_, err := Load("nowhere.yaml")
	assert.ErrorContains(t, err, "read box file")
}

// write is a file that describes the box: what Parse makes of it must be b again.
func write(b *Box) string {
	var s strings.Builder
	q := strconv.Quote
	s.WriteString("box: " + q(b.Name) + "\nserial: " + q(b.Serial) + "\ncertificate: " + q(b.Certificate) + "\n")
	s.WriteString("issued: " + b.Issued.Format(dateLayout) + "\ndue: " + b.Due.Format(dateLayout) + "\nresistors:\n")
	for _, r := range b.Resistors {
		s.WriteString("  " + q(r.Name) + ": {pins: " + strconv.Itoa(r.Pins[0]) + " " + strconv.Itoa(r.Pins[1]) +
			", value: " + exact(r.Ohm) + ", uncertainty: " + exact(r.U) + ", k: 1}\n")
	}
	return s.String()
}

func exact(r quantity.Ohm) string { return strconv.FormatFloat(float64(r), 'g', -1, 64) + " ohm" }

// FuzzParse: whatever the text, it is a box that can be written and read back
// unchanged, or mistakes that have a place.
func FuzzParse(f *testing.F) {
	files, err := filepath.Glob(boxes + "*.yaml")
	require.NoError(f, err)
	bad, err := filepath.Glob(boxes + "bad/*.yaml")
	require.NoError(f, err)
	for _, file := range append(files, bad...) {
		text, err := os.ReadFile(file)
		require.NoError(f, err)
		f.Add(text)
	}
	f.Fuzz(func(t *testing.T, text []byte) {
		b, err := Parse("x", text)
		if err != nil {
			found, ok := err.(Mistakes)
			require.True(t, ok)
			require.NotEmpty(t, found)
			for _, m := range found {
				require.Positive(t, m.Line)
				require.Positive(t, m.Column)
				require.NotEmpty(t, m.Message)
			}
			return
		}
		again, err := Parse("x", []byte(write(b)))
		require.NoError(t, err, "%s", write(b))
		require.Equal(t, b, again)
	})
}
