package station

import (
	"context"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station/note"
	"padjig/fixture"
	"padjig/results/floor"
	"padjig/results/lines"
	"padjig/results/releases/releasestest"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/runner"
)

// other is a second product for the same jig, with lines of its own at the end of its file.
func other(s *stand, more string) (text string, p *product.Product) {
	s.Helper()
	text = swap(gcc(s), "product: GCC-20", "product: GCC-24") + more
	return text, parsed(s, text)
}

// releases the second product.
func (s *stand) second(more string) *product.Product {
	s.Helper()
	text, p := other(s, more)
	require.NoError(s, releasestest.Release(s.Context(), s.store, text))
	return p
}

func (s *stand) change(code string) error {
	s.Helper()
	return s.lane.ChangeProduct(s.Context(), code, "Abel")
}

// unchanged holds that a change is refused, and that lane and records are as before.
func (s *stand) unchanged(code string, want Code) {
	s.Helper()
	before, last := s.lane.State(), s.lastChange()
	err := s.change(code)
	if assert.Error(s, err) {
		assert.Equal(s, want, RefusalOf(err).Code, err.Error())
		assert.NotContains(s, err.Error(), "{")
	}
	after := s.lane.State()
	assert.Equal(s, before.Product, after.Product)
	assert.Equal(s, before.Phase, after.Phase)
	assert.Equal(s, before.Unit, after.Unit)
	assert.Equal(s, last, s.lastChange())
}

// lastChange is the newest change of product in the records.
func (s *stand) lastChange() *floor.ProductChange {
	s.Helper()
	last, err := s.store.Floor.LastProductChange(s.Context(), "SIM-0001", true)
	require.NoError(s, err)
	return last
}

// A lane tests another product without a restart, and the one before again; who changed what
// is in the records, among what happened at the line, and its figures are of what it tests.
func TestALaneChangesItsProduct(t *testing.T) {
	at(t, "", func(s *stand) {
		p := s.second("")
		s.start()
		s.tests(s.unit(1))
		require.NoError(s, s.change("GCC-24"))
		st := s.lane.State()
		assert.Equal(s, "GCC-24", st.Product.Code)
		assert.Equal(s, Ready, st.Phase)
		assert.Equal(s, note.Of(note.Changed, "GCC-20", "GCC-24"), st.Note)
		assert.Zero(s, st.Tally.Units)
		assert.Equal(s, &floor.ProductChange{Jig: "SIM-0001", Simulated: true, Before: "GCC-20", Product: "GCC-24",
			Given: "GCC-20", By: "Abel"}, s.lastChange())
		s.tests(p.Serial.Complete(2))
		assert.Equal(s, "GCC-24", s.runs(p.Serial.Complete(2))[0].Product)
		require.NoError(s, s.change("GCC-20"), "the one it was started with has no release, and is tested as it was")
		assert.Equal(s, 1, s.lane.State().Tally.Units)
		s.tests(s.unit(3))
		both := []string{"SIM-0001: GCC-20 > GCC-24", "SIM-0001: GCC-24 > GCC-20"}
		for code, want := range map[string][]string{"GCC-20": both, "": both, "GCC-24": both[1:]} { // behind its first run
			events, err := s.store.Lines.Events(s.Context(), lines.Filter{Product: code, Simulated: true})
			require.NoError(s, err)
			var changed []string
			for _, e := range events {
				if e.Kind == "product" {
					changed = append(changed, e.Jig+": "+e.Text)
				}
			}
			assert.Equal(s, want, changed, code)
		}
		faults, err := s.store.Check(s.Context())
		require.NoError(s, err)
		assert.Empty(s, faults)
		for _, forged := range []string{"UPDATE product_change SET by = 'Eve'", "DELETE FROM product_change", "INSERT INTO product_change SELECT 9, jig, simulated, before, product, given, after_run, by, at_us, hash FROM product_change LIMIT 1"} {
			_, err := s.aside().ExecContext(s.Context(), forged)
			assert.ErrorContains(s, err, "append-only")
		}
	})
}

