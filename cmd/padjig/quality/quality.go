// Package quality is padjig quality: what the line is doing, from the records. Each
// file turns flags into one question of results/answers and prints the document; none
// of them reckons.
package quality

import (
	"errors"
	"fmt"
	"io"
	"net/url"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/asked"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/output"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/object"
	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/choice"
	"padjig/results/lines"
	"padjig/results/report"
)

// Command is padjig quality with all that is below it.
func Command() *cobra.Command {
	return command.Noun("quality", "Say what the line is doing, from the records",
		`  padjig quality yield --by jig,shift
  padjig quality causes --by place --heat
  padjig quality chart --product GCC-20 --revision C --key 7 --jig J-0042`,
		newOverview(), newYield(), newCauses(), newUnits(), newChart(), newDistributions(),
		newCapability(), newCompare(),
		newShift(), newStops(), newLots(), newExport(),
		newProbes(), newSampling(), newRetest(), newLimits(), newGauge())
}

// selection are the flags that choose runs, and those that say in which form
// the answer is written.
type selection struct {
	store, product, actuation, from, to, zone string
	span                                      string
	revisions, lots, jigs, shifts, operators  []string
	stations                                  []string
	simulated, json, csv                      bool
	html                                      string
	confidence                                float64
	interval                                  string
}

func (s *selection) flags(cmd *cobra.Command) {
	f := cmd.Flags()
	f.StringVar(&s.product, "product", "", "only of the product with this `CODE` (default the one tested last);\nall for all")
	f.StringSliceVar(&s.revisions, "revision", nil, "only of these revisions, by `LABEL` (default the newest in force);\nall for all")
	f.StringSliceVar(&s.lots, "lot", nil, "only with one of these `LOT`s in use, of any material")
	f.StringSliceVar(&s.jigs, "jig", nil, "only on these jigs, by serial `NUMBER`")
	f.StringSliceVar(&s.shifts, "shift", nil, "only in these shifts, by `NAME`")
	f.StringSliceVar(&s.operators, "tested-by", nil, "only tested by these operators, by `NAME`")
	f.StringSliceVar(&s.stations, "station", nil, "only at these stations, by `NAME`: of a plant's records")
	f.StringVar(&s.actuation, "actuation", "", "only pressed like this: mechanical, electrical or hand")
	f.StringVar(&s.span, "span", "", "of this `TIME` up to now: today, shift, lot (since the last change),\ndays such as 14d, or all (default 7d)")
	f.StringVar(&s.from, "from", "", "from this `TIME` on: 2026-03-02 or 2026-03-02T14:00")
	f.StringVar(&s.to, "to", "", "to this `TIME`; a day is taken in whole")
	f.StringVar(&s.zone, "zone", "", "time `ZONE` of days and times, such as Europe/Vienna (default that of\nthe plant)")
	f.BoolVar(&s.simulated, "simulated", false, "of simulated runs, which are never counted with real ones (default\nwhere there are no others)")
	f.Float64Var(&s.confidence, "confidence", answers.Confidence, "of the intervals, and of what is called a difference")
	f.StringVar(&s.interval, "interval", "wilson", "of shares: wilson or exact (Clopper-Pearson)")
	command.JSONFlag(cmd, &s.json)
	f.BoolVar(&s.csv, "csv", false, "print the tables as CSV")
	f.StringVar(&s.html, "html", "", "write one page with charts to `FILE`, fit for print")
	command.Group(f, command.OfRuns, "product", "revision", "lot", "jig", "shift", "tested-by", "station", "actuation", "span",
		"from", "to", "zone", "simulated")
	command.Group(f, command.OfFigures, "confidence", "interval")
	command.Group(f, command.OfOutput, "csv", "html")
	command.StoreFlag(cmd, &s.store)
}

// refuseFlag says of a flag of before what took its place.
func refuseFlag(cmd *cobra.Command, old, instead string) {
	f := cmd.Flags()
	f.Var(refusedFlag(instead), old, "")
	f.Lookup(old).NoOptDefVal = "-"
	command.Must(f.MarkHidden(old))
}

// refusedFlag is a flag there is no more, by what to write instead.
type refusedFlag string

func (r refusedFlag) String() string { return "" }

// Type is what help would call the value.
func (r refusedFlag) Type() string { return "" }

// Set refuses every value.
func (r refusedFlag) Set(string) error { return errors.New(string(r)) }

// asked gives what the flags choose, with days in a zone, or everything wrong with them.
func (s *selection) asked(simulatedSaid bool, zone *time.Location) (choice.Asked, error) {
	var wrong []error
	zone, err := asked.Zone(s.zone, zone)
	if err != nil {
		wrong = append(wrong, err)
	}
	v := url.Values{"product": {s.product}, "actuation": {s.actuation}, "from": {s.from}, "to": {s.to}, "revision": s.revisions,
		"lot": s.lots, "jig": s.jigs, "shift": s.shifts, "operator": s.operators, "station": s.stations, choice.Since: {s.span}}
	if simulatedSaid {
		v.Set("simulated", map[bool]string{true: "1", false: "0"}[s.simulated])
	}
	a, err := choice.Parse(v, zone)
	if err != nil {
		wrong = append(wrong, err)
	}
	if err := s.certainty().Check(); err != nil {
		wrong = append(wrong, err)
	}
	if s.json && s.csv {
		wrong = append(wrong, errors.New("--json and --csv are two forms: choose one"))
	}
	return a, errors.Join(wrong...)
}

