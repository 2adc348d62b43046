package runner_test

import (
	"context"
	"flag"
	"io"
	"net"
	"slices"
	"sync"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/jigsim"
	"padjig/fixture/jigsim/world"
	"padjig/fixture/link"
	"padjig/fixture/simport"
	"padjig/fixture/wire"
	"padjig/sequence"
)

// tampered is a line on which somebody stands who can put bytes in front of what
// the jig says, as an adapter does that holds bytes back.
type tampered struct {
	net.Conn
	asked func(f wire.Frame) [][]byte // what the host is told when it has asked this
	heard func(f wire.Frame, raw []byte)

	out     *io.PipeReader
	in      *io.PipeWriter
	told    sync.Mutex // frames to the host are whole
	decoder wire.Decoder
}

func tamper(conn net.Conn, asked func(wire.Frame) [][]byte, heard func(wire.Frame, []byte)) *tampered {
	t := &tampered{Conn: conn, asked: asked, heard: heard}
	t.out, t.in = io.Pipe()
	go t.pass()
	return t
}

// pass carries on what the jig says, frame by frame.
func (t *tampered) pass() {
	var d wire.Decoder
	b := make([]byte, 4096)
	for {
		n, err := t.Conn.Read(b)
		d.Feed(b[:n], func(f wire.Frame) {
			raw := framed(f)
			t.heard(f, raw)
			t.tell(raw)
		})
		if err != nil {
			t.in.CloseWithError(err)
			return
		}
	}
}

func (t *tampered) tell(raw []byte) {
	t.told.Lock()
	defer t.told.Unlock()
	_, _ = t.in.Write(raw) // the host has gone
}

func (t *tampered) Read(b []byte) (int, error) { return t.out.Read(b) }

func (t *tampered) Write(b []byte) (int, error) {
	t.decoder.Feed(b, func(f wire.Frame) {
		for _, raw := range t.asked(f) {
			t.tell(raw)
		}
	})
	return t.Conn.Write(b)
}

func (t *tampered) Close() error {
	_ = t.out.Close()
	return t.Conn.Close()
}

func framed(f wire.Frame) []byte {
	raw, err := wire.AppendFrame(nil, f)
	if err != nil {
		panic(err)
	}
	return raw
}

// overheard opens the jig over a line with somebody on it.
func overheard(
	t *testing.T, sim *jigsim.Jig, asked func(wire.Frame) [][]byte, heard func(wire.Frame, []byte),
) (jig *fixture.Jig, disconnect func()) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	host, jigEnd := net.Pipe()
	served := make(chan error, 1)
	go func() { served <- sim.Serve(ctx, jigEnd) }()
	jig, err := fixture.Connect(ctx, tamper(host, asked, heard), link.Options{})
	require.NoError(t, err)
	return jig, func() {
		jig.Close()
		cancel()
		<-served
	}
}

// conversation tests the unit in the jig over such a line.
func (b bench) conversation(
	t *testing.T, sim *jigsim.Jig, asked func(wire.Frame) [][]byte, heard func(wire.Frame, []byte),
) (sequence.Run, link.Counters, error) {
	t.Helper()
	jig, disconnect := overheard(t, sim, asked, heard)
	defer disconnect()
	run, err := b.plan(t, jig).Run(context.Background(), jig, sequence.Unit{Serial: "T-1", Attempt: 1}, nil)
	return run, jig.Counters(), err
}

// open puts a unit with a key that never closes into the jig.
func (b bench) open(t *testing.T, sim *jigsim.Jig, key string) {
	t.Helper()
	keypad := b.product.Circuit()
	faults, err := world.ParseFaults("key "+key+" open", keypad)
	require.NoError(t, err)
	require.NoError(t, sim.Load(world.Unit{Keypad: keypad, Contact: b.product.Nominal.Contact, Faults: faults, Seed: 3}))
}

func nobody(wire.Frame) [][]byte { return nil }
func ignored(wire.Frame, []byte) {}

