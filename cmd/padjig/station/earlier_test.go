package station

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/wire"
	"padjig/results/floor"
	"padjig/sequence"
	"padjig/sequence/diagnose"
	"padjig/sequence/evidence"
	"padjig/sequence/wording"
)

// shift is a stand at which units are tested one after the other on two jigs.
type shiftOf struct {
	*stand
	n int
}

// on puts a jig there, tests units with a fault, and gives the last one. What fails is
// put where it goes, and whoever is called to a line that stopped lets it go on.
func (s *shiftOf) on(jig string, units int, fault string) (done Done) {
	s.Helper()
	s.replace(func(id *wire.Identity) { id.Serial = jig })
	s.put(fault)
	for range units {
		s.n++
		j, _ := s.job(s.unit(s.n))
		done = s.done(j)
		s.place(done.Serial)
		if len(done.Stops) > 0 {
			s.looked()
		}
	}
	return done
}

// causes are the likeliest cause of a unit by itself, and after those before it.
func (s *shiftOf) causes(done Done) (alone, after diagnose.Cause, d diagnose.Diagnosis) {
	s.Helper()
	first := func(d diagnose.Diagnosis, err error) diagnose.Cause {
		require.NoError(s, err)
		c, ok := d.First()
		require.True(s, ok)
		return c
	}
	alone = first(evidence.Diagnose(done.Run, s.product))
	d, err := evidence.DiagnoseAfter(done.Run, s.product, done.Earlier)
	return alone, first(d, err), d
}

// The jig is named where the same place fails on it alone, and never where units fail
// alike on other jigs, nor where nobody can know: simulated jigs with a weak actuator or a
// bad probe, and good ones with a bad lot of keys.
func TestWhatUnitsBeforeSayOfTheJig(t *testing.T) {
	const weak, bad = "actuator of key 7 stuck", "key 7 open"
	lots := func(s *shiftOf, jig, lot string) {
		require.NoError(s, s.store.Floor.SaveLots(s.Context(), floor.LotChange{
			Jig: jig, Product: s.product.Code, Simulated: true, Lots: floor.Lots{"dome": lot}, By: "Ines"}))
	}
	for name, c := range map[string]struct {
		line func(*shiftOf) Done
		jig  bool
		kind diagnose.Kind // of the likeliest cause after it; empty: any of the unit's
	}{
		"weak actuator": {func(s *shiftOf) Done {
			s.on("SIM-0002", 24, "")
			s.on("SIM-0001", 4, "")
			s.on("SIM-0001", 2, weak)
			s.on("SIM-0001", 1, "")
			s.on("SIM-0001", 2, weak)
			return s.on("SIM-0001", 1, weak)
		}, true, diagnose.ActuatorMisses},
		"bad probe": {func(s *shiftOf) Done {
			s.on("SIM-0002", 24, "")
			s.on("SIM-0001", 4, "")
			return s.on("SIM-0001", 4, "channel 4 dirty 50 ohm")
		}, true, diagnose.ProbeDirty},
		"bad lot on both jigs": {func(s *shiftOf) Done {
			s.on("SIM-0002", 12, "")
			s.on("SIM-0002", 8, bad)
			s.on("SIM-0001", 6, "")
			return s.on("SIM-0001", 5, bad)
		}, false, ""},
		"bad lot on one jig": {func(s *shiftOf) Done { // it has not been seen anywhere else
			lots(s, "SIM-0001", "D-9")
			lots(s, "SIM-0002", "D-1")
			s.on("SIM-0002", 24, "")
			return s.on("SIM-0001", 6, bad)
		}, false, ""},
		"the same lot, good elsewhere": {func(s *shiftOf) Done {
			lots(s, "SIM-0001", "D-1")
			lots(s, "SIM-0002", "D-1")
			s.on("SIM-0002", 24, "")
			return s.on("SIM-0001", 5, weak)
		}, true, diagnose.ActuatorMisses},
		"one jig alone":         {func(s *shiftOf) Done { return s.on("SIM-0001", 6, bad) }, false, ""},
		"the first of its kind": {func(s *shiftOf) Done { s.on("SIM-0002", 24, ""); return s.on("SIM-0001", 1, bad) }, false, ""},
		"another place before": {func(s *shiftOf) Done {
			s.on("SIM-0002", 24, "")
			s.on("SIM-0001", 5, "key 3 open")
			return s.on("SIM-0001", 1, bad)
		}, false, ""},
	} {
		t.Run(name, func(t *testing.T) {
			at(t, "", func(stand *stand) {
				s := &shiftOf{stand: stand}
				done := c.line(s)
				alone, after, d := s.causes(done)
				assert.Equal(s, c.jig, after.Kind.OfJig(), "%+v", after)
				if c.kind != "" {
					assert.Equal(s, c.kind, after.Kind)
				} else {
					assert.Equal(s, alone.Kind, after.Kind)
				}
				if c.jig {
					words := wording.Words{}.Diagnosis()
					require.NotEmpty(s, d.Patterns)
					assert.Contains(s, words.Reading(d.Groups[0].For[0].Reading), "units before it failed here, on others 0 of 24")
					assert.Greater(s, d.Patterns[0].Failing, 0.9)
					assert.False(s, alone.Kind.OfJig(), "the unit alone cannot tell")
				}
			})
		})
	}
}

// A unit that is put in again and again is one unit, its own runs are not those before
// it, and neither reference units nor other products, real jigs or later runs count.
func TestWhoCountsAsAUnitBefore(t *testing.T) {
	at(t, demanding, func(stand *stand) {
		s := &shiftOf{stand: stand}
		for range 3 {
			s.reference("REF-G", "")
			s.reference("REF-B", "key 7 open")
		}
		s.put("key 7 open")
		j, _ := s.job(s.unit(1))
		first := s.done(j)
		assert.Empty(s, first.Earlier.Keys, "a bad reference unit fails every day")
		for range 3 {
			j, _ = s.job(s.unit(1))
			j.Overridden = true
			again := s.done(j)
			assert.Empty(s, again.Earlier.Keys, "the unit itself")
		}
		s.place(s.unit(1))
		j, _ = s.job(s.unit(2))
		second := s.done(j)
		key := s.product.Key("7")
		assert.Equal(s, []int{1, 1, 0, 0}, []int{second.Earlier.Keys[key].Here, second.Earlier.Keys[key].HereOf,
			second.Earlier.Keys[key].Elsewhere, second.Earlier.Keys[key].ElsewhereOf})
		again, err := s.store.Care.Earlier(s.Context(), first.Stored, s.product.References.All())
		require.NoError(s, err)
		assert.Equal(s, first.Earlier, again, "what came later changes nothing of it")
		assert.Equal(s, sequence.Fail, second.Outcome)
	})
}
