package station

import (
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/sequence/product"
)

// laneOf is a lane whose loop does not run: what it would be handed can be seen.
func laneOf(t *testing.T) (*Lane, string) {
	t.Helper()
	p, err := product.Load("../../../testdata/products/gcc-20.yaml")
	require.NoError(t, err)
	l := NewLane(Setup{Product: p, Jig: "J-0042"})
	l.shown.change(func(s *State) { s.Jig.Present = true })
	return l, p.Serial.Complete(1)
}

// Taking back what was not let go of, or not that time, changes nothing.
func TestTakeBackOfNothing(t *testing.T) {
	l, _ := laneOf(t)
	for _, since := range []time.Time{{}, time.Unix(0, 1), time.Now()} {
		before := l.State()
		assert.ErrorIs(t, l.TakeBack(since), ErrNotLetGo)
		assert.Equal(t, before, l.State())
	}
	l.loop().absent(errors.New("unplugged"))
	before := l.State()
	assert.ErrorIs(t, l.TakeBack(time.Time{}), ErrNotLetGo)
	assert.Equal(t, before, l.State(), "why the jig is away stays said")
}

// A scan that is on its way while the jig goes is refused: it must not wait for
// a loop that has nothing to do, nor move anything when the jig is back.
func TestScanWhileTheJigGoes(t *testing.T) {
	l, serial := laneOf(t)
	l.loop().absent(ErrLetGo)
	l.Scan(Scan{Serial: serial})
	assert.Equal(t, Refused, l.State().Phase)
	assert.Equal(t, NoJig, l.State().Refusal.Code)
	assert.Nil(t, l.queue.Take())

	l, serial = laneOf(t)
	l.Scan(Scan{Serial: serial})
	require.Equal(t, Running, l.State().Phase)
	l.loop().absent(ErrLetGo)
	assert.Equal(t, Refused, l.State().Phase)
	assert.Nil(t, l.queue.Take())
}
