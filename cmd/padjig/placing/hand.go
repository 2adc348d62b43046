// Package placing is how a unit that failed is put where fails go: the code of the
// place and the tag of the unit's run are scanned one after the other, in either order,
// by one person at one screen. It is the same on every page and at the terminal.
package placing

import (
	"context"
	"errors"
	"time"

	"padjig/results/fails"
	"padjig/results/floor"
	"padjig/results/store"
	"padjig/sequence"
)

// Within is how long the first of the two codes waits for the second.
const Within = time.Minute

// Hand is what one person has scanned at one screen; its zero value holds nothing. It
// is no record: what is lost of it is scanned again.
type Hand struct {
	place *fails.Place
	tag   store.ID
	at    time.Time
}

// Answer is what comes of a scan.
type Answer struct {
	Say  sequence.Said // in the catalogue of facts
	Good bool          // it was a step forward
	Done *fails.Owed   // the run that owes nothing more from now on; nil before
}

// Holds reports whether a code waits for the other one.
func (h *Hand) Holds(now time.Time) bool {
	return (h.place != nil || !h.tag.IsZero()) && now.Sub(h.at) <= Within
}

// HoldsPlace reports whether a place waits for its tag.
func (h *Hand) HoldsPlace(now time.Time) bool { return h.place != nil && h.Holds(now) }

// Read takes a code that was scanned, see [fails.IsCode]. Times are said in the zone of now.
func (h *Hand) Read(ctx context.Context, records *fails.Records, text, by string, now time.Time) (Answer, error) {
	if !h.Holds(now) {
		*h = Hand{}
	}
	if run, is := fails.TagOf(text); is {
		return h.readTag(ctx, records, run, by, now)
	}
	if number, is := fails.PlaceOf(text); is {
		return h.readPlace(ctx, records, number, by, now)
	}
	return no("code cut"), nil
}

func (h *Hand) readTag(ctx context.Context, records *fails.Records, run store.ID, by string, now time.Time) (Answer, error) {
	if h.place != nil {
		answer, err := put(ctx, records, run, *h.place, by, now)
		h.at = now
		if answer.Done != nil {
			*h = Hand{} // one place, one tag
		}
		return answer, err
	}
	owed, err := records.Tag(ctx, run)
	if err != nil {
		*h = Hand{}
		return told(err, now)
	}
	*h = Hand{tag: run, at: now}
	return yes("tag read", owed.Serial), nil
}

func (h *Hand) readPlace(ctx context.Context, records *fails.Records, number int64, by string, now time.Time) (Answer, error) {
	places, err := records.Places(ctx)
	if err != nil {
		return Answer{}, err
	}
	if number < 0 || number >= int64(len(places)) {
		return no("place unknown"), nil
	}
	place := places[number]
	if h.tag.IsZero() {
		*h = Hand{place: &place, at: now}
		return yes("place read", place.Name), nil
	}
	run := h.tag
	*h = Hand{}
	return put(ctx, records, run, place, by, now)
}

// put records the two together, and says whom the jig still waits for.
func put(ctx context.Context, records *fails.Records, run store.ID, place fails.Place, by string, now time.Time) (Answer, error) {
	owed, err := records.Place(ctx, run, place, by)
	if err != nil {
		return told(err, now)
	}
	rest, err := records.On(ctx, owed.Jig, owed.Simulated)
	if err != nil {
		return Answer{}, err
	}
	answer := yes("placed", owed.Serial, place.Name, owed.Jig, where(owed))
	if len(rest) > 0 {
		answer = yes("placed, more", owed.Serial, place.Name, owed.Jig, where(owed), rest[0].Serial)
	}
	answer.Done = &owed
	return answer, nil
}

// told puts what is wrong with a tag into words, with times by the clock that now is by;
// any other error stays one.
func told(err error, now time.Time) (Answer, error) {
	said := floor.ClockOf(now.Location()).Minute
	e, is := errors.AsType[*fails.TagError](err)
	if !is {
		return Answer{}, err
	}
	switch e.Why {
	case fails.TagTwice:
		if e.Before.How == fails.Lifted {
			return no("tag lifted", e.Tagged.Serial, e.Before.By, said(e.Before.At)), nil
		}
		return no("tag twice", e.Tagged.Serial, e.Before.Place, e.Before.By, said(e.Before.At)), nil
	case fails.TagOlder, fails.TagPassed:
		return no(string(e.Why), e.Tagged.Serial, said(e.Newer.Started), e.Newer.Jig, where(e.Tagged)), nil
	}
	return no(string(e.Why), e.Tagged.Serial), nil
}

func where(o fails.Owed) string {
	if o.Simulated {
		return "simulated"
	}
	return ""
}

func yes(code string, args ...string) Answer {
	return Answer{Say: sequence.Fact(sequence.Code(code), args...), Good: true}
}

func no(code string, args ...string) Answer {
	return Answer{Say: sequence.Fact(sequence.Code(code), args...)}
}

// NoTag says of something else that was scanned for a tag what is missing.
func NoTag(text string) sequence.Said { return sequence.Fact("not a tag", text) }
