package unit

// padjig unit place, places and lift: where units that failed are put.

import (
	"bufio"
	"errors"
	"fmt"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/output"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/object"
	"padjig/cmd/padjig/placing"
	"padjig/results"
	"padjig/results/accounts"
	"padjig/results/fails"
	"padjig/results/report/tag"
	"padjig/results/store"
	"padjig/sequence/wording"
)

type placeOptions struct {
	store, operator string
	json            bool
}

func newPlace() *cobra.Command {
	var o placeOptions
	cmd := &cobra.Command{
		Use:   "place [CODE CODE] --operator NAME",
		Short: "Put a unit that failed where fails go: scan place and tag",
		Long: `Takes what a scanner reads: the code of a fail place, then the tag code of the unit
that lies in it, or the tag first; within a minute of each other. The jig on which
the unit failed takes the next one from then on. A slip is said and costs nothing:
scan again. The codes may also be given, place and tag, in either order.

The tag is printed with padjig unit tag, the codes of places with padjig unit
places. On the station's pages any screen takes the same two scans.

Exit status: 0 placed, 2 nothing was placed (a tag that is not owed, a code that
was not read whole, the end of the input), 4 could not record.

With --json standard output holds one object, once it is stored: run, serial, jig,
simulated, how ("placed"), place, by, reason, at.`,
		Example: `  padjig unit place --operator Jon
  padjig unit place PJF00000P PJT0002171804417189843402803640446519563023P --operator Jon`,
		Args: func(cmd *cobra.Command, args []string) error {
			if len(args) == 0 {
				return nil
			}
			return command.Exactly(2, "none, or two codes: of a fail place and of a tag")(cmd, args)
		},
		RunE: func(cmd *cobra.Command, args []string) error { return o.run(cmd, args) },
	}
	command.OperatorFlag(cmd, &o.operator, "`NAME` of whoever puts the unit there")
	command.JSONFlag(cmd, &o.json)
	command.StoreFlag(cmd, &o.store)
	command.OperatorNeeded(cmd)
	return cmd
}

func (o *placeOptions) run(cmd *cobra.Command, codes []string) error {
	s, err := command.OpenStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer s.Close()
	if err := command.As(cmd, s, &o.operator, account.Roles); err != nil {
		return err
	}
	words, messages := terminal.WordsOf(cmd.OutOrStdout()), terminal.Of(cmd.ErrOrStderr())
	scans := scansOf(cmd, codes)
	if len(codes) == 0 {
		fmt.Fprintln(messages, "scan the code of the fail place, then the tag of the unit in it; Ctrl-D ends")
	}
	clock, err := command.PlantClock(cmd.Context(), s)
	if err != nil {
		return err
	}
	var hand placing.Hand
	last := "nothing was scanned"
	for text, more := scans(); more; text, more = scans() {
		answer, err := hand.Read(cmd.Context(), s.Fails, text, o.operator, time.Now().In(clock.Zone()))
		if err != nil {
			return command.RecordsFailed(s, err)
		}
		if answer.Done != nil {
			return o.placed(cmd, s, *answer.Done, words.Placing(answer.Say))
		}
		if last = words.Placing(answer.Say); len(codes) == 0 {
			fmt.Fprintln(messages, messages.Wrap(0, last))
		}
	}
	return command.Fail(command.Wrong, fmt.Errorf("nothing was placed: %s", last), "scan the code of the place and the whole tag code")
}

// scansOf gives the codes one after another: those of the command, or lines as a scanner
// types them.
func scansOf(cmd *cobra.Command, codes []string) func() (string, bool) {
	if len(codes) > 0 {
		return func() (text string, more bool) {
			if more = len(codes) > 0; more {
				text, codes = codes[0], codes[1:]
			}
			return text, more
		}
	}
	in := bufio.NewScanner(cmd.InOrStdin())
	return func() (string, bool) {
		for in.Scan() {
			if text := strings.TrimSpace(in.Text()); text != "" {
				return text, true
			}
		}
		return "", false
	}
}

func (o *placeOptions) placed(cmd *cobra.Command, s *results.Store, done fails.Owed, say string) error {
	if !o.json {
		fmt.Fprintln(cmd.OutOrStdout(), say)
		return nil
	}
	list, err := s.Fails.Of(cmd.Context(), done.Serial)
	if err != nil {
		return command.RecordsFailed(s, err)
	}
	i := slices.IndexFunc(list, func(p fails.Placement) bool { return p.Run == done.Run })
	return object.Print(cmd.OutOrStdout(), object.PlacementOf(list[i]))
}

