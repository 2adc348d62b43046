package columns

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
)

func TestWidth(t *testing.T) {
	for text, want := range map[string]int{"": 0, "fan": 3, "开关": 4, "ü": 1, "u\u0308": 1, "한": 2, "🇩🇪": 2, "Ω": 1} {
		assert.Equal(t, want, Width(text), "%q", text)
		assert.Equal(t, max(6, want), Width(Pad(text, 6)), "%q", text)
	}
}

// No line is wider than it may be, but for a word that is wider by itself; and no word is cut.
func TestFill(t *testing.T) {
	words := strings.Fields("key 开关 opens late on 温室控制器键盘 again")
	text := Fill(words, 14, 2, 2)
	for i, line := range strings.Split(text, "\n") {
		if i == 0 {
			line = "  " + line
		}
		assert.LessOrEqual(t, Width(line), 16, "%q", line)
		if Width(line) > 14 {
			assert.Len(t, strings.Fields(line), 1)
		}
	}
	assert.Equal(t, words, strings.Fields(text))
}
