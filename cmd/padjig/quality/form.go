package quality

// What questions share that choose no runs.

import (
	"fmt"
	"strconv"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/results/report"
)

// answerForm are the flags that say in which form an answer is written, for
// questions that choose no runs.
type answerForm struct {
	json, csv bool
	html      string
}

func (o *answerForm) flags(cmd *cobra.Command) {
	f := cmd.Flags()
	command.JSONFlag(cmd, &o.json)
	f.BoolVar(&o.csv, "csv", false, "print the tables as CSV")
	f.StringVar(&o.html, "html", "", "write one page with charts to `FILE`, fit for print")
	command.Group(f, command.OfOutput, "csv", "html")
	cmd.MarkFlagsMutuallyExclusive("json", "csv")
}

// write answers with a document. An error of making it is one of what was asked for.
func (o *answerForm) write(cmd *cobra.Command, d report.Document, err error) error {
	if err != nil {
		return command.WrongUse(err)
	}
	s := selection{json: o.json, csv: o.csv, html: o.html}
	if o.html != "" {
		if err := s.page(d); err != nil {
			return err
		}
	}
	return s.print(cmd.OutOrStdout(), d)
}

// shareFlag is a part of one on the command line: 0.01 or 1%.
type shareFlag float64

func (s *shareFlag) String() string { return strconv.FormatFloat(float64(*s), 'g', -1, 64) }

// Type is what help calls the value.
func (s *shareFlag) Type() string { return "SHARE" }

// Set reads the value.
func (s *shareFlag) Set(text string) error {
	v, err := command.ParseShare(text)
	if err != nil || !(v >= 0 && v <= 1) {
		return fmt.Errorf("write a share such as 1%% or 0.01, from 0 to 100%%")
	}
	*s = shareFlag(v)
	return nil
}

// shareVar adds a flag for a share with its default.
func shareVar(cmd *cobra.Command, into *shareFlag, name string, usual float64, usage string) {
	*into = shareFlag(usual)
	cmd.Flags().Var(into, name, usage)
}
