package station

import (
	"cmp"
	"context"
	"errors"
	"fmt"
	"os"
	"path/filepath"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station/note"
	"padjig/fixture"
	"padjig/fixture/jigsim"
	"padjig/fixture/jigsim/world"
	"padjig/fixture/simport"
	"padjig/results/fails"
	"padjig/results/releases/releasestest"
	"padjig/sequence"
	"padjig/sequence/product"
)

// place is one of sixteen jigs on one store, with a person at it.
type place struct {
	*stand
	n      int
	port   string
	seed   uint64
	tested map[string]sequence.Outcome // what is to be stored of each unit; of those tested more than once the last
	mine   map[string]bool             // units that are scanned here
	others []string                    // further products that its lane tests
	shared *simport.Ports              // on which all jigs are
}

func (p *place) pull(port string)   { p.shared.Unplug(port) }
func (p *place) plugIn(port string) { p.shared.Plug(port, p.jig) }

// sixteen has sixteen lanes with jigs, products and people of their own on one store. change may change what each is made of.
func sixteen(t *testing.T, change func(*place), work func([]*place)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		first := &stand{T: t}
		first.product = parsed(t, gcc(t))
		store := first.records(filepath.Join(t.TempDir(), "records.sqlite"))
		t.Cleanup(first.ports.Close)
		var all []*place
		for n := range 16 {
			p := &place{stand: &stand{T: t, store: store}, n: n, port: fmt.Sprint("sim/", n), shared: &first.ports, tested: map[string]sequence.Outcome{}}
			p.product = fileOf(t, cmp.Or(map[int]string{11: "gcc-20", 14: "bay-16"}[n], []string{"vent-6", "loose-12", "loose-12", "vent-6"}[n%4]))
			p.mine = map[string]bool{changedUnit(t): n == 6}
			for unit := range 99 {
				p.mine[p.unit(unit)] = true
			}
			p.jig = p.simulated(named(p.serialOfJig()))
			p.lay = simport.Operator(func() *jigsim.Jig { return p.jig })
			p.setup = Setup{
				Store: store, Product: p.product, Jig: p.port, Twice: time.Nanosecond, Open: first.ports.Open, Find: first.ports.Find,
				Load: p.lay, Told: p.holdsItsOwn,
			}
			if n%2 == 1 { // every other one is asked for by its serial number
				p.setup.Jig = p.serialOfJig()
			}
			p.plugIn(p.port)
			if change != nil {
				change(p)
			}
			all = append(all, p)
		}
		for _, p := range all {
			p.begin()
		}
		for _, p := range all {
			p.until("has its jig", func(st State) bool { return st.Jig.Present && st.Jig.Serial == p.serialOfJig() })
		}
		work(all)
		for _, p := range all {
			p.end()
			p.holdsItsRuns()
		}
		wrong, err := store.Check(t.Context())
		require.NoError(t, err)
		assert.Empty(t, wrong)
	})
}

func fileOf(t *testing.T, name string) *product.Product {
	t.Helper()
	p, err := product.Load("../../../testdata/products/" + name + ".yaml")
	require.NoError(t, err)
	return p
}

// changedUnit is of the product that the seventh lane changes to.
func changedUnit(t *testing.T) string { return fileOf(t, "vent-6").Serial.Complete(9000) }

func (p *place) serialOfJig() string { return fmt.Sprintf("SIM-%04d", p.n+1) }

// unit is the n-th unit of this place: no two places have one of the same number.
func (p *place) unit(n int) string { return p.product.Serial.Complete(100*(p.n+1) + n) }

// holdsItsOwn looks at each change that the lane shows: never a unit, a jig or a verdict of another place.
func (p *place) holdsItsOwn(_, after *State) {
	if after.Unit.Serial != "" {
		assert.True(p, p.mine[after.Unit.Serial], "%s: lane %d has a unit in hand that was never scanned there", after.Unit.Serial, p.n+1)
	}
	if v := after.Verdict; v != nil {
		assert.Equal(p, after.Unit.Serial, v.Serial, "lane %d", p.n+1)
		assert.Equal(p, p.serialOfJig(), v.Jig.Serial, "lane %d", p.n+1)
	}
	if after.Jig.Present {
		assert.Equal(p, p.serialOfJig(), after.Jig.Serial, "lane %d", p.n+1)
	}
}

// settled waits until a unit is out of the lane's hands.
func (p *place) settled(serial string) State {
	p.Helper()
	st := p.until(serial+" is done", func(st State) bool { return st.Unit.Serial == serial && !st.Phase.Busy() })
	time.Sleep(time.Millisecond) // nobody is quicker
	return st
}

