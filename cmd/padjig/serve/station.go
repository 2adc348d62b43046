// Package serve is padjig station: the station that serves the pages, and who may use
// them. What a lane does with a unit is in package station.
package serve

import (
	"context"
	"database/sql"
	"fmt"
	"log/slog"
	"os"
	"runtime"
	"sync"
	"time"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/server"
	"padjig/cmd/padjig/doctor/look"
	"padjig/cmd/padjig/legible"
	"padjig/cmd/padjig/log"
	"padjig/cmd/padjig/serve/forward"
	"padjig/cmd/padjig/serve/handoff"
	"padjig/results"
	plant "padjig/results/plant/forward"
	"padjig/results/store/program"
)

// stationFlags are those of padjig station.
type stationFlags struct {
	server.Options
	store string
	tower bool
	backupFlags
	log log.Options

	handOff, handOffSecrets []string
	handOffPractice         bool

	plant, member, plantKey string
	plantStale, plantWait   time.Duration
}

// Command is padjig station with all that is below it.
func Command() *cobra.Command {
	var o stationFlags
	cmd := &cobra.Command{
		Use:   "station --product FILE --jig PORT",
		Short: "Serve the pages people work with, and drive one or more jigs",
		Long: `Serves pages for operators, quality engineers, the returns desk and fixture
engineers, and tests what is scanned on them. Each --jig is a lane of its own, up
to 16; with one --product all lanes test it, otherwise one is given for each lane,
in the same order. What goes wrong at a lane stops no other.

A jig that is unplugged is found again by its serial number. The verdict of a
unit is shown when it is stored, and never before.

The pages are served to this computer alone. For others on the network they
need TLS (--tls-cert, --tls-key), at least one account, and the names they are
called by (--host). The first account is made at the terminal: see
padjig station accounts.

When releases of a product are recorded, the newest release is what is tested,
whatever the file says by now.

What is stored can be handed on to other systems: --hand-off names a receiver and
its address, as a webhook (https://), a topic of a broker (mqtt://, mqtts://) or a
folder (file:///). Each gets everything at least once and in order, also what was
stored while it was away; padjig records hand-off says how it stands.

With --plant all records go to the database of the plant too, beside the tests:
what it has not taken yet stays here, and no unit waits for it. Of each unit that
is scanned the plant is asked for attempts, passes and open returns cases at other
stations, and waited for no longer than --plant-wait.`,
		Example: `  padjig station --product my-pad.yaml --jig J-0042
  padjig station --product my-pad.yaml --jig J-0042 --jig J-0043 --shifts 06:00,14:00,22:00
  padjig station --product my-pad.yaml --jig J-0042 --hand-off files=file:///srv/hand-off
  padjig station --product a.yaml --jig J-1 --listen :443 --tls-cert c.pem --tls-key k.pem --host l2
  padjig station --product a.yaml --jig J-1 --backup-to /media/backup --backup-at 02:00 --backup-keep 30
  padjig station accounts add Ines --role engineer`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error { return o.run(cmd) },
	}
	f := cmd.Flags()
	f.StringArrayVar(&o.Products, "product", nil, "product `FILE`, once or for each jig")
	f.StringArrayVar(&o.Jigs, "jig", nil, "`PORT` of a jig, or its serial number; may be given more than once")
	f.StringArrayVar(&o.Boxes, "box", nil, "`FILE` of a reference box at hand, for the pages of the jigs; may be\ngiven more than once")
	command.Must(cmd.MarkFlagFilename("box", "yaml", "yml"))
	command.ActuationFlag(cmd, &o.Press, "mechanical, electrical or hand")
	f.StringVar(&o.Listen, "listen", server.UsualAddress, "`ADDRESS` to serve the pages at")
	f.StringArrayVar(&o.Hosts, "host", nil, "`NAME` the station is called by, with its port; may be given\nmore than once")
	f.StringVar(&o.Cert, "tls-cert", "", "certificate `FILE` (PEM)")
	f.StringVar(&o.Key, "tls-key", "", "key `FILE` (PEM)")
	f.StringSliceVar(&o.Shifts, "shifts", nil, "`TIMES` at which shifts begin, such as 06:00,14:00,22:00\n(default midnight)")
	f.StringVar(&o.Zone, "zone", "", "time `ZONE` of the plant, such as Europe/Berlin, kept in the\nrecords for every command (default the one kept,\nelse this computer's)")
	f.DurationVar(&o.Lock, "lock", 10*time.Minute, "time after which a verdict left alone asks for\nthe unit again, 0 for never")
	f.DurationVar(&o.Leave, "leave", time.Hour, "time after which a person who does nothing is\nlogged off, 0 for never")
	f.StringVar(&o.Screen, "screen", legible.UsualScreen, "`SIZE` of the screen: its diagonal as 24in,\nor its width as 531mm")
	f.StringVar(&o.Distance, "distance", legible.UsualDistance, "`LENGTH` from which the screen is read;\nletters are made as large as that needs")
	f.BoolVar(&o.MetricsOpen, "metrics-open", false, "let programs on this computer read /metrics without a token")
	f.BoolVar(&o.tower, "tower", true, "show how a lane stands on its jig's signal tower,\nwhere the jig states one; --tower=false leaves it dark")
	f.StringArrayVar(&o.handOff, "hand-off", nil, "`ADDRESS` that all stored is handed on to, as NAME=https://...,\nNAME=mqtt://... or NAME=file:///...; may be given more than once")
	f.StringArrayVar(&o.handOffSecrets, "hand-off-secret", nil, "`FILE` with the secret of a receiver, as NAME=FILE; may be\ngiven more than once")
	f.BoolVar(&o.handOffPractice, "hand-off-practice", false, "hand on simulated and engineering runs as well")
	command.PlantFlag(cmd, &o.plant)
	command.MemberFlag(cmd, &o.member)
	f.StringVar(&o.plantKey, "plant-key", "", "`FILE` with the plant's public keys: its signed releases, accounts,\nlots and dates are taken, see padjig plant key")
	f.DurationVar(&o.plantStale, "plant-stale", time.Hour, "time without word of the plant after which the lanes say so")
	command.PlantWaitFlag(cmd, &o.plantWait)
	command.BaudFlag(cmd, &o.Baud)
	command.Group(f, command.OfUnit, "product")
	command.Group(f, command.OfJig, "jig", "box", "tower")
	command.Group(f, command.OfPages, "listen", "host", "tls-cert", "tls-key", "lock", "leave", "screen", "distance")
	command.Group(f, command.OfAPI, "metrics-open")
	command.Group(f, command.OfHandoff, "hand-off", "hand-off-secret", "hand-off-practice")
	command.Group(f, command.OfPlant, "shifts", "zone", "plant", "member", "plant-key", "plant-stale", "plant-wait")
	command.StoreFlag(cmd, &o.store)
	o.backupFlags.add(cmd)
	command.LogFlags(cmd, &o.log)
	command.Needs(cmd, "product", "jig")
	cmd.MarkFlagsRequiredTogether("tls-cert", "tls-key")
	cmd.MarkFlagsRequiredTogether("plant", "member")
	cmd.AddCommand(newAccounts(), newTokens())
	return cmd
}

