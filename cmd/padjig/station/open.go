package station

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"padjig/fixture"
	"padjig/fixture/link"
)

// searchTime is how long to look for a jig by its serial number: a jig that
// was just plugged in boots and is found by the system within a few seconds.
const searchTime = 5 * time.Second

var errStoppedBefore = errors.New("stopped before anything moved")

// OpenJig opens the jig at a port, or the one with this serial number.
func OpenJig(ctx context.Context, where string, o link.Options) (*fixture.Jig, error) {
	var jig *fixture.Jig
	var err error
	if IsPort(where) {
		if jig, err = fixture.Open(ctx, where, o); err != nil {
			err = noJig(err, where)
		}
	} else {
		jig, _, err = find(ctx, where, o)
	}
	if err != nil && ctx.Err() != nil {
		err = noJig(errStoppedBefore, where)
	}
	return jig, err
}

// find looks for the jig with a serial number.
func find(ctx context.Context, serial string, o link.Options) (*fixture.Jig, string, error) {
	search, cancel := context.WithTimeoutCause(ctx, searchTime, fmt.Errorf("not there within %v", searchTime))
	defer cancel()
	jig, port, err := fixture.Find(search, serial, o)
	if err != nil {
		err = refuse(NotMeasured, err, try("list jigs"), NoJig, serial)
	}
	return jig, port, err
}

// FindPort is the path of a jig's port: where itself, or that of the jig with
// this serial number.
func FindPort(ctx context.Context, where string, o link.Options) (string, error) {
	if IsPort(where) {
		return where, nil
	}
	jig, port, err := find(ctx, where, o)
	if err != nil {
		return "", err
	}
	return port, jig.Close()
}

// IsPort tells the path of a port from a jig's serial number.
func IsPort(where string) bool {
	if strings.ContainsAny(where, `/\`) || strings.HasPrefix(where, "COM") {
		return true
	}
	_, err := os.Lstat(where) // also a link to a jig that has gone
	return err == nil
}