func (s *selection) certainty() asked.Certainty {
	return asked.Certainty{Confidence: s.confidence, Interval: s.interval}
}

// choose completes what the flags say in the plant's zone, for a question about such runs.
func (s *selection) choose(cmd *cobra.Command, store *results.Store, of choice.Of) (choice.Chosen, error) {
	clock, err := store.Floor.Clock(cmd.Context())
	if err != nil {
		return choice.Chosen{}, err
	}
	a, err := s.asked(cmd.Flags().Changed("simulated"), clock.Zone())
	if err != nil {
		return choice.Chosen{}, command.WrongUse(err)
	}
	c, err := s.certainty().Of(cmd.Context(), store, a, of, time.Now())
	if errors.Is(err, choice.ErrNoShift) {
		return c, command.Fail(command.Wrong, err, "padjig quality shift --set ..., or --span with days")
	}
	s.simulated = c.Filter.Simulated
	return c, oneStation(err)
}

// answer opens the records, has a question about runs answered and writes the answer.
func (s *selection) answer(cmd *cobra.Command, more error, ask func(*results.Store, answers.Selection) (report.Document, error)) error {
	return s.answerOf(cmd, choice.Runs, more, func(store *results.Store, c choice.Chosen) (report.Document, error) { return ask(store, c.Selection) })
}

// answerOf is answer for a question about other runs where nothing is said.
func (s *selection) answerOf(cmd *cobra.Command, of choice.Of, more error,
	ask func(*results.Store, choice.Chosen) (report.Document, error)) error {
	_, err := s.asked(true, time.UTC)
	if err = errors.Join(err, more); err != nil {
		return command.WrongUse(err)
	}
	store, err := command.ReadStore(cmd.Context(), s.store)
	if err != nil {
		return err
	}
	defer store.Close()
	c, err := s.choose(cmd, store, of)
	if err != nil {
		return err
	}
	d, err := ask(store, c)
	if err != nil {
		return unanswered(err, c)
	}
	d = asked.Told(d, c)
	if s.html != "" {
		if err := s.page(d); err != nil {
			return err
		}
	}
	return s.print(cmd.OutOrStdout(), d)
}

func (s *selection) print(to io.Writer, d report.Document) error {
	t := terminal.Of(to)
	var err error
	switch {
	case s.json:
		err = object.Print(t, d.Object())
	case s.csv:
		err = d.CSV(t)
	default:
		err = d.Text(t, t.Wide)
	}
	if err != nil {
		return command.Fail(command.NotRecorded, fmt.Errorf("print the answer: %w", err), "")
	}
	return nil
}

func (s *selection) page(d report.Document) error {
	return output.Write(s.html, output.QualityPage, command.BesideStore(s.store), d.HTML)
}

// oneStation says where stations can be told apart.
func oneStation(err error) error {
	if errors.Is(err, lines.ErrOneStation) {
		return command.Fail(command.Wrong, err, "--store with the address of the plant's database, or leave stations out")
	}
	return err
}

// unanswered tells a selection that cannot be answered from records that cannot be read.
func unanswered(err error, c choice.Chosen) error {
	mixed, isMixed := errors.AsType[*lines.MixedError](err)
	missing, isMissing := errors.AsType[*lines.MissingKeysError](err)
	_, isFew := errors.AsType[*answers.TooFewError](err)
	none, isNone := errors.AsType[*answers.NoKeyError](err)
	switch {
	case isMixed && len(mixed.Products) > 1:
		return command.Fail(command.Wrong, mixed, "--product "+mixed.Products[0])
	case isMixed:
		return command.Fail(command.Wrong, mixed, "--revision "+mixed.Revisions[len(mixed.Revisions)-1].Label)
	case isMissing:
		return command.Fail(command.Wrong, missing, "--key "+missing.Known[0])
	case errors.Is(err, lines.ErrNoUnits):
		return command.Fail(command.Wrong, fmt.Errorf("%w: %s", lines.ErrNoUnits, c.Filter), otherRuns(c))
	case isNone:
		return command.WrongUse(none)
	case isFew, errors.Is(err, answers.ErrNoSpread), errors.Is(err, answers.ErrEmpty):
		return command.Fail(command.Wrong, err, "a wider selection")
	}
	return oneStation(err)
}

func otherRuns(c choice.Chosen) string {
	switch {
	case c.Instead != nil:
		return fmt.Sprintf("--from %s --to %s, where the last units are", c.Instead.From, c.Instead.To)
	case !c.Filter.Simulated:
		return "a wider selection, or --simulated for simulated runs"
	}
	return "a wider selection, or without --simulated for real runs"
}

// parsed reads a list of names, and lists all that are wrong.
func parsed[T any](names []string, parse func(string) (T, error)) ([]T, error) {
	var list []T
	var wrong []error
	for _, name := range names {
		v, err := parse(strings.TrimSpace(name))
		if err != nil {
			wrong = append(wrong, err)
			continue
		}
		list = append(list, v)
	}
	return list, errors.Join(wrong...)
}