// What is not in force, does not fit the jig, or is tested already is refused, and changes nothing.
func TestAProductThatALaneCannotChangeTo(t *testing.T) {
	at(t, "", func(s *stand) {
		s.second("adapter: PLATE-9\n")
		text := swap(gcc(s), "product: GCC-20", "product: GCC-28")
		require.NoError(s, releasestest.Release(s.Context(), s.store, text))
		s.start()
		for code, want := range map[string]Code{
			"GCC-24": AdapterUnknown,
			"GCC-20": TestedAlready,
			"GCC-99": NotInForce, "": NotInForce, "gcc-28": NotInForce, "GCC-2": NotInForce, // misread, cut, hand-typed
		} {
			s.unchanged(code, want)
		}
		s.spoil(`DROP TRIGGER release_no_update`, `UPDATE release SET source = replace(source, '200 ohm', '900 ohm') WHERE code = 'GCC-28'`)
		s.unchanged("GCC-28", ReleaseAltered)
		s.unchanged("GCC-24", AdapterUnknown) // and keeps no other from being asked for
		s.tests(s.unit(1))
		s.ports.Unplug(firstPort)
		s.until("is gone", func(st State) bool { return !st.Jig.Present })
		s.unchanged("GCC-24", NoJig)
	})
}

// A unit in hand, in whichever phase, keeps its product; so does a jig whose unit that failed
// was not put where it goes. Afterwards the change is made.
func TestAChangeWaitsForTheUnit(t *testing.T) {
	at(t, "", func(s *stand) {
		s.second("")
		s.start()
		s.jig.Lid(true)
		s.scan(s.unit(1))
		s.until("waits for the lid", func(st State) bool { return st.Phase == Lid })
		s.unchangedBusy()
		s.jig.Lid(false)
		s.press()
		s.until("runs", func(st State) bool { return st.Phase == Running && st.Done > 3 })
		s.unchangedBusy()
		s.settled(s.unit(1))

		s.put("key 7 open")
		st := s.test(s.unit(2))
		require.Equal(s, sequence.Fail, st.Verdict.Outcome)
		s.unchanged("GCC-24", FailNotPlaced)
		s.lane.Clear()
		s.unchanged("GCC-24", FailNotPlaced)
		s.place(s.unit(2))
		require.NoError(s, s.change("GCC-24"))
	})
}

func (s *stand) unchangedBusy() {
	s.Helper()
	assert.Equal(s, LaneBusy, RefusalOf(s.change("GCC-24")).Code)
	assert.Equal(s, "GCC-20", s.lane.State().Product.Code)
	assert.Nil(s, s.lastChange())
}

// While it is changed the lane has no ear for scans and nothing to stop; a revision of the
// product of before that comes meanwhile is for that one.
func TestWhatComesWhileTheProductIsChanged(t *testing.T) {
	at(t, "", func(s *stand) {
		p := s.second("")
		meanwhile := 0
		s.setup.around = func(step string, do func() error) error {
			if step != "change the product" {
				return do()
			}
			meanwhile++
			s.scan(s.unit(1))
			assert.Equal(s, note.Busy, s.lane.State().Note.Code)
			s.lane.Stop()
			assert.Equal(s, note.NotNow, s.lane.State().Note.Code)
			assert.Equal(s, LaneBusy, RefusalOf(s.change("GCC-20")).Code)
			s.lane.Clear()
			assert.Equal(s, Changing, s.lane.State().Phase)
			s.lane.Release(s.revised("D"))
			assert.Equal(s, s.product, s.lane.State().Product)
			return do()
		}
		s.start()
		require.NoError(s, s.change("GCC-24"))
		assert.Equal(s, 1, meanwhile)
		synctest.Wait()
		assert.Equal(s, p.Hash(), s.lane.State().Product.Hash())
		s.tests(p.Serial.Complete(1))
	})
}

