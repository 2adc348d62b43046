package station

import (
	"context"
	"errors"
	"strings"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station/note"
	"padjig/fixture"
	"padjig/fixture/caught"
	"padjig/fixture/link"
	"padjig/sequence/runner"
)

// A panic in any step of a test ends that lane's work and nothing else: it lets go of its jig, which is inert, says which
// unit was in hand, tests nothing until it is taken back, and then goes on. A unit that was claimed is not finished.
func TestAPanicAtALane(t *testing.T) {
	for n, step := range theOrder {
		name, _, _ := strings.Cut(step, ":")
		t.Run(name, func(t *testing.T) {
			at(t, "", func(s *stand) {
				falls := true
				s.setup.around = func(step string, do func() error) error {
					if falls && step == name {
						panic("no such key")
					}
					return do()
				}
				s.start()
				s.scan(s.unit(1))
				s.hasFallen(note.Of(note.Fell, s.unit(1)))
				s.lane.Scan(Scan{Serial: s.unit(2), Operator: "Abel"})
				assert.Equal(s, NoJig, s.lane.State().Refusal.Code, "nobody knows how the lane stands")
				falls = false
				require.NoError(s, s.lane.TakeBack(s.lane.State().LetGo))
				s.until("has its jig", func(st State) bool { return st.Jig.Present })
				stored := n >= 10 // behind "save"
				assert.Equal(s, stored, len(s.runs(s.unit(1))) == 1)
				s.tests(s.unit(2))
			})
		})
	}
}

// hasFallen waits until the lane has let go of its jig after a panic.
func (s *stand) hasFallen(said *note.Note) {
	s.Helper()
	st := s.until("let go", func(st State) bool { return !st.Jig.Present && errors.Is(st.Jig.Why, ErrLetGo) })
	fell, is := errors.AsType[*caught.Panicked](st.Jig.Why)
	require.True(s, is, "%v", st.Jig.Why)
	assert.Contains(s, string(fell.Stack), "station.")
	assert.False(s, st.Phase.Busy())
	assert.Equal(s, said, st.Note)
	synctest.Wait()
	assert.NoError(s, s.lane.Turning())
}

// A panic where the lane shows what goes on, in what it is lent for, or while it changes what it shows is one of its own
// as well, and whoever asked is told.
func TestAPanicBesideATest(t *testing.T) {
	for name, c := range map[string]func(*stand){
		"while it shows a step": func(s *stand) {
			s.setup.Told = func(before, after *State) {
				if after.Phase == Running && after.Step != "" {
					panic("no such step")
				}
			}
			s.start()
			s.scan(s.unit(1))
			s.hasFallen(note.Of(note.Fell, s.unit(1)))
		},
		"in an exclusive task": func(s *stand) {
			s.start()
			e := s.exclusive(s.unit(1), nil)
			e.Do = func(context.Context, *fixture.Jig, *runner.Plan) error { panic("no such key") }
			assert.ErrorContains(s, s.lane.RunExclusive(s.Context(), e), "no such key", "whoever asked does not wait for ever")
			s.hasFallen(note.Of(note.Fell, s.unit(1)))
		},
		"while it opens its jig": func(s *stand) {
			s.setup.Open = func(context.Context, string, link.Options) (*fixture.Jig, error) { panic("no such port") }
			s.begin()
			s.hasFallen(nil)
		},
	} {
		t.Run(name, func(t *testing.T) {
			at(t, "", func(s *stand) {
				c(s)
				_ = s.lane.State() // nobody holds it
			})
		})
	}
}

// A panic at the line to a jig ends that line: the run is aborted and stored, and the lane finds the jig again by itself.
func TestAPanicAtTheLine(t *testing.T) {
	at(t, "", func(s *stand) {
		falls := false
		s.setup.Open = func(ctx context.Context, port string, o link.Options) (*fixture.Jig, error) {
			o.Trace = func(e link.Event) {
				if falls && e.FromJig && s.lane.State().Done > 3 {
					falls = false
					panic("no such frame")
				}
			}
			return s.ports.Open(ctx, port, o)
		}
		s.start()
		falls = true
		s.test(s.unit(1))
		require.Len(s, s.runs(s.unit(1)), 1)
		assert.Contains(s, s.runs(s.unit(1))[0].Reason, "no such frame")
		s.until("has its jig", func(st State) bool { return st.Jig.Present })
		s.tests(s.unit(2))
	})
}
