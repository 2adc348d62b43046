package main

import (
	"context"
	"crypto/tls"
	"errors"
	"fmt"
	"net"
	"net/http"
	"strings"
	"sync"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web"
	"padjig/cmd/padjig/web/products"
	"padjig/fixture"
	"padjig/fixture/link"
	"padjig/results"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/sequence/product"
)

// stationOptions are the flags of padjig station.
type stationOptions struct {
	products, jigs, hosts, shifts []string
	press, store, listen          string
	cert, key                     string
	baud                          int
	lock, leave, twice            time.Duration
	load                          func(lane int, serial string) // see station.Setup.Load; nil for none
	ports                         func() []string               // where a jig is looked for; nil for every port of link.Ports
}

func newStation() *cobra.Command {
	var o stationOptions
	cmd := &cobra.Command{
		Use:   "station --product FILE --jig PORT",
		Short: "Serve the pages people work with, and drive one or more jigs",
		Long: `Serves pages for operators, quality engineers, the returns desk and fixture
engineers, and tests what is scanned on them. Each --jig is a lane of its own;
with one --product all lanes test it, otherwise one is given for each lane.

A jig that is unplugged is found again by its serial number. The verdict of a
unit is shown when it is stored, and never before.

The pages are served to this computer alone. For others on the network they
need TLS (--tls-cert, --tls-key), at least one account, and the names they are
called by (--host). The first account is made at the terminal: see
padjig station accounts.

When releases of a product are recorded, the newest release is what is tested,
whatever the file says by now.`,
		Example: `  padjig station --product my-pad.yaml --jig J-0042
  padjig station --product my-pad.yaml --jig J-0042 --jig J-0043 --shifts 06:00,14:00,22:00
  padjig station --product a.yaml --jig J-1 --listen :443 --tls-cert c.pem --tls-key k.pem --host l2
  padjig station accounts add Ines --role engineer`,
		Args: exactly(0, "none, only flags"),
		RunE: func(cmd *cobra.Command, _ []string) error { return o.run(cmd) },
	}
	f := cmd.Flags()
	f.StringArrayVar(&o.products, "product", nil, "product `FILE`, once or for each jig")
	f.StringArrayVar(&o.jigs, "jig", nil, "`PORT` of a jig, or its serial number; may be given more than once")
	f.StringVar(&o.press, "actuation", "", "`HOW` keys are pressed: mechanical, electrical or hand")
	f.StringVar(&o.listen, "listen", usualAddress, "`ADDRESS` to serve the pages at")
	f.StringArrayVar(&o.hosts, "host", nil, "`NAME` the station is called by, with its port; may be given more than once")
	f.StringVar(&o.cert, "tls-cert", "", "certificate `FILE` (PEM)")
	f.StringVar(&o.key, "tls-key", "", "key `FILE` (PEM)")
	f.StringSliceVar(&o.shifts, "shifts", nil, "`TIMES` at which shifts begin, such as 06:00,14:00,22:00 (default midnight)")
	f.DurationVar(&o.lock, "lock", 10*time.Minute, "time after which a verdict left alone asks for\nthe unit again, 0 for never")
	f.DurationVar(&o.leave, "leave", time.Hour, "time after which a person who does nothing is\nlogged off, 0 for never")
	f.IntVar(&o.baud, "baud", link.DefaultBaud, "speed of the line in bits per second")
	storeFlag(cmd, &o.store)
	needs(cmd, "product", "jig")
	cmd.MarkFlagsRequiredTogether("tls-cert", "tls-key")
	cmd.AddCommand(newAccounts())
	return cmd
}

func (o *stationOptions) run(cmd *cobra.Command) error {
	if err := wrongAddress(o.listen); err != nil {
		return err
	}
	store, err := openStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	s, err := o.build(cmd, store)
	if err != nil {
		return err
	}
	listener, err := o.hear(cmd.Context(), store)
	if err != nil {
		return err
	}
	return s.serve(cmd.Context(), listener, func(address string) {
		fmt.Fprintf(cmd.OutOrStdout(), "station at %s\n", address)
	})
}

// served is what serves: lanes, and pages about them.
type served struct {
	lanes  []*station.Lane
	site   *web.Site
	secure bool
}

func (o *stationOptions) build(cmd *cobra.Command, store *results.Store) (*served, error) {
	how, err := pressing(o.press)
	if err != nil {
		return nil, err
	}
	shifts, err := shiftTimes(o.shifts)
	if err != nil {
		return nil, err
	}
	if len(o.products) != 1 && len(o.products) != len(o.jigs) {
		return nil, wrongUsef("%s for %s: give one for all, or one for each",
			count(len(o.products), "product"), count(len(o.jigs), "jig"))
	}
	s, sources := &served{secure: o.cert != ""}, map[string]products.Source{}
	for i, jig := range o.jigs {
		p, err := o.released(cmd, store, o.products[min(i, len(o.products)-1)], sources)
		if err != nil {
			return nil, err
		}
		setup := station.Setup{
			Store: store, Product: p, Jig: jig, Press: how, Baud: o.baud, LockAfter: o.lock, Shifts: shifts,
			Twice: o.twice, At: storeArgument(store),
			Staged: func(ctx context.Context, p *product.Product, c returns.Case, run runs.Stored) error {
				return causesOfStage(ctx, store, c, p, run)
			},
		}
		setup.Find = func(ctx context.Context, serial string, of link.Options) (*fixture.Jig, string, error) {
			return fixture.FindAmong(ctx, serial, o.ports, of)
		}
		if o.load != nil {
			setup.Load = func(serial string) { o.load(i, serial) }
		}
		s.lanes = append(s.lanes, station.NewLane(setup))
	}
	s.site, err = web.New(web.Config{
		Store: store, Lanes: s.lanes, Hosts: o.names(), Secure: s.secure, LockAfter: o.leave, Sources: sources,
	})
	if err != nil {
		return nil, fmt.Errorf("prepare the pages: %w", err)
	}
	return s, nil
}