// What cannot be written down is not changed.
func TestAChangeThatIsNotRecorded(t *testing.T) {
	at(t, "", func(s *stand) {
		s.second("")
		s.start()
		s.spoil("ALTER TABLE product_change RENAME TO gone")
		err := s.change("GCC-24")
		require.Error(s, err)
		assert.Equal(s, NotRecorded, RefusalOf(err).Kind)
		assert.Equal(s, "GCC-20", s.lane.State().Product.Code)
		assert.Equal(s, Ready, s.lane.State().Phase)
		s.tests(s.unit(1))
	})
}

// Reference units of the new product are due on this jig as ever: units wait for them, they
// themselves are tested.
func TestAChangeWaivesNoReferenceUnit(t *testing.T) {
	at(t, "", func(s *stand) {
		p := s.second("references: {every: 8 h, within: 20 %, good: REF-1}\n")
		s.start()
		require.NoError(s, s.change("GCC-24"))
		s.refused(p.Serial.Complete(1), ReferenceDue, func() { s.scan(p.Serial.Complete(1)) })
		s.tests("REF-1")
		s.tests(p.Serial.Complete(1))
	})
}

// A stop holds for its product on this jig: another one is tested, and on the way back the
// line is still stopped.
func TestAChangeLiftsNoStop(t *testing.T) {
	at(t, reference, func(s *stand) {
		p := s.second("")
		s.start()
		s.tests("REF-1")
		s.failing(1, 3)
		require.NotZero(s, s.stopped())
		s.put("")
		require.NoError(s, s.change("GCC-24"))
		synctest.Wait()
		assert.Zero(s, s.stopped())
		s.tests(p.Serial.Complete(11))
		require.NoError(s, s.change("GCC-20"))
		synctest.Wait()
		assert.NotZero(s, s.stopped())
		s.refused(s.unit(12), LineStopped, func() { s.scan(s.unit(12)) })
	})
}

// After a restart a lane tests what it tested last, unless the station is started with
// another product than then.
func TestALaneComesBackWithItsProduct(t *testing.T) {
	at(t, "", func(s *stand) {
		p := s.second("")
		s.start()
		require.NoError(s, s.change("GCC-24"))
		s.end()
		s.start()
		assert.Equal(s, p.Hash(), s.lane.State().Product.Hash())
		assert.Equal(s, note.Resumed, s.lane.State().Note.Code)
		s.tests(p.Serial.Complete(1))
		assert.Equal(s, 1, s.lane.State().Tally.Units)
		s.end()

		third := parsed(s, swap(gcc(s), "product: GCC-20", "product: GCC-28"))
		first := s.setup.Product
		for _, given := range []*product.Product{third, first} { // the flags say otherwise, and once more
			s.setup.Product = given
			s.start()
			assert.Equal(s, given.Hash(), s.lane.State().Product.Hash())
			assert.Equal(s, byStart, s.lastChange().By)
			s.end()
		}
		s.start()
		assert.Equal(s, "GCC-20", s.lane.State().Product.Code)
		require.NoError(s, s.change("GCC-24"))
		s.end()
		s.spoil(`DROP TRIGGER release_no_update`, `UPDATE release SET source = replace(source, '200 ohm', '900 ohm')`)
		s.start()
		st := s.lane.State()
		assert.Equal(s, "GCC-20", st.Product.Code)
		assert.Equal(s, note.NotResumed, st.Note.Code)
	})
}

// The terminal that has the unit, a returns desk that looks at one: nothing of it is changed.
func TestAChangeWaitsForTheDesk(t *testing.T) {
	at(t, "", func(s *stand) {
		s.second("")
		s.start()
		inHand, go1 := make(chan struct{}), make(chan struct{})
		over := make(chan error, 1)
		go func() {
			over <- s.lane.RunExclusive(s.Context(), ExclusiveTask{Serial: s.unit(1), Operator: "Rosa", Product: s.product, Simulated: true,
				Do: func(context.Context, *fixture.Jig, *runner.Plan) error { close(inHand); <-go1; return nil }})
		}()
		<-inHand
		s.unchangedBusy()
		close(go1)
		require.NoError(s, <-over)
		require.NoError(s, s.change("GCC-24"))
		assert.Equal(s, "GCC-24", s.lane.State().Product.Code)
	})
}
