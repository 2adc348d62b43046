package station

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"path/filepath"
	"slices"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"padjig/fixture"
	"padjig/fixture/jigsim"
	"padjig/fixture/jigsim/world"
	"padjig/fixture/quantity"
	"padjig/results/accounts"
	"padjig/results/fails"
	"padjig/results/releases/releasestest"
	"padjig/results/returns"
	"padjig/results/stops"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/runner"
)

// People do things in an order that nobody thought of: scan, put another unit in,
// lift the lid, stop, start again, crash, override, release, rework. Whatever they do,
//
//   - no unit is shown PASS unless the unit in the jig is that unit, it has nothing wrong,
//     and its newest complete production run, by the limits in force, passed everything;
//   - nothing that was found is ever absent from the unit's life;
//   - nobody has more attempts than the product allows and overrides give;
//   - a first pass is the first that happened to a unit;
//   - the lane counts each unit of production once, as it stands by the records.
//
// What is true is kept here, of pads and hands, and held against what the lane
// shows and against the tables as SQL sees them, never against padjig's own answers.
func TestPeopleAtRandom(t *testing.T) {
	rapid.Check(t, func(rt *rapid.T) { people(t, rt) })
}

// people is one walk. It runs in a bubble of fake time; what rapid says of a failure
// has to be said outside it.
func people(t *testing.T, rt *rapid.T) {
	t.Helper()
	steps := draw(rt)
	var failed string
	synctest.Test(t, func(t *testing.T) { failed = newCrowd(t).walk(steps) })
	if failed != "" {
		rt.Fatal(failed)
	}
}

// pad is a keypad as it is, whatever the records say of it.
type pad struct {
	serial string       // on its label
	fault  string       // in the simulator's words, empty for a good one
	shaky  bool         // its fault comes and goes
	reads  quantity.Ohm // at one key, where that is its fault
}

// bad reports whether the pad must not pass by a definition.
func (p pad) bad(by *product.Product) bool {
	return p.fault != "" && !p.shaky && (p.reads == 0 || p.reads > by.Keys[0].Limits.ClosedMax)
}

// faults are what can be wrong with a pad of the small product.
var faults = []pad{
	{}, {}, {fault: "key UP open"}, {fault: "line R2 open"}, {fault: "lines C1 C2 shorted 1 ohm"},
	{fault: "key STOP high 640 ohm", reads: 640}, {fault: "key FAN intermittent 50 %", shaky: true}, {fault: "key FAN filmed 2 kohm for 3 presses", shaky: true},
}

// troubles are what happens during a test, beside what is wrong with the pad.
var troubles = []string{
	"", "", "", "jig opens interlock for 200 ms at key FAN", "jig emergency for 200 ms at key DOWN", "jig reboots at key UP",
}

// dies are the steps of a test before which the program can be gone.
var dies = []string{"claim the unit", "measure", "hang up", "compare with the units before", "save",
	"judge a reference unit", "stop the line", "keep beside it", "show"}

// deed is something that somebody does, with what it is done to.
type deed struct {
	name  string
	pad   int // which pad
	other int // which of the choices the deed has
}

func (d deed) String() string { return fmt.Sprintf("%s(%d,%d)", d.name, d.pad, d.other) }

// padCount is how many pads lie on the table.
const padCount = 3

func draw(rt *rapid.T) []deed {
	one := rapid.Custom(func(rt *rapid.T) deed {
		return deed{
			rapid.SampledFrom(deedNames).Draw(rt, "deed"), rapid.IntRange(0, padCount-1).Draw(rt, "pad"), rapid.IntRange(0, 23).Draw(rt, "choice"),
		}
	})
	return rapid.SliceOfN(one, 12, 30).Draw(rt, "deeds")
}

// seat is where a jig has its unit.
type seat struct {
	jig     *jigsim.Jig
	in      int    // the pad in it
	trouble string // of the test to come
	moved   string // the unit that was tested last since it was opened, empty for none
}

// crowd is everybody at a stand, and what is true.
type crowd struct {
	*stand
	pads    []pad
	nests   [2]seat // of the lane's jig, and of one at the terminal beside it
	dead    string  // step before which the program goes
	inForce string  // hash of the release that holds, empty while there is none

	found     map[string]int // runs of a unit in which the lane showed a bad key, by serial
	shows     bool           // the run in hand showed one
	stopAt    int            // keys after which somebody presses Stop in the test to come, 0: nobody does
	stopAtBad bool           // likewise as soon as a key shows as bad
	overrides map[string]int
	labels    int
	wrong     string // what should not be, the first of it
	db        *sql.DB
}

