package serve

// padjig station accounts attempts: whether somebody tries to get in.

import (
	"fmt"
	"io"
	"slices"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/object"
	"padjig/results/accounts"
	"padjig/results/floor"
)

// attemptOptions are the flags of padjig station accounts attempts.
type attemptOptions struct {
	store        string
	last         int
	failed, json bool
}

func newAccountsAttempts() *cobra.Command {
	var o attemptOptions
	cmd := &cobra.Command{
		Use:   "attempts",
		Short: "List who signed in, and who tried to, from where",
		Long: `Lists the newest sign-ins and failed tries, newest first. What was typed is not
recorded; a name is, if there is an account of it. "too many" stands for a row
of tries that were not looked at. Behind a proxy the address is the proxy's.

With --json standard output holds one object: attempts[], each at (RFC 3339,
UTC), name, address, how (password, badge) and outcome (in, wrong, too many).`,
		Example: `  padjig station accounts attempts
  padjig station accounts attempts --failed --last 100`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error { return o.run(cmd) },
	}
	cmd.Flags().IntVar(&o.last, "last", 50, "look at the last `N` tries")
	cmd.Flags().BoolVar(&o.failed, "failed", false, "only those that failed")
	command.JSONFlag(cmd, &o.json)
	command.StoreFlag(cmd, &o.store)
	return cmd
}

func (o *attemptOptions) run(cmd *cobra.Command) error {
	if o.last < 1 {
		return command.WrongUsef("--last %d: at least 1", o.last)
	}
	s, err := command.ReadOwnStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer s.Close()
	list, err := s.SignIns.Last(cmd.Context(), o.last)
	if err != nil {
		return command.RecordsFailed(s, err)
	}
	if o.failed {
		list = slices.DeleteFunc(list, func(e accounts.SignIn) bool { return e.Outcome == accounts.SignedIn })
	}
	clock, err := command.PlantClock(cmd.Context(), s)
	if err != nil {
		return err
	}
	return showAttempts(cmd.OutOrStdout(), clock, list, o.json)
}

func showAttempts(to io.Writer, clock floor.Clock, list []accounts.SignIn, asJSON bool) error {
	if asJSON {
		return object.Print(to, object.SignInsOf(list))
	}
	for _, e := range list {
		name := e.Name
		if name == "" {
			name = "-"
		}
		fmt.Fprintf(to, "%s  %-8s  %-8s  %-20s %s\n", clock.Exact(e.At), e.Outcome, e.How, name, e.Address)
	}
	return nil
}
