package station

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/fixture/wire"
	"padjig/results/runs"
	"padjig/sequence"
)

// ledger is the one double of whoever has a unit tested: it writes each step
// down, with what then stands of the unit, and can have one fail.
type ledger struct {
	s      *stand
	serial string
	fails  string // this step, if any
	late   bool   // after it did its work

	lines []string
	shown bool

	mu   sync.Mutex
	told wire.Type // what the jig was told last
}

var errStep = errors.New("this step failed")

func (l *ledger) around(name string, do func() error) error {
	var err error
	if name != l.fails || l.late {
		err = do()
	}
	l.lines = append(l.lines, fmt.Sprintf("%s: %s", name, l.stands()))
	if name == l.fails && err == nil {
		err = errStep
	}
	return err
}

// stands is what holds now, for anybody who looks.
func (l *ledger) stands() string {
	var so []string
	for _, fact := range []struct {
		is   bool
		said string
	}{
		{l.inHand(), "claimed"}, {l.s.moves() > 0, "moved"}, {len(l.s.store1(l.serial)) > 0, "stored"}, {l.isShown(), "shown"},
	} {
		if fact.is {
			so = append(so, fact.said)
		}
	}
	return strings.Join(so, ", ")
}

func (l *ledger) inHand() bool {
	h, err := l.s.store.Runs.History(l.s.Context(), l.serial)
	require.NoError(l.s, err)
	return h.InHand != nil
}

// isShown reports whether a verdict is shown, also at the lane.
func (l *ledger) isShown() bool {
	return l.shown || l.s.lane != nil && l.s.lane.State().Verdict != nil
}

// heard follows what the jig is told.
func (l *ledger) heard(e link.Event) {
	l.mu.Lock()
	defer l.mu.Unlock()
	if !e.FromJig && e.Frame.Type != wire.TypeStatus {
		l.told = e.Frame.Type
	}
}

func (l *ledger) open(ctx context.Context) (*fixture.Jig, func() error, error) {
	jig, err := l.s.ports.Open(ctx, firstPort, link.Options{Trace: l.heard})
	if err != nil {
		return nil, nil, err
	}
	return jig, jig.Close, nil
}

// hooks are those without a lane.
func (l *ledger) hooks() Hooks {
	return Hooks{
		Open: l.open, Watcher: &diary{stand: l.s}, Show: func(Done) error { l.shown = true; return nil }, around: l.around,
	}
}

// users are those who have units tested, each as it does.
var users = map[string]func(*stand, *ledger) error{
	"terminal": func(s *stand, l *ledger) error {
		j, _ := s.job(l.serial)
		return j.records.Test(s.Context(), j.Job, l.hooks())
	},
	"returns desk": func(s *stand, l *ledger) error {
		j, _ := s.job(l.serial)
		j.Return = &Return{Case: s.came(l.serial), Purpose: sequence.FirstPress}
		d := l.hooks()
		d.Keep = func(_ context.Context, run runs.Stored) error {
			assert.Len(s, s.store1(run.Serial), 1, "kept beside a run that is not stored")
			return nil
		}
		return j.records.Test(s.Context(), j.Job, d)
	},
	"gauge study": func(s *stand, l *ledger) error {
		jig, closeJig, err := l.open(s.Context())
		require.NoError(s, err)
		defer func() { _ = closeJig() }()
		j, _ := s.job(l.serial)
		j.Study = true
		d := l.hooks()
		d.Open = Held(jig)
		err = j.records.Test(s.Context(), j.Job, d)
		assert.NoError(s, jig.Err(), "the jig of a study stays open")
		return err
	},
	"lane": func(s *stand, l *ledger) error {
		s.setup.around = l.around
		s.setup.Open = func(ctx context.Context, port string, _ link.Options) (*fixture.Jig, error) {
			return s.ports.Open(ctx, port, link.Options{Trace: l.heard})
		}
		s.start()
		s.test(l.serial)
		if st := s.lane.State(); st.Phase == Refused {
			return st.Refusal
		}
		return nil
	},
}

// theOrder is the order of a test and what holds behind each step. Nothing moves
// without a claim, and nothing is shown that is not stored.
var theOrder = []string{
	"preflight: ", "open the jig: ", "check the jig: ", "await that it would move: ", "plan: ", "claim the unit: claimed",
	"measure: claimed, moved", "hang up: claimed, moved",
	"compare with the units before: claimed, moved", "save: moved, stored", "judge a reference unit: moved, stored",
	"stop the line: moved, stored",
	"keep beside it: moved, stored", "show: moved, stored, shown",
}

// Whoever has a unit tested does so in the same order.
func TestOneOrderForAll(t *testing.T) {
	for name, use := range users {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			at(t, "", func(s *stand) {
				l := &ledger{s: s, serial: s.unit(1)}
				require.NoError(s, use(s, l))
				assert.Equal(s, theOrder, l.lines)
				assert.Equal(s, wire.TypeStop, l.told, "the jig")
			})
		})
	}
}

// Whichever step fails, before its work or behind it: no step comes after it,
// the jig has let go of everything, and so is the unit let go of.
func TestNothingAfterAStepThatFails(t *testing.T) {
	for name, use := range users {
		for n, line := range theOrder {
			fails, _, _ := strings.Cut(line, ":")
			for _, late := range []bool{false, true} {
				t.Run(fmt.Sprintf("%s/%s/%v", name, fails, late), func(t *testing.T) {
					t.Parallel()
					at(t, "", func(s *stand) {
						l := &ledger{s: s, serial: s.unit(1), fails: fails, late: late}
						assert.ErrorIs(s, use(s, l), errStep)
						want := theOrder[:n+1]
						if !late {
							_, before, _ := strings.Cut(strings.Join(theOrder[max(n-1, 0):n], ""), ":")
							want = append(theOrder[:n:n], fails+":"+cmp.Or(before, " "))
						}
						assert.Equal(s, want, l.lines)
						assert.Equal(s, late && fails == "show", l.isShown())
						if n > 1 || n == 1 && late {
							assert.Equal(s, wire.TypeStop, l.told, "the jig")
						}
						assert.False(s, l.inHand(), "the unit")
						if claimed, stored := strings.Contains(strings.Join(l.lines, ""), "claimed"), len(s.runs(l.serial)) > 0; claimed && !stored {
							starts, err := s.store.Runs.Starts(s.Context(), l.serial)
							require.NoError(s, err)
							assert.Len(s, starts, 1, "it stays in the unit's life")
						}
						other, _ := s.job(s.unit(2)) // the jig and the records are free
						if s.end != nil {
							s.end()
						}
						assert.Equal(s, sequence.Pass, s.done(other).Outcome)
					})
				})
			}
		}
	}
}