func newPlaces() *cobra.Command {
	var store, add, operator, html, lang string
	cmd := &cobra.Command{
		Use:   "places",
		Short: "The fail places and their codes",
		Long: `Lists where units that failed are put, with the code of each: the fail place that
every line has, and those that were named with --add. --html writes a sheet of
their barcodes, to be cut and fixed to the places; the station's sheet of codes
has them too.`,
		Example: `  padjig unit places
  padjig unit places --add "Shelf 2" --operator Ines
  padjig unit places --html places.html`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := knownLanguage(lang); err != nil {
				return err
			}
			open := command.ReadStore
			if add != "" {
				open = command.OpenStore
			}
			s, err := open(cmd.Context(), store)
			if err != nil {
				return err
			}
			defer s.Close()
			if add != "" {
				if !command.SaysWho(cmd, operator) {
					return command.WrongUsef("--add needs --operator NAME, who names the place")
				}
				if err := command.As(cmd, s, &operator, account.Deciding); err != nil {
					return err
				}
				if _, err := s.Fails.AddPlace(cmd.Context(), add, operator); err != nil {
					return placeFailed(s, err)
				}
			}
			places, err := s.Fails.Places(cmd.Context())
			if err != nil {
				return command.RecordsFailed(s, err)
			}
			for _, p := range places {
				fmt.Fprintf(cmd.OutOrStdout(), "%s  %s\n", p.Code(), p.Name)
			}
			if html == "" {
				return nil
			}
			return output.Write(html, output.TagPage, s.Path(), tag.Sheet{Words: wording.Facts().In(lang), Places: places}.HTML)
		},
	}
	f := cmd.Flags()
	f.StringVar(&add, "add", "", "name one more `PLACE`")
	command.OperatorFlag(cmd, &operator, "`NAME` of whoever names it")
	f.StringVar(&html, "html", "", "write a sheet of barcodes to `FILE`")
	languageFlag(cmd, &lang)
	command.StoreFlag(cmd, &store)
	return cmd
}

// placeFailed tells a name that cannot be from records that cannot take it.
func placeFailed(s *results.Store, err error) error {
	if errors.Is(err, store.ErrRefused) {
		return command.Fail(command.Wrong, err, "another name; those there are: padjig unit places"+command.StoreArgument(s))
	}
	return command.RecordsFailed(s, err)
}

func newLift() *cobra.Command {
	var store, operator, reason string
	cmd := &cobra.Command{
		Use:   "lift SERIAL --operator NAME --reason WHY",
		Short: "Go on without a unit that failed and cannot be placed",
		Long: `Records that the line goes on although a unit that failed was not put where fails
go, as when it is lost. NAME must have an account as quality or engineer. A tag
that is lost is no reason: padjig unit tag prints it again.`,
		Example: `  padjig unit lift GCC-000001-3 --operator Quinn --reason "fell into the press, destroyed"`,
		Args:    command.Exactly(1, command.OneSerial),
		RunE: func(cmd *cobra.Command, args []string) error {
			s, err := command.OpenStore(cmd.Context(), store)
			if err != nil {
				return err
			}
			defer s.Close()
			if err := command.As(cmd, s, &operator, account.Deciding); err != nil {
				return err
			}
			if err := decides(cmd, s, operator); err != nil {
				return err
			}
			return lift(cmd, s, args[0], operator, reason)
		},
	}
	command.OperatorFlag(cmd, &operator, "`NAME` of whoever decides it")
	cmd.Flags().StringVar(&reason, "reason", "", "why, in a sentence")
	command.StoreFlag(cmd, &store)
	command.OperatorNeeded(cmd)
	command.Must(cmd.MarkFlagRequired("reason"))
	return cmd
}

// decides refuses who may not go on where padjig would not.
func decides(cmd *cobra.Command, s *results.Store, name string) error {
	all, err := s.Accounts.Accounts(cmd.Context())
	if err != nil {
		return command.RecordsFailed(s, err)
	}
	if !slices.ContainsFunc(all, func(a accounts.Account) bool {
		return a.Name == name && (a.Role == string(account.Quality) || a.Role == string(account.Engineer))
	}) {
		return command.Fail(command.Wrong, fmt.Errorf("%s has no account as quality or engineer", name),
			"--operator with the name of such an account: padjig station accounts list"+command.StoreArgument(s))
	}
	return nil
}

func lift(cmd *cobra.Command, s *results.Store, serial, by, reason string) error {
	lifted := 0
	for _, simulated := range []bool{false, true} {
		owed, err := s.Fails.Open(cmd.Context(), simulated)
		for _, o := range owed {
			if err == nil && o.Serial == serial {
				lifted++
				_, err = s.Fails.Lift(cmd.Context(), o.Run, by, reason)
			}
		}
		if err != nil {
			return command.RecordsFailed(s, err)
		}
	}
	if lifted == 0 {
		return command.Fail(command.Wrong, fmt.Errorf("unit %s owes nothing", serial), "padjig unit "+serial+command.StoreArgument(s)+", which says where it is")
	}
	fmt.Fprintf(cmd.OutOrStdout(), "recorded for unit %s: the line goes on without it\n", serial)
	return nil
}
