package station

import (
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station/tower"
	"padjig/fixture/jigsim"
	"padjig/fixture/wire"
	"padjig/sequence"
)

// lit gives the stand's jig a tower, and says what it shows and showed.
func (s *stand) lit() (shows func() wire.Tower, showed func() []wire.Tower) {
	s.Helper()
	var mu sync.Mutex
	var all []wire.Tower
	id := jigsim.Defaults()
	id.Features |= wire.FeatureTower
	jig, err := jigsim.New(jigsim.Config{
		Identity: id, Keypad: s.product.Circuit(), Contact: s.product.Nominal.Contact, Wiring: s.product.Wiring(),
		Actuators: s.product.Pushes(), Seed: 7, Pace: true, Baud: 115200,
		Lit: func(t wire.Tower) {
			mu.Lock()
			defer mu.Unlock()
			all = append(all, t)
		},
	})
	require.NoError(s, err)
	s.jig = jig
	s.plug()
	return func() wire.Tower { time.Sleep(1100 * time.Millisecond); synctest.Wait(); return s.jig.Tower() },
		func() []wire.Tower { mu.Lock(); defer mu.Unlock(); return append([]wire.Tower{}, all...) }
}

// A tower shows what stands on the page; it is green when the verdict is in the records and
// at no other time, and dark when nobody tends the jig.
func TestATowerShowsHowTheLaneStands(t *testing.T) {
	at(t, "", func(s *stand) {
		shows, showed := s.lit()
		committed := false
		s.setup.around = func(step string, do func() error) error {
			if step == "save" && !committed {
				for _, t := range showed() {
					assert.Zero(s, t.Lit&wire.Green, "before it is stored")
				}
				committed = true
			}
			return do()
		}
		s.start()
		assert.Equal(s, tower.Shows(tower.Waiting), shows())
		s.tests(s.unit(1))
		assert.True(s, committed)
		assert.Equal(s, tower.Shows(tower.Passed), shows())
		assert.Contains(s, showed(), tower.Shows(tower.Working))

		s.put("key 7 open")
		require.Equal(s, sequence.Fail, s.test(s.unit(2)).Verdict.Outcome)
		assert.Equal(s, tower.Shows(tower.Failed), shows())
		calls := tower.Shows(tower.Failed)
		calls.Lit |= wire.Buzzer
		assert.Contains(s, showed(), calls, "somebody is called")
		s.scan(s.unit(3))
		s.until("is refused", func(st State) bool { return st.Phase == Refused })
		assert.Equal(s, tower.Shows(tower.Act), shows())
		s.place(s.unit(2))
		assert.Equal(s, tower.Shows(tower.Waiting), shows())

		s.put("")
		s.jig.Lid(true)
		s.scan(s.unit(4))
		s.until("waits for the lid", func(st State) bool { return st.Phase == Lid })
		assert.Equal(s, tower.Shows(tower.Act), shows(), "a jig that is locked shows it all the same")
		s.jig.Lid(false)
		s.press()
		s.settled(s.unit(4))
		s.jig.Emergency(true)
		s.scan(s.unit(5))
		s.until("is refused", func(st State) bool { return st.Phase == Refused })
		assert.Equal(s, tower.Shows(tower.Emergency), shows())
		s.jig.Emergency(false)

		s.end()
		assert.Equal(s, wire.Tower{}, shows(), "nobody is there")
	})
}

// A jig without a tower is never asked for one, and one that is to stay dark does.
func TestATowerThatIsNotThereOrNotWanted(t *testing.T) {
	at(t, "", func(s *stand) {
		s.start()
		_, stop := s.lane.Traffic().Subscribe()
		s.tests(s.unit(1))
		frames, _ := s.lane.Traffic().Since(0)
		stop()
		require.NotEmpty(s, frames)
		for _, f := range frames {
			assert.NotEqual(s, wire.TypeTower, f.Frame.Type)
		}
	})
	at(t, "", func(s *stand) {
		_, showed := s.lit()
		s.setup.Dark = true
		s.start()
		s.tests(s.unit(2))
		assert.Empty(s, showed())
	})
}

// What the tower shows delays no press: a unit takes as long with it as without, but for the
// few bytes on the line that it is told by as the test begins.
func TestATowerDelaysNoPress(t *testing.T) {
	took := map[bool]time.Duration{}
	for _, dark := range []bool{true, false} {
		at(t, "", func(s *stand) {
			s.lit()
			s.setup.Dark = dark
			s.start()
			time.Sleep(time.Second)
			s.tests(s.unit(1))
			took[dark] = time.Duration(s.lane.State().Verdict.Duration)
		})
	}
	frame, err := wire.AppendFrame(nil, wire.Frame{Type: wire.TypeTower, Nonce: 1, Payload: wire.AppendTower(nil, wire.Tower{})})
	require.NoError(t, err)
	state, err := wire.AppendFrame(nil, wire.Frame{Type: wire.TypeState, Nonce: 1, Payload: wire.AppendState(nil, wire.State{})})
	require.NoError(t, err)
	line := time.Duration(len(frame)+len(state)) * 10 * time.Second / 115200
	assert.LessOrEqual(t, took[false], took[true]+line)
	t.Logf("a unit takes %v without a tower, %.4f times as long with it", took[true], float64(took[false])/float64(took[true]))
}
