package records

// padjig records hand-off: how the receivers stand that a station hands on to, and what
// people decide about them.

import (
	"errors"
	"fmt"
	"io"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/object"
	"padjig/results"
	"padjig/results/floor"
	"padjig/results/handoff"
	"padjig/results/store"
)

func newHandOff() *cobra.Command {
	return command.Noun("hand-off", "How records are handed on to other systems", `  padjig records hand-off list
  padjig records hand-off again mes --since "2026-03-02 06:00" --reason "disk lost" --operator Ines`,
		newReceivers(), newAgain(), newSetAside(), newEvent())
}

func newReceivers() *cobra.Command {
	var path string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "list",
		Short: "Say how every receiver stands",
		Long: `Says of every receiver that a station hands on to, now or ever, how far it got,
how many events it is behind, whether a station is sending to it, and what went
wrong with the next event. A receiver that refused an event gets nothing more
before a person decides: have it sent again, or set aside.`,
		Example: `  padjig records hand-off list
  padjig records hand-off list --json`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := command.ReadOwnStore(cmd.Context(), path)
			if err != nil {
				return err
			}
			defer s.Close()
			all, err := s.HandOff.Receivers(cmd.Context())
			if err != nil {
				return command.RecordsFailed(s, err)
			}
			if asJSON {
				return object.Print(cmd.OutOrStdout(), object.HandOff{Receivers: command.Each(all, func(st handoff.Progress) object.Receiver {
					return object.ReceiverOf(st, sending(s, st.Receiver))
				})})
			}
			clock, err := command.PlantClock(cmd.Context(), s)
			if err != nil {
				return err
			}
			if len(all) == 0 {
				fmt.Fprintln(cmd.OutOrStdout(), "nothing was ever handed on; see padjig station --hand-off")
			}
			for _, st := range all {
				tell(cmd.OutOrStdout(), clock, st, sending(s, st.Receiver), command.StoreArgument(s))
			}
			return nil
		},
	}
	command.JSONFlag(cmd, &asJSON)
	command.StoreFlag(cmd, &path)
	return cmd
}

// sending reports whether a station has a receiver in hand.
func sending(s *results.Store, receiver string) bool {
	release, taken, err := s.HandOff.Alone(receiver)
	if err == nil && !taken {
		release()
	}
	return taken
}

func tell(to io.Writer, clock floor.Clock, st handoff.Progress, sending bool, at string) {
	fmt.Fprintf(to, "%s: has all to event %d since %s; ", st.Receiver, st.Has, clock.Zoned(st.Since))
	if st.Behind == 0 {
		fmt.Fprint(to, "nothing waits")
	} else {
		fmt.Fprintf(to, "%s behind, the oldest stored %s", command.Count(int(st.Behind), "event"), clock.Zoned(st.Oldest))
	}
	if !sending {
		fmt.Fprint(to, "; no station is sending")
	}
	fmt.Fprintln(to)
	switch t := st.Trouble; {
	case t == nil:
	case t.Refused:
		fmt.Fprintf(to, "  refused event %d %s: %s\n  try: mend it there and padjig records hand-off again %s, or padjig records hand-off set-aside %s %d%s\n",
			t.Event, clock.Zoned(t.At), t.Why, st.Receiver, st.Receiver, t.Event, at)
	default:
		fmt.Fprintf(to, "  failed with event %d %s: %s; next try %s\n", t.Event, clock.Zoned(t.At), t.Why, clock.Exact(t.Next))
	}
}

// decision is what a person says of a receiver.
type decision struct{ path, by, reason string }

func (d *decision) flags(cmd *cobra.Command) {
	cmd.Flags().StringVar(&d.reason, "reason", "", "`REASON`, which stays in the records")
	command.OperatorFlag(cmd, &d.by, "`NAME` of whoever decides")
	command.StoreFlag(cmd, &d.path)
	command.Must(cmd.MarkFlagRequired("reason"))
	command.OperatorNeeded(cmd)
}

// open opens the records, for whoever may decide.
func (d *decision) open(cmd *cobra.Command) (*results.Store, error) {
	if strings.TrimSpace(d.reason) == "" {
		return nil, command.WrongUsef("--reason is empty: say why, for whoever asks later")
	}
	s, err := command.OpenStore(cmd.Context(), d.path)
	if err != nil {
		return nil, err
	}
	if err := command.As(cmd, s, &d.by, account.Deciding); err != nil {
		return nil, errors.Join(err, s.Close())
	}
	return s, nil
}

func newAgain() *cobra.Command {
	var d decision
	var from, since string
	cmd := &cobra.Command{
		Use:   "again RECEIVER [--from EVENT | --since TIME]",
		Short: "Have all sent again from an event on",
		Long: `Has a receiver get all again from an event on, under the same ids: from its
number or the id of its run, or from the first run stored since a time. Without
either it is the event that is next, which also tries at once what was refused
or failed. Nothing can be left out this way.`,
		Example: `  padjig records hand-off again mes --reason "they know our key now" --operator Ines
  padjig records hand-off again mes --from 1 --reason "a new system" --operator Ines
  padjig records hand-off again mes --since "2026-03-02 06:00" --reason "disk lost" --operator Ines`,
		Args: command.Exactly(1, "the name of a receiver"),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := d.open(cmd)
			if err != nil {
				return err
			}
			defer s.Close()
			number, err := fromOf(cmd, s, args[0], from, since)
			if err == nil {
				err = s.HandOff.Again(cmd.Context(), args[0], number, d.by, d.reason)
			}
			if err != nil {
				return undecided(s, err)
			}
			fmt.Fprintf(cmd.OutOrStdout(), "recorded: %s gets all from event %d on\n", args[0], number)
			return nil
		},
	}
	f := cmd.Flags()
	f.StringVar(&from, "from", "", "`EVENT` to begin with: its number, or the id of its run")
	f.StringVar(&since, "since", "", "`TIME` of the plant, such as \"2026-03-02 06:00\"")
	cmd.MarkFlagsMutuallyExclusive("from", "since")
	d.flags(cmd)
	return cmd
}