// smallPad is a product of four keys, so that a walk is quick.
const smallPad = `
product: FAN-4
revision: A
tail: R1 R2 C1 C2
matrix:
  rows: R1 R2
  columns: C1 C2
  keys: |
    UP    FAN
    DOWN  STOP
serial: {format: F4-#####-*, check: "mod 37,36"}
attempts: 2
limits: {contact resistance: at most 200 ohm}
`

const secondPort = "sim/1"

func newCrowd(t *testing.T) *crowd {
	s := &stand{T: t, product: parsed(t, smallPad)}
	s.store = s.records(filepath.Join(t.TempDir(), "records.sqlite"))
	s.jig = s.simulated(jigsim.Defaults())
	s.ports.Plug(firstPort, s.jig)
	s.setup = Setup{Store: s.store, Product: s.product, Jig: firstPort, Twice: time.Nanosecond, LockAfter: 10 * time.Minute, Open: s.ports.Open, Find: s.ports.Find}
	t.Cleanup(s.ports.Close)
	c := &crowd{stand: s, found: map[string]int{}, overrides: map[string]int{}}
	for n := range padCount {
		c.pads = append(c.pads, pad{serial: s.unit(n + 1)})
	}
	c.pads[1].fault = "key UP open"
	beside := s.simulated(named("SIM-0002"))
	s.ports.Plug(secondPort, beside)
	c.nests = [2]seat{{jig: s.jig, in: 0}, {jig: beside, in: 1}}
	c.setup.around = c.around
	c.db = s.aside()
	return c
}

