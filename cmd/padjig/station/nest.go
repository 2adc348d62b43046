package station

import (
	"context"
	"errors"
	"time"

	"padjig/cmd/padjig/station/note"
	"padjig/fixture"
	"padjig/results/nest"
	"padjig/sequence"
	"padjig/sequence/runner"
)

// nestClaim is what has to be shown of the nest before a unit may be tested in it. A
// reading of a gauge study says something of seating only where the part was seated
// anew. Where nothing counts that it was, people are trusted with it: the study judges
// the jig, and no unit leaves by it.
func (j Job) nestClaim(caps fixture.Capabilities, now fixture.Nest) nest.Claim {
	by := nest.ProofOf(caps)
	if j.Study && by != nest.Counted {
		by = nest.Unasked
	}
	return nest.Claim{By: by, Now: nest.CountOf(now), Anew: j.Study, Waived: j.Overridden}
}

// exchanged refuses while nothing shows that the unit before was taken out of the jig:
// a pad that is left in it must not pass for the next one. It goes by what the jig said
// when it was last made ready; an opening since then stills the jig.
func (t *test) exchanged(ctx context.Context) error {
	caps := t.jig.Capabilities()
	if err := t.allowed(t.history, caps.Simulated); err != nil { // by what other stations know: it may have come since
		return err
	}
	t.nest = t.nestClaim(caps, t.jig.Nest())
	last, err := t.Store.Nest.Of(ctx, caps.Serial, caps.Simulated)
	if err != nil {
		return t.unread(err)
	}
	err = t.nest.Refuses(last, t.Serial)
	occupied, is := errors.AsType[*nest.OccupiedError](err)
	if !is {
		return err
	}
	if occupied.By == nest.Seen {
		empty, err := t.lookIntoNest(ctx, t.jig)
		if err != nil {
			return err
		}
		if empty {
			return refuse(NotMeasured, nil, try("put in", t.Serial), NestEmpty, t.Serial)
		}
	}
	return t.stillIn(occupied)
}

// stillIn says which unit is in the jig, and what to do.
func (t *test) stillIn(e *nest.OccupiedError) error {
	jig := t.jig.Capabilities().Serial
	switch {
	case e.Serial == t.Serial:
		return refuse(NotMeasured, nil, try("seat anew"), NotReseated, t.Serial)
	case e.By == nest.Counted:
		return refuse(NotMeasured, nil, try("change the unit", e.Serial, t.Serial), NotOpened, e.Serial, t.Serial, jig)
	case e.By == nest.Seen:
		return refuse(NotMeasured, nil, try("show the nest empty", e.Serial), NotEmptied, e.Serial, t.Serial, jig)
	}
	return refuse(Wrong, nil, try("jig shows nothing"), NotShown, e.Serial, t.Serial, jig)
}

// lookIntoNest looks whether the nest is empty, and keeps it if so.
func (r Records) lookIntoNest(ctx context.Context, jig *fixture.Jig) (empty bool, err error) {
	caps := jig.Capabilities()
	if empty, err = runner.Emptied(ctx, jig, caps); err != nil {
		return false, noJig(err, caps.Serial)
	}
	if !empty {
		return false, nil
	}
	if err := r.Store.Nest.SawEmpty(ctx, caps.Serial, caps.Simulated); err != nil {
		return false, r.refused(err, sequence.Said{})
	}
	return true, nil
}

// nestGlance is how long between two looks into the nest of a jig that sees only by its
// loops what lies in it: nobody takes a unit out and puts another in within that time.
const nestGlance = 500 * time.Millisecond

// glance looks into the nest between two units, where that is how the jig shows that one
// was taken out. What stands in the way shows at the next unit.
func (l *loop) glance(ctx context.Context, jig *fixture.Jig) (empty bool) {
	if jig.Ready(ctx) != nil {
		return false
	}
	empty, err := l.records().lookIntoNest(ctx, jig)
	return empty && err == nil
}

// bringBack has the verdict on a unit that is scanned again after a lock stand again, if
// the jig counted no opening since: it is about what lies in the jig then. Otherwise, and
// on a jig that does not count, the unit is one that was scanned like any other.
func (l *loop) bringBack(w *work, jig *fixture.Jig) bool {
	caps := jig.Capabilities()
	last, err := l.setup.Store.Nest.Of(w.ctx, caps.Serial, caps.Simulated)
	same := err == nil && nest.ProofOf(caps) == nest.Counted && jig.Ready(w.ctx) == nil &&
		last.Serial == w.scan.Serial && last.Count != nil && *last.Count == nest.CountOf(jig.Nest())
	l.shown.advance(func(s *State) {
		if !same {
			s.hand(w.scan)
			return
		}
		s.Phase, s.Note = Ended, note.Of(note.Recalled, w.scan.Serial)
	})
	if same {
		l.shown.linger(l.setup.LockAfter)
	}
	return same
}
