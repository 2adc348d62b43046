package results

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results/care"
	"padjig/sequence"
	"padjig/sequence/commission"
)

// builtJig is a jig as it states itself.
func builtJig(firmware string) fixture.Capabilities {
	return fixture.Capabilities{Serial: "J-0007", Model: "reference jig 1", Firmware: firmware, Adapter: "A-1", Channels: 16, Interlock: true,
		Ranges: []fixture.Reference{{Ohm: quantity.Ohm(511), U: 0.0005}}, LineFarad: 220e-12, Presses: 5}
}

// stepPassed is a step that ended well.
func stepPassed(step commission.Step) commission.Result {
	return commission.Judged(step, []commission.Figure{{Of: "leak", At: 3, Value: 0.1e-9, Limit: 0.8e-9, Unit: "A", Good: true}})
}

func stepFailed(step commission.Step) commission.Result {
	return commission.Judged(step, []commission.Figure{{Of: "leak", At: 3, Value: 5e-9, Limit: 0.8e-9, Unit: "A"}})
}

// commissioned begins a commissioning and ends a step of it.
func commissioned(t testing.TB, s *Store) care.Commissioning {
	t.Helper()
	c, err := s.Care.BeginCommissioning(t.Context(), builtJig("1.0"), "Ines")
	require.NoError(t, err)
	_, err = s.Care.AddCommissionStep(t.Context(), c, stepPassed(commission.SelfTest), "Ines")
	require.NoError(t, err)
	return c
}

func TestCommissioningRoundTrip(t *testing.T) {
	s := openTemp(t)
	c := commissioned(t, s)
	want := []commission.Result{stepPassed(commission.SelfTest), stepFailed(commission.Leakage), commission.Skipped(commission.Zero, "no plug", "7")}
	for _, r := range want[1:] {
		_, err := s.Care.AddCommissionStep(t.Context(), c, r, "Jon")
		require.NoError(t, err)
	}
	list, err := s.Care.Commissionings(t.Context(), "J-0007", false)
	require.NoError(t, err)
	require.Len(t, list, 1)
	for i, step := range list[0].Steps {
		assert.Equal(t, want[i].Step, step.Step)
		assert.Equal(t, want[i].Outcome, step.Outcome)
		assert.Equal(t, want[i].Why, step.Why)
		assert.ElementsMatch(t, want[i].Figures, step.Figures)
	}
	assert.Equal(t, "Ines", list[0].Steps[0].By)
	assert.Equal(t, "Jon", list[0].Steps[2].By)
	assert.True(t, list[0].Of(builtJig("1.0")))
	later := builtJig("1.0")
	later.Presses, later.Adapter = 900, "A-2"
	assert.True(t, list[0].Of(later), "what changes from day to day is no other jig")
	other := builtJig("1.0")
	other.LineFarad = 470e-12
	assert.False(t, list[0].Of(other), "it states something else of how it measures")
	assert.False(t, list[0].Of(builtJig("1.1")))
	simulated, err := s.Care.Commissionings(t.Context(), "J-0007", true)
	require.NoError(t, err)
	assert.Empty(t, simulated)
}

// Another board or firmware is not what was commissioned, however good that was.
func TestACommissioningIsOfOneBoardAndFirmware(t *testing.T) {
	s := openTemp(t)
	state := func(model, firmware string) care.CommissionStatus {
		t.Helper()
		out, err := s.Care.CommissionState(t.Context(), sequence.JigName{Serial: "J-0007", Model: model, Firmware: firmware}, false)
		require.NoError(t, err)
		return out.Status
	}
	assert.Equal(t, care.CommissionNever, state("reference jig 1", "1.0"))
	c := commissioned(t, s)
	assert.Equal(t, care.CommissionOpen, state("reference jig 1", "1.0"))
	add := func(r commission.Result) {
		t.Helper()
		_, err := s.Care.AddCommissionStep(t.Context(), c, r, "Ines")
		require.NoError(t, err)
	}
	add(stepFailed(commission.Leakage))
	assert.Equal(t, care.CommissionFailed, state("reference jig 1", "1.0"))
	for _, step := range commission.Steps() {
		add(stepPassed(step))
	}
	assert.Equal(t, care.Commissioned, state("reference jig 1", "1.0"))
	add(commission.Skipped(commission.Verify, "no box"))
	assert.Equal(t, care.Commissioned, state("reference jig 1", "1.0"), "what was not done takes nothing back")
	assert.Equal(t, care.CommissionOther, state("reference jig 1", "1.1"))
	assert.Equal(t, care.CommissionBoard, state("reference jig 2", "1.0"))
	add(stepFailed(commission.Travel))
	assert.Equal(t, care.Commissioned, state("reference jig 1", "1.0"), "it has no actuator to travel")
	add(stepFailed(commission.Mains))
	assert.Equal(t, care.CommissionFailed, state("reference jig 1", "1.0"), "the newest result counts")
}

// Two people at once: whoever begins anew takes the jig over, and nothing of the other goes into
// the new one.
func TestACommissioningThatWasOvertakenGetsNothingMore(t *testing.T) {
	s := openTemp(t)
	first := commissioned(t, s)
	second, err := s.Care.BeginCommissioning(t.Context(), builtJig("1.0"), "Jon")
	require.NoError(t, err)
	_, err = s.Care.AddCommissionStep(t.Context(), first, stepPassed(commission.Leakage), "Ines")
	require.ErrorIs(t, err, care.ErrOvertaken)
	_, err = s.Care.AddCommissionStep(t.Context(), second, stepPassed(commission.SelfTest), "Jon")
	require.NoError(t, err)
	// A program of its own that asks nobody is stopped by the store itself.
	_, err = raw(s).ExecContext(t.Context(), `INSERT INTO commissioning_step
		SELECT 3, 1, step, outcome, why, figures, by, at_us, hash FROM commissioning_step WHERE seq = 1`)
	assert.ErrorContains(t, err, "a newer commissioning of this jig was begun")
	_, err = raw(s).ExecContext(t.Context(), `INSERT INTO commissioning_step
		SELECT 3, 2, 'mains', 'pass', '', '[{"of":"swing","good":false}]', by, at_us, hash FROM commissioning_step WHERE seq = 2`)
	assert.ErrorContains(t, err, "the figures do not support a pass")
	found, err := s.Check(t.Context())
	require.NoError(t, err)
	assert.Empty(t, found)
}

// A figure that is no number has no place in a record.
func TestACommissioningStepIsInNumbers(t *testing.T) {
	s := openTemp(t)
	c := commissioned(t, s)
	bad := stepFailed(commission.Mains)
	bad.Figures[0].Value = float64(quantity.Open)
	_, err := s.Care.AddCommissionStep(t.Context(), c, bad, "Ines")
	assert.ErrorContains(t, err, "a figure that is no number: leak 3")
}
