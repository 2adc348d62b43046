package product

import (
	"fmt"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Each file in testdata/products/bad holds its expected mistakes as comments:
//
//	#! COLUMN part of the message
//	#! LINE:COLUMN part of the message
//
// Without a line, the nearest line above that is not such a comment is meant.
// The second form is for places where no comment can follow, as in a grid.
// Every mistake must be marked and every mark must be a mistake.
var mark = regexp.MustCompile(`^\s*#! (?:(\d+):)?(\d+) (.+)$`)

type expected struct {
	line, column int
	part         string
}

func marksOf(t *testing.T, text string) []expected {
	t.Helper()
	var all []expected
	above := 0
	for i, line := range strings.Split(text, "\n") {
		m := mark.FindStringSubmatch(line)
		if m == nil {
			above = i + 1
			continue
		}
		e := expected{line: above, part: m[3]}
		if m[1] != "" {
			e.line = number1(t, m[1])
		}
		e.column = number1(t, m[2])
		all = append(all, e)
	}
	return all
}

func number1(t *testing.T, text string) int {
	t.Helper()
	n, err := strconv.Atoi(text)
	require.NoError(t, err)
	return n
}

func TestBadFiles(t *testing.T) {
	files, err := filepath.Glob("../../testdata/products/bad/*.yaml")
	require.NoError(t, err)
	require.NotEmpty(t, files)
	for _, file := range files {
		t.Run(filepath.Base(file), func(t *testing.T) {
			text, err := os.ReadFile(file)
			require.NoError(t, err)
			want := marksOf(t, string(text))
			require.NotEmpty(t, want, "no mistake is marked in this file")
			_, err = Load(file)
			var got Mistakes
			require.ErrorAs(t, err, &got)
			compare(t, want, got)
		})
	}
}

func compare(t *testing.T, want []expected, got Mistakes) {
	t.Helper()
	for _, m := range got {
		i := slices.IndexFunc(want, func(e expected) bool {
			return e.line == m.Line && e.column == m.Column && strings.Contains(m.Message, e.part)
		})
		if i < 0 {
			t.Errorf("not marked: %v", m)
			continue
		}
		want = slices.Delete(want, i, i+1)
	}
	for _, e := range want {
		t.Errorf("not found: %d:%d: %s", e.line, e.column, e.part)
	}
	assert.True(t, slices.IsSortedFunc(got, func(a, b Mistake) int {
		return (a.Line-b.Line)*10000 + a.Column - b.Column
	}), "mistakes are not in the order of the file")
}

func TestCompareSeesMissingExtraAndMisplaced(t *testing.T) {
	m := Mistakes{{File: "f", Line: 3, Column: 7, Message: "no such key"}}
	for name, want := range map[string][]expected{
		"extra": {}, "missing": {{3, 7, "such"}, {4, 1, "other"}}, "line": {{2, 7, "such"}},
		"column":  {{3, 6, "such"}},
		"message": {{3, 7, "line"}},
	} {
		fake := new(testing.T)
		compare(fake, want, m)
		assert.True(t, fake.Failed(), name)
	}
	fake := new(testing.T)
	compare(fake, []expected{{3, 7, "such"}}, m)
	assert.False(t, fake.Failed())
}

func TestMistakesPrintOneToALine(t *testing.T) {
	m := Mistakes{{File: "a.yaml", Line: 1, Column: 2, Message: "x"}, {File: "a.yaml", Line: 3, Column: 4, Message: "y"}}
	assert.Equal(t, "a.yaml:1:2: x\na.yaml:3:4: y", fmt.Sprint(m))
}
