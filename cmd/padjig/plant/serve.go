package plant

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"os"
	"runtime"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/server"
	"padjig/cmd/padjig/log"
	"padjig/cmd/padjig/serve/notices"
	"padjig/cmd/padjig/web/metrics"
	"padjig/cmd/padjig/web/office"
	"padjig/cmd/padjig/web/page"
	questions "padjig/cmd/padjig/web/plant"
	"padjig/results"
	"padjig/results/plant/conflict"
	"padjig/results/plant/postgres"
	"padjig/results/store/program"
)

// serveFlags are those of padjig plant serve.
type serveFlags struct {
	server.Options
	store, plant, key string
	every             time.Duration
	log               log.Options
}

func newServe() *cobra.Command {
	var o serveFlags
	cmd := &cobra.Command{
		Use:   "serve --plant ADDRESS",
		Short: "Serve the pages of the plant's office",
		Long: `Serves the pages of a station without lanes, over the records of all stations of
a plant: quality, units, jigs, returns and fails are asked of the plant's
PostgreSQL database, which is only read. What is decided on the pages - accounts,
sessions, tokens, proposals and releases of products - is kept in --store, so
that people sign in while the database is away. A page that needs it says so
then, and comes back by itself.

What is written to the records of a station - a case that is closed, a line that
goes on - is done at that station; the pages say so where it is looked for.

With --key the office signs what was decided and puts it up for the stations by
itself, every --every and as soon as somebody asks for it on the page Notices, which
shows which station took what. What fails is shown there, and tried again. Without
--key that is done by padjig plant publish, which may run beside it.

The pages are served to this computer alone. For others on the network they need
TLS (--tls-cert, --tls-key), at least one account in --store, and the names they
are called by (--host). A role of the database that may only read will do without
--key; with it one that padjig plant office add made.`,
		Example: `  padjig plant serve --store office.sqlite --plant postgres://office@db/plant
  padjig plant serve --store office.sqlite --plant "host=db dbname=plant user=office" \
    --key office.key
  padjig station accounts add Ines --role engineer --store office.sqlite`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error { return o.run(cmd) },
	}
	f := cmd.Flags()
	command.PlantFlag(cmd, &o.plant)
	f.StringVar(&o.Listen, "listen", server.UsualAddress, "`ADDRESS` to serve the pages at")
	f.StringArrayVar(&o.Hosts, "host", nil, "`NAME` the office is called by, with its port; may be given\nmore than once")
	f.StringVar(&o.Cert, "tls-cert", "", "certificate `FILE` (PEM)")
	f.StringVar(&o.Key, "tls-key", "", "key `FILE` (PEM)")
	f.DurationVar(&o.Leave, "leave", time.Hour, "time after which a person who does nothing is\nlogged off, 0 for never")
	f.StringVar(&o.key, "key", "", "`FILE` with the private key that padjig plant key made: the office\npublishes its notices by itself")
	f.DurationVar(&o.every, "every", usualEvery, "`TIME` after which it is looked what to publish, with --key")
	f.BoolVar(&o.MetricsOpen, "metrics-open", false, "let programs on this computer read /metrics without a token")
	command.Group(f, command.OfPages, "listen", "host", "tls-cert", "tls-key", "leave")
	command.Group(f, command.OfAPI, "metrics-open")
	command.Group(f, command.OfPlant, "plant", "key", "every")
	command.StoreFlag(cmd, &o.store)
	command.LogFlags(cmd, &o.log)
	command.Must(cmd.MarkFlagRequired("plant"))
	cmd.MarkFlagsRequiredTogether("tls-cert", "tls-key")
	return cmd
}

// Of how often an office looks what to publish.
const (
	usualEvery = 15 * time.Second
	leastEvery = time.Second
)

