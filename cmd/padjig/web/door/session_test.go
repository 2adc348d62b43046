package door

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

// From the door one goes to where one wanted to.
func TestAfterSignIn(t *testing.T) {
	assert.Equal(t, "/lane/2", afterSignIn("/door?next=%2Flane%2F2"))
	assert.Equal(t, "/", afterSignIn("/door"))
}

// A session is stale when it was left alone for longer than there is patience.
func TestSessionsAreTouched(t *testing.T) {
	var s sessions
	now := time.Now()
	assert.False(t, s.touch(1, now, time.Hour))
	assert.False(t, s.touch(1, now.Add(59*time.Minute), time.Hour))
	assert.True(t, s.touch(1, now.Add(120*time.Minute), time.Hour))
	assert.False(t, s.touch(2, now.Add(900*time.Hour), 0))
}
