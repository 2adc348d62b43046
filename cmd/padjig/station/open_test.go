package station

import (
	"context"
	"errors"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"padjig/fixture"
	"padjig/fixture/jigsim"
	"padjig/fixture/link"
)

// A lane waits for its jig however long it takes, and says why it is not there;
// it never takes another one for it, whatever port that is on.
func TestALaneFindsItsOwnJig(t *testing.T) {
	at(t, "", func(s *stand) {
		s.ports.Unplug(firstPort)
		s.begin()
		st := s.until("says why", func(st State) bool { return st.Jig.Why != nil })
		assert.ErrorIs(s, st.Jig.Why, link.ErrAbsent)
		s.refused(s.unit(1), NoJig, func() { s.scan(s.unit(1)) })
		time.Sleep(time.Minute)
		assert.LessOrEqual(s, s.lane.State().Version, st.Version+2, "the same is not said again and again")
		s.ports.Plug(firstPort, s.jig)
		s.until("has it", func(st State) bool { return st.Jig.Present })
		s.tests(s.unit(1))

		other := s.simulated(named("SIM-0002"))
		s.ports.Unplug(firstPort)
		s.until("has lost it", func(st State) bool { return !st.Jig.Present })
		s.ports.Plug(firstPort, other)
		time.Sleep(time.Minute)
		assert.False(s, s.lane.State().Jig.Present, "it is another one")
		s.refused(s.unit(2), NoJig, func() { s.scan(s.unit(2)) })
		s.ports.Plug("sim/1", s.jig)
		st = s.until("has found it", func(st State) bool { return st.Jig.Present })
		assert.Equal(s, "sim/1", st.Jig.Port)
		assert.Equal(s, "SIM-0001", st.Jig.Serial)
		s.tests(s.unit(2))
		assert.Equal(s, sum(other), 0, "the other one was left alone")
	})
	at(t, "", func(s *stand) { // asked for by its serial number
		s.setup.Jig = "SIM-0002"
		s.begin()
		time.Sleep(time.Minute)
		assert.False(s, s.lane.State().Jig.Present)
		s.jig = s.simulated(named("SIM-0002"))
		s.ports.Plug("sim/9", s.jig)
		st := s.until("has found it", func(st State) bool { return st.Jig.Present })
		assert.Equal(s, JigState{Name: "SIM-0002", Serial: "SIM-0002", Port: "sim/9", Model: st.Jig.Model, Firmware: st.Jig.Firmware,
			Simulated: true, Caps: st.Jig.Caps, Present: true}, st.Jig)
		s.tests(s.unit(1))
	})
}

func sum(jig *jigsim.Jig) (n int) {
	for _, presses := range jig.Counts().Presses {
		n += presses
	}
	return n
}

// Without anything said a lane opens real ports.
func TestALaneOpensPorts(t *testing.T) {
	l := NewLane(Setup{Jig: "/no/such/port"})
	_, _, err := l.loop().connect(t.Context())
	assert.ErrorIs(t, err, link.ErrAbsent)
	assert.Equal(t, doubleScan, l.setup.Twice)
	assert.NotNil(t, l.setup.Find)
}

// What goes over the line of a lane's jig can be looked at.
func TestTrafficOfALane(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		news, stop := s.lane.Traffic().Subscribe()
		defer stop()
		s.tests(s.unit(1))
		answer(s, news)
		frames, _ := s.lane.Traffic().Since(0)
		assert.Greater(s, len(frames), len(s.product.Keys))
	})
}

// What keeps a jig still has a name where a person can see to it, and none where not.
func TestStilled(t *testing.T) {
	assert.Equal(t, LidOpen, Stilled(errors.Join(errors.New("run"), fixture.ErrInterlock)))
	assert.Equal(t, EmergencyStop, Stilled(fixture.ErrEmergency))
	assert.Equal(t, Stopped, Stilled(context.Canceled))
	assert.Empty(t, Stilled(link.ErrLost))
	assert.Empty(t, Stilled(nil))
}
