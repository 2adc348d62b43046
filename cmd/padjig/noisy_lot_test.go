package main

import (
	"flag"
	"fmt"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station"
	"padjig/sequence"
)

var noisyUnits = flag.Int("noisyunits", 60, "units of the lot tested over noisy lines; 200 is the full number")

// lineNoise hits each byte, either way, with this probability.
const lineNoise = "jig noisy 1e-4"

// TestLotOnNoisyLines tests a lot on two lanes whose lines damage bytes. A run
// may be lost to the line and made again; what is judged must be judged rightly,
// each unit once.
func TestLotOnNoisyLines(t *testing.T) {
	b := makeBed(t, bedding{
		jigs: 2, change: func(o *stationOptions) { o.Twice = time.Nanosecond },
		recipe: func(text string) string { return text + "\nstops: {yield: none}\n" }, // one unit in four is bad on purpose
	})
	lots := make([]noisyLot, len(b.jigs))
	var lanes sync.WaitGroup
	for i := range lots {
		lots[i] = noisyLot{bed: b, lane: b.lanes().Lanes[i], jig: b.jigs[i]}
		lanes.Go(func() {
			for n := i; n < *noisyUnits; n += len(lots) {
				lots[i].unit(n)
			}
		})
	}
	lanes.Wait()
	lost, resends, wrong := 0, 0, []string(nil)
	for _, l := range lots {
		lost += l.lost
		resends += l.jig.jig.Counts().Resends
		wrong = append(wrong, l.wrong...)
	}
	t.Logf("%d units, %d requests sent again, %d runs lost to the lines", *noisyUnits, resends, lost)
	assert.Positive(t, resends, "the lines did damage something")
	assert.Empty(t, wrong, "wrong verdicts")
	for n := range *noisyUnits {
		b.judgedOnce(n)
	}
}

// noisyLot is what one lane makes of its share.
type noisyLot struct {
	bed   *bed
	lane  *station.Lane
	jig   *testJig
	lost  int
	wrong []string
}

// plantedIn is the fault of a unit of the lot, empty in three of four.
func plantedIn(n int) string {
	if n%4 != 3 {
		return ""
	}
	faults := []string{"key 7 open", "key HEAT high 640 ohm", "lines R1 R2 shorted 5 ohm", "key 3 stuck 40 ohm", "lines C1 C2 leak 2 Mohm"}
	return faults[n/4%len(faults)]
}

// unit tests a unit until it is judged.
func (l *noisyLot) unit(n int) {
	serial, planted := l.bed.product.Serial.Complete(n+1), plantedIn(n)
	l.bed.putAway(l.lane.State().Jig.Serial, serial)
	for l.bed.Context().Err() == nil {
		l.jig.put(planted + "; " + lineNoise)
		done := l.run(serial)
		if done == nil {
			l.lost++
			continue
		}
		switch done.Outcome {
		case sequence.Pass, sequence.Fail:
			if (done.Outcome == sequence.Pass) != (planted == "") {
				l.wrong = append(l.wrong, fmt.Sprintf("%s (%s): %s", serial, planted, done.Outcome))
			}
			return
		case sequence.Aborted:
			l.lost++
		default:
			l.wrong = append(l.wrong, fmt.Sprintf("%s (%s): %s", serial, planted, done.Outcome))
			return
		}
	}
}

// run makes one run; nil where the unit was refused because the line was lost.
func (l *noisyLot) run(serial string) *station.Done {
	changes, stop := l.lane.Subscribe()
	defer stop()
	for !l.lane.State().Jig.Present {
		<-changes
	}
	l.lane.Scan(station.Scan{Serial: serial, Operator: "Abel"})
	for {
		switch s := l.lane.State(); {
		case s.Unit.Serial != serial || s.Phase.Busy():
		case s.Phase == station.Ended:
			return s.Verdict
		case s.Phase == station.Refused:
			require.Equal(l.bed, station.NoJig, s.Refusal.Code, "%v", s.Refusal)
			return nil
		}
		<-changes
	}
}

// judgedOnce holds that a unit of the lot has one verdict in the records.
func (b *bed) judgedOnce(n int) {
	serial := b.product.Serial.Complete(n + 1)
	history, err := b.store.Runs.History(b.Context(), serial)
	require.NoError(b, err)
	past := history.Of(b.product.Code, true)
	assert.Equal(b, 1, past.Judged, "%s", serial)
	assert.Equal(b, plantedIn(n) == "", past.Passed, "%s", serial)
}
