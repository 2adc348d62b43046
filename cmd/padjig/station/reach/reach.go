// Package reach opens jigs by the path of their port, or by their serial number.
package reach

import (
	"context"
	"fmt"
	"time"

	"padjig/cmd/padjig/station"
	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/sequence"
)

// searchTime is how long to look for a jig by its serial number: a jig that
// was just plugged in boots and is found by the system within a few seconds.
const searchTime = 5 * time.Second

// Jig opens the jig at a port, or the one with this serial number.
func Jig(ctx context.Context, where string, o link.Options) (*fixture.Jig, error) {
	var jig *fixture.Jig
	var err error
	if link.IsPort(where) {
		if jig, err = fixture.Open(ctx, where, o); err != nil {
			err = noJig(err, where, sequence.Said{})
		}
	} else {
		jig, _, err = find(ctx, where, o)
	}
	if err != nil && ctx.Err() != nil {
		err = noJig(station.ErrStoppedBefore, where, sequence.Said{})
	}
	return jig, err
}

// find looks for the jig with a serial number.
func find(ctx context.Context, serial string, o link.Options) (*fixture.Jig, string, error) {
	search, cancel := context.WithTimeoutCause(ctx, searchTime, fmt.Errorf("not there within %v", searchTime))
	defer cancel()
	jig, port, err := fixture.Find(search, serial, o)
	if err != nil {
		err = noJig(err, serial, sequence.Said{Code: "list jigs"})
	}
	return jig, port, err
}

// Port is the path of a jig's port: where itself, or that of the jig with
// this serial number.
func Port(ctx context.Context, where string, o link.Options) (string, error) {
	if link.IsPort(where) {
		return where, nil
	}
	jig, port, err := find(ctx, where, o)
	if err != nil {
		return "", err
	}
	return port, jig.Close()
}

// noJig refuses for a jig that is not there.
func noJig(why error, jig string, remedy sequence.Said) error {
	return &station.Refusal{Kind: station.NotMeasured, Code: station.NoJig, Args: []string{jig}, Err: why, Remedy: remedy}
}