// results tests a good unit and gives what was said of it, in order.
func (b bench) results(t *testing.T, sim *jigsim.Jig) (recorded []wire.Frame) {
	t.Helper()
	good, _, err := b.conversation(t, sim, nobody, func(f wire.Frame, _ []byte) {
		if f.Type == wire.TypeResults {
			recorded = append(recorded, f)
		}
	})
	require.NoError(t, err)
	require.Equal(t, sequence.Pass, good.Outcome)
	return recorded
}

// replaying puts what was recorded in front of the replies to routines from the given
// one on, as it was or made to fit the request.
func replaying(recorded []wire.Frame, from int, fit func(replay, asked wire.Frame) wire.Frame) func(wire.Frame) [][]byte {
	n := 0
	return func(f wire.Frame) [][]byte {
		if f.Type != wire.TypeRoutine || f.Resend {
			return nil
		}
		n++
		if n <= from || n > len(recorded) {
			return nil
		}
		return [][]byte{framed(fit(recorded[n-1], f))}
	}
}

func asItWas(replay, _ wire.Frame) wire.Frame { return replay }

func tagged(replay, asked wire.Frame) wire.Frame {
	replay.Tag = asked.Tag
	return replay
}

func forged(replay, asked wire.Frame) wire.Frame {
	replay.Tag, replay.Nonce = asked.Tag, asked.Nonce
	return replay
}

// Replies to an earlier unit, good, are put in front of those to a later one that has
// a key that never closes, on the same boot of the jig: they are counted, and the
// verdict is that of the unit in the jig.
func TestRepliesOfAnEarlierUnitAreNotBelieved(t *testing.T) {
	for name, fit := range map[string]func(replay, asked wire.Frame) wire.Frame{"as they were": asItWas, "under its tags": tagged} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				b := bench{product: load(t, "gcc-20"), seed: 3}
				sim := b.simulate(t)
				recorded := b.results(t, sim)
				b.open(t, sim, "7")
				bad, counters, err := b.conversation(t, sim, replaying(recorded, 0, fit), ignored)
				require.NoError(t, err)
				require.Equal(t, sequence.Fail, bad.Outcome)
				require.Len(t, bad.Findings, 1)
				require.Contains(t, bad.Findings[0].String(), "key open: key 7")
				require.GreaterOrEqual(t, counters.Foreign, uint64(len(recorded)))
				require.Zero(t, counters.Strays)
			})
		})
	}
}

// The same by somebody who reads the line and makes each reply fit the request, from
// every routine on in turn. Then there are two replies, and the run is aborted and
// says so, even if only the last ones were forged.
func TestForgedRepliesAbortTheRun(t *testing.T) {
	var recorded []wire.Frame
	b := bench{product: load(t, "gcc-20"), seed: 3}
	synctest.Test(t, func(t *testing.T) { recorded = b.results(t, b.simulate(t)) })
	last := b.product.Keys[len(b.product.Keys)-1].Label
	for from := range recorded {
		synctest.Test(t, func(t *testing.T) {
			b := bench{product: load(t, "gcc-20"), seed: 3}
			sim := b.simulate(t)
			b.open(t, sim, last)
			run, _, err := b.conversation(t, sim, replaying(recorded, from, forged), ignored)
			require.Equal(t, sequence.Aborted, run.Outcome, "from routine %d on: %v", from, run.Findings)
			require.ErrorAs(t, err, new(*link.Unasked))
			require.Contains(t, run.Reason, "a reply that was not asked for")
		})
	}
}

// Within one conversation an earlier reply comes again, in front of a later one: the
// same frame, or under the tag of what was asked.
func TestRepliesThatComeAgainAbortTheRun(t *testing.T) {
	for name, fit := range map[string]func(replay, asked wire.Frame) wire.Frame{"the same frame": asItWas, "under a later tag": forged} {
		t.Run(name, func(t *testing.T) {
			synctest.Test(t, func(t *testing.T) {
				b := bench{product: load(t, "gcc-20"), seed: 3}
				sim := b.simulate(t)
				b.open(t, sim, "7")
				var earlier wire.Frame // of a good key
				keys := map[uint32]bool{}
				heard := func(f wire.Frame, _ []byte) {
					if f.Type == wire.TypeResults && keys[f.Tag] {
						earlier = f
					}
				}
				again := func(f wire.Frame) [][]byte {
					if f.Type != wire.TypeRoutine || !presses(t, f) {
						return nil
					}
					keys[f.Tag] = true
					if earlier.Type == 0 {
						return nil
					}
					return [][]byte{framed(fit(earlier, f))}
				}
				run, _, err := b.conversation(t, sim, again, heard)
				require.Equal(t, sequence.Aborted, run.Outcome, "%v", run.Findings)
				require.ErrorAs(t, err, new(*link.Unasked))
				require.Contains(t, run.Reason, "a reply that was not asked for")
			})
		})
	}
}

