package terminal

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestWrapKeepsNumbersWithTheirUnits(t *testing.T) {
	narrow := Terminal{Wide: 16}
	assert.Equal(t, "key 7 reads\n  640 ohm, limit\n  200 ohm", narrow.Wrap(2, "key 7 reads 640 ohm, limit 200 ohm"))
	assert.Equal(t, "one two", narrow.Wrap(2, "  one \n two "))
	for _, text := range []string{"", "a", strings.Repeat("word ", 40)} {
		for line := range strings.Lines(narrow.Wrap(2, text)) {
			assert.LessOrEqual(t, len(strings.TrimRight(line, "\n")), 16, text)
		}
	}
}