// deeds are what people do, each with a number to choose by.
var deeds = map[string]func(c *crowd, p *pad, choice int){
	"nothing":                 func(*crowd, *pad, int) {},
	"scan what is in the jig": func(c *crowd, _ *pad, _ int) { c.test(Scan{Serial: c.inLane().serial, Operator: "Abel"}) },
	"scan any label":          func(c *crowd, p *pad, _ int) { c.test(Scan{Serial: p.serial, Operator: "Abel"}) },
	"put in and scan": func(c *crowd, p *pad, _ int) {
		c.put(0, p)
		c.test(Scan{Serial: p.serial, Operator: "Abel"})
	},
	"put in": func(c *crowd, p *pad, choice int) { c.put(choice%2, p) },
	"at the terminal": func(c *crowd, p *pad, choice int) {
		if choice%3 > 0 {
			c.put(1, p)
		}
		c.terminal(c.pads[c.nests[1].in].serial, choice%4 == 0, false)
	},
	"any label at the terminal": func(c *crowd, p *pad, _ int) { c.terminal(p.serial, false, false) },
	"trouble to come":           func(c *crowd, _ *pad, choice int) { c.nests[0].trouble = troubles[choice%len(troubles)]; c.load(0) },
	"die next time":             func(c *crowd, _ *pad, choice int) { c.dead = dies[choice%len(dies)] },
	"stop in the middle": func(c *crowd, _ *pad, choice int) {
		c.stopAt = 1 + choice%4
		c.test(Scan{Serial: c.inLane().serial, Operator: "Abel"})
	},
	"stop when a key is bad, and again": func(c *crowd, _ *pad, choice int) {
		for range 1 + choice%4 {
			c.stopAtBad = true
			c.test(Scan{Serial: c.inLane().serial, Operator: "Abel"})
		}
	},
	"clear":        func(c *crowd, _ *pad, _ int) { c.lane.Clear() },
	"start again":  func(c *crowd, _ *pad, _ int) { c.restart() },
	"go for lunch": func(*crowd, *pad, int) { time.Sleep(11 * time.Minute) },
	"plug out, in": func(c *crowd, _ *pad, _ int) { c.ports.Unplug(firstPort); synctest.Wait(); c.plug(); c.back() },
	"override": func(c *crowd, p *pad, _ int) {
		c.must(c.store.Accounts.SaveOverride(c.Context(), accounts.Override{What: "passed already", Serial: p.serial, Jig: "SIM-0001", By: "Qiu", Reason: "customer asks"}))
		c.overrides[p.serial]++
		c.test(Scan{Serial: p.serial, Operator: "Qiu", Overridden: true})
	},
	"break": func(c *crowd, p *pad, choice int) {
		f := faults[choice%len(faults)]
		*p = pad{p.serial, f.fault, f.shaky, f.reads}
		c.changed(p)
	},
	"rework": func(c *crowd, p *pad, _ int) {
		if err := c.store.Returns.SaveRework(c.Context(), returns.Rework{Serial: p.serial, By: "Rosa", Deed: "contact cleaned", Done: time.Now()}, c.setup.Product); err != nil {
			return // it was never tested
		}
		*p = pad{serial: p.serial}
		c.changed(p)
	},
	"release": func(c *crowd, _ *pad, choice int) {
		limits := []string{"200 ohm", "150 ohm", "2 kohm"}
		next := c.released(limits[choice%len(limits)])
		if choice%2 == 0 {
			c.lane.Release(next)
		} // otherwise another station did
	},
	"harness only": func(c *crowd, _ *pad, _ int) {
		c.setup.Press = sequence.Electrical
		c.restart()
		c.test(Scan{Serial: c.inLane().serial, Operator: "Abel"})
		c.setup.Press = ""
		c.restart()
	},
	"another file": func(c *crowd, _ *pad, _ int) { // loosened under the same label, and started with that
		was := c.setup.Product
		c.setup.Product = parsed(c, strings.Replace(smallPad, "at most 200 ohm", "at most 2 kohm", 1))
		c.restart()
		c.test(Scan{Serial: c.inLane().serial, Operator: "Abel"})
		c.setup.Product = was
		c.restart()
	},
	"put the fails away": func(c *crowd, _ *pad, _ int) {
		owed, err := c.store.Fails.Open(c.Context(), true)
		c.must(err)
		for _, o := range owed {
			_, err := c.store.Fails.Place(c.Context(), o.Run, fails.Place{Name: fails.UsualPlace}, "Abel")
			c.must(err)
		}
	},
	"have the line go on": func(c *crowd, _ *pad, _ int) {
		list, err := c.store.Stops.List(c.Context(), true)
		c.must(err)
		for _, stop := range list {
			if stop.Lifted == nil {
				_, err := c.store.Stops.Lift(c.Context(), stop.Number, stops.Lifting{By: "Qiu", Reason: stops.Reasons()[0]})
				c.must(err)
			}
		}
	},
	"try limits": func(c *crowd, p *pad, _ int) {
		c.put(1, p)
		c.terminal(p.serial, false, true)
	},
	"came back": func(c *crowd, p *pad, _ int) {
		if _, err := c.store.Returns.OpenCase(c.Context(), p.serial, c.product.Code,
			returns.Intake{Received: time.Now(), Complaint: "key dead", By: "Rosa"}); err != nil {
			return // it did already, or never left
		}
	},
}

var deedNames = func() (names []string) {
	for name := range deeds {
		names = append(names, name)
	}
	slices.Sort(names)
	names = slices.Insert(names, 0, "nothing") // what failures are made simpler with
	// What is done all day long comes up more often.
	return append(names, "put in and scan", "put in and scan", "put in and scan", "scan what is in the jig", "scan any label", "at the terminal", "stop when a key is bad, and again", "break", "break", "rework",
		"put the fails away", "put the fails away", "have the line go on", "have the line go on")
}()

// walk does the deeds in their order and gives what should not have been, after which it was.
func (c *crowd) walk(steps []deed) string {
	c.load(0)
	c.load(1)
	c.begins()
	defer func() { c.end() }()
	for n, d := range steps {
		deeds[d.name](c, &c.pads[d.pad], d.other)
		c.look()
		if c.wrong == "" {
			c.life()
			c.tally()
		}
		if c.wrong != "" {
			return fmt.Sprintf("%s, after %v", c.wrong, steps[:n+1])
		}
	}
	c.firstPasses()
	return c.wrong
}

func (c *crowd) must(err error) {
	c.Helper()
	require.NoError(c, err)
}

// inLane is the pad in the lane's nest.
func (c *crowd) inLane() pad { return c.pads[c.nests[0].in] }

