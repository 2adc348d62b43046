package records

// padjig records shipped: what has left has to be called back if its jig was in doubt.

import (
	"bytes"
	"context"
	"errors"
	"fmt"
	"io"
	"slices"
	"strings"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/results"
	"padjig/results/floor"
)

// largestList is the largest list of units, in bytes.
const largestList = 8 << 20

func newShipped() *cobra.Command {
	var c floor.Shipment
	var store, file string
	cmd := &cobra.Command{
		Use:   "shipped [SERIAL...] --operator NAME",
		Short: "Record that units were shipped",
		Long: `Records that units left, or with --in-stock that they are here again. Their
serial numbers are arguments, or stand in a file, one a line; "--file -" reads
them from standard input, as a scanner types them. padjig jig suspects says of
every unit in doubt whether it was shipped.

All of the units are recorded, or none: one that was never tested, that has not
passed by its last judgement, that has an open returns case or that is where it is said to
be already stops all of them. --although records a unit that was shipped without having passed.`,
		Example: `  padjig records shipped GCC-000001-3 GCC-000002-1 --to "Glasshouse North" --operator Ines
  padjig records shipped --file pallet-7.txt --operator Ines
  padjig records shipped GCC-000001-3 --in-stock --note "box was not collected" --operator Ines`,
		RunE: func(cmd *cobra.Command, args []string) error {
			serials, err := units(cmd, args, file)
			if err != nil {
				return err
			}
			if !command.SaysWho(cmd, strings.TrimSpace(c.By)) {
				return command.WrongUsef("--operator is missing: name who says so")
			}
			s, err := command.OpenStore(cmd.Context(), store)
			if err != nil {
				return err
			}
			defer s.Close()
			if err := command.As(cmd, s, &c.By, account.Roles); err != nil {
				return err
			}
			if err := record(cmd.Context(), s, serials, c); err != nil {
				return err
			}
			fmt.Fprintf(cmd.OutOrStdout(), "recorded: %s %s\n", command.Count(len(serials), "unit"), c.Where())
			return nil
		},
	}
	f := cmd.Flags()
	f.StringVar(&file, "file", "", "`FILE` with the serial numbers, one a line; - for standard input")
	f.StringVar(&c.Consignee, "to", "", "`CONSIGNEE` they went to")
	f.BoolVar(&c.InStock, "in-stock", false, "they are in stock again")
	f.StringVar(&c.Although, "although", "", "`REASON` why units are shipped that have not passed by the records")
	command.OperatorFlag(cmd, &c.By, "`NAME` of whoever says so")
	f.StringVar(&c.Note, "note", "", "anything worth keeping")
	f.BoolVar(&c.Simulated, "simulated", false, "units that were tested on simulated jigs")
	cmd.MarkFlagsMutuallyExclusive("in-stock", "to")
	cmd.MarkFlagsMutuallyExclusive("in-stock", "although")
	command.StoreFlag(cmd, &store)
	return cmd
}

// units are the serial numbers that are named, each once.
func units(cmd *cobra.Command, args []string, file string) ([]string, error) {
	all := args
	if file != "" {
		text, err := list(cmd, file)
		if err != nil {
			return nil, command.Fail(command.Wrong, fmt.Errorf("read the units shipped: %w", err), "")
		}
		if len(text) > largestList {
			return nil, command.WrongUsef("%s is larger than %d MiB: is it a list of serial numbers?", file, largestList>>20)
		}
		for line := range bytes.Lines(text) {
			if serial := strings.TrimSpace(string(line)); serial != "" {
				all = append(all, serial)
			}
		}
	}
	var once []string
	seen := map[string]bool{}
	for _, serial := range all {
		if !seen[serial] {
			seen[serial], once = true, append(once, serial)
		}
	}
	if len(once) == 0 {
		return nil, command.WrongUsef("no units are named: write their serial numbers, or --file FILE")
	}
	return once, nil
}

func list(cmd *cobra.Command, file string) ([]byte, error) {
	if file == "-" {
		return io.ReadAll(io.LimitReader(cmd.InOrStdin(), largestList+1))
	}
	return command.ReadAtMost(file, largestList+1)
}

func record(ctx context.Context, s *results.Store, serials []string, c floor.Shipment) error {
	back := slices.DeleteFunc(slices.Clone(serials), func(string) bool { return c.InStock })
	for _, serial := range back {
		number, err := s.Returns.OpenCaseOf(ctx, serial)
		if err != nil {
			return command.RecordsFailed(s, err)
		}
		if number > 0 {
			return command.Fail(command.Wrong, fmt.Errorf("unit %s has the open returns case %d; nothing was recorded", serial, number),
				fmt.Sprintf("padjig returns show %s%s, that says what is next", serial, command.StoreArgument(s)))
		}
	}
	err := s.Floor.SaveShipment(ctx, serials, c)
	if refused, ok := errors.AsType[*floor.ShipmentError](err); ok {
		return command.Fail(command.Wrong, fmt.Errorf("%w; nothing was recorded", refused), remedyOf(refused))
	}
	if err != nil {
		return command.RecordsFailed(s, err)
	}
	return nil
}

func remedyOf(e *floor.ShipmentError) string {
	switch e.Units[0].Why {
	case "unknown":
		return "the serial number as it stands on the label; --simulated for what was tested on a simulated jig"
	case "not passed":
		return "keep it here and test it; --although REASON if it has left all the same"
	}
	return "leave it out of the list"
}
