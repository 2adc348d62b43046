package diagnose

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/sequence/diagnose/padtest"
	"padjig/sequence/diagnose/readings"
)

// A key stuck closed and a short across its lines read alike at rest. They are told apart
// by their ohms, as far as these say anything, and for the rest by pressing the key: a
// second contact beside a short halves what it reads, a closed contact stays.
func TestStuckKeyAgainstShort(t *testing.T) {
	likeliest := func(ohms float64, looked ...Looked) (Diagnosis, Kind) {
		s := healthySubject(t, "gcc-20")
		s.joined("R3", "C1", ohms)
		s.after = looked
		d := s.diagnose()
		first, ok := d.First()
		require.True(t, ok)
		return d, first.Kind
	}
	path := 2*4 + 5*1.5 + 1.5 // tails, C1 with four taps before 7 counted from the bottom, R3
	for _, c := range []struct {
		name string
		ohms float64
		kind Kind
	}{
		{"like the other contacts", 60 + path, KeyStuck},
		{"a third of them", 20 + path, KeyStuck},
		{"two ohms and the tails", 10, CrossingShorted},
		{"fifty times a contact", 3000 + path, CrossingShorted},
	} {
		d, kind := likeliest(c.ohms)
		assert.Equal(t, c.kind, kind, "%s: %v", c.name, d.Groups)
	}
	d, _ := likeliest(40 + path)
	require.NotNil(t, d.Check)
	assert.Equal(t, PressJoined, d.Check.Action)
	assert.Equal(t, Jig, d.Check.By)
	less := d.Check.Joined(readings.Reading{Value: 56, U: 0.01}, readings.Reading{Value: 35, U: 0.01})
	_, kind := likeliest(40+path, less)
	assert.Equal(t, CrossingShorted, kind, less.Says)
	alike := d.Check.Joined(readings.Reading{Value: 56, U: 0.01}, readings.Reading{Value: 56.01, U: 0.01})
	after, kind := likeliest(40+path, alike)
	assert.Equal(t, KeyStuck, kind, alike.Says)
	assert.Greater(t, after.Groups[0].Causes[0].Weight, 0.8)
}

// Expected information is the entropy of the outcomes less what remains of it when the
// cause is known (Shannon, 1948); worked by hand for two causes, each with probability
// 1/2, of which one always drops out and one never does: one bit.
func TestExpectedInformation(t *testing.T) {
	always := trial{says: []Code{"a", "b"}, action: HoldKey, given: map[Kind][]float64{"x": {1, 0}, "y": {0, 1}}, args: nothing}
	causes := []Cause{{Kind: "x", Key: "7", Weight: 0.5}, {Kind: "y", Key: "7", Weight: 0.5}}
	check := always.check(&causes[0], causes)
	assert.InDelta(t, 1, check.Bits, 1e-12)
	assert.InDelta(t, 0.5, check.Outcomes[0].Probability, 1e-12)
	assert.Equal(t, []Kind{"x"}, check.Outcomes[0].For)

	// 3/4 to 1/4: H = 2 - 3/4 log2 3 = 0.8113 bits.
	causes[0].Weight, causes[1].Weight = 0.75, 0.25
	assert.InDelta(t, 2-0.75*math.Log2(3), always.check(&causes[0], causes).Bits, 1e-12)

	// Both alike: nothing is learnt.
	always.given["y"] = always.given["x"]
	assert.InDelta(t, 0, always.check(&causes[0], causes).Bits, 1e-12)
}

// A check the jig can do goes before one that takes a person.
func TestNextCheckPrefersTheJig(t *testing.T) {
	s := healthySubject(t, "bay-16")
	s.open(s.Product.Key("6"))
	d := s.diagnose()
	require.NotNil(t, d.Check)
	assert.Equal(t, Jig, d.Check.By)
	assert.Equal(t, PressAgain, d.Check.Action)
	assert.Equal(t, 10, d.Check.Times)
	assert.Equal(t, "6", d.Check.Key)
	total := 0.0
	for _, o := range d.Check.Outcomes {
		total += o.Probability
	}
	assert.InDelta(t, 1, total, 1e-9)

	// Once done, it is not proposed again.
	s.looked(PressAgain, "6", 3)
	d = s.diagnose()
	assert.NotEqual(t, PressAgain, d.Check.Action)
}

// Every outcome of every trial is described, and its probabilities are some.
func TestTrialsAreWhole(t *testing.T) {
	for _, tr := range trials {
		given := map[Kind][]float64{"others": tr.others}
		for k, p := range tr.given {
			assert.Contains(t, kinds, k)
			given[k] = p
		}
		for k, p := range given {
			sum := 0.0
			for _, x := range p {
				sum += x
			}
			assert.Len(t, p, len(tr.says), "%s %s", tr.action, k)
			assert.InDelta(t, 1, sum, 1e-9, "%s %s", tr.action, k)
		}
	}
}

