package sequence_test

import (
	"context"
	"flag"
	"io"
	"net"
	"sync"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/jigsim"
	"padjig/fixture/link"
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

// conversation tests the unit in the jig over a line with somebody on it.
func (b bench) conversation(
	t *testing.T, sim *jigsim.Jig, asked func(wire.Frame) [][]byte, heard func(wire.Frame, []byte),
) (sequence.Run, link.Counters, error) {
	t.Helper()
	ctx, cancel := context.WithCancel(context.Background())
	defer cancel()
	host, jigEnd := net.Pipe()
	served := make(chan error, 1)
	go func() { served <- sim.Serve(ctx, jigEnd) }()
	jig, err := fixture.Connect(ctx, tamper(host, asked, heard), link.Options{})
	require.NoError(t, err)
	run, err := b.plan(t, jig).Run(ctx, jig, sequence.Unit{Serial: "T-1", Attempt: 1}, nil)
	counters := jig.Counters()
	jig.Close()
	cancel()
	<-served
	return run, counters, err
}

// open puts a unit with a key that never closes into the jig.
func (b bench) open(t *testing.T, sim *jigsim.Jig) {
	t.Helper()
	keypad := b.product.Circuit()
	faults, err := jigsim.ParseFaults("key 7 open", keypad)
	require.NoError(t, err)
	require.NoError(t, sim.Load(jigsim.Unit{Keypad: keypad, Contact: b.product.Nominal.Contact, Faults: faults, Seed: 3}))
}

// Replies to an earlier unit, good, are put in front of those to a later one that has
// a key that never closes, on the same boot of the jig.
func TestRepliesOfAnEarlierUnitAreNotBelieved(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		b := bench{product: load(t, "gcc-20"), seed: 3}
		sim := b.simulate(t)
		recorded := map[uint32][]byte{}
		good, _, err := b.conversation(t, sim, func(wire.Frame) [][]byte { return nil }, func(f wire.Frame, raw []byte) {
			if f.Type == wire.TypeResults {
				recorded[uint32(f.Tag)] = raw
			}
		})
		require.NoError(t, err)
		require.Equal(t, sequence.Pass, good.Outcome)

		b.open(t, sim)
		bad, counters, err := b.conversation(t, sim, func(f wire.Frame) [][]byte {
			if raw := recorded[uint32(f.Tag)]; f.Type == wire.TypeRoutine && raw != nil {
				return [][]byte{raw}
			}
			return nil
		}, func(wire.Frame, []byte) {})
		t.Logf("%s %s %v, %v, counted %+v", bad.Outcome, bad.Reason, bad.Findings, err, counters)
		require.NotEqual(t, sequence.Pass, bad.Outcome, "key 7 never closes")
	})
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
			jig, disconnect := connect(t, sim, link.Options{})
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
