package station

import (
	"context"
	"database/sql"
	"os"
	"path/filepath"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/jigsim"
	"padjig/fixture/jigsim/world"
	"padjig/fixture/link"
	"padjig/fixture/quantity"
	"padjig/fixture/simport"
	"padjig/fixture/wire"
	"padjig/results"
	"padjig/results/fails"
	"padjig/results/releases/releasestest"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/product"
)

// stand is a work place in fake time: records of its own in a real store, and
// simulated jigs on ports in memory, which can be plugged in and out.
type stand struct {
	*testing.T
	product *product.Product
	store   *results.Store
	setup   Setup // of the lane to be started; change it before
	lane    *Lane
	jig     *jigsim.Jig         // what is on the first port from the beginning
	zero    quantity.Ohm        // of each channel, in calibrations to come
	boots   int                 // of jigs put in place of one another, beside the first
	lay     func(serial string) // has that unit lie in the jig, if it does not
	ports   simport.Ports
	real    bool          // see pretend
	claims  []*runs.Begun // held: a claim ends with whoever holds it
	end     func()        // ends the lane, and waits for that
}

// firstPort has a slash, so that a lane takes it for a port.
const firstPort = "sim/0"

// gcc is the demonstration product as the text of a file.
func gcc(t testing.TB) string {
	t.Helper()
	text, err := os.ReadFile("../../../testdata/products/gcc-20.yaml")
	require.NoError(t, err)
	return string(text)
}

// parsed is a product from the text of a file.
func parsed(t testing.TB, text string) *product.Product {
	t.Helper()
	p, err := product.Parse("test", []byte(text))
	require.NoError(t, err)
	return p
}

// at has somebody work at a stand, with a product whose file has more lines at its end.
func at(t *testing.T, more string, work func(*stand)) {
	t.Helper()
	synctest.Test(t, func(t *testing.T) {
		s := &stand{T: t}
		s.product = parsed(t, gcc(t)+more)
		s.store = s.records(filepath.Join(t.TempDir(), "records.sqlite"))
		s.jig = s.simulated(jigsim.Defaults())
		s.ports.Plug(firstPort, s.jig)
		s.setup = Setup{Store: s.store, Product: s.product, Jig: firstPort, Twice: time.Nanosecond, Open: s.ports.Open, Find: s.ports.Find}
		s.lay = simport.Operator(func() *jigsim.Jig { return s.jig })
		s.setup.Load = s.lay // nil for somebody who leaves the unit in
		t.Cleanup(s.ports.Close)
		work(s)
	})
}

// records is a store, with the room set aside that it would take the time to make.
func (s *stand) records(path string) *results.Store {
	s.Helper()
	require.NoError(s, os.WriteFile(path+"-ballast", nil, 0o644))
	store, err := results.Open(s.Context(), path)
	require.NoError(s, err)
	s.Cleanup(func() { assert.NoError(s, store.Close()) })
	return store
}

// simulated is a jig with a good unit in it.
func (s *stand) simulated(id wire.Identity) *jigsim.Jig {
	s.Helper()
	jig, err := jigsim.New(jigsim.Config{
		Identity: id, Keypad: s.product.Circuit(), Contact: s.product.Nominal.Contact, Wiring: s.product.Wiring(),
		Actuators: s.product.Pushes(), Seed: 7, Pace: true, Baud: link.DefaultBaud,
	})
	require.NoError(s, err)
	return jig
}

// replace puts another jig in place of the one on the first port.
func (s *stand) replace(change func(*wire.Identity)) {
	s.Helper()
	id := jigsim.Defaults()
	change(&id)
	s.ports.Unplug(firstPort)
	s.jig = s.simulated(id)
	for s.boots++; s.jig.Counts().Boots <= s.boots; {
		s.jig.Reboot() // each draws a session of its own, from the same seed
	}
	s.plug()
}

func (s *stand) plug() {
	if s.real {
		s.ports.PlugSolemn(firstPort, s.jig)
		return
	}
	s.ports.Plug(firstPort, s.jig)
}

// pretend has the jig say that it is no simulation, or that it is, to who opens it from then on.
func (s *stand) pretend(real bool) {
	s.real = real
	s.plug()
}

// named is the identity of another simulated jig.
func named(serial string) wire.Identity {
	id := jigsim.Defaults()
	id.Serial = serial
	return id
}

// put puts another unit into the jig, or takes its trouble away.
func (s *stand) put(faults string) {
	s.Helper()
	keypad := s.product.Circuit()
	parsed, err := world.ParseFaults(faults, keypad)
	require.NoError(s, err)
	require.NoError(s, s.jig.Load(world.Unit{Keypad: keypad, Contact: s.product.Nominal.Contact, Faults: parsed, Seed: 7}))
}

