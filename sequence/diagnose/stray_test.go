package diagnose

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// One key during whose press something else closed, and nobody looked what: the key joins
// other lines too, and there is no line to name.
func TestStrayOfOneKey(t *testing.T) {
	s := healthySubject(t, "gcc-20")
	s.key("7").Stray, s.key("7").Alone = true, false
	d := s.diagnose()
	first, ok := d.First()
	require.True(t, ok, d.Sum)
	assert.Equal(t, SecondContact, first.Kind)
	assert.Contains(t, inWords(t, first.Place), "key 7 (R3-C1) also joins other lines; which was not looked for")
	assert.Empty(t, d.Unexplained)
	assert.NotNil(t, d.Check)
}
