package unit

// padjig unit tag: the tag of a unit that failed, to be printed.

import (
	"fmt"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/output"
	"padjig/cmd/padjig/command/terminal"
	"padjig/results/report/tag"
	"padjig/sequence/wording"
)

func newTag() *cobra.Command {
	var store, html, lang string
	cmd := &cobra.Command{
		Use:   "tag SERIAL|RUN",
		Short: "The tag that goes with a unit that failed",
		Long: `Writes the tag of the newest run of a unit, or of one run by its id: what is wrong
and where, with values and limits, the likely cause, and the code of the run that
is scanned at the fail place. It is made from the record alone.

--html writes one page, for paper of any size from a label up, with the codes as
barcodes; the same as the station prints.`,
		Example: `  padjig unit tag GCC-000001-3
  padjig unit tag GCC-000001-3 --html GCC-000001-3.html --lang de`,
		Args: command.Exactly(1, "the serial number of a unit, or the id of a run"),
		RunE: func(cmd *cobra.Command, args []string) error {
			if err := knownLanguage(lang); err != nil {
				return err
			}
			s, err := command.ReadStore(cmd.Context(), store)
			if err != nil {
				return err
			}
			defer s.Close()
			run, err := runOf(cmd.Context(), s, args[0])
			if err != nil {
				return err
			}
			p, err := s.Runs.Product(cmd.Context(), run)
			if err != nil {
				return command.RecordsFailed(s, err)
			}
			clock, err := command.PlantClock(cmd.Context(), s)
			if err != nil {
				return err
			}
			t, err := tag.Of(wording.Facts().In(lang), clock, run, p)
			if err != nil {
				return command.RecordsFailed(s, err)
			}
			if html == "" {
				return t.Text(cmd.OutOrStdout(), terminal.PlainWidth)
			}
			if err := output.Write(html, output.TagPage, s.Path(), t.HTML); err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "tag of %s written to %s\n", run.Serial, html)
			return nil
		},
	}
	cmd.Flags().StringVar(&html, "html", "", "write a page to `FILE`")
	languageFlag(cmd, &lang)
	command.StoreFlag(cmd, &store)
	return cmd
}

// languageFlag adds --lang.
func languageFlag(cmd *cobra.Command, lang *string) {
	cmd.Flags().StringVar(lang, "lang", wording.First, "`LANGUAGE` of what is printed: "+strings.Join(wording.Languages, ", "))
}

func knownLanguage(lang string) error {
	if !slices.Contains(wording.Languages, lang) {
		return command.WrongUsef("--lang %q: write %s", lang, strings.Join(wording.Languages, " or "))
	}
	return nil
}
