package records

// padjig records simulate: weeks of a line to try the questions of padjig quality on.

import (
	"errors"
	"fmt"
	"os"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/results"
	"padjig/results/linesim"
)

// simulateOptions are the flags of padjig records simulate.
type simulateOptions struct {
	store, product, begin, zone string
	runs                        int
	seed                        uint64
}

func newSimulate() *cobra.Command {
	var o simulateOptions
	cmd := &cobra.Command{
		Use:   "simulate",
		Short: "Fill a store with what a simulated line did over weeks",
		Long: `Makes up the runs of a line of four jigs that test a product day and night, and
stores them as simulated: units, retests, changes of lot, shift and operator,
calibrations, replaced parts. It says what was planted to be found. The same
seed gives the same records, down to their hashes.

A store that holds runs of real jigs is refused.`,
		Example: `  padjig records simulate --store practice.sqlite --product testdata/products/gcc-20.yaml
  padjig records simulate --store big.sqlite --product my-pad.yaml --runs 1000000 --seed 7`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error { return o.run(cmd) },
	}
	f := cmd.Flags()
	f.StringVar(&o.store, "store", "", "`FILE` of the records; it is created where there is none")
	f.StringVar(&o.product, "product", "", "product `FILE`")
	f.IntVar(&o.runs, "runs", 20_000, "how many runs to make")
	f.Uint64Var(&o.seed, "seed", 1, "where the random numbers begin")
	f.StringVar(&o.begin, "begin", "2026-03-02", "`DAY` of the first run, which begins at 06:00")
	f.StringVar(&o.zone, "zone", "Europe/Vienna", "time `ZONE` of the line's shifts")
	command.ProgressFlag(cmd)
	command.Needs(cmd, "store", "product")
	return cmd
}

func (o *simulateOptions) run(cmd *cobra.Command) error {
	line, err := o.line(cmd)
	if err != nil {
		return err
	}
	store, err := command.OpenStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	entries, err := line.Entries(cmd.Context())
	if err != nil {
		return command.WrongUse(err)
	}
	progress := command.Progress(cmd, "storing", "runs")
	err = store.ImportSimulated(cmd.Context(), o.seed, entries, func(stored int) { progress.At(int64(stored), int64(o.runs)) })
	progress.Clear()
	switch {
	case errors.Is(err, results.ErrRealRuns):
		return command.Fail(command.Wrong, err, "--store with the path of a new file")
	case err != nil:
		return command.Fail(command.NotRecorded, err, "")
	}
	o.tell(cmd, line, store)
	return nil
}

// line is what the flags ask for, or everything wrong with them.
func (o *simulateOptions) line(cmd *cobra.Command) (linesim.Line, error) {
	p, err := command.LoadProduct(cmd, o.product)
	if err != nil {
		return linesim.Line{}, err
	}
	line := linesim.Line{Product: p, Runs: o.runs, Seed: o.seed, Zone: o.zone}
	wrong := line.Mistakes()
	zone, err := time.LoadLocation(o.zone)
	if err != nil {
		zone = time.UTC
	}
	day, err := time.ParseInLocation("2006-01-02", o.begin, zone)
	if err != nil {
		wrong = append(wrong, fmt.Sprintf("--begin %q is no day such as 2026-03-02", o.begin))
	}
	if len(wrong) > 0 {
		return line, command.WrongUsef("%s", strings.Join(wrong, "; "))
	}
	line.Begin = day.Add(6 * time.Hour).UTC()
	return line, nil
}

func (o *simulateOptions) tell(cmd *cobra.Command, line linesim.Line, store *results.Store) {
	t := terminal.Of(cmd.OutOrStdout())
	fmt.Fprintf(t, "%d SIMULATED runs stored in %s%s; planted in them:\n\n", o.runs, store.Path(), sizeOf(store.Path()))
	for _, p := range line.Story() {
		fmt.Fprintf(t, "  %s\n", t.Wrap(4, fmt.Sprintf("%s (runs %.0f to %.0f)",
			p.What, p.From*float64(o.runs)+1, p.To*float64(o.runs))))
	}
}

func sizeOf(path string) string {
	info, err := os.Stat(path)
	if err != nil {
		return ""
	}
	return fmt.Sprintf(" (%.0f MB)", float64(info.Size())/1e6)
}
