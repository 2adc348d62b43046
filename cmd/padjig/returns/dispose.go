package returns

// padjig returns dispose: a case ends in a word that can be counted.

import (
	"errors"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/command/testrun"
	"padjig/results"
	"padjig/results/returns"
)

func newDispose() *cobra.Command {
	var flags caseFlags
	var d returns.Disposition
	var answers []string
	cmd := &cobra.Command{
		Use:   "dispose SERIAL WORD --becomes WORD --operator NAME",
		Short: "Close a case, or open it again",
		Long: `Closes the newest case of a unit with one of these words:
  "confirmed"                    a stage found the fault
  "not reproduced"               no stage found one, an exercise among them
  "customer damage"              broken after it left; the intake says what is seen
  "jig false accept suspected"   it may have left with the fault; needs --reason
and with what becomes of the unit itself:
` + command.Listed(returns.Disposals) + `
"back to production" has it tested as production is, attempts counted anew.

What the records say against it is listed, and each has to be answered with
--answer "WORD=why", which is kept and printed. A case that is closed is closed
otherwise with --correct; "reopened" opens it again.`,
		Example: `  padjig returns dispose GCC-000001-3 confirmed --becomes scrapped --operator Jon
  padjig returns dispose GCC-000001-3 "not reproduced" --becomes "sent back as it is" --operator Jon
  padjig returns dispose GCC-000001-3 reopened --operator Jon`,
		Args: command.Exactly(2, command.OneSerial+" and a disposition"),
		RunE: func(cmd *cobra.Command, args []string) (err error) {
			d.Code = args[1]
			if d.Answers, err = readAnswers(answers); err != nil {
				return err
			}
			return flags.with(cmd, command.OpenStore, args[0], func(s *results.Store, c returns.Case) error {
				if err := command.As(cmd, s, &d.By, account.Desk); err != nil {
					return err
				}
				if err := s.Returns.Dispose(cmd.Context(), c, d); err != nil {
					return unanswered(cmd, s, c, err)
				}
				fmt.Fprintf(cmd.OutOrStdout(), "case %d of unit %s: %s\n", c.Number, c.Serial, strings.TrimSuffix(d.Code+", "+d.Disposal, ", "))
				return nil
			})
		},
		ValidArgsFunction: func(_ *cobra.Command, args []string, _ string) ([]string, cobra.ShellCompDirective) {
			if len(args) == 1 {
				return returns.Dispositions, cobra.ShellCompDirectiveNoFileComp
			}
			return nil, cobra.ShellCompDirectiveNoFileComp
		},
	}
	f := cmd.Flags()
	f.StringVar(&d.Disposal, "becomes", "", "what becomes of the unit, in one of the `WORD`s above")
	f.StringVar(&d.Reason, "reason", "", "why, in `WORDS`")
	f.StringArrayVar(&answers, "answer", nil, "`ANSWER` to what speaks against it; may be given more than once")
	f.BoolVar(&d.Corrects, "correct", false, "close a case that is closed otherwise")
	command.OperatorFlag(cmd, &d.By, "`NAME` of whoever decides")
	flags.add(cmd)
	command.OperatorNeeded(cmd)
	command.Must(cmd.RegisterFlagCompletionFunc("becomes", cobra.FixedCompletions(returns.Disposals, cobra.ShellCompDirectiveNoFileComp)))
	return cmd
}

func readAnswers(list []string) (map[string]string, error) {
	answers := map[string]string{}
	for _, text := range list {
		code, why, ok := strings.Cut(text, "=")
		if !ok || strings.TrimSpace(why) == "" {
			return nil, command.WrongUsef(`--answer %q: write it as "nothing found=why it is so all the same"`, text)
		}
		answers[strings.TrimSpace(code)] = strings.TrimSpace(why)
	}
	return answers, nil
}

// unanswered lists what a disposition contradicts, and how each is answered.
func unanswered(cmd *cobra.Command, s *results.Store, c returns.Case, err error) error {
	open, is := errors.AsType[*returns.UnansweredError](err)
	if !is {
		return testrun.OfCase(s, c.Serial, err)
	}
	words, say := terminal.WordsOf(cmd.ErrOrStderr()), make([]string, len(open.Contradictions))
	answer := make([]string, len(open.Contradictions))
	for i, x := range open.Contradictions {
		say[i], answer[i] = words.Desk(x.Say()), fmt.Sprintf("--answer %q", string(x.Code)+"=WHY")
	}
	return command.Fail(command.Wrong, fmt.Errorf("case %d: the records speak against it: %s", c.Number, strings.Join(say, "; ")), strings.Join(answer, " "))
}
