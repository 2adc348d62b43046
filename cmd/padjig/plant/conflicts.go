package plant

// padjig plant conflicts: where the records of the stations speak against each other.

import (
	"fmt"
	"slices"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/object"
	"padjig/results/plant/conflict"
	"padjig/results/report"
	"padjig/sequence/wording"
)

func newConflicts() *cobra.Command {
	var plant, serial, from string
	var most int
	var asJSON bool
	show := "open"
	cmd := &cobra.Command{
		Use:   "conflicts --plant ADDRESS",
		Short: "Where the records of the stations speak against each other",
		Long: `Lists what each station could not know and what a plant has to: one serial number on
two units or as two products, a unit tested at a station after it had passed at
another, a unit or a jig at two stations at a time, one run brought by two stations,
one label that means two revisions or two lots. Each is said with what to do, and with
its name, by which it is closed (padjig plant conflicts close).

Two units under one serial number are looked for by what their keys read
(docs/samepad.md), among the units that were tested again: of the last 31 days, or
since --from, or of the one in --serial; the 1000 newest at most, and it is said how many
there are then.

Times are by the clock of the plant. Two runs count as at a time if they overlap by a
second or more. What somebody decided between two runs, by an override, a repair or a
returns case, is no conflict.

Exit status: 0 none that is open, 1 some.`,
		Example: `  padjig plant conflicts --plant postgres://reader@db/plant
  padjig plant conflicts --plant postgres://reader@db/plant --from 2026-03-02 --json
  padjig plant conflicts --plant postgres://reader@db/plant --serial GCC-000042-1
  padjig plant conflicts --plant postgres://reader@db/plant --show closed`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			which, known := shows[show]
			if !known {
				return command.WrongUsef("--show %q: write open, closed or all", show)
			}
			asked := conflict.Asked{Serial: serial, Most: most, Show: which}
			s, err := command.ReadPlant(cmd.Context(), plant)
			if err != nil {
				return err
			}
			defer s.Close()
			clock, err := s.Floor.Clock(cmd.Context())
			if err != nil {
				return command.PlantTrouble(err)
			}
			if from != "" {
				if asked.Since, err = time.ParseInLocation(time.DateOnly, from, clock.Zone()); err != nil {
					return command.WrongUse(fmt.Errorf("--from %q: write a day such as 2026-03-02", from))
				}
			}
			answer, err := conflict.Ask(cmd.Context(), s, asked)
			if err != nil {
				return command.PlantTrouble(err)
			}
			if asJSON {
				err = object.Print(cmd.OutOrStdout(), object.ConflictsOf(answer))
			} else {
				sayConflicts(cmd, answer, clock.Zone())
			}
			if err == nil && slices.ContainsFunc(answer.Conflicts, func(c conflict.Conflict) bool { return !c.Closed() }) {
				err = command.Quiet(command.Failed)
			}
			return err
		},
	}
	f := cmd.Flags()
	command.PlantFlag(cmd, &plant)
	command.Group(f, command.OfPlant, "plant")
	command.Needs(cmd, "plant")
	f.StringVar(&serial, "serial", "", "of the unit with this serial `NUMBER` alone")
	f.StringVar(&from, "from", "", "recorded since this `DAY`, such as 2026-03-02")
	f.IntVar(&most, "most", 200, "how many at most, 0 for all")
	f.StringVar(&show, "show", show, "`WHICH`: open, closed or all")
	command.JSONFlag(cmd, &asJSON)
	cmd.AddCommand(newClose(), newReopen())
	return cmd
}

var shows = map[string]conflict.Show{"open": conflict.Open, "closed": conflict.Closed, "all": conflict.Both}

func sayConflicts(cmd *cobra.Command, answer conflict.Answer, zone *time.Location) {
	t := terminal.Of(cmd.OutOrStdout())
	if len(answer.Conflicts) == 0 {
		fmt.Fprintln(t, "no records speak against each other")
	}
	for _, c := range answer.Conflicts {
		sayConflict(t, c, zone)
	}
	if answer.Left > 0 {
		fmt.Fprintf(t, "%d more: --most 0 lists all\n", answer.Left)
	}
	for _, said := range report.TwiceWords(answer.Twice) {
		fmt.Fprintf(t, "%s\n", t.Wrap(2, report.Told(wording.Words{}, said.By(zone))))
	}
}

func sayConflict(t terminal.Terminal, c conflict.Conflict, zone *time.Location) {
	said, remedy := report.ConflictWords(c)
	fmt.Fprintf(t, "%s\n", t.Wrap(2, report.Told(wording.Words{}, said.By(zone))))
	fmt.Fprintf(t, "  %s\n", t.Wrap(2, report.Told(wording.Words{}, remedy)))
	decided(t, c, zone)
}