// released loads a product file, and in its place the revision that holds when
// one was released.
func (o *stationOptions) released(cmd *cobra.Command, store *results.Store, path string, sources map[string]products.Source) (
	*product.Product, error) {
	p, err := loadProduct(cmd, path)
	if err != nil {
		return nil, err
	}
	text, err := product.ReadFile(path)
	if err != nil {
		return nil, fail(statusWrong, fmt.Errorf("read product file: %w", err), "")
	}
	sources[p.Code] = products.Source{Path: path, Text: string(text)}
	holds, err := recordsOf(store).Released(cmd.Context(), p.Code)
	if err != nil || holds != nil {
		return holds, err // what is in force may still need another label: its page is where to give it one
	}
	return p, recordsOf(store).CheckLabel(cmd.Context(), p)
}

// shiftTimes reads times of day.
func shiftTimes(texts []string) ([]time.Duration, error) {
	var out []time.Duration
	for _, text := range texts {
		at, err := time.Parse("15:04", strings.TrimSpace(text))
		if err != nil {
			return nil, wrongUsef("--shifts %q: write times such as 06:00,14:00,22:00", text)
		}
		out = append(out, time.Duration(at.Hour())*time.Hour+time.Duration(at.Minute())*time.Minute)
	}
	return out, nil
}

// names are the host names the station answers to: itself, as long as nobody
// else can reach it, and those it was told.
func (o *stationOptions) names() []string {
	names := append([]string{}, o.hosts...)
	host, port, err := net.SplitHostPort(o.listen)
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

// hear opens the address. Without TLS and accounts only this computer may be served.
func (o *stationOptions) hear(ctx context.Context, store *results.Store) (*heard, error) {
	if !loopback(o.listen) {
		accounts, err := store.Accounts.Accounts(ctx)
		switch {
		case err != nil:
			return nil, fail(statusNotRecorded, err, "padjig records check"+storeArgument(store))
		case o.cert == "":
			return nil, fail(statusWrong, fmt.Errorf("serve at %s: other computers could listen in without TLS", o.listen),
				"--listen "+onlyHere(o.listen)+" for this computer alone, or --tls-cert and --tls-key")
		case len(accounts) == 0:
			return nil, fail(statusWrong, fmt.Errorf("serve at %s: there is no account yet", o.listen),
				"padjig station accounts add NAME --role engineer"+storeArgument(store))
		}
	}
	open, err := new(net.ListenConfig).Listen(ctx, "tcp", o.listen)
	if err != nil {
		return nil, fail(statusWrong, fmt.Errorf("serve at %s: %w", o.listen, err), otherAddress(err))
	}
	listener := bounded(open, connectionRoom())
	if o.cert == "" {
		return &heard{listener, listener}, nil
	}
	pair, err := tls.LoadX509KeyPair(o.cert, o.key)
	if err != nil {
		return nil, fail(statusWrong, errors.Join(fmt.Errorf("read the certificate: %w", err), listener.Close()),
			"--tls-cert and --tls-key with PEM files that belong together")
	}
	return &heard{tls.NewListener(listener, &tls.Config{
		Certificates: []tls.Certificate{pair}, MinVersion: tls.VersionTLS12, NextProtos: []string{"h2", "http/1.1"},
	}), listener}, nil
}

// heard is a listener, perhaps through TLS, and the connections it took.
type heard struct {
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

func newServer(handler http.Handler, bound *connections) *http.Server {
	return &http.Server{
		Handler: handler, ReadHeaderTimeout: headerPatience, IdleTimeout: idlePatience, MaxHeaderBytes: 64 << 10,
		ConnState: bound.track,
	}
}

// serve drives the lanes and serves the pages until ctx ends. Units under test
// are let go of then, and stored as aborted, before it returns.
func (s *served) serve(ctx context.Context, listener *heard, ready func(address string)) error {
	ctx, cancel := context.WithCancel(ctx)
	defer cancel()
	var group sync.WaitGroup
	for _, lane := range s.lanes {
		group.Go(func() { lane.Run(ctx) })
	}
	server := newServer(s.site.Handler(), listener.bound)
	group.Go(func() {
		<-ctx.Done()
		s.site.End()
		end, cancel := context.WithTimeout(context.WithoutCancel(ctx), endPatience)
		defer cancel()
		_ = server.Shutdown(end) // what is left then is cut off
		_ = server.Close()
	})
	scheme := "http://"
	if s.secure {
		scheme = "https://"
	}
	ready(scheme + listener.Addr().String() + "/")
	err := server.Serve(listener)
	cancel()
	group.Wait()
	if errors.Is(err, http.ErrServerClosed) {
		return nil
	}
	return fail(statusNotMeasured, fmt.Errorf("serve the pages: %w", err), "")
}