// puts has another unit put in, with faults, and scanned.
func (p *place) puts(serial, faults string, want sequence.Outcome) {
	p.Helper()
	keypad := p.product.Circuit()
	parsed, err := world.ParseFaults(faults, keypad)
	require.NoError(p, err, faults)
	p.seed++
	require.NoError(p, p.jig.Load(world.Unit{Keypad: keypad, Contact: p.product.Nominal.Contact, Faults: parsed, Seed: 1000*uint64(p.n) + p.seed}))
	p.tested[serial] = want
	p.lane.Scan(Scan{Serial: serial, Operator: fmt.Sprint("operator ", p.n+1)})
}

// tests puts that number of units through, the second of them with a fault that no other place has, and has it put where fails go.
func (p *place) tests(from, units int) (took time.Duration) {
	p.Helper()
	began := time.Now()
	for n := range units {
		serial, faults, want := p.unit(from+n), "", sequence.Pass
		if n == 1 {
			faults, want = fmt.Sprintf("key %s open", p.product.Keys[p.n%len(p.product.Keys)].Label), sequence.Fail
		}
		p.puts(serial, faults, want)
		st := p.settled(serial)
		if !assert.Equal(p, Ended, st.Phase, "lane %d: %v", p.n+1, st.Refusal) {
			return 0
		}
		assert.Equal(p, want, st.Verdict.Outcome, "lane %d", p.n+1)
		if want == sequence.Fail {
			_, err := p.store.Fails.Place(p.Context(), st.Verdict.ID, fails.Place{}, "Abel")
			require.NoError(p, err)
			p.lane.Refresh()
			p.until("is put away", func(st State) bool { return len(st.Owed) == 0 })
		}
	}
	return time.Since(began)
}

