package jig

// padjig jig wear: parts wear by use, and whoever replaces one says so here.

import (
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/object"
	"padjig/results/care"
)

// wearOptions are the flags of padjig jig wear.
type wearOptions struct {
	store, replaced, limit, by, note string
	warn, block                      int
	json                             bool
}

func newWear() *cobra.Command {
	var o wearOptions
	cmd := &cobra.Command{
		Use:   "wear JIG",
		Short: "Show how often each part of a jig was used, and record replacements",
		Long: `Shows how often the nest of a jig was mated and each actuator pressed since it
was last replaced, counted from the runs, beside the limits. JIG is the jig's
serial number; no jig need be connected.

--replaced records that a part was replaced, by whom; its count begins anew.
--limit sets when to warn, and from when units are refused until the part is
replaced. A part is "nest" or "actuator 7", counted from 1.`,
		Example: `  padjig jig wear J-0042
  padjig jig wear J-0042 --limit "actuator 7" --warn 900000 --block 1000000 --operator "Ann Lee"
  padjig jig wear J-0042 --replaced "actuator 7" --operator "Ann Lee" --note "tip of lot 12"`,
		Args: command.Exactly(1, oneJig),
		RunE: func(cmd *cobra.Command, args []string) error { return o.run(cmd, args[0]) },
	}
	f := cmd.Flags()
	f.StringVar(&o.replaced, "replaced", "", "record that `PART` was replaced")
	f.StringVar(&o.limit, "limit", "", "set the limits of `PART`")
	f.IntVar(&o.warn, "warn", 0, "uses from which to warn")
	f.IntVar(&o.block, "block", 0, "uses from which to refuse units")
	command.OperatorFlag(cmd, &o.by, "`NAME` of whoever replaced it or set the limits")
	f.StringVar(&o.note, "note", "", "anything worth keeping, such as the part's lot")
	command.JSONFlag(cmd, &o.json)
	command.StoreFlag(cmd, &o.store)
	return cmd
}

func (o *wearOptions) run(cmd *cobra.Command, jig string) error {
	event, err := o.event(cmd, jig)
	if err != nil {
		return err
	}
	if event == nil {
		return o.show(cmd, jig)
	}
	store, err := command.OpenStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	if err := command.As(cmd, store, &event.By, account.Engineers); err != nil {
		return err
	}
	if err := store.Care.SaveWear(cmd.Context(), *event); err != nil {
		return command.RecordsFailed(store, err)
	}
	fmt.Fprintf(cmd.OutOrStdout(), "recorded for jig %s: %s\n", jig, saidOf(*event))
	return nil
}

// event is what is to be recorded, nil for nothing.
func (o *wearOptions) event(cmd *cobra.Command, jig string) (*care.WearEvent, error) {
	part := o.replaced + o.limit
	switch {
	case part == "":
		return nil, nil
	case o.replaced != "" && o.limit != "":
		return nil, command.WrongUsef("--replaced and --limit are two events: record one after the other")
	case !command.SaysWho(cmd, o.by):
		return nil, command.WrongUsef("--operator is missing: name who replaced the part or set its limits")
	case o.limit != "" && (o.warn < 1 || o.block < o.warn):
		return nil, command.WrongUsef("--limit needs --warn and --block in uses, --block not below --warn")
	}
	name, err := care.ParsePart(part)
	if err != nil {
		return nil, command.WrongUse(err)
	}
	e := &care.WearEvent{Jig: jig, Part: name, By: o.by, Note: o.note}
	if o.limit != "" {
		e.Warn, e.Block = o.warn, o.block
	}
	return e, nil
}

func saidOf(e care.WearEvent) string {
	if e.Block > 0 {
		return fmt.Sprintf("%s warns from %d uses and blocks from %d, set by %s", e.Part, e.Warn, e.Block, e.By)
	}
	return fmt.Sprintf("%s replaced by %s", e.Part, e.By)
}

func (o *wearOptions) show(cmd *cobra.Command, jig string) error {
	store, err := command.ReadStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	parts, err := store.Care.Wear(cmd.Context(), jig)
	if err != nil {
		return command.RecordsFailed(store, err)
	}
	if o.json {
		return object.Print(cmd.OutOrStdout(), object.Wear{Jig: jig, Parts: command.Each(parts, object.PartOf)})
	}
	printWear(cmd.OutOrStdout(), jig, parts)
	return nil
}

func printWear(to io.Writer, jig string, parts []care.PartWear) {
	fmt.Fprintf(to, "jig %s, uses since each part was replaced\n\n", jig)
	fmt.Fprintf(to, "%-14s %10s %10s %10s  %s\n", "part", "uses", "warn", "block", "")
	for _, p := range parts {
		line := fmt.Sprintf("%-14s %10d %10s %10s  %s", p.Part, p.Uses, limitText(p.Warn), limitText(p.Block), wearNote(p))
		fmt.Fprintln(to, strings.TrimRight(line, " "))
	}
}

func limitText(n int) string {
	if n == 0 {
		return "-"
	}
	return fmt.Sprint(n)
}

func wearNote(p care.PartWear) string {
	var notes []string
	switch {
	case p.Worn():
		notes = append(notes, "REPLACE NOW")
	case p.Wearing():
		notes = append(notes, "replace soon")
	}
	if p.Replaced != nil {
		notes = append(notes, fmt.Sprintf("replaced %s by %s", p.Replaced.At.Local().Format("2006-01-02"), p.Replaced.By))
	}
	return strings.Join(notes, ", ")
}