func TestWhatChecksBring(t *testing.T) {
	c := Check{Key: "7", Lines: []string{"R3", "C1"}}
	open, at := readings.Reading{Value: 1e6, AtLeast: true}, func(v float64) readings.Reading { return readings.Reading{Value: ohm(v), U: 0.01} }
	for _, x := range []struct {
		got     Looked
		outcome int
		says    string
	}{
		{c.Presses([]readings.Reading{at(60), at(61), at(60)}), 0, "each time"},
		{c.Presses([]readings.Reading{at(640), at(420), at(300)}), 1, "300 ohm to 640 ohm"},
		{c.Presses([]readings.Reading{at(60), open, at(61)}), 2, "missed 1 of 3"},
		{c.Presses([]readings.Reading{open, open}), 3, "did not close in 2"},
		{c.Joined(at(60), at(30)), 0, "30 ohm with the key held"},
		{c.Joined(at(60), at(60.001)), 1, "pressed or not"},
		{c.Joined(open, at(60)), 2, "open at rest now"},
		{c.Joined(open, open), 2, "open now"},
		{c.Watched(at(2e6), at(10e6), readings.Falling), 0, "fall"},
		{c.Watched(at(2e6), at(10e6), readings.Steady), 1, "stay"},
		{c.Watched(at(2e6), at(10e6), readings.Rising), 2, "rise"},
		{c.Watched(open, at(10e6), readings.Steady), 3, "not joined any more"},
		{c.Held(3, 2*time.Second), 0, "opened 3 times in 2s"},
		{c.Held(0, 2*time.Second), 1, "stayed closed"},
		{c.Loops([]bool{false, true, true, true}, 3), 0, "channel 4, beyond the tail"},
		{c.Loops([]bool{false, true, true, false}, 3), 1, "1 pin without"},
		{c.Loops([]bool{true, true, true, false}, 3), 2, "all pins"},
	} {
		assert.Equal(t, x.outcome, x.got.Outcome, x.got.Says)
		assert.Contains(t, inWords(t, x.got.Says), x.says)
	}
}

// An open line hides what is wrong with the keys beyond: that is said, key by key.
func TestMasking(t *testing.T) {
	s := healthySubject(t, "gcc-20")
	s.openFrom("R3", 1)
	d := s.diagnose()
	require.Len(t, d.Masked, 3)
	assert.Equal(t, "8", d.Masked[0].Key)
	assert.Contains(t, inWords(t, d.Masked[0].By), "line R3 does not reach it: a bad contact would not show")

	s = healthySubject(t, "gcc-20")
	s.joined("R3", "C1", 10)
	d = s.diagnose()
	require.Len(t, d.Masked, 1)
	assert.Contains(t, inWords(t, d.Masked[0].By), "joined at rest")
}

// Faults at the same key as a line's end cannot be told apart, and are one group: the
// proof is that their circuits predict the same of every reading.
func TestGroupsAreWhatNothingTellsApart(t *testing.T) {
	s := healthySubject(t, "gcc-20")
	s.high("VENT", 900) // the last key of R1 and of C4
	d := s.diagnose()
	require.Equal(t, 1, d.Found)
	said := ""
	for _, c := range d.Groups[0].Causes {
		said += string(c.Kind) + ": " + inWords(t, c.Place) + "; "
	}
	for _, part := range []string{
		"contact dirty: key VENT", "line R1 has more resistance from between keys 3 and VENT on",
		"line C4 has more resistance from between keys HEAT and VENT on",
	} {
		assert.Contains(t, said, part)
	}
	sum := 0.0
	for _, c := range d.Groups[0].Causes {
		sum += c.Weight
	}
	assert.InDelta(t, 1, sum, 1e-9)

	s.high("HEAT", 900) // before it on C4, and not on R1
	d = s.diagnose()
	first, _ := d.First()
	assert.Equal(t, 1, d.Found, d.Sum)
	assert.Contains(t, inWords(t, first.Place), "line C4 has more resistance from between keys MIST and HEAT on")
	require.NotNil(t, first.Ohm)
	assert.InDelta(t, 900-60-2*4-8*1.5, float64(first.Ohm.Value), 30)
	assert.Equal(t, []string{"MIST", "HEAT"}, first.Between)
	assert.Contains(t, first.Plant, "line C4 adds ")
}

// A diagnosis says something of any evidence, also of none.
func TestNoEvidence(t *testing.T) {
	p := padtest.Telephone(t)
	d := Diagnose(readings.Unit{Product: p, Pressed: true, Keys: make([]readings.Key, len(p.Keys))})
	assert.Contains(t, inWords(t, d.Sum...), "no key was tested")
	assert.Empty(t, d.Groups)

	s := subjectOf(p)
	s.SelfTest = readings.Failed
	d = s.diagnose()
	assert.Contains(t, inWords(t, d.Sum...), "does not read its own check resistors")
	first, _ := d.First()
	assert.True(t, first.Kind.OfJig())

	s = subjectOf(p)
	assert.Contains(t, inWords(t, s.diagnose().Sum...), "Nothing wrong was read: 12 of 12 keys")
	s.Keys[3] = readings.Key{}
	assert.Contains(t, inWords(t, s.diagnose().Sum...), "as far as it was tested: 11 of 12")
}

// Where many things are wrong, each is found by what the others leave over.
func TestManyFaultsAtOnce(t *testing.T) {
	s := subjectOf(padtest.Matrix(t, 8, 8))
	want := map[string]bool{}
	for k := 3; k < len(s.Keys); k += 7 {
		s.reads(k, 900)
		want[s.Product.Keys[k].Label] = true
	}
	s.open(s.Product.Key("8.8"))
	want["8.8"] = true
	s.joined("R2", "R3", 1e6)
	d := s.diagnose()
	assert.Equal(t, len(want)+1, d.Found, d.Sum)
	assert.Empty(t, d.Unexplained)
	for _, c := range d.FirstCauses() {
		assert.True(t, want[c.Key] || c.Kind == SilverGrowing, "%v", c)
	}
}
