package jig

// padjig jig parts: parts wear by use, and whoever puts one in says so here.

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"strings"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/object"
	"padjig/results"
	"padjig/results/care"
	"padjig/results/floor"
)

// partsOptions are the flags of padjig jig parts.
type partsOptions struct {
	store, replaced, removed, limit, file string
	name, lot, tip, serves, by, note      string
	warn, block                           int
	json, simulated                       bool
}

func newParts() *cobra.Command {
	var o partsOptions
	cmd := &cobra.Command{
		Use:     "parts JIG",
		Aliases: []string{"wear"},
		Short:   "Show the parts of a jig and how often each was used, and record what was put in",
		Long: `Shows the parts of a jig - nest, adapter, probe sets, cables, actuators - with
what they are and how often each was used since it was new, counted from the
runs, beside the limits; what must be replaced comes first. JIG is the jig's
serial number; no jig need be connected.

--replaced records what was put in, by whom. Its count begins anew, so it has to
be said what it is: --name, its own name or serial number, or --lot. Probe sets,
cables and adapters have a --name always, and their count goes where they go: take one
out with --removed before it is fitted to another jig. --serves names the
channels of a probe set or cable, from 1; runs of a product whose tail reaches none of
them do not count for it. --limit sets when to warn, and from when units are refused
until the part is replaced. A part is "nest", "actuator 7", "probe set", "probe
set 2", "cable", "cable 2" or "adapter".

--file describes several parts at once; what is so already is left as it is:
  jig: J-0042
  parts:
    probe set 1: {name: PS-0017, lot: L-12, tip: crown, serves: 1-20, warn: 90000, block: 100000}
    actuator 7: {lot: T-3}`,
		Example: `  padjig jig parts J-0042
  padjig jig parts J-0042 --limit "actuator 7" --warn 900000 --block 1000000 --operator "Ann Lee"
  padjig jig parts J-0042 --replaced "actuator 7" --lot 12 --operator "Ann Lee"
  padjig jig parts J-0042 --replaced "probe set" --name PS-0017 --tip crown --operator "Ann Lee"
  padjig jig parts J-0042 --removed "probe set" --operator "Ann Lee"`,
		Args: command.Exactly(1, oneJig),
		RunE: func(cmd *cobra.Command, args []string) error { return o.run(cmd, args[0]) },
	}
	f := cmd.Flags()
	f.StringVar(&o.replaced, "replaced", "", "record what was put in as `PART`")
	f.StringVar(&o.removed, "removed", "", "record that `PART` was taken out, and nothing put in its place")
	f.StringVar(&o.limit, "limit", "", "set the limits of `PART`")
	f.StringVar(&o.file, "file", "", "record the parts that `FILE` describes")
	f.StringVar(&o.name, "name", "", "own `NAME` or serial number of what was put in")
	f.StringVar(&o.lot, "lot", "", "`LOT` of what was put in")
	f.StringVar(&o.tip, "tip", "", "what its tips are `LIKE`, such as crown or round")
	f.StringVar(&o.serves, "serves", "", "`CHANNELS` that it serves, like 1-20; without it all")
	f.IntVar(&o.warn, "warn", 0, "uses from which to warn")
	f.IntVar(&o.block, "block", 0, "uses from which to refuse units")
	command.OperatorFlag(cmd, &o.by, "`NAME` of whoever did it")
	f.StringVar(&o.note, "note", "", "anything else worth keeping")
	f.BoolVar(&o.simulated, "simulated", false, "of a simulated jig")
	cmd.MarkFlagsMutuallyExclusive("replaced", "removed", "limit", "file")
	command.JSONFlag(cmd, &o.json)
	command.StoreFlag(cmd, &o.store)
	return cmd
}

func (o *partsOptions) run(cmd *cobra.Command, jig string) error {
	if o.replaced+o.removed+o.limit+o.file == "" {
		return o.show(cmd, jig)
	}
	if !command.SaysWho(cmd, strings.TrimSpace(o.by)) {
		return command.WrongUsef("--operator is missing: name who replaced the part or set its limits")
	}
	wanted, err := o.events(cmd, jig)
	if err != nil {
		return err
	}
	store, err := command.OpenStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	if err := command.As(cmd, store, &o.by, account.Engineers); err != nil {
		return err
	}
	for i := range wanted {
		wanted[i].By = o.by
	}
	if o.file != "" {
		if wanted, err = store.Care.Settle(cmd.Context(), wanted); err != nil {
			return command.RecordsFailed(store, err)
		}
		if len(wanted) == 0 {
			fmt.Fprintf(cmd.OutOrStdout(), "nothing to record: jig %s is as the file says\n", jig)
			return nil
		}
	}
	if err := store.Care.SaveWear(cmd.Context(), wanted...); err != nil {
		return partFailed(store, err)
	}
	for _, e := range wanted {
		fmt.Fprintf(cmd.OutOrStdout(), "recorded for jig %s: %s\n", jig, saidOf(e))
	}
	return nil
}

