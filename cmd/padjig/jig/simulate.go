package jig

// padjig jig simulate: a jig and a unit with chosen faults, without hardware.

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"path/filepath"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/simulated"
	"padjig/fixture/jigsim"
	"padjig/fixture/wire"
	"padjig/sequence/product"
)

// simulateOptions are the flags of padjig jig simulate.
type simulateOptions struct {
	simulated.Setup
	product string
	link    string
	box     string
	control bool
	verbose bool
	plug    bool
	tower   bool
}

func newSimulate() *cobra.Command {
	var s simulateOptions
	cmd := &cobra.Command{
		Use:   "simulate --product FILE",
		Short: "Run a simulated jig with a unit in it",
		Long: `Runs a simulated jig on a pseudo-terminal, with a unit of the product in it.
It speaks the jig protocol like a real one and says that it is simulated, so
every record made with it is marked. When it is ready it prints one line that
begins with the path to open. It stays when a client goes away, with the same
unit, and ends on SIGINT or SIGTERM.

Faults of the unit and of the jig are one sentence each; docs/faults.md lists
them all:
  "key 7 open"    "key 7 high 640 ohm"    "key 7 stuck 40 ohm"
  "line R3 open"  "line R3 broken between 7 and 8"
  "lines R1 R2 shorted 5 ohm"             "lines C1 C2 leak 2 Mohm"
  "key 7 bounces 14 ms on closing"        "key 7 releases late 60 ms"
  "tail reversed"  "pins 2 7 swapped"     "channel 4 dirty 80 ohm"
  "jig opens interlock at key 7"          "random 2"

With --control it takes commands from standard input, one a line, and ends
when that ends. What is put in or taken out opens the lid and closes it again, which
the jig counts as a real one does. With --tower the jig has a signal tower, and each
change of it is a line of its own, such as "tower: green white". Each command is answered
by one line:
  unit [FAULTS]   put another unit in, with these faults, "; " between them
  plug [FAULTS]   put the shorting plug in its place
  box FILE [FAULTS]  put the reference box of a file in its place
  reseat [FAULTS] take the unit out and put it in again, now with these faults
  empty           take out what lies in it
  open, close     open the lid, or close it, with the unit in place
  stop, release   press the emergency stop, or release it
  reboot          switch it off and on, with the unit in place
  hold KEY        push a key by hand
  let go KEY      let go of it
  adapter NAME    put another adapter in while the jig is switched on
  tap KEY         push it for a moment`,
		Example: `  padjig jig simulate --product testdata/products/gcc-20.yaml --link /tmp/jig0
  padjig jig simulate --product my-pad.yaml --link /tmp/jig0 --fault "key 7 high 640 ohm"
  padjig jig simulate --product my-pad.yaml --link /tmp/jig0 --no-actuators --control`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error { return s.run(cmd) },
	}
	f := cmd.Flags()
	f.StringVar(&s.product, "product", "", "product `FILE` of the unit in the jig")
	f.StringArrayVar(&s.Faults, "fault", nil, "a `SENTENCE` of the fault language; may be given more than once")
	f.BoolVar(&s.plug, "plug", false, "begin with the shorting plug in place of the unit")
	f.StringVar(&s.box, "box", "", "begin with the reference box of `FILE` in place of the unit")
	f.StringVar(&s.link, "link", "", "make `PATH` a symbolic link to the pseudo-terminal")
	f.StringVar(&s.Serial, "serial", jigsim.Defaults().Serial, "serial number `NAME` of the jig")
	f.StringVar(&s.Adapter, "adapter", "", "identity `NAME` of the adapter; else the first the product asks for")
	f.Uint64Var(&s.Seed, "seed", 1, "where the random numbers begin: the same seed, the same unit")
	command.BaudFlag(cmd, &s.Baud)
	f.DurationVar(&s.Latency, "latency", time.Millisecond, "delay of each frame, each way")
	f.BoolVar(&s.Pace, "pace", true, "take the time a real jig takes; --pace=false takes none")
	f.BoolVar(&s.NoActuators, "no-actuators", false, "a jig that cannot push keys: a person does")
	f.Uint8Var(&s.Together, "together", 0, "how many keys it can hold at once; the usual where it is 0")
	f.BoolVar(&s.tower, "tower", false, "a jig with a signal tower; each change of it is printed as a line")
	f.BoolVar(&s.control, "control", false, "take commands from standard input and end with it")
	f.BoolVarP(&s.verbose, "verbose", "v", false, "print the traffic to standard error")
	command.Group(f, command.OfUnit, "product", "fault", "plug", "box")
	command.Group(f, command.OfJig, "serial", "adapter", "latency", "pace", "no-actuators", "tower", "together", "seed")
	command.Group(f, command.OfOutput, "link", "control", "verbose")
	command.Needs(cmd, "product")
	cmd.MarkFlagsMutuallyExclusive("plug", "box")
	return cmd
}

