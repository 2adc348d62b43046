package accounts

import (
	"cmp"
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"padjig/results/store"
)

// LidConditions are what has to be so before closing the lid of a jig may be a start, by code:
// those of an interlocking guard with a start function (ISO 12100:2010, 6.3.3.2.5, from memory).
// docs/safety.md has them in words.
var LidConditions = []string{"body", "distance", "function", "falling", "guards"}

// LidStart is what was decided last of a jig: whether closing its lid starts a unit that was scanned.
type LidStart struct {
	Jig        string // serial number
	Simulated  bool
	On         bool     // false: start is pressed; so it is where nothing was ever decided
	Confirmed  []string // of LidConditions, to turn it on
	Assessment string   // where it is written down, or why it is turned off
	By         string
	At         time.Time // when read
}

// LidStartError is what is missing of a decision.
type LidStartError struct{ Missing []string }

func (e *LidStartError) Error() string {
	return "not confirmed: " + strings.Join(e.Missing, ", ")
}

// ErrNoAssessment is of a decision that does not say where it is written down, or why.
var ErrNoAssessment = errors.New("what was assessed, and where it is written down, needs eight characters at least")

// What such a decision is among those against what padjig does by itself.
const (
	lidStarts   = "start by lid"
	lidNoStart  = "start by press"
	ofSimulated = ", simulated"
)

func (l LidStart) what() string {
	what := lidNoStart
	if l.On {
		what = lidStarts
	}
	if l.Simulated {
		what += ofSimulated
	}
	return what
}

// SaveLidStart keeps a decision. To turn it on somebody confirms every condition.
func (s *Records) SaveLidStart(ctx context.Context, l LidStart) error {
	var missing []string
	for _, c := range LidConditions {
		if l.On && !slices.Contains(l.Confirmed, c) {
			missing = append(missing, c)
		}
	}
	reason := strings.TrimSpace(l.Assessment)
	switch {
	case missing != nil:
		return &LidStartError{missing}
	case len(reason) < 8:
		return ErrNoAssessment
	case strings.TrimSpace(l.By) == "" || l.Jig == "":
		return fmt.Errorf("save how jig %q is started: %w: who decides and for which jig is not said", l.Jig, store.ErrRefused)
	case l.On:
		reason = strings.Join(LidConditions, " ") + ": " + reason
	}
	return s.SaveOverride(ctx, Override{What: l.what(), Jig: l.Jig, By: l.By, Reason: reason})
}

// LidStart gives what holds of a jig.
func (s *Records) LidStart(ctx context.Context, jig string, simulated bool) (LidStart, error) {
	on, off := LidStart{On: true, Simulated: simulated}, LidStart{Simulated: simulated}
	last, err := store.First(ctx, s.db, "look up how jig "+jig+" is started", func(rows *sql.Rows) (l LidStart, err error) {
		var what string
		err = rows.Scan(&what, &l.Assessment, &l.By, store.Time(&l.At))
		if l.On = what == on.what(); l.On {
			codes, text, _ := strings.Cut(l.Assessment, ": ")
			l.Confirmed, l.Assessment = strings.Fields(codes), text
		}
		return l, err
	}, `SELECT what, reason, by, at_us FROM override WHERE jig = ? AND serial = '' AND what IN (?, ?) ORDER BY seq DESC LIMIT 1`,
		jig, on.what(), off.what())
	held := *cmp.Or(last, &LidStart{})
	held.Jig, held.Simulated = jig, simulated
	for _, c := range LidConditions { // a condition that came later was never confirmed
		held.On = held.On && slices.Contains(held.Confirmed, c)
	}
	return held, err
}
