// Package demo is padjig demo: a lot tested on simulated jigs, from start to finish,
// which checks itself.
package demo

import (
	"bytes"
	"cmp"
	"context"
	_ "embed"
	"errors"
	"fmt"
	"io"
	"os"
	"path/filepath"
	"sync"
	"time"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/output"
	"padjig/cmd/padjig/command/server"
	"padjig/cmd/padjig/command/simulated"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/command/testrun"
	"padjig/cmd/padjig/placing"
	"padjig/cmd/padjig/station"
	"padjig/results"
	"padjig/results/fails"
	"padjig/results/runs"
	"padjig/results/stops"
	"padjig/sequence"
	"padjig/sequence/product"
)

//go:embed gcc-20.yaml
var demoProduct []byte

//go:embed rb-1.yaml
var demoBox []byte

// Command is padjig demo.
func Command() *cobra.Command {
	var dir string
	var o demoOptions
	cmd := &cobra.Command{
		Use:   "demo",
		Short: "Test a lot of units on simulated jigs, from start to finish",
		Long: `Starts two simulated jigs on pseudo-terminals, each a process of its own, and
tests a lot of keypads on both at the same time: good ones and some with one
known fault each. It checks that each fault was found at its place and each
good unit passed, and leaves the records to be looked at.

At a terminal, and with --station, it then opens the station on these jigs, with
a few thousand units of the weeks before in the records: look at the address it
prints, log in with one of the badges below it, and scan or type serial numbers.
Ctrl-C ends it. Without a terminal, and with --exit, it ends after the lot.

Nothing here is about a real unit: every record is marked as simulated.

Exit status: 0 when all was as planted, else 1; 3 when it was stopped before.`,
		Example: `  padjig demo
  padjig demo --fast --exit
  padjig demo --dir /tmp/padjig-demo`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			d := &demo{Terminal: terminal.Of(cmd.OutOrStdout()), demoOptions: o}
			if in, isFile := cmd.InOrStdin().(*os.File); isFile && term.IsTerminal(int(in.Fd())) {
				d.station = true
			}
			d.station = d.station && !d.exit
			return d.run(cmd, dir)
		},
	}
	cmd.Flags().StringVar(&dir, "dir", "",
		"`FOLDER` for the records and the product file (default a new,\ntemporary one)")
	cmd.Flags().BoolVar(&o.fast, "fast", false, "jigs that take no time to move")
	cmd.Flags().BoolVar(&o.station, "station", false, "open the station at the end, also without a terminal")
	cmd.Flags().BoolVar(&o.exit, "exit", false, "end after the lot, also at a terminal")
	cmd.Flags().StringVar(&o.listen, "listen", server.UsualAddress, "`ADDRESS` of the station")
	cmd.MarkFlagsMutuallyExclusive("station", "exit")
	return cmd
}

// demoOptions are the flags of padjig demo.
type demoOptions struct {
	fast, station, exit bool
	listen              string
}

// demo is a lot under test on simulated jigs.
type demo struct {
	terminal.Terminal
	demoOptions
	dir     string
	file    string // the product's
	box     string // the reference box's
	product *product.Product
	store   *results.Store
	jigs    []*simulated.Process
	board   *board

	listener *server.Listener // of the station
}

const demoJigs = 2

// demoJig is the serial number of one of them.
func demoJig(i int) string { return fmt.Sprintf("SIM-%04d", i+1) }

func (d *demo) run(cmd *cobra.Command, dir string) (err error) {
	ctx := cmd.Context()
	if err := server.WrongAddress(d.listen); err != nil {
		return err
	}
	if err := d.prepare(ctx, dir); err != nil {
		return err
	}
	defer d.store.Close()
	if d.station { // before the lot: whoever waited for that should see the station
		if d.listener, err = (&server.Options{Listen: d.listen}).Hear(ctx, d.store); err != nil {
			return err
		}
		defer d.listener.Close() // closed already by the station, if it came to that
	}
	if err := d.startJigs(); err != nil {
		return command.Fail(command.NotMeasured, errors.Join(err, d.stopJigs()), "")
	}
	d.head()
	units, err := d.test(ctx)
	if err == nil && d.station {
		err = d.conclude(ctx, units)
		err = errors.Join(err, d.open(cmd))
		return errors.Join(err, d.stopJigs())
	}
	err = errors.Join(err, d.stopJigs())
	switch {
	case ctx.Err() != nil: // Ctrl-C is no fault; what was left behind is worth a word
		fmt.Fprintf(d, "\nstopped before the end; the records so far: %s\n", d.store.Path())
		return command.Quiet(command.NotMeasured)
	case err != nil:
		return err
	}
	return d.conclude(ctx, units)
}

// test tests the lot, after what a line did before when a station follows.
func (d *demo) test(ctx context.Context) ([]*demoUnit, error) {
	if d.station {
		if err := d.past(ctx); err != nil {
			return nil, err
		}
	}
	units, err := d.number(ctx)
	if err != nil {
		return nil, err
	}
	return units, d.testAll(ctx, units)
}

const otherDir = "--dir with a folder that can be written"

