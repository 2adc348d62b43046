package serve

// padjig doctor: whether this computer and its station stand as they should.

import (
	"context"
	"fmt"
	"strings"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/server"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/doctor"
	"padjig/cmd/padjig/doctor/look"
	"padjig/cmd/padjig/object"
	"padjig/results/report"
	"padjig/sequence/wording"
)

// Doctor is padjig doctor.
func Doctor() *cobra.Command {
	var asked look.Asked
	var store string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "doctor",
		Short: "Look whether this computer and its station stand as they should",
		Long: `Looks at serial ports and who may open them, latency timers, records and the
disk they lie on, clock and zone, backups, what is due on jigs, accounts, the
certificate, the address of the pages, the products in force, and the plant with
its notices, where the station has one. Each finding is fine, to do, wrong, or not
looked at, with what to do about it; what matters most comes first. A page of the
station shows the same.

Nothing is moved and no port is opened. It works while a station runs, without
records, and as an ordinary user: best as the one who runs the station. A few
lines are written beside the records, to measure the disk, and removed.

Exit status: 0 nothing is wrong, 3 something is, and must be put right first.`,
		Example: `  padjig doctor
  padjig doctor --json
  padjig doctor --listen :443 --tls-cert c.pem --tls-key k.pem
  padjig doctor --plant postgres://plant_station_7@db/plant --member line-2`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			if err := server.WrongAddress(asked.Listen); err != nil {
				return err
			}
			asked.Computer = look.This()
			found, err := examined(cmd.Context(), asked, store)
			if err != nil {
				return err
			}
			out, words := terminal.Of(cmd.OutOrStdout()), doctorWords()
			if asJSON {
				err = object.Print(out, object.Doctor{Outcome: doctor.Worst(found), Findings: doctor.Lines(found, words)})
			} else {
				sayFindings(out, found, words)
			}
			if err == nil && doctor.Worst(found) == doctor.Wrong {
				return command.Quiet(command.NotMeasured)
			}
			return err
		},
	}
	f := cmd.Flags()
	f.StringVar(&asked.Listen, "listen", server.UsualAddress, "`ADDRESS` that the station serves its pages at")
	f.StringVar(&asked.Cert, "tls-cert", "", "its certificate `FILE` (PEM)")
	f.StringVar(&asked.Key, "tls-key", "", "its key `FILE` (PEM)")
	cmd.MarkFlagsRequiredTogether("tls-cert", "tls-key")
	command.PlantFlag(cmd, &asked.Plant.Address)
	command.MemberFlag(cmd, &asked.Plant.Member)
	f.StringVar(&asked.Plant.Keys, "plant-key", "", "`FILE` with the plant's public keys")
	command.Group(f, command.OfPlant, "plant", "member", "plant-key")
	cmd.MarkFlagsRequiredTogether("plant", "member")
	command.JSONFlag(cmd, &asJSON)
	command.StoreFlag(cmd, &store)
	return cmd
}

// examined looks, with the records or without.
func examined(ctx context.Context, asked look.Asked, store string) ([]doctor.Finding, error) {
	asked.Path = command.BesideStore(store)
	s, err := command.ReadOwnStore(ctx, store)
	if err == nil {
		defer s.Close()
		asked.Store, asked.At = s, command.StoreArgument(s)
	} else {
		asked.Failed = err
		if store != "" {
			asked.At = " --store " + command.Concealed(store)
		}
	}
	if ctx.Err() != nil {
		return nil, ctx.Err()
	}
	return doctor.Examine(look.At(ctx, asked)), nil
}

// doctorWords are those of findings, and of what is due on a jig.
func doctorWords() wording.Words {
	all := wording.Facts()
	command.Must(all.Add(report.Texts(), doctor.Texts()))
	return all.In(wording.First)
}

const outcomeWide = len("not looked at  ")

func sayFindings(t terminal.Terminal, found []doctor.Finding, words wording.Words) {
	colours := map[doctor.Outcome]string{doctor.Wrong: terminal.Red, doctor.ToDo: terminal.Yellow, doctor.Blind: terminal.Dim, doctor.Fine: terminal.Green}
	counts := map[doctor.Outcome]int{}
	indent := strings.Repeat(" ", outcomeWide)
	for _, l := range doctor.Lines(found, words) {
		counts[l.Outcome]++
		said := doctor.SayOutcome(l.Outcome, words)
		fmt.Fprintf(t, "%s%s%s\n", t.In(said, colours[l.Outcome]), strings.Repeat(" ", outcomeWide-len(said)),
			t.Wrap(outcomeWide, l.Name+": "+l.Says))
		if l.Try != "" {
			fmt.Fprintf(t, "%s  try: %s\n", indent, t.Wrap(outcomeWide+4, l.Try))
		}
	}
	fmt.Fprintf(t, "\n%d wrong, %d to do, %d not looked at, %d fine\n",
		counts[doctor.Wrong], counts[doctor.ToDo], counts[doctor.Blind], counts[doctor.Fine])
}
