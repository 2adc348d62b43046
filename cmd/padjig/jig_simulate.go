package main

import (
	"bufio"
	"context"
	"errors"
	"fmt"
	"io"
	"io/fs"
	"os"
	"path/filepath"
	"strings"
	"syscall"
	"time"

	"github.com/spf13/cobra"

	"padjig/fixture/jigsim"
	"padjig/fixture/jigsim/world"
	"padjig/fixture/link"
	"padjig/fixture/wire"
	"padjig/sequence/product"
)

// simulation is a simulated jig as the command line describes it.
type simulation struct {
	product     string
	faults      []string
	link        string
	serial      string
	seed        uint64
	baud        int
	latency     time.Duration
	pace        bool
	noActuators bool
	control     bool
	verbose     bool
	plug        bool
	box         string
	standard    string        // what lies in the jig in place of a unit, in words
	travel      time.Duration // of an actuator, each way; 0: the usual
}

func newJigSimulate() *cobra.Command {
	var s simulation
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
when that ends. Each is answered by one line:
  unit [FAULTS]   put another unit in, with these faults, "; " between them
  plug [FAULTS]   put the shorting plug in its place
  box FILE [FAULTS]  put the reference box of a file in its place
  reseat [FAULTS] take the unit out and put it in again, now with these faults
  hold KEY        push a key by hand
  let go KEY      let go of it
  tap KEY         push it for a moment`,
		Example: `  padjig jig simulate --product testdata/products/gcc-20.yaml --link /tmp/jig0
  padjig jig simulate --product my-pad.yaml --link /tmp/jig0 --fault "key 7 high 640 ohm"
  padjig jig simulate --product my-pad.yaml --link /tmp/jig0 --no-actuators --control`,
		Args: exactly(0, "none, only flags"),
		RunE: func(cmd *cobra.Command, _ []string) error { return s.run(cmd) },
	}
	f := cmd.Flags()
	f.StringVar(&s.product, "product", "", "product `FILE` of the unit in the jig")
	f.StringArrayVar(&s.faults, "fault", nil, "a `SENTENCE` of the fault language; may be given more than once")
	f.BoolVar(&s.plug, "plug", false, "begin with the shorting plug in place of the unit")
	f.StringVar(&s.box, "box", "", "begin with the reference box of `FILE` in place of the unit")
	f.StringVar(&s.link, "link", "", "make `PATH` a symbolic link to the pseudo-terminal")
	f.StringVar(&s.serial, "serial", jigsim.Defaults().Serial, "serial number `NAME` of the jig")
	f.Uint64Var(&s.seed, "seed", 1, "where the random numbers begin: the same seed, the same unit")
	f.IntVar(&s.baud, "baud", link.DefaultBaud, "speed of the line in bits per second")
	f.DurationVar(&s.latency, "latency", time.Millisecond, "delay of each frame, each way")
	f.BoolVar(&s.pace, "pace", true, "take the time a real jig takes; --pace=false takes none")
	f.BoolVar(&s.noActuators, "no-actuators", false, "a jig that cannot push keys: a person does")
	f.BoolVar(&s.control, "control", false, "take commands from standard input and end with it")
	f.BoolVarP(&s.verbose, "verbose", "v", false, "print the traffic to standard error")
	needs(cmd, "product")
	cmd.MarkFlagsMutuallyExclusive("plug", "box")
	return cmd
}

func (s *simulation) run(cmd *cobra.Command) error {
	p, err := loadProduct(cmd, s.product)
	if err != nil {
		return err
	}
	jig, err := s.build(p)
	if err != nil {
		return fail(statusWrong, err, "padjig jig simulate --help, and docs/faults.md")
	}
	if err := s.begin(jig); err != nil {
		return fail(statusWrong, err, "padjig jig simulate --help, and docs/faults.md")
	}
	port, err := openPseudo(s.link)
	if err != nil {
		return fail(statusWrong, err, otherLink(s.link, err))
	}
	defer port.Close()
	fmt.Fprintf(cmd.OutOrStdout(), "%s: simulated jig %s, %s\n", port.path(), s.serial, s.inIt(p, jig))
	ctx, cancel := context.WithCancel(cmd.Context())
	defer cancel()
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
func (s *simulation) serve(ctx context.Context, stderr io.Writer, jig *jigsim.Jig, port *pseudoPort) error {
	var stream io.ReadWriteCloser = port
	if s.verbose {
		stream = newTap(port, stderr)
	}
	if err := jig.Serve(ctx, stream); err != nil && ctx.Err() == nil {
		return fail(statusNotMeasured, fmt.Errorf("simulate jig on %s: %w", port.path(), err), "")
	}
	return nil
}

// build makes the jig with its wiring: line under channel, key under actuator.
func (s *simulation) build(p *product.Product) (*jigsim.Jig, error) {
	id := jigsim.Defaults()
	id.Serial = s.serial
	if s.noActuators {
		id.Features &^= wire.FeatureMechanical
		id.Actuators, id.Together = 0, 0
	}
	if s.travel > 0 {
		id.TravelDownUs, id.TravelUpUs = uint32(s.travel.Microseconds()), uint32(s.travel.Microseconds())
	}
	keypad := p.Circuit()
	faults, err := world.ParseFaults(strings.Join(s.faults, "\n"), keypad)
	if err != nil {
		return nil, err
	}
	return jigsim.New(jigsim.Config{
		Identity: id, Keypad: keypad, Contact: p.Nominal.Contact, Faults: faults,
		Wiring: p.Wiring(), Actuators: p.Pushes(),
		Seed: s.seed, Pace: s.pace, Baud: s.baud, Latency: s.latency,
	})
}

// begin puts plug or box in, if the jig is to begin with it.
func (s *simulation) begin(jig *jigsim.Jig) error {
	switch faults := strings.Join(s.faults, "; "); {
	case s.plug:
		return s.layStandard(jig, layPlug, faults)
	case s.box != "":
		return s.layStandard(jig, layBox, s.box+" "+faults)
	}
	return nil
}

// inIt says what lies in the jig.
func (s *simulation) inIt(p *product.Product, jig *jigsim.Jig) string {
	var faults []string
	for _, f := range jig.Faults() {
		faults = append(faults, f.String())
	}
	unit := strings.TrimSpace(p.Code + " " + p.Revision)
	if s.standard != "" {
		unit = s.standard
	}
	if len(faults) == 0 {
		return unit + ", no faults"
	}
	return unit + ", faults: " + strings.Join(faults, "; ")
}

// obey carries out the commands of --control until there are no more.
func (s *simulation) obey(ctx context.Context, cmd *cobra.Command, p *product.Product, jig *jigsim.Jig) {
	lines := bufio.NewScanner(cmd.InOrStdin())
	for lines.Scan() && ctx.Err() == nil {
		if err := s.command(p, jig, strings.TrimSpace(lines.Text())); err != nil {
			fmt.Fprintf(cmd.OutOrStdout(), "no: %s\n", oneLine(err.Error()))
			continue
		}
		fmt.Fprintf(cmd.OutOrStdout(), "done: %s: %s\n", lines.Text(), s.inIt(p, jig))
	}
}

func (s *simulation) command(p *product.Product, jig *jigsim.Jig, line string) error {
	verb, rest, _ := strings.Cut(line, " ")
	switch {
	case verb == "unit":
		s.seed++
		return s.load(p, jig, rest)
	case verb == layPlug, verb == layBox:
		return s.layStandard(jig, verb, rest)
	case verb == "reseat":
		return s.load(p, jig, rest)
	case verb == "hold", verb == "tap", verb == "let" && strings.HasPrefix(rest, "go "):
		return push(p, jig, verb, strings.TrimPrefix(rest, "go "))
	}
	return fmt.Errorf(`unknown command %q; write "unit", "plug", "box", "reseat", "hold", "let go" or "tap"`, line)
}

func (s *simulation) load(p *product.Product, jig *jigsim.Jig, faults string) error {
	keypad := p.Circuit()
	parsed, err := world.ParseFaults(faults, keypad)
	if err != nil {
		return err
	}
	s.standard = ""
	return jig.Load(world.Unit{Keypad: keypad, Contact: p.Nominal.Contact, Faults: parsed, Seed: s.seed})
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

// needs marks flags without which a command makes no sense, and lets the shell
// complete product files.
func needs(cmd *cobra.Command, names ...string) {
	for _, name := range names {
		must(cmd.MarkFlagRequired(name))
	}
	must(cmd.MarkFlagFilename("product", "yaml", "yml"))
}

// must ends the program for a mistake of its own: a flag that was never defined.
func must(err error) {
	if err != nil {
		panic(err)
	}
}

// loadProduct loads a product file; what is wrong with it is printed line by
// line, as editors like it.
func loadProduct(cmd *cobra.Command, path string) (*product.Product, error) {
	p, err := product.Load(path)
	mistakes, wrong := errors.AsType[product.Mistakes](err)
	switch {
	case err == nil:
		return p, nil
	case wrong:
		fmt.Fprintln(cmd.ErrOrStderr(), mistakes)
		return nil, wrongProduct(path, len(mistakes))
	}
	return nil, fail(statusWrong, err, otherProduct(err))
}

// otherProduct says what to do about a product file that cannot be read.
func otherProduct(err error) string {
	switch {
	case errors.Is(err, fs.ErrPermission):
		return "a file that this user may read"
	case errors.Is(err, syscall.EISDIR):
		return "the path of a file in it"
	}
	here, _ := os.Getwd() // where it is not known, the rest helps all the same
	return fmt.Sprintf("a path from this folder, %s; an example is testdata/products/gcc-20.yaml where padjig was built, "+
		"and padjig product check FILE says what is wrong with one of yours", here)
}

func wrongProduct(path string, mistakes int) error {
	return fail(statusWrong, fmt.Errorf("product file %s has %s", path, count(mistakes, "mistake")),
		"correct the lines named above, then: padjig product check "+path)
}

// count gives "1 mistake", "2 mistakes".
func count(n int, what string) string {
	if n == 1 {
		return "1 " + what
	}
	return fmt.Sprintf("%d %ss", n, what)
}
