package main

import (
	"context"
	"errors"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/station"
	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/results"
	"padjig/results/returns"
)

// testOptions are the flags of padjig test.
type testOptions struct {
	product, jig, serial, store, press, operator, record string
	baud                                                 int
	json                                                 bool
}

// flags are those of whatever tests on a jig.
func (o *testOptions) flags(cmd *cobra.Command, operator, asJSON string) {
	f := cmd.Flags()
	f.StringVar(&o.product, "product", "", "product `FILE`")
	f.StringVar(&o.jig, "jig", "", "`PORT` of the jig, or the jig's serial number")
	f.StringVar(&o.operator, "operator", "", operator)
	f.StringVar(&o.record, "record", "", "write the traffic with the jig to `FILE`")
	f.IntVar(&o.baud, "baud", link.DefaultBaud, "speed of the line in bits per second")
	f.BoolVar(&o.json, "json", false, asJSON)
	storeFlag(cmd, &o.store)
	needs(cmd, "product", "jig")
}

// watcher shows a test while it goes on; of is the returns case it belongs to,
// nil for production.
func (o *testOptions) watcher(cmd *cobra.Command, store *results.Store, of *returns.Case) station.Watcher {
	messages := terminalOf(cmd.ErrOrStderr())
	if o.json {
		return promptsOnly{messages}
	}
	return &progress{terminal: messages, store: store.Path(), of: of}
}

// open opens the jig, and the recording of its traffic if one was asked for.
func (o *testOptions) open(ctx context.Context) (*fixture.Jig, func() error, error) {
	options, closed := link.Options{Baud: o.baud}, func() error { return nil }
	if o.record != "" {
		r, err := newRecording(o.record, besideStore(o.store))
		if err != nil {
			return nil, nil, err
		}
		options.Trace, closed = link.Record(r), r.Close
	}
	jig, err := station.OpenJig(ctx, o.jig, options)
	if err != nil {
		_ = closed() // what was said until then stays
		return nil, nil, err
	}
	return jig, func() error { return errors.Join(jig.Close(), closed()) }, nil
}
