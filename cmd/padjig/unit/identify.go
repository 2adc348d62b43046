package unit

// padjig unit identify: which unit it is, when its label cannot be read.

import (
	"errors"
	"fmt"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/object"
	"padjig/results/answers/plant"
	"padjig/results/report"
	"padjig/results/store"
)

func newIdentify() *cobra.Command {
	var o plant.IdentityAsked
	var path, from, to string
	var asJSON, csv bool
	cmd := &cobra.Command{
		Use:   "identify SERIAL|RUN",
		Short: "Find the unit that a run reads like, whatever its label says",
		Long: `Searches all units of the product for the one whose contacts a run reads: of a
unit whose label cannot be read, tested under any free number, or whose label may be
another's. With the address of a plant for --store it searches the units of all
stations, also of months whose readings are retired. What the jigs differ by is taken
off: as reference units tell that both have read, else as the units do that each
tested; which of both, and where nothing says it, is shown.

A unit is named when the chance that it is another one, or none of those searched, is
below 1 in 1000; beforehand none is taken for as likely as all of them together. How
often that is wrong, and how often a unit is missed, is in docs/samepad.md. Otherwise
the likeliest are listed, each with its chance: fewer dates or one station leave fewer
others that it may be. Runs under its own number are not searched.

Exit status: 0 a unit is named, 1 none is.`,
		Example: `  padjig unit identify GCC-900001-4
  padjig unit identify GCC-900001-4 --store postgres://reader@db/plant
  padjig unit identify GCC-900001-4 --store postgres://reader@db/plant \
    --from 2026-03-01 --to 2026-04-01 --station line-2 --json`,
		Args: command.Exactly(1, "a serial number or the id of a run"),
		RunE: func(cmd *cobra.Command, args []string) error {
			o.What = args[0]
			s, err := command.ReadStore(cmd.Context(), path)
			if err != nil {
				return err
			}
			defer s.Close()
			clock, err := command.PlantClock(cmd.Context(), s)
			if err != nil {
				return err
			}
			for flag, day := range map[string]struct {
				text string
				into *time.Time
			}{"--from": {from, &o.From}, "--to": {to, &o.To}} {
				if day.text == "" {
					continue
				}
				if *day.into, err = time.ParseInLocation(time.DateOnly, day.text, clock.Zone()); err != nil {
					return command.WrongUsef("%s %q: write a day, such as 2026-03-02", flag, day.text)
				}
			}
			progress := command.Progress(cmd, "looking at", "runs")
			answer, err := plant.AskIdentity(cmd.Context(), s, o, func(runs int) { progress.At(int64(runs), 0) })
			progress.Clear()
			switch {
			case errors.Is(err, store.ErrNotFound):
				return command.NeverTested(o.What, s.Path())
			case errors.Is(err, plant.ErrStation):
				return command.Fail(command.Wrong, err, "padjig plant stations lists them; a station's own records take no --station, --from and --to")
			case err != nil:
				return noRecords(err)
			}
			out := terminal.Of(cmd.OutOrStdout())
			d := report.PlantIdentity(answer).By(clock.Zone())
			switch {
			case asJSON:
				err = object.Print(out, d.Object())
			case csv:
				err = d.CSV(out)
			default:
				err = d.Text(out, out.Wide)
			}
			if err != nil {
				return command.Fail(command.NotRecorded, fmt.Errorf("print the answer: %w", err), "")
			}
			if !answer.Certain() {
				return command.Quiet(command.Failed)
			}
			return nil
		},
	}
	f := cmd.Flags()
	command.StoreFlag(cmd, &path)
	f.StringVar(&from, "from", "", "only units tested since this `DAY`: 2026-03-02 (of a plant)")
	f.StringVar(&to, "to", "", "only units tested before this `DAY` (of a plant)")
	f.StringVar(&o.Station, "station", "", "only units of the station of this `NAME` (of a plant)")
	f.IntVar(&o.Most, "most", 5, "how many units are listed at most")
	command.JSONFlag(cmd, &asJSON)
	f.BoolVar(&csv, "csv", false, "print the tables as CSV")
	cmd.MarkFlagsMutuallyExclusive("json", "csv")
	command.ProgressFlag(cmd)
	return cmd
}
