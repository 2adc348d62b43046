package main

import (
	"context"
	"fmt"
	"io"
	"os"
	"os/signal"
	"syscall"
	_ "time/tzdata" // the zone of the plant, also where the machine has no table of zones

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/settings"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/demo"
	"padjig/cmd/padjig/jig"
	"padjig/cmd/padjig/manual"
	"padjig/cmd/padjig/plant"
	"padjig/cmd/padjig/product"
	"padjig/cmd/padjig/quality"
	"padjig/cmd/padjig/records"
	"padjig/cmd/padjig/returns"
	"padjig/cmd/padjig/serve"
	"padjig/cmd/padjig/unit"
	"padjig/cmd/padjig/version"
)

func main() {
	ctx, stop := signal.NotifyContext(context.Background(), os.Interrupt, syscall.SIGTERM)
	status := run(ctx, os.Args[1:], os.Stdin, os.Stdout, os.Stderr)
	stop()
	os.Exit(status)
}

// run is the whole program: it does what args say and gives the exit status.
// When ctx ends, a unit under test is let go of and its run stored as aborted.
func run(ctx context.Context, args []string, stdin io.Reader, stdout, stderr io.Writer) int {
	root := newRoot()
	root.SetArgs(append([]string{}, args...)) // cobra takes the program's own for nil
	root.SetIn(stdin)
	out := &terminal.Sink{Writer: stdout}
	root.SetOut(out)
	root.SetErr(stderr)
	cmd, err := root.ExecuteContextC(ctx)
	status := command.Complain(stderr, cmd, err)
	if lost := out.Failed(); lost != nil && status == command.OK {
		return command.Complain(stderr, cmd, command.Fail(command.NotRecorded, fmt.Errorf("print it: %w", lost), "an output that takes all of it"))
	}
	return status
}

func newRoot() *cobra.Command {
	root := &cobra.Command{
		Use:   "padjig",
		Short: "Test keypads on a jig and keep the results",
		Long: `Padjig presses every key of a keypad on a jig, measures, decides with the
measurement's uncertainty in mind, and stores the result by serial number
before it shows it.

Exit status:
  0  pass, or done
  1  fail: the unit is bad
  2  wrong use, a wrong definition, or a unit that must not be tested
  3  could not measure: reseat, incomplete, aborted, or no jig; or harness good,
     which says nothing of the unit
  4  could not record: the unit counts as untested`,
		Example: `  padjig demo                              everything, without any hardware
  padjig product check my-pad.yaml         find the mistakes in a product file
  padjig jig list                          see which jigs answer
  padjig test --product my-pad.yaml --jig J-0042 --serial GCC-000001-3`,
		SilenceErrors: true,
		SilenceUsage:  true,

		Args:                  cobra.ArbitraryArgs,
		RunE:                  command.Choose,
		DisableFlagsInUseLine: true,
	}
	root.SetHelpFunc(func(cmd *cobra.Command, _ []string) { command.PrintHelp(cmd.OutOrStdout(), cmd) })
	root.SetFlagErrorFunc(command.WrongFlag)
	root.CompletionOptions.HiddenDefaultCmd = false
	root.AddCommand(unit.Commands()...)
	root.AddCommand(serve.Command(), serve.Doctor(), returns.Command(), product.Command(), jig.Command(), records.Command(),
		quality.Command(), plant.Command(), demo.Command(), version.Command(), manual.Command())
	settings.Adopt(root, newRoot)
	command.Adopt(root)
	return root
}