// prepare makes the folder with the product file and the records.
func (d *demo) prepare(ctx context.Context, dir string) (err error) {
	if d.dir = dir; dir == "" {
		d.dir, err = os.MkdirTemp("", "padjig-demo-")
	} else {
		err = os.MkdirAll(dir, 0o755)
	}
	if err != nil {
		return command.Fail(command.Wrong, fmt.Errorf("make a folder for the demo: %w", err), otherDir)
	}
	d.file, d.box = filepath.Join(d.dir, "gcc-20.yaml"), filepath.Join(d.dir, "rb-1.yaml")
	for path, text := range map[string][]byte{d.file: demoProduct, d.box: demoBox} {
		if there, err := os.ReadFile(path); err == nil && bytes.Equal(there, text) {
			continue // that of an earlier demo
		}
		err := output.Write(path, output.DemoFile, "", func(w io.Writer) error { _, err := w.Write(text); return err })
		if err != nil {
			return err
		}
	}
	if d.product, err = product.Load(d.file); err != nil {
		return command.Fail(command.Wrong, err, "")
	}
	if d.store, err = command.OpenStore(ctx, filepath.Join(d.dir, "records.sqlite")); err != nil {
		return err
	}
	if err := d.store.OnlySimulated(ctx); err != nil {
		return errors.Join(command.Fail(command.Wrong, err, "--dir with another folder"), d.store.Close())
	}
	return nil
}

func (d *demo) startJigs() error {
	for i := range demoJigs {
		jig, err := simulated.Start(demoJig(i), d.file, filepath.Join(d.dir, fmt.Sprintf("jig%d", i)), d.fast)
		if err != nil {
			return err
		}
		d.jigs = append(d.jigs, jig)
	}
	return nil
}

func (d *demo) stopJigs() error {
	var failed []error
	for _, jig := range d.jigs {
		failed = append(failed, jig.Stop())
	}
	d.jigs = nil
	return errors.Join(failed...)
}

// demoUnit is a unit of the lot with its serial number and what came of it.
type demoUnit struct {
	Planted
	serial string
	runs   []runs.Stored
}

// number gives the lot the next serial numbers that the records do not know.
func (d *demo) number(ctx context.Context) ([]*demoUnit, error) {
	var units []*demoUnit
	for n := 1; len(units) < len(Lot); n++ {
		serial := d.product.Serial.Complete(n)
		history, err := d.store.Runs.History(ctx, serial)
		if err != nil {
			return nil, command.Fail(command.NotRecorded, err, "")
		}
		if len(history.Products) == 0 {
			units = append(units, &demoUnit{Planted: Lot[len(units)], serial: serial})
		}
	}
	return units, nil
}

// testAll tests the units on all jigs at once, each jig taking the next one
// that is left.
func (d *demo) testAll(ctx context.Context, units []*demoUnit) error {
	d.board = newBoard(d.Terminal, d.jigs)
	defer d.board.close()
	next := make(chan *demoUnit, len(units))
	for _, u := range units {
		next <- u
	}
	close(next)
	failed := make([]error, len(d.jigs))
	var group sync.WaitGroup
	for i, jig := range d.jigs {
		group.Go(func() {
			defer d.board.say(i, "no more units")
			for u := range next {
				if failed[i] = d.testUnit(ctx, i, jig, u); failed[i] != nil {
					return
				}
			}
		})
	}
	group.Wait()
	return cmp.Or(failed...)
}

// testUnit tests a unit as often as the plan for it says.
func (d *demo) testUnit(ctx context.Context, place int, jig *simulated.Process, u *demoUnit) error {
	for i, want := range u.Wants {
		if err := jig.Order(u.command(i)); err != nil {
			return command.Fail(command.NotMeasured, err, "")
		}
		job := station.Job{Product: d.product, Serial: u.serial, Operator: "demo", How: sequence.Mechanical}
		hooks := station.Hooks{
			Open: (&testrun.Options{Jig: jig.Port}).Open, Watcher: &boardWatcher{board: d.board, place: place},
			Show: func(done station.Done) error {
				if ctx.Err() != nil {
					return ctx.Err()
				}
				u.runs = append(u.runs, done.Stored)
				d.board.row(u, i, want.Differs(done.Stored))
				return nil
			},
		}
		err := station.Records{Store: d.store}.Test(ctx, job, hooks)
		if r := station.RefusalOf(err); err != nil && r.Stop != nil {
			if err = d.letGoOn(ctx, place, r); err == nil {
				err = station.Records{Store: d.store}.Test(ctx, job, hooks)
			}
		}
		if err != nil {
			return err
		}
	}
	return d.place(ctx, place, u)
}

// place does with a unit that failed what an operator does: it goes with its tag into the
// fail place, and both are scanned. The jig takes no other unit before that.
func (d *demo) place(ctx context.Context, place int, u *demoUnit) error {
	last := u.runs[len(u.runs)-1]
	if !fails.Owes(last.Run) {
		return nil
	}
	var hand placing.Hand
	for _, code := range []string{fails.Place{}.Code(), fails.TagCode(last.ID)} {
		d.board.say(place, u.serial+": place and tag are scanned")
		if _, err := hand.Read(ctx, d.store.Fails, code, "demo", time.Now()); err != nil {
			return command.Fail(command.NotRecorded, err, "")
		}
	}
	return nil
}

// letGoOn lifts a stop, as somebody does who has looked: most units of the lot are bad, so
// that a line stops itself for its yield when it is tested a few times over.
func (d *demo) letGoOn(ctx context.Context, place int, why *station.Refusal) error {
	d.board.note(fmt.Sprintf("%s: %s; lifted, since they are bad on purpose", d.board.names[place], why.Error()))
	_, err := d.store.Stops.Lift(ctx, why.Stop.Stop, stops.Lifting{By: "demo", Reason: stops.Material, Note: "bad on purpose"})
	if err != nil {
		return command.RecordsFailed(d.store, err)
	}
	return nil
}