func (o *serveFlags) run(cmd *cobra.Command) error {
	if err := server.WrongAddress(o.Listen); err != nil {
		return err
	}
	if o.every < leastEvery {
		return command.WrongUsef("--every %s: write a time from %s on, such as 15s", o.every, leastEvery)
	}
	if o.key == "" && cmd.Flags().Changed("every") {
		return command.WrongUsef("--every says how often the office publishes, which it does with --key alone")
	}
	endLog, err := command.OpenLog(cmd, o.log)
	if err != nil {
		return err
	}
	defer endLog()
	db, err := command.OpenPlant(o.plant)
	if err != nil {
		return err
	}
	name, err := postgres.Called(o.plant)
	if err != nil {
		return command.Fail(command.Wrong, err, "")
	}
	records := results.Over(db, name)
	defer records.Close()
	store, err := command.OpenStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	if err := o.meet(cmd, db, records, store); err != nil {
		return err
	}
	publishing, err := o.publishing(cmd.Context(), db, store)
	if err != nil {
		return err
	}
	plant := Over(db, records, Notices(db, store, publishing))
	s, err := o.Office(cmd, store, plant, figures(plant))
	if err != nil {
		return err
	}
	listener, err := o.Hear(cmd.Context(), store)
	if err != nil {
		return err
	}
	if publishing != nil {
		defer publishing.Start(cmd.Context())()
	}
	logger, began := log.From(cmd.Context()), time.Now()
	err = s.Serve(cmd.Context(), listener, func(address string) {
		logger.Info(log.OfficeStarted, "pid", os.Getpid(), "version", program.This().Short(), "go", runtime.Version(), "at", address,
			"records", store.Path(), "plant", name)
		fmt.Fprintf(cmd.OutOrStdout(), "office at %s\n", address)
	})
	if err != nil {
		logger.Error(log.OfficeStopped, "after", time.Since(began).String(), "why", err.Error())
		return err
	}
	logger.Info(log.OfficeStopped, "after", time.Since(began).String())
	return nil
}

// publishing is what puts up what is decided at the office; nil without its key.
func (o *serveFlags) publishing(ctx context.Context, db *sql.DB, store *results.Store) (*notices.Office, error) {
	if o.key == "" {
		return nil, nil
	}
	key, err := privateKey("key", o.key)
	if err != nil {
		return nil, err
	}
	if err := store.Notices.Signs(ctx, key); err != nil {
		return nil, issuing(store, err)
	}
	return notices.NewOffice(&notices.Publisher{Plant: db, Records: store.Notices, Key: key}, o.every, nil), nil
}

// meetPatience is how long the database is waited for at the start.
const meetPatience = 5 * time.Second

// meet looks at the database before anything is served: one with the tables of another version of padjig is
// refused. One that is away is no reason not to serve: people sign in, and the pages come when it does.
func (o *serveFlags) meet(cmd *cobra.Command, db *sql.DB, records, store *results.Store) error {
	ctx, done := context.WithTimeout(cmd.Context(), meetPatience)
	defer done()
	switch err := command.SameTables(ctx, db, "--plant"); {
	case err == nil:
	case postgres.Away(err), errors.Is(err, context.DeadlineExceeded):
		fmt.Fprintf(cmd.ErrOrStderr(), "padjig: %s does not answer; the pages come when it does\n", records.Path())
		return nil
	default:
		return err
	}
	zone, err := records.Floor.Zone(ctx)
	if err != nil {
		return command.Fail(command.NotRecorded, err, "")
	}
	return command.KeepZone(cmd.Context(), store, zone) // the clock of the plant, also while its database is away
}

// Over is the plant of a database, as the pages of an office need it; db is where what came of conflicts is written down, records reads it.
// more are subjects of an office beside those.
func Over(db *sql.DB, records *results.Store, more ...page.Set) *office.Plant {
	decide := func(ctx context.Context, d conflict.Decision) (conflict.Conflict, error) {
		return conflict.Decide(ctx, db, records, d)
	}
	return &office.Plant{Records: records, Of: postgres.MemberOf, Away: postgres.Away, Untrusted: postgres.Untrusted, More: append([]page.Set{questions.Set(records, decide)}, more...)}
}

// figures are what monitoring reads of the plant, at the office.
func figures(plant *office.Plant) metrics.Source {
	return func(ctx context.Context) ([]metrics.Family, error) {
		up := metrics.Family{Name: "padjig_plant_up", Kind: metrics.Gauge, Help: "Whether the plant's database answers."}
		newest := metrics.Family{Name: "padjig_station_newest_run_timestamp_seconds", Kind: metrics.Gauge, Unit: "seconds",
			Help: "When the newest run of each station was stored, in seconds since 1970.", Labels: []string{"station"}}
		list, err := plant.Records.Plant.Stations(ctx)
		if err != nil {
			up.Points = []metrics.Point{{Value: 0}}
			return []metrics.Family{up}, nil //nolint:nilerr // that it does not answer is the figure
		}
		up.Points = []metrics.Point{{Value: 1}}
		for _, s := range list {
			if !s.Tested.IsZero() {
				newest.Points = append(newest.Points, metrics.Point{Labels: []string{s.Name}, Value: float64(s.Tested.Unix())})
			}
		}
		return []metrics.Family{up, newest}, nil
	}
}
