package plant

// padjig plant notices: what a station took, and how it stands to its plant.

import (
	"fmt"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/object"
	"padjig/results/floor"
	"padjig/results/notices"
)

func newNotices() *cobra.Command {
	var store string
	var last int
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "notices",
		Short: "Say which notices of the plant are here, and what came of them",
		Long: `Lists the notices that a station took, or that an office issued, each with what came
of it, and says how a station stands to its plant: how many notices there are, when
that was heard, and what is not believed.

  in force      it holds here
  not here      it is of a jig that these records do not know
  label taken   its label is another definition's here: the product is not tested
  waits         an account made here has its name, or one like it
  issued        these records are the office's`,
		Example: `  padjig plant notices
  padjig plant notices --last 5 --json`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if last < 1 {
				return command.WrongUsef("--last %d: write how many notices", last)
			}
			s, err := command.ReadStore(cmd.Context(), store)
			if err != nil {
				return err
			}
			defer s.Close()
			list, st, err := s.Notices.Newest(cmd.Context(), last)
			if err != nil {
				return command.RecordsFailed(s, err)
			}
			if asJSON {
				return object.Print(cmd.OutOrStdout(), object.Notices{Notices: command.Each(list, func(k notices.Kept) object.Notice {
					return object.NoticeOf(k.Notice, k.Outcome)
				}), Contact: object.ContactOf(st, time.Now())})
			}
			clock, err := command.PlantClock(cmd.Context(), s)
			if err != nil {
				return err
			}
			for _, k := range list {
				fmt.Fprintf(cmd.OutOrStdout(), "%5d  %s  %-11s %-9s %s\n", k.Number, clock.Zoned(k.Issued), k.Outcome, k.Kind, k.Subject)
			}
			tellContact(cmd, clock, st, len(list))
			return nil
		},
	}
	cmd.Flags().IntVar(&last, "last", 20, "list the newest `N`")
	command.JSONFlag(cmd, &asJSON)
	command.StoreFlag(cmd, &store)
	return cmd
}

func tellContact(cmd *cobra.Command, clock floor.Clock, st *notices.Contact, listed int) {
	out := cmd.OutOrStdout()
	switch {
	case st == nil && listed == 0:
		fmt.Fprintln(out, "no notices are here; see padjig station --plant-key")
	case st == nil:
	case st.Head == nil:
		fmt.Fprintln(out, "nothing was ever heard of the plant; what is here is in force")
	default:
		fmt.Fprintf(out, "the plant has %s, heard %s; here up to %d\n", command.Count(int(st.Head.Count), "notice"), clock.Zoned(st.Heard), st.Taken)
		if _, over := st.Silent(time.Now()); over {
			fmt.Fprintln(out, "that is long ago: this station is cut off, and goes on with what is here")
		}
	}
	if st == nil {
		return
	}
	if m := st.Trouble; m != nil {
		fmt.Fprintf(out, "not believed since %s: %v; what is here stays in force\n", clock.Zoned(st.Since), m)
	}
	if len(st.Waiting) > 0 {
		fmt.Fprintf(out, "accounts of the plant that wait, since accounts made here have those names: %s\n", strings.Join(st.Waiting, ", "))
	}
}
