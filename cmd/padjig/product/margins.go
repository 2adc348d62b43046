package product

// padjig product margins: limits that let pass what the scanner in the field misreads are
// found before anything is tested by them.

import (
	"errors"
	"fmt"
	"strconv"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/object"
	"padjig/fixture/quantity"
	"padjig/sequence/margin"
	"padjig/sequence/product"
)

func newMargins() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "margins FILE...",
		Short: "Show how well the scanner in the field will read the keypad",
		Long: `Computes from the scanner in each product file, worst case over its tolerances:
the level of a row with a key pressed and released, and its margin to the
threshold; the resistances that the scanner would still put up with; which keys
held together are misread; whether lines settle and short presses are seen; and
what the ports must bear. docs/margins.md has every formula.

Exit status: 1 when a product's limits are looser than its scanner allows, so
that a unit could pass and not work, or when a key is never read; else 0, also
with warnings about the scanner itself. A product that states no scanner is
named and changes nothing. 2 when a file is wrong.`,
		Example: `  padjig product margins my-pad.yaml
  padjig product margins testdata/products/*.yaml --json`,
		Args: command.AtLeast(1, "one product file or more"),
		RunE: func(cmd *cobra.Command, files []string) error {
			all, err := marginsOf(cmd, files)
			if err != nil {
				return err
			}
			if asJSON {
				err = object.Print(cmd.OutOrStdout(), object.Margins{Products: command.Each(all, margins.object)})
			} else {
				printMargins(terminal.Of(cmd.OutOrStdout()), all)
			}
			if err != nil {
				return err
			}
			return command.Quiet(marginsStatus(all))
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the margins of all files as one JSON object")
	return cmd
}

// margins is what the scanner makes of the product in a file.
type margins struct {
	*product.Product
	*margin.Report // nil when the product states no scanner
	file           string
}

func marginsOf(cmd *cobra.Command, files []string) (all []margins, err error) {
	for _, file := range files {
		p, err := command.LoadProduct(cmd, file)
		if err != nil {
			return nil, err
		}
		r, err := margin.Of(p)
		if err != nil && !errors.Is(err, margin.ErrNoScanner) {
			return nil, fmt.Errorf("compute margins of %s: %w", file, err)
		}
		all = append(all, margins{p, r, file})
	}
	return all, nil
}

func (m margins) object() object.ProductMargins {
	conclusion := ""
	if m.Report != nil {
		conclusion = marginSheet{sheet{terminal.Terminal{}, m.Product}, m}.conclusion()
	}
	return object.ProductMarginsOf(m.file, m.Product, m.Report, conclusion)
}

func marginsStatus(all []margins) int {
	for _, m := range all {
		if len(m.loose()) > 0 {
			return command.Failed
		}
	}
	return command.OK
}

// loose is the warnings about limits.
func (m margins) loose() (all []margin.Warning) {
	if m.Report == nil {
		return nil
	}
	for _, w := range m.Warnings {
		if w.Loose {
			all = append(all, w)
		}
	}
	return all
}

func (m margins) looseKeys() int {
	keys := map[int]bool{}
	for _, w := range m.loose() {
		for _, k := range w.Keys {
			keys[k] = true
		}
	}
	return len(keys)
}

func printMargins(t terminal.Terminal, all []margins) {
	for i, m := range all {
		if i > 0 {
			fmt.Fprintln(t)
		}
		marginSheet{sheet{t, m.Product}, m}.print()
	}
}

// marginSheet is the margins of one product on a page.
type marginSheet struct {
	sheet
	m margins
}

func (s marginSheet) print() {
	fmt.Fprintf(s, "%s  %s\n", s.In(command.Named(s.Code, s.Revision), terminal.Bold), s.Title)
	if s.m.Report == nil {
		s.say("", "no scanner stated in %s, nothing to compute; docs/product-file.md says how to state one",
			s.m.file)
		return
	}
	s.scanner()
	s.levels()
	s.presses()
	s.timing()
	s.currents()
	s.warnings()
	fmt.Fprintf(s, "\n%s\n", s.Wrap(0, s.conclusion()))
}

func (s marginSheet) scanner() {
	c := s.Scanner
	idle := map[bool]string{false: "floating", true: "driven high"}[c.IdleDriven]
	s.say("", "scanner: supply %v ± %g %%, pull-up %v ± %g %%, low up to %v, high from %v, driver %v, idle "+
		"columns %s",
		c.Supply, 100*c.SupplyTolerance, c.PullUp, 100*c.PullUpTolerance, c.Low, c.High, c.Drive, idle)
	if at := s.m.Contact; at > 0 {
		s.say("", "contacts without a diode keep to their limits at %v, the least that the scanner sends through one", brief(at))
	}
}