// put takes the pad in a nest out and another one in. One that was in the other nest
// leaves that to the pad that is in neither.
func (c *crowd) put(n int, p *pad) {
	of := slices.IndexFunc(c.pads, func(o pad) bool { return o.serial == p.serial })
	if other := &c.nests[1-n]; other.in == of {
		other.in = 3 - of - c.nests[n].in // of 0, 1 and 2
		c.load(1 - n)
	}
	c.nests[n].in = of
	c.load(n)
}

// changed has a nest opened for a pad that is not any more as it was.
func (c *crowd) changed(p *pad) {
	for n := range c.nests {
		if c.pads[c.nests[n].in].serial == p.serial {
			c.load(n)
		}
	}
}

// load opens a nest, and has its jig measure the pad that is in it from then on.
func (c *crowd) load(n int) {
	at := &c.nests[n]
	at.moved = ""
	var faults []string
	for _, f := range []string{c.pads[at.in].fault, at.trouble} {
		if f != "" {
			faults = append(faults, f)
		}
	}
	keypad := c.product.Circuit()
	parsed, err := world.ParseFaults(strings.Join(faults, "; "), keypad)
	c.must(err)
	c.must(at.jig.Load(world.Unit{Keypad: keypad, Contact: c.product.Nominal.Contact, Faults: parsed, Seed: uint64(at.in) + 1}))
}

// begins has a lane begin, and somebody look at each of its states.
func (c *crowd) begins() {
	c.start()
	changes, stop := c.lane.Subscribe()
	lane := c.lane
	over, gone := make(chan struct{}), c.end
	go func() {
		for {
			select {
			case <-over:
				return
			case <-changes:
				c.see(lane.State())
			}
		}
	}()
	c.end = func() { gone(); synctest.Wait(); stop(); close(over); c.end = func() {} }
}

// restart ends the program and starts it again.
func (c *crowd) restart() {
	c.end()
	c.begins()
}

// around is the program that goes before a step: what would have been done is not, and
// the kernel lets go of its locks, as the test does.
func (c *crowd) around(name string, do func() error) error {
	if name == c.dead {
		return errDead
	}
	return do()
}

var errDead = errors.New("the program is gone")

// test has a label scanned and waits for what comes of it.
func (c *crowd) test(scan Scan) {
	c.Helper()
	starts := c.starts()
	c.lane.Scan(scan)
	if c.stopAtBad {
		c.until("has a bad key", func(st State) bool { return !st.Phase.Busy() || slices.ContainsFunc(st.Keys, isBad) })
		c.lane.Stop()
		c.stopAtBad = false
	}
	if c.stopAt > 0 {
		c.until("is past a key", func(st State) bool { return !st.Phase.Busy() || st.Done >= c.stopAt })
		c.lane.Stop()
		c.stopAt = 0
	}
	synctest.Wait()
	st := c.until("is done", func(st State) bool { return !st.Phase.Busy() })
	if c.starts() > starts {
		if st.Phase == Ended && st.Verdict.Outcome == sequence.Pass {
			c.passed(&c.nests[0], st.Product, st.Verdict.Run)
		}
		c.nests[0].moved = scan.Serial
	}
	time.Sleep(time.Millisecond)
	synctest.Wait()
	c.tidy()
}

// terminal tests a unit on the jig beside the lane, as the command does, with a file of
// its own.
func (c *crowd) terminal(serial string, stale, engineering bool) {
	c.Helper()
	by := c.setup.Product
	if stale {
		by = c.product
	}
	starts, at := c.starts(), &c.nests[1]
	onlooker := &onlooker{crowd: c, serial: serial}
	err := (Records{Store: c.store}).Test(c.Context(), Job{Product: by, Serial: serial, Operator: "Ines", Engineering: engineering}, Hooks{
		Open: func(ctx context.Context) (*fixture.Jig, func() error, error) {
			jig, err := c.ports.Open(ctx, secondPort, linkOptions)
			if err != nil {
				return nil, nil, err
			}
			return jig, jig.Close, nil
		},
		Watcher: onlooker,
		Show: func(done Done) error {
			if done.Outcome == sequence.Pass {
				c.passed(at, by, done.Run)
			}
			return nil
		},
		around: c.around,
	})
	if errors.Is(err, errDead) {
		c.dead = ""
	}
	if c.starts() > starts {
		at.moved = serial
	}
}