// Sixteen jigs with four products among them; at eleven something goes wrong while all test. The other five go on as if they were
// alone, in the same time to a hundredth, and of nobody's unit anything is shown or stored anywhere but at its own jig.
func TestSixteenJigsAndTheirTroubles(t *testing.T) {
	const units = 2
	var hung, tested chan struct{} // made where time is not real
	trouble := map[int]func(*place){
		0: func(p *place) { // hangs silent in the middle, and answers again when the unit is changed
			p.puts(p.unit(50), "jig silent at routine 3", sequence.Aborted)
			p.settled(p.unit(50))
			p.until("has lost it", func(st State) bool { return !st.Jig.Present })
			<-tested
			p.put("")
			p.until("has it again", func(st State) bool { return st.Jig.Present })
		},
		1: func(p *place) { // rubbish both ways
			p.puts(p.unit(50), "jig noisy 0.3 at routine 3", sequence.Aborted)
			p.settled(p.unit(50))
			<-tested
			p.put("")
			p.until("has it again", func(st State) bool { return st.Jig.Present })
		},
		2: func(p *place) { // is unplugged, and comes back on another port
			p.puts(p.unit(50), "", sequence.Aborted)
			p.until("is under way", func(st State) bool { return st.Done > 0 })
			p.pull(p.port)
			p.settled(p.unit(50))
			time.Sleep(2 * time.Second)
			p.port = "sim/again"
			p.plugIn(p.port)
			p.until("has it again", func(st State) bool { return st.Jig.Present })
		},
		3: func(p *place) { // its lid stays open
			p.puts(p.unit(50), "jig opens interlock", "")
			p.until("waits for the lid", func(st State) bool { return st.Phase == Lid })
			<-tested
			p.lane.Stop()
			p.settled(p.unit(50))
			p.put("")
		},
		4: func(p *place) { // somebody presses its emergency stop
			p.puts(p.unit(50), "jig emergency for 60 s at routine 3", sequence.Aborted)
			p.settled(p.unit(50))
			p.put("")
		},
		5: func(p *place) { // is calibrated, and whoever does it went away
			over := make(chan error, 1)
			require.NoError(p, p.lane.RunOnJig("Ines", func(ctx context.Context, _ *fixture.Jig) error {
				<-ctx.Done()
				return ctx.Err()
			}, func(err error) { over <- err }))
			<-tested
			p.lane.Stop()
			<-over
		},
		6: func(p *place) { // changes its product
			require.NoError(p, p.lane.ChangeProduct(p.Context(), "VENT-6", "Ines"))
			other := fileOf(p.T, "vent-6")
			serial := changedUnit(p.T)
			p.tested[serial], p.others = "", []string{other.Code}
			keypad := other.Circuit()
			require.NoError(p, p.jig.Load(world.Unit{Keypad: keypad, Contact: other.Nominal.Contact, Seed: 99}))
			p.lane.Scan(Scan{Serial: serial, Operator: "operator 7"})
			st := p.settled(serial)
			require.NotNil(p, st.Verdict, "%v", st.Refusal)
			assert.Equal(p, other.Code, st.Verdict.Product)
			p.tested[serial] = st.Verdict.Outcome
			require.NoError(p, p.lane.ChangeProduct(p.Context(), p.product.Code, "Ines"))
			p.put("")
		},
		7: func(p *place) { // the program has a mistake there
			p.puts(p.unit(50), "", "")
			st := p.until("has let go", func(st State) bool { return errors.Is(st.Jig.Why, ErrLetGo) })
			assert.Equal(p, note.Of(note.Fell, p.unit(50)), st.Note)
			<-tested
			require.NoError(p, p.lane.TakeBack(p.lane.State().LetGo))
			p.until("has it again", func(st State) bool { return st.Jig.Present })
		},
		8: func(p *place) { // waits for ever to store a run
			p.puts(p.unit(50), "", sequence.Pass)
			p.until("stores", func(st State) bool { return st.Phase == Storing })
			<-tested
			close(hung)
			p.settled(p.unit(50))
		},
		9: func(p *place) { // boots in the middle
			p.puts(p.unit(50), "jig reboots at routine 3", sequence.Aborted)
			p.settled(p.unit(50))
			p.until("has it again", func(st State) bool { return st.Jig.Present })
			p.put("")
		},
		10: func(p *place) { // its port is let go of, for somebody at the terminal
			p.lane.LetGo(p.Context())
			<-tested
			require.NoError(p, p.lane.TakeBack(p.lane.State().LetGo))
			p.until("has it again", func(st State) bool { return st.Jig.Present })
		},
	}
	sixteen(t, func(p *place) {
		if p.n == 0 {
			hung, tested = make(chan struct{}), make(chan struct{})
		}
		p.setup.around = func(step string, do func() error) error {
			st := p.lane.State()
			switch {
			case p.n == 7 && step == "measure" && st.Unit.Serial == p.unit(50):
				panic("no such key")
			case p.n == 8 && step == "save" && st.Unit.Serial == p.unit(50):
				<-hung
			}
			return do()
		}
	}, func(all []*place) {
		vent, err := os.ReadFile("../../../testdata/products/vent-6.yaml")
		require.NoError(all[0], err)
		require.NoError(all[0], releasestest.Release(all[0].Context(), all[0].store, string(vent)))
		quiet, beside := make([]time.Duration, len(all)), make([]time.Duration, len(all))
		atAll(all, func(p *place) {
			if trouble[p.n] == nil {
				quiet[p.n] = p.tests(1, units)
			}
		})
		var troubled, others sync.WaitGroup
		for _, p := range all {
			if c := trouble[p.n]; c != nil {
				troubled.Go(func() { c(p) })
			} else {
				others.Go(func() { beside[p.n] = p.tests(20, units) })
			}
		}
		others.Wait() // whatever stands still at the eleven
		close(tested)
		troubled.Wait()
		for n := range all {
			if trouble[n] == nil {
				assert.InEpsilon(all[n], quiet[n].Seconds(), beside[n].Seconds(), 0.01, "lane %d", n+1)
			}
		}
		atAll(all, func(p *place) { p.tests(60, 1) }) // and every lane tests, when its trouble is over
	})
}

func atAll(all []*place, do func(*place)) {
	var group sync.WaitGroup
	for _, p := range all {
		group.Go(func() { do(p) })
	}
	group.Wait()
}

// holdsItsRuns compares what the records have of this jig with what was tested there.
func (p *place) holdsItsRuns() {
	p.Helper()
	all, err := p.store.Runs.Recent(p.Context(), 10000)
	require.NoError(p, err)
	found := map[string]sequence.Outcome{}
	for i := len(all) - 1; i >= 0; i-- { // the newest last
		if all[i].Jig != p.serialOfJig() {
			assert.NotContains(p, p.tested, all[i].Serial, "a unit of lane %d stands under jig %s", p.n+1, all[i].Jig)
			continue
		}
		run, err := p.store.Runs.Run(p.Context(), all[i].ID)
		require.NoError(p, err)
		found[run.Serial] = run.Outcome
		assert.Equal(p, fmt.Sprint("operator ", p.n+1), run.Operator)
		if run.Product != p.product.Code {
			assert.Contains(p, p.others, run.Product, "lane %d", p.n+1)
		}
		if run.Outcome == sequence.Fail {
			require.Len(p, run.Findings, 1)
			assert.Equal(p, p.product.Keys[p.n%len(p.product.Keys)].Label, run.Findings[0].Key, "lane %d", p.n+1)
		}
	}
	want := map[string]sequence.Outcome{}
	for serial, outcome := range p.tested {
		if outcome != "" {
			want[serial] = outcome
		}
	}
	assert.Equal(p, want, found, "lane %d", p.n+1)
}
