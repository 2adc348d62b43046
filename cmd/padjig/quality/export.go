package quality

// padjig quality export: every reading, for tools of others.

import (
	"bufio"
	"errors"
	"fmt"
	"io"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/output"
	"padjig/results"
	"padjig/results/answers/choice"
	"padjig/results/lines"
	"padjig/results/report"
)

func newExport() *cobra.Command {
	var s selection
	var out string
	cmd := &cobra.Command{
		Use:   "export",
		Short: "Every key of every run chosen, as CSV or Parquet",
		Long: `Writes one row for each key of each production run chosen, with product, revision,
jig, lots, shift, operator, outcome and worst finding. The name of the file says
the form: .csv (RFC 4180; text that a spreadsheet would take for a formula gets an
apostrophe) or .parquet (for column engines; about a hundredth of the time to ask
something of all readings). A file is there only when it is whole.`,
		Example: `  padjig quality export --out march.parquet --from 2026-03-01 --to 2026-03-31
  padjig quality export --out lot.csv --lot M-2616`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error { return export(cmd, &s, out) },
	}
	s.flags(cmd)
	for _, form := range []string{"json", "csv", "html", "interval", "confidence"} {
		command.Must(cmd.Flags().MarkHidden(form))
	}
	cmd.Flags().StringVar(&out, "out", "", "`FILE` to write, with .csv or .parquet at its end")
	command.ProgressFlag(cmd)
	command.Needs(cmd, "out")
	return cmd
}

func export(cmd *cobra.Command, s *selection, out string) error {
	_, err := s.asked(true, time.UTC)
	form := strings.ToLower(filepath.Ext(out))
	if form != ".csv" && form != ".parquet" {
		err = errors.Join(err, fmt.Errorf("--out %s: its name ends in neither .csv nor .parquet", out))
	}
	if err != nil {
		return command.WrongUse(err)
	}
	as := output.ParquetRows
	if form == ".csv" {
		as = output.CSVRows
	}
	file, err := output.New(out, as, command.BesideStore(s.store))
	if err != nil {
		return err
	}
	defer file.Drop()
	store, err := command.ReadStore(cmd.Context(), s.store)
	if err != nil {
		return err
	}
	defer store.Close()
	c, err := s.choose(cmd, store, choice.Ask)
	if err != nil {
		return err
	}
	rows, err := exportTo(cmd, store, c.Filter, file, form)
	if err != nil {
		return unanswered(err, c)
	}
	if err := file.Keep(); err != nil {
		return err
	}
	fmt.Fprintf(cmd.OutOrStdout(), "%d rows in %s\n", rows, out)
	return nil
}

func exportTo(cmd *cobra.Command, store *results.Store, f lines.Filter, file io.Writer, form string) (rows int, err error) {
	buffer := bufio.NewWriterSize(file, 1<<20)
	to := report.NewParquet(buffer)
	if form == ".csv" {
		if to, err = report.NewCSV(buffer); err != nil {
			return 0, err
		}
	}
	progress := command.Progress(cmd, "exporting", "runs")
	err = store.Lines.Export(cmd.Context(), f, func(r lines.ExportRow) error {
		rows++
		return to.Write(r)
	}, progress.At)
	progress.Clear()
	if err != nil {
		return rows, err
	}
	if err := errors.Join(to.Close(), buffer.Flush()); err != nil {
		return rows, command.Fail(command.NotRecorded, fmt.Errorf("export: %w", err), "another --out, on a disk with room")
	}
	return rows, nil
}