// onlooker sees what the terminal shows while it tests.
type onlooker struct {
	*crowd
	serial string
	bad    bool
}

func (*onlooker) Warn(Warning)                           {}
func (*onlooker) Begin(*runner.Plan, sequence.Unit, int) {}
func (*onlooker) End(sequence.Run)                       {}

func (o *onlooker) Step(p sequence.Progress) {
	if p.Key != nil && isBad(*p.Key) && !o.bad {
		o.bad = true
		o.found[o.serial]++
	}
}

// passed holds a PASS that has just come up against what is in the nest.
func (c *crowd) passed(at *seat, by *product.Product, run sequence.Run) {
	switch in := c.pads[at.in]; {
	case in.bad(by):
		c.says("PASS of %s is shown, and what is in the jig has %q", run.Serial, in.fault)
	case at.moved != "" && at.moved != run.Serial:
		c.says("PASS of %s is shown, and the nest was not opened since %s was tested", run.Serial, at.moved)
	case c.inForce != "" && run.Hash != c.inForce:
		c.says("PASS of %s is shown by limits that are not in force", run.Serial)
	}
}

// starts is how many runs were begun, ever.
func (c *crowd) starts() (n int) {
	c.Helper()
	c.must(c.db.QueryRowContext(c.Context(), `SELECT count(*) FROM run_start`).Scan(&n))
	return n
}

// tidy starts a program again that went away, and ends a trouble that there was.
func (c *crowd) tidy() {
	c.Helper()
	if c.dead != "" {
		c.dead = ""
		c.restart()
	}
	if c.nests[0].trouble != "" {
		c.nests[0].trouble = ""
		c.load(0)
	}
	c.back()
}

// back waits until the lane has its jig.
func (c *crowd) back() {
	c.Helper()
	c.until("has its jig", func(st State) bool { return st.Jig.Present })
	synctest.Wait()
}

// released puts another limit in force.
func (c *crowd) released(limit string) *product.Product {
	c.labels++
	text := strings.Replace(strings.Replace(smallPad, "revision: A", fmt.Sprintf("revision: L%d", c.labels), 1), "at most 200 ohm", "at most "+limit, 1)
	p := parsed(c, text)
	c.must(releasestest.Release(c.Context(), c.store, text))
	c.inForce = p.Hash()
	c.setup.Product = p
	return p
}

// see looks at a state that the lane was in: everybody who stands there sees it.
func (c *crowd) see(st State) {
	tested := st.Phase == Running && st.Verdict == nil // with one it is asked whether that may come back
	if tested && !c.shows && slices.ContainsFunc(st.Keys, isBad) {
		c.shows = true
		c.found[st.Unit.Serial]++
	}
	if st.Phase != Running {
		c.shows = false
	}
}

func isBad(k sequence.KeyResult) bool { return k.Verdict == sequence.KeyFail }

// look holds what the lane shows against what is true.
func (c *crowd) look() {
	st := c.lane.State()
	if st.Phase != Ended || st.Verdict == nil || st.Verdict.Outcome != sequence.Pass {
		return
	}
	serial := st.Unit.Serial
	switch run, keys, err := c.newest(serial); {
	case err != nil:
		c.says("PASS of %s is shown, and no run of it is stored: %v", serial, err)
	case run != "pass":
		c.says("PASS of %s is shown, and its newest run is %q", serial, run)
	case keys != len(c.product.Keys):
		c.says("PASS of %s is shown, and %d of its keys passed", serial, keys)
	}
}

func (c *crowd) says(format string, args ...any) {
	if c.wrong == "" {
		c.wrong = fmt.Sprintf(format, args...)
	}
}

// newest is what the tables have as the newest complete production run of a unit.
func (c *crowd) newest(serial string) (outcome string, keys int, err error) {
	err = c.db.QueryRowContext(c.Context(), `
		SELECT run.outcome, (SELECT count(*) FROM run_key WHERE run_key.run = run.seq AND passed = 1)
		FROM run WHERE serial = ? AND purpose = '' AND actuation <> 'electrical' AND run.outcome NOT IN ('aborted', 'reseat')
		ORDER BY seq DESC LIMIT 1`, serial).Scan(&outcome, &keys)
	return outcome, keys, err
}

