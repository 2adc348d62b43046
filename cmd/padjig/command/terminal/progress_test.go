package terminal

import (
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"

	"padjig/results/report/columns"
)

// drawn is what a terminal of some columns gets in one write after the other.
func drawn(wide int) (*Progress, *[]string) {
	var writes writes
	p := NewProgress(&writes, false, "exporting", "runs")
	p.to.Live, p.to.Wide = true, wide
	return p, (*[]string)(&writes)
}

type writes []string

func (w *writes) Write(b []byte) (int, error) {
	*w = append(*w, string(b))
	return len(b), nil
}

func TestProgressSaysHowFarAndHowLong(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		p, got := drawn(80)
		for n := range int64(1000) {
			p.At(n, 1000)
			time.Sleep(30 * time.Millisecond)
		}
		p.At(1000, 1000)
		p.Clear()
		assert.Less(t, len(*got), 320, "a write each tenth of a second at most")
		assert.Equal(t, "\rexporting   0 %  0 of 1000 runs\x1b[K", (*got)[0])
		half := (*got)[len(*got)/4]
		assert.Regexp(t, `^\rexporting  \d\d %  \d+ of 1000 runs  about [23]0 s left\x1b\[K$`, half)
		assert.Equal(t, "\rexporting 100 %  1000 of 1000 runs\x1b[K", (*got)[len(*got)-2])
		assert.Equal(t, "\r\x1b[K", (*got)[len(*got)-1], "taken away before anything else is written")
		p.Clear()
		assert.Equal(t, "\r\x1b[K", (*got)[len(*got)-1], "nothing more to take away")
		for _, w := range *got {
			assert.NotContains(t, w, "\n")
			assert.NotContains(t, strings.TrimPrefix(w, "\r"), "\r", "each drawing is one write, and clears only behind itself")
		}
	})
}

func TestProgressFitsNarrowTerminals(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		for wide, want := range map[int]string{
			80: "exporting  50 %  50 of 100 runs  about 5 min left", 40: "exporting  50 %  about 5 min left",
			30: " 50 %  about 5 min left", 20: " 50 %", 3: "",
		} {
			p, got := drawn(wide)
			for n := range int64(51) {
				p.At(n, 100)
				if n < 50 {
					time.Sleep(6 * time.Second)
				}
			}
			if want == "" {
				assert.Empty(t, *got)
				continue
			}
			assert.Equal(t, "\r"+want+"\x1b[K", (*got)[len(*got)-1], wide)
			for _, w := range *got {
				assert.Less(t, columns.Width(strings.TrimSuffix(strings.TrimPrefix(w, "\r"), "\x1b[K")), wide, "the last column stays free, or lines would break")
			}
		}
	})
}

func TestProgressElsewhereIsSilentOrSlow(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		var silent, plain strings.Builder
		quiet, asked := NewProgress(&silent, false, "checking", "runs"), NewProgress(&plain, true, "checking", "runs")
		for n := range int64(36) {
			quiet.At(n, 36)
			asked.At(n, 36)
			time.Sleep(time.Second)
		}
		quiet.Clear()
		asked.Clear()
		assert.Empty(t, silent.String())
		assert.Equal(t, "checking  27 %  10 of 36 runs  about 30 s left\nchecking  55 %  20 of 36 runs  about 20 s left\n"+
			"checking  83 %  30 of 36 runs  a few seconds left\n", plain.String())
	})
}

func TestPaceIsNotMovedByOneSlowPiece(t *testing.T) {
	var p pace
	now := time.Date(2026, 11, 30, 6, 0, 0, 0, time.UTC)
	_, known := p.left(now, 100)
	assert.False(t, known)
	for n := range int64(50) {
		p.reached(now, n, 100)
		now = now.Add(time.Second)
		if n == 45 {
			now = now.Add(3 * time.Hour) // it slept
		}
	}
	left, known := p.left(now, 100)
	assert.True(t, known)
	assert.InDelta(t, 50, left.Seconds(), 2)
	for n := int64(50); n < 65; n++ {
		p.reached(now, n, 100)
		now = now.Add(10 * time.Second) // and is slower now
	}
	left, _ = p.left(now, 100)
	assert.InDelta(t, 350, left.Seconds(), 12)

	var burst pace // told of much at once
	burst.reached(now, 0, 1_000_000)
	burst.reached(now.Add(10*time.Second), 500_000, 1_000_000)
	left, known = burst.left(now.Add(10*time.Second), 1_000_000)
	assert.True(t, known)
	assert.InDelta(t, 10, left.Seconds(), 0.2)
	for _, done := range []int64{0, 3, 2, 1_000_000, 5} { // begun anew
		burst.reached(now, done, 1_000_000)
		_, _ = burst.left(now, 1_000_000)
	}
}

func TestLeft(t *testing.T) {
	for d, want := range map[time.Duration]string{
		0: "a few seconds left", 11 * time.Second: "about 20 s left", 50 * time.Second: "about 50 s left",
		56 * time.Second: "about 1 min left", 61 * time.Second: "about 2 min left", 90 * time.Minute: "about 90 min left",
		3*time.Hour + 20*time.Minute: "about 3 h left",
	} {
		assert.Equal(t, want, Left(d), d)
	}
}
