package demo

import (
	"context"
	"fmt"
	"hash/fnv"
	"os"
	"slices"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/server"
	"padjig/cmd/padjig/command/simulated"
	"padjig/results/accounts"
	"padjig/results/linesim"
	"padjig/sequence"
	"padjig/sequence/product"
)

// How much a line did before the demo, so that the pages have something to show.
const (
	pastRuns = 3000
	pastDays = 14
)

// past puts what a simulated line did in the weeks before into new records.
func (d *demo) past(ctx context.Context) error {
	if recent, err := d.store.Runs.Recent(ctx, 1); err != nil || len(recent) > 0 {
		return err
	}
	fmt.Fprintf(d, "writing %d units of the last %d days into the records\n", pastRuns, pastDays)
	line := pastLine(d.product, time.Now())
	entries, err := line.Entries(ctx)
	if err != nil {
		return command.Fail(command.Wrong, err, "")
	}
	if err := d.store.ImportSimulated(ctx, line.Seed, entries, nil); err != nil {
		return command.Fail(command.NotRecorded, err, "")
	}
	return nil
}

// pastLine is a line that has worked on all of these days until now, and came to the
// revision of the demo on the way.
func pastLine(p *product.Product, now time.Time) linesim.Line {
	before := *p
	before.Revision, before.Keys = "B", slices.Clone(p.Keys)
	for i := range before.Keys {
		limit := &before.Keys[i].Limits.ClosedMax
		*limit += *limit / 10
	}
	const all = pastDays * 24 * time.Hour
	return linesim.Line{Product: &before, Next: p, Runs: pastRuns, Seed: 1, Begin: now.Add(-all).Truncate(time.Hour), Zone: hereZone(),
		Cycle: linesim.Within(pastRuns, all-time.Hour)}
}

// hereZone is the name of this computer's time zone, as far as it is told.
func hereZone() string {
	link, _ := os.Readlink("/etc/localtime") // none: then it is in the environment, or not said
	_, name, _ := strings.Cut(link, "zoneinfo/")
	for _, name := range []string{strings.TrimPrefix(os.Getenv("TZ"), ":"), name} {
		if zone, err := time.LoadLocation(name); err == nil && name != "" && zone != time.Local {
			return name
		}
	}
	return "UTC"
}

// people are who may log in to the demo's station.
var people = []struct {
	name string
	role account.Role
}{{"Abel", account.Operator}, {"Qiu", account.Quality}, {"Rosa", account.Returns}, {"Ines", account.Engineer}}

// open opens the station on the demo's jigs until somebody ends it.
func (d *demo) open(cmd *cobra.Command) error {
	o := server.Options{
		Products: []string{d.file}, Lock: 10 * time.Minute, Leave: time.Hour, Load: d.put,
		LoadStandard: d.putStandard, Boxes: []string{d.box},
	}
	for _, jig := range d.jigs {
		o.Jigs = append(o.Jigs, jig.Port)
	}
	o.Listen = d.listener.Addr().String() // the names it answers to, also when the port was free to choose
	s, err := o.Build(cmd, d.store)
	if err != nil {
		return err
	}
	badges, err := d.accounts(cmd.Context())
	if err != nil {
		return err
	}
	fmt.Fprintf(d, "\nstation on these jigs; to log in type or scan a badge:\n%s", badges)
	fmt.Fprintf(d, "then type or scan a serial number, such as %s; Ctrl-C ends it\n", d.product.Serial.Complete(pastRuns*2))
	return s.Serve(cmd.Context(), d.listener, func(address string) { fmt.Fprintf(d, "station at %s\n", address) })
}

// accounts makes an account of each role and gives their badges, a line each.
func (d *demo) accounts(ctx context.Context) (string, error) {
	var lines strings.Builder
	for _, p := range people {
		badge := account.NewBadge()
		password := account.NewBadge()[len(account.BadgePrefix):]
		hash, err := account.HashPassword(password)
		if err != nil {
			return "", err
		}
		for _, e := range []accounts.AccountEvent{
			{Kind: accounts.AccountRole, Role: string(p.role)}, {Kind: accounts.AccountBadge, Secret: account.HashBadge(badge)},
			{Kind: accounts.AccountPassword, Secret: hash},
		} {
			e.Name, e.By = p.name, "demo"
			if err := d.store.Accounts.SaveAccountEvent(ctx, e); err != nil {
				return "", command.Fail(command.NotRecorded, err, "")
			}
		}
		fmt.Fprintf(&lines, "  %-9s %s\n", p.role, badge)
		if p.role == account.Engineer {
			fmt.Fprintf(&lines, "  %-9s name %s, password %s\n", "", p.name, password)
		}
	}
	return lines.String(), nil
}

// put puts a unit into a lane's jig: the same number brings the same unit, and
// about one in three has one of the lot's faults.
func (d *demo) put(lane int, serial string) {
	h := fnv.New32a()
	_, _ = h.Write([]byte(serial)) // a hash takes everything
	fault := ""
	if n := h.Sum32(); n%3 == 0 {
		fault = Lot[int(n/3)%len(Lot)].Fault
	}
	_ = d.jigs[lane].Order(strings.TrimSpace("unit " + fault)) // a jig that has gone says so itself
}

// putStandard puts what a calibration needs into a lane's jig.
func (d *demo) putStandard(lane int, kind sequence.CalibrationKind) {
	order := simulated.Plug
	if kind == sequence.KindVerify {
		order = simulated.Box + " " + d.box
	}
	_ = d.jigs[lane].Order(order) // a jig that has gone says so itself
}