// say prints a line after its lead, wrapped under its own beginning.
func (s marginSheet) say(lead, format string, args ...any) {
	indent := len([]rune(lead))
	fmt.Fprintf(s, "%s%s\n", lead, s.Wrap(indent, fmt.Sprintf(format, args...)))
}

// levels shows each set of limits once, by the key with the least margin.
func (s marginSheet) levels() {
	sets, keys := s.limitSets()
	exceptionsFirst(sets, keys)
	for i := range sets {
		s.title("worst case of " + s.whose(keys[i], len(sets)))
		worst := s.m.Nearest(keys[i])
		if worst < 0 {
			fmt.Fprintln(s, "  none of these is ever read")
			continue
		}
		fmt.Fprintf(s, "  %-10s%-10s%-18s%-10s%-11s%s\n", "", "row at", "must be", "margin", "limit",
			"scanner allows")
		k := s.m.Report.Keys[worst]
		s.level("pressed", "at most", k.Pressed)
		s.level("released", "at least", k.Released)
		s.say("  ", "a good unit pulls its row to %v; the contact alone may have %s", brief(k.Typical),
			positive(k.Contact, "up to "+brief(k.Contact)))
	}
}

func (s marginSheet) level(name, side string, l margin.Level) {
	line := fmt.Sprintf("  %-10s%-10v%-18s%-10v%-11v%s", name, brief(l.Row),
		fmt.Sprintf("%s %v", side, brief(l.Threshold)), brief(l.Margin), l.Limit,
		positive(l.Allowed, fmt.Sprintf("%s %v", side, brief(l.Allowed))))
	if l.Margin < 0 {
		line = s.In(line, terminal.Bold, terminal.Red)
	}
	fmt.Fprintln(s, line)
}

// positive is text unless r is no resistance that a key could have.
func positive(r quantity.Ohm, text string) string {
	if r <= 0 || r.IsOpen() {
		return "none"
	}
	return text
}

// presses tells what happens when several keys are held.
func (s marginSheet) presses() {
	s.title("keys held together")
	p := s.m.Presses
	for size := 1; size < len(p.Sizes); size++ {
		s.say(fmt.Sprintf("  %-8s", command.Count(size, "key")), "%s", s.misread(p.Sizes[size]))
	}
	if p.Shared > 0 {
		s.say("  ", "%s the crossing of another and cannot be told from it",
			countVerb(p.Shared, "key", "shares", "share"))
	}
	s.say("  ", "%s", s.ghostWords())
}

func countVerb(n int, what, one, many string) string {
	if n == 1 {
		return command.Count(n, what) + " " + one
	}
	return command.Count(n, what) + " " + many
}

func (s marginSheet) misread(m margin.Misread) string {
	if m.Ghost+m.Lost == 0 {
		return "all read as they are"
	}
	var parts []string
	if m.Ghost > 0 {
		parts = append(parts, fmt.Sprintf("%s a ghost key", countVerb(m.Ghost, "way", "gives", "give")))
	}
	if m.Lost > 0 {
		parts = append(parts, fmt.Sprintf("%s a held key", countVerb(m.Lost, "way", "masks", "mask")))
	}
	return strings.Join(parts, ", ") + ": " + strings.Join(command.Each(m.Examples, s.example), "; ")
}

func (s marginSheet) example(p margin.Press) string {
	text := s.labels(p.Held) + " held"
	if len(p.Ghosts) > 0 {
		text += fmt.Sprintf(", %s read too", s.labels(p.Ghosts))
	}
	if len(p.Lost) > 0 {
		text += fmt.Sprintf(", not sure to be read: %s", s.labels(p.Lost))
	}
	return text
}

func (s marginSheet) labels(keys []int) string {
	return strings.Join(command.Each(keys, func(k int) string { return s.Keys[k].Label }), " ")
}

func (s marginSheet) ghostWords() string {
	sizes, ghosts, lost := s.m.Presses.Sizes, 0, 0
	for _, m := range sizes {
		ghosts, lost = ghosts+m.Ghost, lost+m.Lost
	}
	switch {
	case lost > 0:
		return "a key is masked where a column driven low and one driven high meet on its row; let idle columns " +
			"float, or fit a diode at each key"
	case ghosts > 0:
		return "a ghost that is pressed as well changes nothing: it is masked; a diode at each key cures both"
	}
	return "any keys, up to three, can be held at once"
}

