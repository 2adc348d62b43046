package sequence

import (
	"fmt"
	"testing"
)

// Babble replaces all words that the sequence has for facts by nonsense until the test
// ends.
func Babble(t *testing.T) {
	t.Helper()
	words := plain
	t.Cleanup(func() { plain = words })
	plain = map[Code]string{}
	for code := range words {
		plain[code] = fmt.Sprintf(" blah %d; gone when blah", len(plain))
	}
}