func (o *stationFlags) run(cmd *cobra.Command) error {
	if err := server.WrongAddress(o.Listen); err != nil {
		return err
	}
	endLog, err := command.OpenLog(cmd, o.log)
	if err != nil {
		return err
	}
	defer endLog()
	receivers, err := handoff.Receivers(o.handOff, o.handOffSecrets)
	if err != nil {
		return command.WrongUse(err)
	}
	store, err := command.OpenStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	o.Dark = !o.tower
	db, closePlant, err := o.atPlant()
	if err != nil {
		return err
	}
	defer closePlant()
	endForwarding, err := o.forwarding(store, db)
	if err != nil {
		return err
	}
	hearing, err := o.hearing(cmd.Context(), store, db)
	if err != nil {
		return err
	}
	asking, endAsking, err := command.AskPlant(o.plant, o.member, o.plantWait)
	if err != nil {
		return err
	}
	defer endAsking()
	o.Plant = asking
	s, err := o.Build(cmd, store)
	if err != nil {
		return err
	}
	keeper, err := o.keeper(cmd, store)
	if err != nil {
		return err
	}
	listener, err := o.Hear(cmd.Context(), store)
	if err != nil {
		return err
	}
	defer endForwarding(cmd.Context())()
	defer hearing(cmd.Context(), s.Lanes)()
	defer handoff.Start(cmd.Context(), store.HandOff, receivers, o.handOffPractice)()
	if keeper != nil {
		ctx, end := context.WithCancel(cmd.Context())
		var beside sync.WaitGroup
		beside.Go(func() { keeper.Run(ctx) })
		defer beside.Wait()
		defer end()
	}
	logger, began := log.From(cmd.Context()), time.Now()
	err = s.Serve(cmd.Context(), listener, func(address string) {
		logger.Info(log.StationStarted, append(started(), "at", address, "records", store.Path(), said(cmd.Flags()))...)
		fmt.Fprintf(cmd.OutOrStdout(), "station at %s\n", address)
	})
	if err != nil {
		logger.Error(log.StationStopped, "after", time.Since(began).String(), "why", err.Error())
		return err
	}
	logger.Info(log.StationStopped, "after", time.Since(began).String())
	return nil
}

// atPlant opens the plant's database, for all that a station has to do with it; nil where there is none.
func (o *stationFlags) atPlant() (db *sql.DB, end func(), err error) {
	if o.plant == "" {
		return nil, func() {}, nil
	}
	db, err = command.OpenPlant(o.plant)
	return db, func() { _ = db.Close() }, err // everything that was committed is there
}

// forwarding gives what begins to bring the records to the plant, and in turn what ends it.
func (o *stationFlags) forwarding(store *results.Store, db *sql.DB) (begin func(context.Context) (end func()), err error) {
	if db == nil {
		return func(context.Context) func() { return func() {} }, nil
	}
	if err := plant.CheckName(o.member); err != nil {
		return nil, command.WrongUsef("--member: %w", err)
	}
	pump := &forward.Pump{Bring: &plant.Forwarder{Plant: db, Records: store, Member: o.member}}
	o.Metrics = append(o.Metrics, forward.Figures(pump))
	o.Doctor = look.Plant{Address: o.plant, Member: o.member, Keys: o.plantKey, Last: func() time.Time { return pump.State().Last }}
	return func(ctx context.Context) func() { return pump.Start(ctx) }, nil
}

// started is which program this is.
func started() []any {
	return []any{"pid", os.Getpid(), "version", program.This().Short(), "go", runtime.Version()}
}

// said are the settings that were said; none is a secret, since those are files.
func said(flags *pflag.FlagSet) slog.Attr {
	var all []any
	flags.Visit(func(f *pflag.Flag) { all = append(all, slog.String(f.Name, command.Concealed(f.Value.String()))) })
	return slog.Group("set", all...)
}
