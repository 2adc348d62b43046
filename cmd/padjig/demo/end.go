package demo

import (
	"context"
	"fmt"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/terminal"
	"padjig/results/answers"
	"padjig/results/lines"
)

// head says what is about to happen.
func (d *demo) head() {
	fmt.Fprintln(d, d.In("padjig demo on SIMULATED jigs: nothing here is about a real unit", terminal.Bold))
	fmt.Fprintf(d, "%s, %s\n\n", command.Named(d.product.Code, d.product.Revision), d.product.Title)
}

// conclude checks the demo itself, sums up, and says what to try next.
func (d *demo) conclude(ctx context.Context, units []*demoUnit) error {
	y, err := d.yield(ctx)
	if err != nil {
		return command.RecordsFailed(d.store, err)
	}
	fmt.Fprintf(d, "\nyield (SIMULATED): first-pass yield %s, final yield %s\n",
		share(y.FirstPassed, y.Units), share(y.LastPassed, y.Units))
	fmt.Fprintln(d, "       most units of this lot are faulty on purpose")
	d.check(len(units), faulty(units))
	d.next(units)
	return command.Quiet(min(len(d.board.marks), command.Failed))
}

func (d *demo) check(units, faulty int) {
	if len(d.board.marks) == 0 {
		fmt.Fprintf(d, "check: all as planted: %d faults, each found at its place; %d good units passed\n",
			faulty, units-faulty)
		return
	}
	fmt.Fprintln(d, "check: NOT as planted:")
	for _, mark := range d.board.marks {
		fmt.Fprintf(d, "  %s\n", d.Wrap(2, mark))
	}
}

// yield is what padjig quality yield says of the jigs of the demo: a unit counts
// where it was judged first.
func (d *demo) yield(ctx context.Context) (answers.YieldRow, error) {
	f := lines.Filter{Simulated: true}
	for i := range demoJigs {
		f.Jigs = append(f.Jigs, demoJig(i))
	}
	y, err := answers.AskYield(ctx, d.store, answers.YieldAsked{Selection: answers.Selection{Filter: f}})
	return y.Total, err
}

func faulty(units []*demoUnit) (n int) {
	for _, u := range units {
		if u.Fault != "" {
			n++
		}
	}
	return n
}

func share(n, of int) string {
	return fmt.Sprintf("%d of %d (%.0f %%)", n, of, 100*float64(n)/float64(of))
}

// next says where the records are and what to do with them.
func (d *demo) next(units []*demoUnit) {
	fmt.Fprintf(d, `
records: %s
try next:
  cd %s
  padjig unit %s --store records.sqlite
  padjig records check --store records.sqlite
  padjig product show gcc-20.yaml
  padjig jig simulate --product gcc-20.yaml --link jig0 --fault "key 8 high 640 ohm" &
  padjig test --product gcc-20.yaml --jig jig0 --serial %s --store records.sqlite
`, d.store.Path(), d.dir, units[len(units)-1].serial, d.product.Serial.Complete(999))
}
