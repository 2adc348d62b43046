// Package server serves a station: lanes on their jigs and the pages about them, on
// an address with bounds for whoever calls. The station and the demo share it.
package server

import (
	"cmp"
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	stdlog "log"
	"log/slog"
	"net"
	"net/http"
	"slices"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/server/ready"
	"padjig/cmd/padjig/command/testrun"
	"padjig/cmd/padjig/doctor"
	"padjig/cmd/padjig/doctor/look"
	"padjig/cmd/padjig/legible"
	"padjig/cmd/padjig/log"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/station/diary"
	"padjig/cmd/padjig/web"
	"padjig/cmd/padjig/web/metrics"
	"padjig/cmd/padjig/web/office"
	"padjig/cmd/padjig/web/products"
	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/results"
	"padjig/results/plant/asked"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/refbox"
)

// mostJigs is how many jigs one station drives: as many as were tried at once.
const mostJigs = 16

// Options say what a station serves, and where.
type Options struct {
	Products, Jigs, Hosts, Shifts []string
	Boxes                         []string // files of reference boxes at hand
	Press, Listen                 string
	Zone                          string // where the plant is; empty: that of the shifts, else this computer's
	Cert, Key                     string
	Screen, Distance              string // see legible.Of
	Baud                          int
	Lock, Leave, Twice            time.Duration
	MetricsOpen                   bool                          // anybody may read the metrics; on a loopback address alone
	Metrics                       []metrics.Source              // further figures
	Dark                          bool                          // leave signal towers dark
	Plant                         *asked.Plant                  // asked of each unit; nil: there is none
	Load                          func(lane int, serial string) // see station.Setup.Load; nil for none
	LoadStandard                  func(lane int, kind sequence.CalibrationKind)
	Doctor                        look.Plant      // what is said of the plant, for the page of the doctor
	Ports                         func() []string // where a jig is looked for; nil for every port of link.Ports
}

// Station is what serves: lanes, and pages about them.
type Station struct {
	Lanes  []*station.Lane
	Site   *web.Site
	secure bool
	office bool
	host   string                          // a name that the pages answer to
	before func(http.Handler) http.Handler // nil: the pages as they are
}

// Build makes the lanes and the pages.
func (o *Options) Build(cmd *cobra.Command, store *results.Store) (*Station, error) {
	if err := o.metricsOnlyHere("padjig station tokens add NAME --scope metrics --until DAY"); err != nil {
		return nil, err
	}
	how, err := command.Pressing(o.Press)
	if err != nil {
		return nil, err
	}
	shifts, err := shiftTimes(o.Shifts)
	if err != nil {
		return nil, err
	}
	screen, err := legible.Of(o.Screen, o.Distance)
	if err != nil {
		return nil, command.WrongUsef("%w", err)
	}
	if screen.TooSmall() {
		fmt.Fprintf(cmd.ErrOrStderr(), "padjig: a screen of %s is too small to be read from %s, from %.1f m it is: "+
			"give the operator a larger one, or say --distance\n", o.Screen, cmp.Or(o.Distance, legible.UsualDistance), screen.Farthest()/1000)
	}
	if len(o.Jigs) > mostJigs {
		return nil, command.Fail(command.Wrong, fmt.Errorf("%s: one station drives at most %d", command.Count(len(o.Jigs), "jig"), mostJigs),
			fmt.Sprintf("the first %d here, and the others with a second padjig station at another --listen; both may have the same --store", mostJigs))
	}
	for i, jig := range o.Jigs {
		if strings.TrimSpace(jig) == "" {
			return nil, command.Fail(command.Wrong, errors.New("--jig is empty"), "--jig with a port or a serial number; padjig jig list shows both")
		}
		if slices.Contains(o.Jigs[:i], jig) {
			return nil, command.Fail(command.Wrong, fmt.Errorf("--jig %s stands twice: a jig has one lane", jig), "--jig "+jig+" once")
		}
	}
	if len(o.Products) != 1 && len(o.Products) != len(o.Jigs) {
		return nil, command.WrongUsef("%s for %s: give one for all, or one for each",
			command.Count(len(o.Products), "product"), command.Count(len(o.Jigs), "jig"))
	}
	if err := command.KeepZone(cmd.Context(), store, o.Zone); err != nil {
		return nil, err
	}
	clock, err := command.PlantClock(cmd.Context(), store)
	if err != nil {
		return nil, err
	}
	boxes, err := o.boxes()
	if err != nil {
		return nil, err
	}
	s := &Station{secure: o.Cert != "", host: append(o.names(), "localhost")[0]}
	sources := map[string]products.Source{}
	for i, jig := range o.Jigs {
		p, err := o.released(cmd, store, o.Products[min(i, len(o.Products)-1)], sources)
		if err != nil {
			return nil, err
		}
		setup := station.Setup{
			Store: store, Product: p, Jig: jig, Press: how, Baud: o.Baud, LockAfter: o.Lock, Shifts: shifts,
			Twice: o.Twice, Dark: o.Dark, Plant: o.Plant, At: command.StoreArgument(store), Told: diary.Of(log.From(cmd.Context()), i+1),
			Staged: func(ctx context.Context, p *product.Product, c returns.Case, run runs.Stored) error {
				return testrun.CausesOfStage(ctx, store, c, p, run)
			},
		}
		setup.Find = func(ctx context.Context, serial string, of link.Options) (*fixture.Jig, string, error) {
			return fixture.FindAmong(ctx, serial, o.Ports, of)
		}
		if o.Load != nil {
			setup.Load = func(serial string) { o.Load(i, serial) }
		}
		s.Lanes = append(s.Lanes, station.NewLane(setup))
	}
	s.Site, err = web.New(web.Config{
		Store: store, Lanes: s.Lanes, Hosts: o.names(), Secure: s.secure, LockAfter: o.Leave, Sources: sources,
		Zone: clock.Zone(), Screen: screen, MetricsOpen: o.MetricsOpen,
		Metrics: o.Metrics, Boxes: boxes, LoadStandard: o.LoadStandard, Look: o.look(store, time.Now()),
	})
	if err != nil {
		return nil, fmt.Errorf("prepare the pages: %w", err)
	}
	return s, nil
}