func partFailed(s *results.Store, err error) error {
	if e, ok := errors.AsType[*care.PartError](err); ok {
		return command.Fail(command.Wrong, e, e.Remedy)
	}
	return command.RecordsFailed(s, err)
}

// events is what is to be recorded.
func (o *partsOptions) events(cmd *cobra.Command, jig string) ([]care.WearEvent, error) {
	if o.file != "" {
		return o.ofFile(cmd, jig)
	}
	if o.limit != "" && (o.warn < 1 || o.block < o.warn) {
		return nil, command.WrongUsef("--limit needs --warn and --block in uses, --block not below --warn")
	}
	part, err := care.ParsePart(cmp.Or(o.replaced, o.removed, o.limit))
	if err != nil {
		return nil, command.WrongUse(err)
	}
	e := care.WearEvent{Jig: jig, Part: part, Simulated: o.simulated, Removed: o.removed != "", By: o.by, Note: o.note}
	if o.limit != "" {
		e.Warn, e.Block = o.warn, o.block
	} else if o.warn+o.block > 0 {
		return nil, command.WrongUsef("--warn and --block belong to --limit: record one event after the other")
	}
	if o.replaced != "" {
		e.Name, e.Lot, e.Tip = o.name, o.lot, o.tip
		if e.Serves, err = care.ParseChannels(o.serves); err != nil {
			return nil, command.WrongUse(err)
		}
	} else if o.name+o.lot+o.tip+o.serves != "" {
		return nil, command.WrongUsef("--name, --lot, --tip and --serves say what was put in: they belong to --replaced")
	}
	return []care.WearEvent{e}, nil
}

func saidOf(e care.WearEvent) string {
	switch {
	case e.Block > 0:
		return fmt.Sprintf("%s warns from %d uses and blocks from %d, set by %s", e.Part, e.Warn, e.Block, e.By)
	case e.Removed:
		return fmt.Sprintf("%s taken out by %s", e.Part, e.By)
	}
	return strings.Join(append([]string{e.Part + " replaced by " + e.By}, whatItIs(e)...), ", ")
}

// whatItIs says what was put in, word by word.
func whatItIs(e care.WearEvent) (words []string) {
	for _, w := range []struct{ before, text string }{
		{"", e.Name}, {"lot ", e.Lot}, {"tips ", e.Tip}, {"channels ", care.Channels(e.Serves)},
	} {
		if w.text != "" {
			words = append(words, w.before+w.text)
		}
	}
	return words
}

func (o *partsOptions) show(cmd *cobra.Command, jig string) error {
	store, err := command.ReadStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	parts, err := store.Care.Wear(cmd.Context(), jig, o.simulated)
	if err != nil {
		return command.RecordsFailed(store, err)
	}
	if o.json {
		return object.Print(cmd.OutOrStdout(), object.Wear{Jig: jig, Parts: command.Each(parts, object.PartOf)})
	}
	clock, err := command.PlantClock(cmd.Context(), store)
	if err != nil {
		return err
	}
	printParts(cmd.OutOrStdout(), clock, jig, parts)
	return nil
}

func printParts(to io.Writer, clock floor.Clock, jig string, parts []care.PartWear) {
	fmt.Fprintf(to, "jig %s, uses since each part was new\n\n", jig)
	fmt.Fprintf(to, "%-14s %10s %10s %10s  %s\n", "part", "uses", "warn", "block", "")
	for _, p := range parts {
		line := fmt.Sprintf("%-14s %10d %10s %10s  %s", p.Part, p.Uses, limitText(p.Warn), limitText(p.Block), partNote(clock, p))
		fmt.Fprintln(to, strings.TrimRight(line, " "))
	}
}

func limitText(n int) string {
	if n == 0 {
		return "-"
	}
	return fmt.Sprint(n)
}

func partNote(clock floor.Clock, p care.PartWear) string {
	var notes []string
	switch {
	case p.Worn():
		notes = append(notes, "REPLACE NOW")
	case p.Wearing():
		notes = append(notes, "replace soon")
	}
	if p.Replaced != nil {
		notes = append(notes, whatItIs(*p.Replaced)...)
		notes = append(notes, fmt.Sprintf("replaced %s by %s", clock.Day(p.Replaced.At), p.Replaced.By))
	}
	if p.Before > 0 {
		notes = append(notes, fmt.Sprintf("%d of the uses before it was fitted here", p.Before))
	}
	return strings.Join(notes, ", ")
}
