package product

// padjig product show: what the program made of a file, for whoever wrote it.

import (
	"fmt"
	"math"
	"strconv"
	"strings"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/station"
	"padjig/fixture"
	"padjig/fixture/jigsim"
	"padjig/fixture/quantity"
	"padjig/results/answers"
	"padjig/results/report"
	"padjig/results/report/pad"
	"padjig/sequence/decide"
	"padjig/sequence/product"
	"padjig/sequence/runner"
	"padjig/sequence/wording"
)

func newShow() *cobra.Command {
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "show FILE",
		Short: "Show a product: the pad, its lines, its limits, and how it is tested",
		Long: `Shows a product as padjig understands its file: an example of a serial number,
the pad as it looks, its lines and tail pins, its limits, and what a test does,
step by step, with what each step proves. The steps are those for the reference
jig; padjig test plans anew for the jig it finds.

With --json it prints the product as one object, everything filled in: the
text whose hash is the revision.`,
		Example: `  padjig product show testdata/products/gcc-20.yaml
  padjig product show my-pad.yaml --json`,
		Args: command.Exactly(1, "one product file"),
		RunE: func(cmd *cobra.Command, args []string) error {
			p, err := command.LoadProduct(cmd, args[0])
			if err != nil {
				return err
			}
			if asJSON {
				_, err := fmt.Fprintf(cmd.OutOrStdout(), "%s\n", p.Canonical())
				return err
			}
			return sheet{terminal.Of(cmd.OutOrStdout()), p}.print()
		},
	}
	cmd.Flags().BoolVar(&asJSON, "json", false, "print the product as one JSON object")
	return cmd
}

// reference is what the jig of the documentation can do.
func reference() fixture.Capabilities { return fixture.CapabilitiesOf(jigsim.Defaults()) }

// sheet is a product on a page.
type sheet struct {
	terminal.Terminal
	*product.Product
}

func (s sheet) print() error {
	s.head()
	fmt.Fprintf(s, "\n%s", pad.Of(s.Keys, pad.Plain).Text())
	s.lines()
	s.limits()
	s.testBounds()
	s.stopRules()
	return s.plan()
}

func (s sheet) head() {
	fmt.Fprintf(s, "%s  %s\n", s.In(command.Named(s.Code, s.Revision), terminal.Bold), s.Title)
	fmt.Fprintf(s, "%s on %s, %s; serial numbers like %s; revision %.12s\n", command.Count(len(s.Keys), "key"),
		command.Count(len(s.Lines), "line"), command.Count(s.Attempts, "attempt"), s.Serial.Example(), s.Hash())
}

func (s sheet) title(text string) { fmt.Fprintf(s, "\n%s\n", s.In(text, terminal.Bold)) }

// lines lists the tail pins in order, each with the keys its track reaches.
func (s sheet) lines() {
	s.title("lines, by tail pin, with their keys from the tail on")
	wide := 1
	for _, l := range s.Lines {
		wide = max(wide, len([]rune(l.Name)))
	}
	for i, name := range s.Tail {
		if name == "" {
			fmt.Fprintf(s, "  %3d  %-*s  unused\n", i+1, wide, "-")
			continue
		}
		l := s.Lines[s.Line(name)]
		keys := "no keys"
		if len(l.Track) > 0 {
			keys = strings.Join(command.Each(l.Track, func(k int) string { return s.Keys[k].Label }), " ")
		}
		fmt.Fprintf(s, "  %3d  %-*s  %-6s  %s\n", i+1, wide, name, l.Kind, s.Wrap(2+3+2+wide+2+6+2, keys))
	}
}

// limits lists each set of limits once, with the keys it is for.
func (s sheet) limits() {
	sets, keys := s.limitSets()
	exceptionsFirst(sets, keys)
	for i, l := range sets {
		s.title("limits of " + s.whose(keys[i], len(sets)))
		s.limit("contact resistance", band(l.ClosedMin, l.ClosedMax)+s.atCurrent(keys[i][0]))
		s.limit("insulation resistance", fmt.Sprintf("at least %v between its lines", l.RestMin))
		s.limit("bounce", fmt.Sprintf("at most %s on closing, %s on opening",
			quantity.FormatDuration(l.Make), quantity.FormatDuration(l.Break)))
		if l.ForwardMax > 0 {
			s.limit("diode drop", fmt.Sprintf("%v to %v", l.ForwardMin, l.ForwardMax))
		}
		s.limit("guard band", guardWords(l.Guard))
	}
}

// atCurrent says at which current the contact of a key has to be good, where that is asked.
func (s sheet) atCurrent(key int) string {
	at := s.ContactCurrent(key)
	switch {
	case at == 0:
		return ""
	case s.Test.Contact.Scanner:
		return fmt.Sprintf(" at the scanner's own current of %v, read at two currents", brief(at))
	}
	return fmt.Sprintf(" at %v, read at two currents", brief(at))
}

