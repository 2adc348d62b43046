package records

// padjig records publish: a stored run in the words of a public standard.

import (
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results/report/cfx"
	"padjig/results/store"
)

// publishOptions are the flags of padjig records publish.
type publishOptions struct {
	store, as, source string
	simulated         bool
}

func newPublish() *cobra.Command {
	var o publishOptions
	cmd := &cobra.Command{
		Use:   "publish RUN --as FORM",
		Short: "Print a stored run as a message of a public standard",
		Long: `Prints a stored run of production as a message that systems of other makers read.
RUN is its id, as padjig unit shows it. What has no place in the standard is left
out: docs/standard.md says what that is. Printed again, a message is the same one.

Forms: cfx, the message UnitsTested of IPC-2591 (Connected Factory Exchange), as
JSON in its envelope. A run on a simulated jig proves nothing of a unit, and the
standard cannot say so: it is printed with --simulated only, under a source that
begins with "simulated.".`,
		Example: `  padjig records publish 0195558f-5d80-7007-8000-000000000009 --as cfx
  padjig records publish 0195558f-5d80-7007-8000-000000000009 --as cfx --source plant2.padjig.J-0042`,
		Args: command.Exactly(1, "the id of a run"),
		RunE: func(cmd *cobra.Command, args []string) error { return o.run(cmd, args[0]) },
	}
	f := cmd.Flags()
	f.StringVar(&o.as, "as", "", "`FORM` of the message: cfx")
	f.StringVar(&o.source, "source", "", "`HANDLE` of the sender (default padjig.MODEL.SERIAL of the jig)")
	f.BoolVar(&o.simulated, "simulated", false, "also a run on a simulated jig")
	command.StoreFlag(cmd, &o.store)
	command.Must(cmd.MarkFlagRequired("as"))
	return cmd
}

func (o *publishOptions) run(cmd *cobra.Command, id string) error {
	if o.as != "cfx" {
		return command.WrongUsef("--as %q: write cfx", o.as)
	}
	of, err := store.ParseID(id)
	if err != nil {
		return command.WrongUsef("%q is no id of a run: padjig unit SERIAL shows those of a unit", id)
	}
	s, err := command.ReadStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer s.Close()
	run, err := s.Runs.Run(cmd.Context(), of)
	if errors.Is(err, store.ErrNotFound) {
		return command.Fail(command.Wrong, fmt.Errorf("there is no run %s, as far as %s knows", id, s.Path()), "padjig unit SERIAL, or another --store")
	}
	if err != nil {
		return command.RecordsFailed(s, err)
	}
	if run.Simulated && !o.simulated {
		return command.Fail(command.Wrong, fmt.Errorf("run %s was made on a simulated jig, which the standard cannot say", id), "--simulated, to try what reads it")
	}
	p, err := s.Runs.Product(cmd.Context(), run)
	if err != nil {
		return command.RecordsFailed(s, err)
	}
	source := o.source
	if source == "" {
		source = cfx.Source(run.Jig)
	}
	if run.Simulated {
		source = "simulated." + source
	}
	m, err := cfx.Of(run, p, source)
	if err != nil {
		return command.Fail(command.Wrong, err, "a run of production that passed, failed, or ended without a verdict")
	}
	text, err := m.Text()
	if err == nil {
		_, err = cmd.OutOrStdout().Write(text)
	}
	if err != nil {
		return command.Fail(command.NotRecorded, fmt.Errorf("print the message: %w", err), "")
	}
	return nil
}