// Office makes the pages of a plant's office: of no lanes, over the plant's database, with what is
// decided on them in a store of its own. Of the options it goes by those of pages.
func (o *Options) Office(cmd *cobra.Command, store *results.Store, plant *office.Plant, figures ...metrics.Source) (*Station, error) {
	if err := o.metricsOnlyHere("padjig station tokens add NAME --scope metrics --until DAY" + command.StoreArgument(store)); err != nil {
		return nil, err
	}
	clock, err := command.PlantClock(cmd.Context(), store)
	if err != nil {
		return nil, err
	}
	s := &Station{secure: o.Cert != "", host: append(o.names(), "localhost")[0], office: true}
	s.Site, err = web.New(web.Config{
		Store: store, Plant: plant, Hosts: o.names(), Secure: s.secure, LockAfter: o.Leave, Zone: clock.Zone(),
		Metrics: figures, MetricsOpen: o.MetricsOpen, Look: o.look(store, time.Now()),
	})
	if err != nil {
		return nil, fmt.Errorf("prepare the pages: %w", err)
	}
	return s, nil
}

// metricsOnlyHere refuses metrics without a token where others could read them.
func (o *Options) metricsOnlyHere(remedy string) error {
	if o.MetricsOpen && (!loopback(o.Listen) || len(o.Hosts) > 0) { // a name of ours is what a proxy passes on from others
		return command.Fail(command.Wrong, errors.New("--metrics-open is for a station that this computer alone can reach: others could read them"),
			"a token: "+remedy)
	}
	return nil
}

// look gathers how the station stands, for its page.
func (o *Options) look(store *results.Store, since time.Time) func(context.Context) doctor.Facts {
	asked := look.Asked{
		Store: store, Path: store.Path(), At: command.StoreArgument(store), Listen: o.Listen, Cert: o.Cert, Key: o.Key,
		Since: since, Computer: look.This(), Plant: o.Doctor,
	}
	return func(ctx context.Context) doctor.Facts { return look.At(ctx, asked) }
}

// boxes reads the files of the reference boxes.
func (o *Options) boxes() (all []*refbox.Box, err error) {
	for _, path := range o.Boxes {
		box, err := refbox.Load(path)
		if err != nil {
			return nil, command.Fail(command.Wrong, err, "a box file as docs/calibration.md describes it")
		}
		all = append(all, box)
	}
	return all, nil
}

// released loads a product file, and in its place the revision that holds when
// one was released.
func (o *Options) released(cmd *cobra.Command, store *results.Store, path string, sources map[string]products.Source) (
	*product.Product, error) {
	p, err := command.LoadProduct(cmd, path)
	if err != nil {
		return nil, err
	}
	text, err := product.ReadFile(path)
	if err != nil {
		return nil, command.Fail(command.Wrong, fmt.Errorf("read product file: %w", err), "")
	}
	sources[p.Code] = products.Source{Path: path, Text: string(text)}
	holds, err := command.RecordsOf(store).Released(cmd.Context(), p.Code)
	if err != nil || holds != nil {
		return holds, err // what is in force may still need another label: its page is where to give it one
	}
	return p, command.RecordsOf(store).CheckLabel(cmd.Context(), p)
}

// shiftTimes reads times of day.
func shiftTimes(texts []string) ([]time.Duration, error) {
	var out []time.Duration
	for _, text := range texts {
		at, err := time.Parse("15:04", strings.TrimSpace(text))
		if err != nil {
			return nil, command.WrongUsef("--shifts %q: write times such as 06:00,14:00,22:00", text)
		}
		out = append(out, time.Duration(at.Hour())*time.Hour+time.Duration(at.Minute())*time.Minute)
	}
	return out, nil
}

