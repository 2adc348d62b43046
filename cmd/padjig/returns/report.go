package returns

// padjig returns report: the page that goes to the customer.

import (
	"bytes"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/output"
	"padjig/cmd/padjig/command/terminal"
	"padjig/results"
	"padjig/results/report/returned"
	"padjig/results/returns"
)

func newReport() *cobra.Command {
	var flags caseFlags
	var to, as string
	cmd := &cobra.Command{
		Use:   "report SERIAL",
		Short: "Write the one-page report of a case",
		Long: `Writes the report of the newest case of a unit: one page to print, or to save as
PDF from a browser's print dialogue, with the photos in it; or plain text. It is
made from the records alone.`,
		Example: `  padjig returns report GCC-000001-3 --to GCC-000001-3.html
  padjig returns report GCC-000001-3 --as text`,
		Args: command.Exactly(1, command.OneSerial),
		RunE: func(cmd *cobra.Command, args []string) error {
			return flags.with(cmd, command.ReadStore, args[0], func(s *results.Store, c returns.Case) error {
				life, err := lifeOf(cmd, s, c.Number)
				if err != nil {
					return err
				}
				return writeReport(cmd, s, life, to, as)
			})
		},
	}
	cmd.Flags().StringVar(&to, "to", "", "`FILE` to write (default standard output)")
	cmd.Flags().StringVar(&as, "as", "", "`FORM`: html or text (default by the name of the file, else html)")
	flags.add(cmd)
	return cmd
}

func writeReport(cmd *cobra.Command, s *results.Store, life *returned.Life, to, as string) error {
	if as == "" && (strings.HasSuffix(to, ".txt") || strings.HasSuffix(to, ".text")) {
		as = "text"
	}
	var page bytes.Buffer
	var err error
	switch as {
	case "", "html":
		err = life.HTML(&page, s.Returns.PhotoFile, time.Now())
	case "text":
		err = life.Text(&page, terminal.PlainWidth)
	default:
		return command.WrongUsef("--as %q: write html or text", as)
	}
	if err != nil {
		return command.RecordsFailed(s, fmt.Errorf("make the report: %w", err))
	}
	if to == "" {
		_, err = cmd.OutOrStdout().Write(page.Bytes())
		return err
	}
	in := output.ReturnsSheet
	if as == "text" {
		in = output.ReturnsText
	}
	err = output.Write(to, in, s.Path(), func(w io.Writer) error { _, err := w.Write(page.Bytes()); return err })
	if err != nil {
		return err
	}
	fmt.Fprintf(cmd.OutOrStdout(), "report of case %d written to %s\n", life.Case.Number, to)
	return nil
}
