// Package handoff hands the events of the records on to other systems, outside the cycle of
// a test: it reads what was stored and is never waited for.
//
// Each receiver has a pump: one event after the other, the next when the receiver has said
// that it has the one before. What is not sent yet stays in the records, so nothing piles up
// in memory, however long a receiver is away.
package handoff

import (
	"context"
	"fmt"
	"time"

	"padjig/cmd/padjig/object"
	"padjig/results/handoff"
)

// Sender brings messages to one receiver.
type Sender interface {
	// Send returns nil when the receiver has said that it has the message. An error is a
	// [RefusedError] where sending it again would change nothing.
	Send(ctx context.Context, m Message) error
	Close()
}

// Message is an event as it is sent.
type Message struct {
	ID            string
	Number        int64
	Kind          handoff.Kind
	Unit, Product string
	Body          []byte // JSON
}

// MessageOf makes the message of an event.
func MessageOf(t handoff.Told) (Message, error) {
	body, err := object.Sealed(object.EventOf(t))
	return Message{t.ID.String(), t.Number, t.Kind, t.Unit, t.Product, body}, err
}

// RefusedError is a receiver's word that it does not take an event, and will not.
type RefusedError struct{ Why string }

func (e *RefusedError) Error() string { return "refused: " + e.Why }

// LaterError is a receiver's word that it takes nothing before some time has passed.
type LaterError struct {
	After time.Duration
	Why   string
}

func (e *LaterError) Error() string { return fmt.Sprintf("%s; not before %s", e.Why, e.After) }