// place puts a unit that failed where it goes, as an operator does: place and tag are
// scanned, and the lane is told. One that owes nothing stays where it is.
func (s *stand) place(serial string) {
	s.Helper()
	for _, simulated := range []bool{true, false} {
		owed, err := s.store.Fails.Open(s.Context(), simulated)
		require.NoError(s, err)
		for _, o := range owed {
			if o.Serial == serial {
				_, err := s.store.Fails.Place(s.Context(), o.Run, fails.Place{}, "Abel")
				require.NoError(s, err)
			}
		}
	}
	if s.lane != nil {
		s.lane.Refresh()
	}
	synctest.Wait()
}

// start has a lane begin its work, and waits until it has its jig.
func (s *stand) start() {
	s.Helper()
	s.begin()
	s.until("has its jig", func(st State) bool { return st.Jig.Present && st.Jig.Serial != "" })
	synctest.Wait()
}

// begin has a lane begin its work, with or without a jig.
func (s *stand) begin() {
	s.lane = NewLane(s.setup)
	s.run()
}

// run has the lane that was made begin its work.
func (s *stand) run() {
	ctx, cancel := context.WithCancel(context.Background())
	over := make(chan struct{})
	lane := s.lane
	go func() {
		defer close(over)
		lane.Run(ctx)
	}()
	s.end = sync.OnceFunc(func() { cancel(); <-over })
	s.Cleanup(s.end)
}

// until waits until the lane stands so. Time is not real: what never comes is
// known at once.
func (s *stand) until(what string, so func(State) bool) State {
	s.Helper()
	changes, stop := s.lane.Subscribe()
	defer stop()
	late := time.NewTimer(time.Hour)
	defer late.Stop()
	for {
		now := s.lane.State()
		if so(now) {
			return now
		}
		select {
		case <-changes:
		case <-late.C:
			s.Fatalf("never: %s; %s %v %v", what, now.Phase, now.Refusal, now.Jig.Why)
		}
	}
}

// scan scans a number, without waiting for what comes of it.
func (s *stand) scan(serial string) { s.lane.Scan(Scan{Serial: serial, Operator: "Abel"}) }

// press presses start for the unit in hand, once it is asked for.
func (s *stand) press() {
	s.Helper()
	st := s.until("asks for the start", func(st State) bool { return st.Phase == Armed || !st.Phase.Busy() })
	require.Equal(s, Armed, st.Phase, "%v", st.Refusal)
	s.lane.Start(st.Unit.Serial)
}

// settled waits until a unit is out of the lane's hands.
func (s *stand) settled(serial string) State {
	s.Helper()
	synctest.Wait()
	st := s.until(serial+" is done", func(st State) bool { return st.Unit.Serial == serial && !st.Phase.Busy() })
	time.Sleep(time.Millisecond) // nobody is quicker
	synctest.Wait()
	return st
}

// test scans a unit and waits until its verdict stands, or it is refused.
func (s *stand) test(serial string) State {
	s.Helper()
	s.scan(serial)
	return s.settled(serial)
}

// tests holds that the lane is alive: a good unit passes.
func (s *stand) tests(serial string) {
	s.Helper()
	st := s.test(serial)
	if assert.Equal(s, Ended, st.Phase, "%v", st.Refusal) {
		assert.Equal(s, sequence.Pass, st.Verdict.Outcome)
	}
}

// unit is the serial number of the n-th unit.
func (s *stand) unit(n int) string { return s.product.Serial.Complete(n) }

// moves is how often the jig has pressed or joined anything.
func (s *stand) moves() int {
	counts := s.jig.Counts()
	sum := counts.Joins
	for _, n := range counts.Presses {
		sum += n
	}
	return sum
}

// runs are the stored runs of a unit.
func (s *stand) runs(serial string) []runs.Stored {
	s.Helper()
	runs, err := s.store.Runs.Unit(s.Context(), serial)
	require.NoError(s, err)
	return runs
}

// refused holds that a unit was refused for a reason, and that nothing of it
// moved and nothing of it was stored.
func (s *stand) refused(serial string, code Code, do func()) *Refusal {
	s.Helper()
	before, stored := s.moves(), len(s.store1(serial))
	do()
	st := s.settled(serial)
	require.Equal(s, Refused, st.Phase)
	assert.Equal(s, code, st.Refusal.Code, st.Refusal.Error())
	assert.Nil(s, st.Verdict)
	assert.Equal(s, before, s.moves(), "something moved")
	assert.Len(s, s.store1(serial), stored, "something was stored")
	return st.Refusal
}

// store1 are the runs of a unit as somebody sees them who opens the file anew,
// none where it is not there.
func (s *stand) store1(serial string) []runs.Stored {
	s.Helper()
	other, err := results.OpenReadOnly(s.Context(), s.store.Path())
	if err != nil {
		return nil
	}
	defer other.Close()
	runs, err := other.Runs.Unit(s.Context(), serial)
	require.NoError(s, err)
	return runs
}