func (s *simulateOptions) run(cmd *cobra.Command) error {
	p, err := command.LoadProduct(cmd, s.product)
	if err != nil {
		return err
	}
	shows := make(chan wire.Tower, 64)
	if s.tower {
		s.Lit = func(t wire.Tower) {
			select {
			case shows <- t:
			default: // nobody reads what is printed: the jig waits for nobody
			}
		}
	}
	jig, err := s.Build(p)
	if err != nil {
		return command.Fail(command.Wrong, err, "padjig jig simulate --help, and docs/faults.md")
	}
	if err := s.begin(jig); err != nil {
		return command.Fail(command.Wrong, err, "padjig jig simulate --help, and docs/faults.md")
	}
	port, err := simulated.OpenPort(s.link)
	if err != nil {
		return command.Fail(command.Wrong, err, otherLink(s.link, err))
	}
	defer port.Close()
	fmt.Fprintf(cmd.OutOrStdout(), "%s: simulated jig %s, %s\n", port.Path(), s.Serial, s.InIt(p, jig))
	ctx, cancel := context.WithCancel(cmd.Context())
	defer cancel()
	go func() {
		for ctx.Err() == nil {
			select {
			case <-ctx.Done():
			case t := <-shows:
				fmt.Fprintf(cmd.OutOrStdout(), "tower: %v\n", t)
			}
		}
	}()
	if s.control {
		go func() {
			defer cancel()
			s.obey(ctx, cmd, p, jig)
		}()
	}
	return s.serve(ctx, cmd.ErrOrStderr(), jig, port)
}

func otherLink(link string, err error) string {
	if errors.Is(err, fs.ErrNotExist) {
		return fmt.Sprintf("mkdir -p %s first, or another --link", filepath.Dir(link))
	}
	return "another --link"
}

// serve answers until ctx ends; that is how a simulation ends well.
func (s *simulateOptions) serve(ctx context.Context, stderr io.Writer, jig *jigsim.Jig, port *simulated.Port) error {
	var stream io.ReadWriteCloser = port
	if s.verbose {
		stream = newTap(port, stderr)
	}
	if err := jig.Serve(ctx, stream); err != nil && ctx.Err() == nil {
		return command.Fail(command.NotMeasured, fmt.Errorf("simulate jig on %s: %w", port.Path(), err), "")
	}
	return nil
}

// begin puts plug or box in, if the jig is to begin with it.
func (s *simulateOptions) begin(jig *jigsim.Jig) error {
	switch faults := strings.Join(s.Faults, "; "); {
	case s.plug:
		return s.LayStandard(jig, simulated.Plug, faults)
	case s.box != "":
		return s.LayStandard(jig, simulated.Box, s.box+" "+faults)
	}
	return nil
}

// obey carries out the commands of --control until there are no more.
func (s *simulateOptions) obey(ctx context.Context, cmd *cobra.Command, p *product.Product, jig *jigsim.Jig) {
	lines := bufio.NewScanner(cmd.InOrStdin())
	for lines.Scan() && ctx.Err() == nil {
		if err := s.command(p, jig, strings.TrimSpace(lines.Text())); err != nil {
			fmt.Fprintf(cmd.OutOrStdout(), "no: %s\n", command.OneLine(err.Error()))
			continue
		}
		fmt.Fprintf(cmd.OutOrStdout(), "done: %s: %s\n", lines.Text(), s.InIt(p, jig))
	}
}

func (s *simulateOptions) command(p *product.Product, jig *jigsim.Jig, line string) error {
	verb, rest, _ := strings.Cut(line, " ")
	switch {
	case verb == "unit":
		s.Seed++
		return s.Load(p, jig, rest)
	case verb == simulated.Plug, verb == simulated.Box:
		return s.LayStandard(jig, verb, rest)
	case verb == "reseat":
		return s.Load(p, jig, rest)
	case verb == "empty":
		return s.Empty(jig)
	case verb == "open", verb == "close":
		jig.Lid(verb == "open")
		return nil
	case verb == "stop", verb == "release":
		jig.Emergency(verb == "stop")
		return nil
	case verb == "reboot":
		jig.Reboot()
		return nil
	case verb == "adapter":
		return jig.Fit(rest)
	case verb == "hold", verb == "tap", verb == "let" && strings.HasPrefix(rest, "go "):
		return push(p, jig, verb, strings.TrimPrefix(rest, "go "))
	}
	return fmt.Errorf(`unknown command %q; write "unit", "plug", "box", "reseat", "empty", "open", "close", "stop", "release", "reboot", `+
		`"hold", "let go", "tap" or "adapter"`, line)
}

// How long a person holds a key, and takes to find the next one: both longer
// than padjig looks at a time while it waits for a press.
const (
	tapTime  = 700 * time.Millisecond
	nextTime = 500 * time.Millisecond
)

func push(p *product.Product, jig *jigsim.Jig, verb, label string) error {
	key := p.Key(label)
	if key < 0 {
		return fmt.Errorf("%s has no key %q", p.Code, label)
	}
	if verb == "let" {
		return jig.Hand(key, false)
	}
	if err := jig.Hand(key, true); err != nil || verb == "hold" {
		return err
	}
	time.Sleep(tapTime)
	defer time.Sleep(nextTime)
	return jig.Hand(key, false)
}

// tap prints the frames that pass through a stream.
type tap struct {
	io.ReadWriteCloser
	to      io.Writer
	listing wire.Listing
	in, out wire.Decoder
	began   time.Time
}

func newTap(s io.ReadWriteCloser, to io.Writer) io.ReadWriteCloser {
	return &tap{ReadWriteCloser: s, to: to, began: time.Now()}
}

func (t *tap) Read(b []byte) (int, error) {
	n, err := t.ReadWriteCloser.Read(b)
	t.in.Feed(b[:n], t.print)
	return n, err
}

func (t *tap) Write(b []byte) (int, error) {
	t.out.Feed(b, t.print)
	return t.ReadWriteCloser.Write(b)
}

func (t *tap) print(f wire.Frame) {
	fmt.Fprintf(t.to, "%10.6f %s\n", time.Since(t.began).Seconds(), t.listing.Line(f))
}