// fromOf is the number of the event that is to be sent first.
func fromOf(cmd *cobra.Command, s *results.Store, receiver, from, since string) (int64, error) {
	if from != "" {
		return eventOf(cmd, s, from)
	}
	st, err := s.HandOff.Receiver(cmd.Context(), receiver)
	switch {
	case err != nil:
		return 0, err
	case st == nil:
		return 0, fmt.Errorf("%w: %s", handoff.ErrUnknown, receiver)
	case since == "":
		return st.Has + 1, nil
	}
	clock, err := command.PlantClock(cmd.Context(), s)
	if err != nil {
		return 0, err
	}
	at, err := time.ParseInLocation(floor.MinuteForm, since, clock.Zone())
	if err != nil {
		return 0, command.WrongUsef("--since %q: write a time of the plant, such as %s", since, clock.Minute(time.Now()))
	}
	number, err := s.HandOff.EventSince(cmd.Context(), at)
	if err == nil && number == 0 {
		err = command.WrongUsef("--since %s: no run was stored since then", since)
	}
	return number, err
}

// eventOf is the number of an event, by that or by the id of its run.
func eventOf(cmd *cobra.Command, s *results.Store, text string) (int64, error) {
	if number, err := strconv.ParseInt(text, 10, 64); err == nil {
		return number, nil
	}
	run, err := store.ParseID(text)
	if err != nil {
		return 0, command.WrongUsef("%q is neither the number of an event nor the id of a run", text)
	}
	number, err := s.HandOff.EventOf(cmd.Context(), run)
	if err == nil && number == 0 {
		err = command.WrongUsef("there is no run %s in these records", run)
	}
	return number, err
}

func newSetAside() *cobra.Command {
	var d decision
	cmd := &cobra.Command{
		Use:   "set-aside RECEIVER EVENT",
		Short: "Decide that a receiver never gets the event that it refused",
		Long: `Decides that a receiver never gets the event that it refused, so that the next
ones are sent. Only that one can be set aside, by its number, and the decision stands in the
records. What the receiver has to know of it has to be told in another way.`,
		Example: `  padjig records hand-off set-aside mes 4711 --reason "entered by hand" --operator Ines`,
		Args:    command.Exactly(2, "a receiver and the number of the event that it refused"),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := d.open(cmd)
			if err != nil {
				return err
			}
			defer s.Close()
			number, err := eventOf(cmd, s, args[1])
			if err == nil {
				err = s.HandOff.LeaveOut(cmd.Context(), args[0], number, d.by, d.reason)
			}
			if err != nil {
				return undecided(s, err)
			}
			fmt.Fprintf(cmd.OutOrStdout(), "recorded: %s never gets event %d\n", args[0], number)
			return nil
		},
	}
	d.flags(cmd)
	return cmd
}

// undecided says why a person's word was not taken.
func undecided(s *results.Store, err error) error {
	for _, of := range []error{handoff.ErrUnknown, handoff.ErrNotRefused, handoff.ErrAhead} {
		if errors.Is(err, of) {
			return command.Fail(command.Wrong, err, "padjig records hand-off list"+command.StoreArgument(s))
		}
	}
	if _, said := errors.AsType[*command.Failure](err); said {
		return err
	}
	return command.RecordsFailed(s, err)
}

func newEvent() *cobra.Command {
	var path string
	cmd := &cobra.Command{
		Use:   "event EVENT",
		Short: "Print an event as it is sent",
		Long: `Prints the message of an event byte for byte as every receiver gets it, by the
number of the event or the id of its run.`,
		Example: `  padjig records hand-off event 1
  padjig records hand-off event 1 | jq .run.verdict`,
		Args: command.Exactly(1, "the number of an event, or the id of a run"),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := command.ReadOwnStore(cmd.Context(), path)
			if err != nil {
				return err
			}
			defer s.Close()
			number, err := eventOf(cmd, s, args[0])
			if err != nil {
				return undecided(s, err)
			}
			list, err := s.HandOff.Next(cmd.Context(), number-1, 1)
			if err == nil && (len(list) == 0 || list[0].Number != number) {
				return command.WrongUsef("there is no event %d in these records", number)
			}
			if err != nil {
				return command.RecordsFailed(s, err)
			}
			told, err := s.HandOff.Tell(cmd.Context(), list[0])
			if err != nil {
				return command.RecordsFailed(s, err)
			}
			body, err := object.Sealed(object.EventOf(told))
			if err != nil {
				return err
			}
			_, err = fmt.Fprintf(cmd.OutOrStdout(), "%s\n", body)
			return err
		},
	}
	command.StoreFlag(cmd, &path)
	return cmd
}