// aside is a connection to the records file beside padjig, as another program
// would have it: what it does there padjig does not know of.
func (s *stand) aside() *sql.DB {
	s.Helper()
	db, err := sql.Open("sqlite3", s.store.Path()+"?_busy_timeout=5000")
	require.NoError(s, err)
	db.SetMaxOpenConns(1)
	s.Cleanup(func() { assert.NoError(s, db.Close()) })
	return db
}

// spoil changes something in the records file behind padjig's back.
func (s *stand) spoil(statements ...string) {
	s.Helper()
	_, err := s.aside().ExecContext(s.Context(), strings.Join(statements, ";"))
	require.NoError(s, err)
}

// linkOptions are those of a terminal.
var linkOptions link.Options

// revised is the product with another revision label and another limit.
func (s *stand) revised(label string) *product.Product {
	s.Helper()
	text := strings.Replace(gcc(s), "revision: C", "revision: "+label, 1)
	return parsed(s, strings.Replace(text, "contact resistance: at most 200 ohm", "contact resistance: at most 150 ohm", 1))
}

// swap changes a text in the one place where it stands.
func swap(text, from, to string) string { return strings.Replace(text, from, to, 1) }

// claim takes a unit as another station would that shares the records.
func (s *stand) claim(serial string, simulated bool) *runs.Begun {
	s.Helper()
	begun, err := s.store.Runs.Begin(s.Context(), RevisionOf(s.product), runs.Start{
		Serial: serial, Jig: sequence.JigName{Serial: "J-0042"}, Started: time.Now(), Simulated: simulated,
	}, func(runs.History) error { return nil })
	require.NoError(s, err)
	s.claims = append(s.claims, begun)
	return begun
}

// came opens a returns case of a unit, which may be measured.
func (s *stand) came(serial string) returns.Case {
	s.Helper()
	c, err := s.store.Returns.OpenCase(s.Context(), serial, s.product.Code,
		returns.Intake{Received: time.Now(), Complaint: "key dead", Conditions: []string{returns.NothingVisible}, By: "Rosa"})
	require.NoError(s, err)
	require.NoError(s, s.store.Returns.SayNoPhoto(s.Context(), c, returns.NoPhoto{Reason: "the camera is broken", By: "Rosa"}))
	return c
}

// release releases a revision with a limit of its own.
func (s *stand) release(label, limit string) {
	s.Helper()
	text := swap(swap(gcc(s), "revision: C", "revision: "+label), "contact resistance: at most 200 ohm", "contact resistance: at most "+limit)
	require.NoError(s, releasestest.Release(s.Context(), s.store, text))
}

// calibrated gives the jig a zero and a verification, as a real one or as a
// simulated one, that hold for thirty days.
func (s *stand) calibrated(performed time.Time, good bool) {
	s.Helper()
	for _, kind := range []sequence.CalibrationKind{sequence.KindZero, sequence.KindVerify} {
		s.calibration(kind, performed, good)
	}
}

func (s *stand) calibration(kind sequence.CalibrationKind, performed time.Time, good bool) {
	s.Helper()
	c := sequence.Calibration{
		Kind: kind, Jig: sequence.JigName{Serial: "SIM-0001"}, Simulated: !s.real, Operator: "Ines",
		Performed: performed, Interval: 30 * 24 * time.Hour, Good: good,
	}
	if !good {
		c.Reason = "channel 3 is dirty"
	}
	if kind == sequence.KindVerify {
		c.Box, c.BoxSerial, c.Certificate, c.CertificateDue = "four resistors", "RB-7", "C-2026-118", performed.AddDate(1, 0, 0)
	}
	for channel := 1; channel <= 10; channel++ {
		r := sequence.CalibrationReading{
			Channel: channel, Reference: 500, Measured: fixture.Resistance{Value: s.zero, U: 0.01}, Deviation: fixture.Resistance{Value: s.zero, U: 0.01}, Limit: 5, Good: good,
		}
		if !good {
			r.Deviation.Value = 10
		}
		if kind == sequence.KindVerify {
			r.Mate, r.Resistor = channel+1, "R1"
			r.Certified, r.Measured = fixture.Resistance{Value: 450, U: 0.01}, fixture.Resistance{Value: 450, U: 0.01}
		}
		c.Readings = append(c.Readings, r)
	}
	_, err := s.store.Care.SaveCalibration(s.Context(), c)
	require.NoError(s, err)
}

// answer waits for what comes over a channel, or its end.
func answer[T any](s *stand, from <-chan T) (got T) {
	s.Helper()
	select {
	case got = <-from:
	case <-time.After(time.Hour):
		s.Fatal("nothing ever came")
	}
	return got
}