// names are the host names the station answers to: itself, as long as nobody
// else can reach it, and those it was told.
func (o *Options) names() []string {
	names := append([]string{}, o.Hosts...)
	host, port, err := net.SplitHostPort(o.Listen)
	if err != nil {
		return names
	}
	for _, self := range []string{"localhost", "127.0.0.1", "[::1]", host} {
		names = append(names, self+":"+port)
	}
	if port == "443" { // browsers leave it out
		names = append(names, host)
	}
	return names
}

// Hear opens the address. Without TLS and accounts only this computer may be served.
func (o *Options) Hear(ctx context.Context, store *results.Store) (*Listener, error) {
	if !loopback(o.Listen) {
		accounts, err := store.Accounts.Accounts(ctx)
		switch {
		case err != nil:
			return nil, command.RecordsFailed(store, err)
		case o.Cert == "":
			return nil, command.Fail(command.Wrong, fmt.Errorf("serve at %s: other computers could listen in without TLS", o.Listen),
				"--listen "+onlyHere(o.Listen)+" for this computer alone, or --tls-cert and --tls-key")
		case len(accounts) == 0:
			return nil, command.Fail(command.Wrong, fmt.Errorf("serve at %s: there is no account yet", o.Listen),
				"padjig station accounts add NAME --role engineer"+command.StoreArgument(store))
		}
	}
	open, err := new(net.ListenConfig).Listen(ctx, "tcp", o.Listen)
	if err != nil {
		return nil, command.Fail(command.Wrong, fmt.Errorf("serve at %s: %w", o.Listen, err), otherAddress(err))
	}
	listener := bounded(open, connectionRoom())
	if o.Cert == "" {
		return &Listener{listener, listener}, nil
	}
	pair, err := tls.LoadX509KeyPair(o.Cert, o.Key)
	if err != nil {
		return nil, command.Fail(command.Wrong, errors.Join(fmt.Errorf("read the certificate: %w", err), listener.Close()),
			"--tls-cert and --tls-key with PEM files that belong together")
	}
	return &Listener{tls.NewListener(listener, &tls.Config{
		Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12, NextProtos: []string{"h2", "http/1.1"},
	}), listener}, nil
}

// Listener is a listener, perhaps through TLS, and the connections it took.
type Listener struct {
	net.Listener
	bound *connections
}

func loopback(address string) bool {
	host, _, err := net.SplitHostPort(address)
	if err != nil {
		return false
	}
	ip := net.ParseIP(host)
	return host == "localhost" || ip != nil && ip.IsLoopback()
}

// How long requests may take to arrive, connections may have nothing to do, and
// requests may take to end when the station does. What bodies and answers may take
// differs from page to page: see package web.
const (
	headerPatience = 5 * time.Second
	idlePatience   = time.Minute
	endPatience    = 3 * time.Second
)

func newServer(handler http.Handler, bound *connections, logger *slog.Logger) *http.Server {
	return &http.Server{
		Handler: handler, ReadHeaderTimeout: headerPatience, IdleTimeout: idlePatience, MaxHeaderBytes: 64 << 10,
		ConnState: bound.track, ErrorLog: serverLog(logger),
		BaseContext: func(net.Listener) context.Context { return log.Into(context.Background(), logger) },
	}
}

// serverLog takes what package http has to say of connections: a handshake that fails, say.
func serverLog(logger *slog.Logger) *stdlog.Logger { return stdlog.New(says{logger}, "", 0) }

type says struct{ *slog.Logger }

func (s says) Write(line []byte) (int, error) {
	s.Warn(log.ServerTrouble, "why", strings.TrimSpace(string(line)))
	return len(line), nil
}

// Serve drives the lanes and serves the pages until ctx ends. Units under test
// are let go of then, and stored as aborted, before it returns.
func (s *Station) Serve(ctx context.Context, listener *Listener, told func(address string)) error {
	manager, err := ready.FromSystem()
	if err != nil {
		return command.Fail(command.Wrong, err, "start it by the service manager, or without this variable")
	}
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var group sync.WaitGroup
	for _, lane := range s.Lanes {
		group.Go(func() { lane.Run(ctx) })
	}
	group.Go(func() { s.Site.Watch(ctx) })
	handler := s.Site.Handler()
	if s.before != nil {
		handler = s.before(handler)
	}
	server := newServer(handler, listener.bound, log.From(ctx))
	group.Go(func() {
		<-ctx.Done()
		s.Site.End()
		end, cancel := context.WithTimeout(context.WithoutCancel(ctx), endPatience)
		defer cancel()
		_ = server.Shutdown(end) // what is left then is cut off
		_ = server.Close()
	})
	scheme := "http://"
	if s.secure {
		scheme = "https://"
	}
	address := scheme + listener.Addr().String() + "/"
	told(address)
	calls := newInside()
	group.Go(func() { _ = server.Serve(calls) })
	group.Go(func() { s.keep(ctx, manager, calls, address) })
	err = server.Serve(listener)
	cancel()
	group.Wait()
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return command.Fail(command.NotMeasured, fmt.Errorf("serve the pages: %w", err), "")
}
