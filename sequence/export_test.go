package sequence

import (
	"fmt"
	"testing"
)

// Places, Manners and Reasons are the codes there are.
var Places, Manners, Reasons = places, manners, append([]Code{JigMisreads, LidOpened, Emergency, Interrupted, JigFailed}, reasons...)

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
