package station

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/wire"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/wording"
)

// fitted is the jig with an adapter of some identity, opened anew.
func (s *stand) fitted(adapter string) {
	s.Helper()
	s.replace(func(id *wire.Identity) { id.Adapter = adapter })
}

const asksForAdapter = "\nadapter: A-20 A-21\n"

// A product that names adapters is tested through one of them: another, or none that
// the jig states, keeps everybody from moving anything, whatever the unit is for.
func TestAdapterOfTheProduct(t *testing.T) {
	at(t, asksForAdapter+demanding, func(s *stand) {
		s.fitted("A-9")
		for name, change := range map[string]func(*candidate){
			"production": func(*candidate) {}, "override": func(j *candidate) { j.Overridden = true },
			"study": func(j *candidate) { j.Study = true }, "reference unit": func(j *candidate) { j.Serial = "REF-G" },
			"stage": func(j *candidate) {
				j.Serial = s.unit(9) // once it came back it is no unit of production any more
				j.Return = &Return{Case: s.came(j.Serial), Purpose: sequence.FirstPress}
			},
		} {
			j, _ := s.job(s.unit(1))
			change(j)
			r := s.turnedAway(j, AdapterWrong)
			assert.Equal(s, []string{"A-9", "SIM-0001", "A-20, A-21"}, r.Args, name)
			assert.Contains(s, wording.Words{}.Try(r.Remedy), "fit adapter A-20, A-21 to jig SIM-0001", name)
		}
		s.fitted("")
		j, _ := s.job(s.unit(2))
		r := s.turnedAway(j, AdapterUnknown)
		assert.ErrorContains(s, r, "jig SIM-0001 does not state which adapter is fitted, and GCC-20 asks for A-20, A-21")
		for _, fits := range []string{"A-20", "A-21"} {
			s.fitted(fits)
			j, _ = s.job("REF-G")
			assert.Equal(s, sequence.Pass, s.done(j).Outcome)
		}
		s.fitted("a-20")
		j, _ = s.job(s.unit(2))
		s.turnedAway(j, AdapterWrong)
	})
}

// Where a product names none, another adapter than it was last passed through is said;
// a fail through it says nothing of it, nor does what another sort of jig or product did.
func TestAdapterChanged(t *testing.T) {
	at(t, "", func(s *stand) {
		tested := func(n int, warned ...Code) {
			s.Helper()
			j, d := s.job(s.unit(n))
			s.done(j)
			assert.Equal(s, warned, d.warnings, n)
		}
		s.fitted("A-20")
		tested(1)
		tested(2)
		s.fitted("A-21")
		s.put("key 7 open")
		tested(3, AdapterChanged)
		s.place(s.unit(3))
		s.put("")
		tested(4, AdapterChanged)
		tested(5)
		s.fitted("")
		tested(6, AdapterChanged)
		s.fitted("A-20")
		s.product = parsed(s, swap(gcc(s), "product: GCC-20", "product: GCC-21"))
		j, d := s.job(s.unit(7))
		s.done(j)
		assert.Empty(s, d.warnings, "another product was never passed through any")
	})
}

// An adapter that is exchanged while a lane has its jig open is read anew, and so it is
// when the jig was unplugged meanwhile.
func TestAdapterExchangedUnderALane(t *testing.T) {
	at(t, asksForAdapter, func(s *stand) {
		s.fitted("A-20")
		s.start()
		s.tests(s.unit(1))
		require.NoError(s, s.jig.Fit("A-9"))
		s.until("has read the other adapter", func(st State) bool { return st.Jig.Present && st.Jig.Caps.Adapter == "A-9" })
		st := s.until("says it before any scan", func(st State) bool { return len(st.Conditions) > 0 })
		assert.Equal(s, AdapterWrong, st.Conditions[0].Code)
		s.refused(s.unit(2), AdapterWrong, func() { s.scan(s.unit(2)) })
		s.fitted("A-21")
		s.until("has read the right one", func(st State) bool { return st.Jig.Present && st.Jig.Caps.Adapter == "A-21" })
		s.tests(s.unit(2))

		s.scan(s.unit(3)) // exchanged in the middle of a unit: that is stopped, and no verdict
		s.until("has tested a key", func(st State) bool { return st.Phase == Running && st.Done > 0 })
		require.NoError(s, s.jig.Fit("A-20"))
		s.settled(s.unit(3))
		assert.Equal(s, sequence.Aborted, s.runs(s.unit(3))[0].Outcome)
	})
}

// A file that does not use the field means what it meant.
func TestAdapterIsOfTheMeaningOnlyWhereItIsAskedFor(t *testing.T) {
	plain, asking := parsed(t, gcc(t)), parsed(t, gcc(t)+asksForAdapter)
	assert.NotContains(t, string(plain.Canonical()), "adapter")
	assert.NotEqual(t, plain.Hash(), asking.Hash())
	assert.Equal(t, asking.Hash(), parsed(t, gcc(t)+"\nadapter: [A-21, A-20]\n").Hash())
	back, err := product.Restore(asking.Canonical(), "", "")
	require.NoError(t, err)
	assert.Equal(t, asking.Adapters, back.Adapters)
}