// stopRules say when a line of the product stops itself.
func (s sheet) stopRules() {
	s.title("when its line stops itself")
	for _, rule := range answers.RuleWords(s.Stops) {
		fmt.Fprintf(s, "  %s\n", s.Wrap(2, report.Told(wording.Words{}, rule)))
	}
}

func (s sheet) limit(of, is string) { fmt.Fprintf(s, "  %-21s  %s\n", of, is) }

func (s sheet) limitSets() (sets []product.Limits, keys [][]int) {
	at := map[product.Limits]int{}
	for k, key := range s.Keys {
		i, known := at[key.Limits]
		if !known {
			i = len(sets)
			at[key.Limits] = i
			sets, keys = append(sets, key.Limits), append(keys, nil)
		}
		keys[i] = append(keys[i], k)
	}
	return sets, keys
}

// exceptionsFirst puts the limits of most keys last, where "the other" is plain.
func exceptionsFirst(sets []product.Limits, keys [][]int) {
	for i := range sets {
		if last := len(sets) - 1; len(keys[i]) > len(keys[last]) {
			sets[i], sets[last], keys[i], keys[last] = sets[last], sets[i], keys[last], keys[i]
		}
	}
}

// whose names the keys that share limits as shortly as can be.
func (s sheet) whose(keys []int, sets int) string {
	if sets == 1 {
		return "every key"
	}
	labels := command.Each(keys, func(k int) string { return s.Keys[k].Label })
	if group := s.Keys[keys[0]].Group; group != "" && s.isGroup(group, keys) {
		return fmt.Sprintf("group %s: %s", group, s.Wrap(2, strings.Join(labels, " ")))
	}
	if len(keys) > len(s.Keys)/2 {
		return fmt.Sprintf("the other %s", command.Count(len(keys), "key"))
	}
	return s.Wrap(2, strings.Join(labels, " "))
}

// isGroup reports whether keys are all keys of the group and no others.
func (s sheet) isGroup(group string, keys []int) bool {
	members := 0
	for _, k := range s.Keys {
		if k.Group == group {
			members++
		}
	}
	for _, k := range keys {
		if s.Keys[k].Group != group {
			return false
		}
	}
	return members == len(keys)
}

func band(least, most quantity.Ohm) string {
	if least > 0 {
		return fmt.Sprintf("%v to %v", least, most)
	}
	return fmt.Sprintf("at most %v", most)
}

// guardWords says the decision rule and what it leaves to chance: the specific
// consumer's risk of a reading right at an acceptance limit.
func guardWords(guard float64) string {
	rule := "none"
	if guard > 0 {
		rule = fmt.Sprintf("%.4g U inside each limit", guard)
	}
	return fmt.Sprintf("%s: at most %s %% risk right at the edge", rule,
		roundedUp(100*decide.RiskOfMultiple(guard)))
}

// roundedUp writes x with two digits, the last one up: what is said to be at
// most so much is.
func roundedUp(x float64) string {
	digits := max(0, 1-int(math.Floor(math.Log10(x))))
	scale := math.Pow10(digits)
	up := math.Ceil(x*scale*(1-1e-9)) / scale // a rounding error is not a reason
	return strconv.FormatFloat(up, 'f', -1, 64)
}

func (s sheet) testBounds() {
	s.title("what a test may do to it")
	fmt.Fprintf(s, "  at most %v and %v open circuit\n", s.Test.MaxCurrent, s.Test.MaxVoltage)
}

// plan lists the steps for the reference jig.
func (s sheet) plan() error {
	jig := reference()
	plan, err := runner.NewPlan(s.Product, jig, runner.DefaultActuation(s.Product, jig))
	s.title("test on the reference jig, step by step")
	if err != nil {
		return command.Fail(command.Wrong, fmt.Errorf("plan %s on the reference jig: %w", s.Code, err),
			s.Words.Try(station.PlanRemedy(err)))
	}
	for i, step := range plan.Steps {
		fmt.Fprintf(s, "  %d  %-10s  %s\n", i+1, step.Name, s.Wrap(17, step.Does))
	}
	fmt.Fprintf(s, "  a pass proves: %s\n", s.Wrap(17, s.Words.Proofs(plan.Shows.Proofs())))
	if lacks := plan.Lacks().Proofs(); len(lacks) > 0 {
		fmt.Fprintf(s, "  cannot pass there: a pass has to prove %s\n", s.Wrap(21, s.Words.Proofs(lacks)))
	}
	if open := plan.NotRequired().Proofs(); len(open) > 0 {
		fmt.Fprintf(s, "  not required: %s\n", s.Wrap(16, s.Words.Proofs(open)))
	}
	return nil
}
