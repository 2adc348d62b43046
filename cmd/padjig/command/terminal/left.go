package terminal

import (
	"fmt"
	"slices"
	"time"
)

// pace says from how far work was, and when, how long the rest takes. Work is cut into equal
// pieces, and the time of a piece is the median of the latest ones: a computer that slept, or
// one slow piece, moves it no more than any other, and a change of speed shows as soon as half
// of them are of the new one.
type pace struct {
	begun  time.Time
	at     time.Time // when the last piece was through
	pieces int64     // that were through by then
	took   []time.Duration
}

const (
	allPieces    = 200 // of a piece of work, or as many as it has parts
	latestPieces = 20
	firstPieces  = 3 // before which nothing is foreseen
)

func (p *pace) reached(now time.Time, done, total int64) {
	pieces := p.of(done, total)
	if p.begun.IsZero() || pieces < p.pieces {
		*p = pace{begun: now, at: now, pieces: pieces}
		return
	}
	if pieces == p.pieces {
		return
	}
	each := now.Sub(p.at) / time.Duration(pieces-p.pieces)
	for range min(pieces-p.pieces, latestPieces) {
		p.took = append(p.took, each)
	}
	p.took = p.took[max(0, len(p.took)-latestPieces):]
	p.at, p.pieces = now, pieces
}

func (p *pace) of(done, total int64) int64 {
	if total <= allPieces {
		return done
	}
	return done * allPieces / total
}

// left is how long the rest takes from now on; false while that cannot be told.
func (p *pace) left(now time.Time, total int64) (time.Duration, bool) {
	if len(p.took) < firstPieces {
		return 0, false
	}
	each := slices.Sorted(slices.Values(p.took))[len(p.took)/2]
	rest := time.Duration(p.of(total, total)-p.pieces) * each
	return max(0, rest-min(now.Sub(p.at), each)), true
}

// Left says a time that is left, as exactly as it can be known.
func Left(d time.Duration) string {
	switch {
	case d < 10*time.Second:
		return "a few seconds left"
	case d <= 50*time.Second:
		return fmt.Sprintf("about %d s left", roundUp(d, 10*time.Second)/time.Second)
	case d < 100*time.Minute:
		return fmt.Sprintf("about %d min left", roundUp(d, time.Minute)/time.Minute)
	}
	return fmt.Sprintf("about %d h left", d.Round(time.Hour)/time.Hour)
}

func roundUp(d, to time.Duration) time.Duration { return (d + to - 1) / to * to }