// count is a number that the tables have of a unit.
func (c *crowd) count(query, serial string) (n int) {
	c.Helper()
	c.must(c.db.QueryRowContext(c.Context(), query, serial).Scan(&n))
	return n
}

// life holds that what was found is there, and that attempts were counted.
func (c *crowd) life() {
	for _, p := range c.pads {
		withFindings := c.count(`SELECT count(*) FROM run WHERE serial = ? AND findings > 0`, p.serial)
		unfinished := c.count(`SELECT count(*) FROM run_start WHERE serial = ? AND NOT EXISTS (SELECT 1 FROM run WHERE run.start = run_start.seq)`, p.serial)
		if seen := c.found[p.serial]; seen > withFindings+unfinished {
			c.says("%d tests of %s showed a bad key, and its life has %d with findings and %d not finished", seen, p.serial, withFindings, unfinished)
		}
		used := c.count(`
			SELECT count(*) FROM run WHERE serial = ? AND purpose = '' AND actuation <> 'electrical'
			   AND (outcome IN ('pass', 'fail') OR outcome = 'aborted' AND findings > 0)`, p.serial) + c.count(`
			SELECT count(*) FROM run_start WHERE serial = ? AND purpose = '' AND actuation <> 'electrical'
			   AND NOT EXISTS (SELECT 1 FROM run WHERE run.start = run_start.seq)`, p.serial)
		if used > c.product.Attempts+c.overrides[p.serial] {
			c.says("%s had %d attempts of %d, and %d overrides", p.serial, used, c.product.Attempts, c.overrides[p.serial])
		}
	}
}

// tally holds what the lane counts of the shift against the records of its jig: each unit
// of production once, by its last judged run. All that happens in a walk is one shift.
func (c *crowd) tally() {
	c.Helper()
	rows, err := c.db.QueryContext(c.Context(), `
		SELECT run.serial, outcome, attempt FROM run JOIN jig USING (jig)
		WHERE jig.serial = 'SIM-0001' AND purpose = '' AND (actuation <> 'electrical' OR outcome = 'fail') ORDER BY seq`)
	c.must(err)
	defer rows.Close()
	stands := map[string]string{}
	for rows.Next() {
		var serial, outcome string
		var attempt int
		c.must(rows.Scan(&serial, &outcome, &attempt))
		switch now := stands[serial]; {
		case outcome == "fail":
			stands[serial] = "failed"
		case outcome == "pass" && attempt > 1 && now != "first":
			stands[serial] = "retest"
		case outcome == "pass":
			stands[serial] = "first"
		case now == "":
			stands[serial] = "open"
		}
	}
	c.must(rows.Err())
	want := map[string]int{}
	for _, s := range stands {
		want[s]++
	}
	t := c.lane.State().Tally
	got := map[string]int{"first": t.First, "retest": t.Retest, "failed": t.Failed, "open": t.Open}
	for what, n := range got {
		if n != want[what] {
			c.says("the lane counts %v, the records have %v", got, want)
		}
	}
	if sum := t.First + t.Retest + t.Failed + t.Open; t.Units != sum || t.Units != len(stands) {
		c.says("%d units, their sum is %d, and the records have %d", t.Units, sum, len(stands))
	}
}

// firstPasses holds the sum over the line against the units one by one.
func (c *crowd) firstPasses() {
	want := 0
	for _, p := range c.pads {
		var outcome sql.NullString
		err := c.db.QueryRowContext(c.Context(), `
			SELECT outcome FROM (
			    SELECT start AS n, outcome FROM run WHERE serial = ?1 AND purpose = '' AND actuation <> 'electrical'
			       AND (outcome IN ('pass', 'fail') OR outcome = 'aborted' AND findings > 0)
			    UNION ALL SELECT seq, 'not finished' FROM run_start WHERE serial = ?1 AND purpose = '' AND actuation <> 'electrical'
			       AND NOT EXISTS (SELECT 1 FROM run WHERE run.start = run_start.seq))
			ORDER BY n LIMIT 1`, p.serial).Scan(&outcome)
		if err == nil && outcome.String == "pass" {
			want++
		}
	}
	var got int
	c.must(c.db.QueryRowContext(c.Context(), `SELECT coalesce(sum(first_passed), 0) FROM cell WHERE purpose = ''`).Scan(&got))
	if got != want {
		c.says("%d units passed first time by the sums, %d by their lives", got, want)
	}
}
