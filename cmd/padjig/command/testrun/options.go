// Package testrun is a test as it stands at the terminal: the flags of whatever tests
// on a jig, how far it is, and what came of it. A unit's test, a stage of a returns
// case, a reading of a gauge study and the demo share it.
package testrun

import (
	"context"
	"errors"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/output"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/station/reach"
	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/results"
	"padjig/results/returns"
)

// Options are the flags of whatever tests on a jig.
type Options struct {
	Product, Jig, Store, Press, Operator, record string
	baud                                         int
	JSON                                         bool
}

// Flags adds them to a command.
func (o *Options) Flags(cmd *cobra.Command, operator, asJSON string) {
	f := cmd.Flags()
	f.StringVar(&o.Product, "product", "", "product `FILE`")
	f.StringVar(&o.Jig, "jig", "", "`PORT` of the jig, or the jig's serial number")
	command.OperatorFlag(cmd, &o.Operator, operator)
	f.StringVar(&o.record, "record", "", "write the traffic with the jig to `FILE`")
	command.BaudFlag(cmd, &o.baud)
	f.BoolVar(&o.JSON, "json", false, asJSON)
	command.Group(f, command.OfUnit, "product")
	command.Group(f, command.OfJig, "jig")
	command.Group(f, command.OfOutput, "record", "json")
	command.StoreFlag(cmd, &o.Store)
	command.Needs(cmd, "product", "jig")
}

// Watcher shows a test while it goes on; of is the returns case it belongs to,
// nil for production.
func (o *Options) Watcher(cmd *cobra.Command, store *results.Store, of *returns.Case) station.Watcher {
	messages := terminal.Of(cmd.ErrOrStderr())
	if o.JSON {
		return PromptsOnly{messages}
	}
	return &progress{Terminal: messages, store: store.Path(), of: of}
}

// Open opens the jig, and the recording of its traffic if one was asked for.
func (o *Options) Open(ctx context.Context) (*fixture.Jig, func() error, error) {
	options, closed := link.Options{Baud: o.baud}, func() error { return nil }
	if o.record != "" {
		r, err := output.NewRecording(o.record, command.BesideStore(o.Store))
		if err != nil {
			return nil, nil, err
		}
		options.Trace, closed = link.Record(r), r.Close
	}
	jig, err := reach.Jig(ctx, o.Jig, options)
	if err != nil {
		_ = closed() // what was said until then stays
		return nil, nil, err
	}
	return jig, func() error { return errors.Join(jig.Close(), closed()) }, nil
}