func (s marginSheet) timing() {
	s.title("time")
	c, t := s.Scanner, s.m.Timing
	s.say("  ", "a row settles within %s when released, %s when pressed, and is read after %s",
		settled(t.Rise), settled(t.Fall), quantity.FormatDuration(c.Settle))
	s.say("  ", "a scan of %s takes %s and begins every %s; a press of %s is seen by at least %s once it has "+
		"stopped bouncing",
		command.Count(t.Columns, "column"), quantity.FormatDuration(t.Scan), quantity.FormatDuration(c.Period),
		quantity.FormatDuration(c.ShortestPress), command.Count(s.fewestScans(), "scan"))
}

func (s marginSheet) fewestScans() int {
	fewest := -1
	for _, k := range s.m.Report.Keys {
		if k.Unread == "" && (fewest < 0 || k.Scans < fewest) {
			fewest = k.Scans
		}
	}
	return max(fewest, 0)
}

func (s marginSheet) currents() {
	s.title("current of a column's port, rated " + s.Scanner.PortCurrent.String())
	c := s.m.Currents
	if c.SinkLine >= 0 {
		s.say("  ", "at most %s with every key of %s held", brief(c.Sink), s.Lines[c.SinkLine].Name)
	}
	if c.Fight == nil {
		s.say("  ", "no two keys join two columns")
		return
	}
	s.say("  ", "%s", s.fight(*c.Fight))
}

// fight says what two keys of one row do to the ports of their columns.
func (s marginSheet) fight(f margin.Fight) string {
	keys, row := s.labels([]int{f.Low, f.High}), brief(f.Row)
	typical, most := brief(f.Typical), brief(f.Most)
	switch {
	case f.Blocked:
		return fmt.Sprintf("%s held: %s from port to port with idle columns driven high; the diode of the key "+
			"that is not being read blocks, and the row stays at %s", keys, typical, row)
	case s.Scanner.IdleDriven:
		return fmt.Sprintf("%s held: %s from port to port, %s at most, and the row at %s; a diode at each key "+
			"would block it, idle columns that float would leave it nowhere to come from", keys, typical, most, row)
	}
	return fmt.Sprintf("%s held: nothing from port to port, since idle columns float; driven high they would "+
		"send %s, %s at most, and hold the row at %s", keys, typical, most, row)
}

func (s marginSheet) warnings() {
	if len(s.m.Warnings) == 0 {
		return
	}
	s.title("warnings")
	for _, w := range s.m.Warnings {
		whose := ""
		if len(w.Keys) > 0 {
			whose = s.warned(w.Keys) + ": "
		}
		s.say("  - ", "%s%s", whose, w.Says)
	}
}

// warned names the keys of a warning, all or one by one.
func (s marginSheet) warned(keys []int) string {
	switch {
	case len(keys) == len(s.Keys):
		return "every key"
	case len(keys) == 1:
		return "key " + s.labels(keys)
	}
	return "keys " + s.labels(keys)
}

// conclusion is the one line to remember.
func (s marginSheet) conclusion() string {
	if n := s.m.looseKeys(); n > 0 {
		return s.In(s.Code+": limits looser than the scanner allows", terminal.Bold, terminal.Red) +
			fmt.Sprintf(": %d of %s can pass and not work", n, command.Count(len(s.Keys), "key"))
	}
	every := make([]int, len(s.Keys))
	for k := range every {
		every[k] = k
	}
	worst := s.m.Nearest(every)
	text := fmt.Sprintf("%s: every unit within its limits is read; least margin of a pressed key %s, at %s",
		s.Code, brief(s.m.Report.Keys[worst].Pressed.Margin), s.Keys[worst].Label)
	if n := len(s.m.Warnings); n > 0 {
		text += fmt.Sprintf("; %s about the scanner", command.Count(n, "warning"))
	}
	return text
}

// brief gives a value three digits.
func brief[Q interface {
	~float64
	fmt.Stringer
}](v Q) string {
	rounded, err := strconv.ParseFloat(strconv.FormatFloat(float64(v), 'g', 3, 64), 64)
	if err != nil {
		return v.String()
	}
	return Q(rounded).String()
}

func settled(t time.Duration) string {
	if t == margin.Never {
		return "never"
	}
	return quantity.FormatDuration(t.Round(t / 200)) // three digits
}