// A lane tests one unit after another in one conversation. What was said of the first
// has been answered, so it fits nothing that is asked about the second.
func TestRepliesOfAnEarlierUnitInOneConversation(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := bench{product: load(t, "gcc-20"), seed: 3}
		sim := b.simulate(t)
		var recorded []wire.Frame
		replay := nobody
		jig, disconnect := overheard(t, sim, func(f wire.Frame) [][]byte { return replay(f) }, func(f wire.Frame, _ []byte) {
			if f.Type == wire.TypeResults {
				recorded = append(recorded, f)
			}
		})
		defer disconnect()
		plan := b.plan(t, jig)
		good, err := plan.Run(context.Background(), jig, sequence.Unit{Serial: "T-1", Attempt: 1}, nil)
		require.NoError(t, err)
		require.Equal(t, sequence.Pass, good.Outcome)

		b.open(t, sim, "7")
		replay = replaying(recorded, 0, asItWas)
		bad, err := plan.Run(context.Background(), jig, sequence.Unit{Serial: "T-2", Attempt: 1}, nil)
		require.Equal(t, sequence.Aborted, bad.Outcome, "%v", bad.Findings)
		require.ErrorAs(t, err, new(*link.Unasked))
	})
}

func presses(t *testing.T, f wire.Frame) bool {
	ops, err := wire.ParseRoutine(f.Payload)
	require.NoError(t, err)
	return slices.ContainsFunc(ops, func(op wire.Op) bool { _, is := op.(wire.Press); return is })
}

var (
	noisyUnits = flag.Int("noisyunits", 60, "units that TestNoisyLot tests")
	noise      = flag.String("noise", "1e-4", "the chance with which TestNoisyLot hits a byte")
)

// A lot of units over a line on which one byte in ten thousand is hit: no verdict is
// wrong, no routine is done twice, and resends are never taken for replies that
// nobody asked for.
func TestNoisyLot(t *testing.T) {
	t.Parallel()
	counts := map[sequence.Outcome]int{}
	var resends, presses int
	for i := range *noisyUnits {
		fault, want := "", sequence.Pass
		if i%3 == 2 {
			fault, want = "key 7 open; ", sequence.Fail
		}
		synctest.Test(t, func(t *testing.T) {
			b := bench{product: load(t, "gcc-20"), faults: fault + "jig noisy " + *noise, seed: uint64(i)}
			sim := b.simulate(t)
			jig, disconnect := simport.Connect(t, sim, link.Options{})
			defer disconnect()
			run, err := b.plan(t, jig).Run(context.Background(), jig, sequence.Unit{Serial: "T-1", Attempt: 1}, nil)
			counts[run.Outcome]++
			resends += int(jig.Counters().Resends)
			if run.Outcome == sequence.Aborted {
				t.Logf("unit %d: %v", i, err)
				return
			}
			require.Equal(t, want, run.Outcome, "unit %d: %v %v", i, run.Findings, run.Reason)
			for tag, n := range sim.Counts().Executed {
				require.Equal(t, 1, n, "unit %d: %v done %d times", i, tag, n)
			}
			for _, n := range sim.Counts().Presses {
				presses += n
			}
		})
	}
	t.Logf("%d units: %v, %d frames sent again, %d presses", *noisyUnits, counts, resends, presses)
	require.NotZero(t, resends)
	require.LessOrEqual(t, counts[sequence.Aborted], *noisyUnits/20)
}
