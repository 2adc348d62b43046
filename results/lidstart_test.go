package results

import (
	"errors"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/accounts"
	"padjig/results/lines"
)

// Closing a lid is a start where every condition was confirmed, by somebody, for that jig, and
// until somebody takes it back.
func TestWhereALidIsAStart(t *testing.T) {
	s := openTemp(t)
	holds := func(jig string, simulated bool) accounts.LidStart {
		l, err := s.Accounts.LidStart(t.Context(), jig, simulated)
		require.NoError(t, err)
		return l
	}
	assert.False(t, holds("J-0007", false).On, "nothing was decided")
	on := accounts.LidStart{Jig: "J-0007", On: true, Confirmed: accounts.LidConditions, Assessment: "RA-17, revision 2: lid", By: "Ines"}
	for name, wrong := range map[string]func(*accounts.LidStart){
		"a condition less":        func(l *accounts.LidStart) { l.Confirmed = l.Confirmed[1:] },
		"none":                    func(l *accounts.LidStart) { l.Confirmed = nil },
		"one of them twice":       func(l *accounts.LidStart) { l.Confirmed = slices.Repeat([]string{"body"}, 5) },
		"nobody":                  func(l *accounts.LidStart) { l.By = " " },
		"no jig":                  func(l *accounts.LidStart) { l.Jig = "" },
		"no assessment":           func(l *accounts.LidStart) { l.Assessment = "   yes   " },
		"turned off for no cause": func(l *accounts.LidStart) { l.On, l.Assessment = false, "" },
	} {
		l := on
		wrong(&l)
		require.Error(t, s.Accounts.SaveLidStart(t.Context(), l), name)
		assert.Equal(t, accounts.LidStart{Jig: "J-0007"}, holds("J-0007", false), name)
	}
	var missing *accounts.LidStartError
	half := on
	half.Confirmed = []string{"distance", "guards"}
	require.True(t, errors.As(s.Accounts.SaveLidStart(t.Context(), half), &missing))
	assert.Equal(t, []string{"body", "function", "falling"}, missing.Missing)

	require.NoError(t, s.Accounts.SaveLidStart(t.Context(), on))
	held := holds("J-0007", false)
	assert.WithinDuration(t, time.Now(), held.At, time.Minute)
	held.At = time.Time{}
	assert.Equal(t, on, held)
	assert.False(t, holds("J-0007", true).On, "a simulated jig of that name")
	assert.False(t, holds("J-0008", false).On)
	for _, o := range []accounts.Override{ // a row of somebody who knows the table, and one of a unit
		{What: "start by lid", Jig: "J-0008", By: "Ines", Reason: "body distance: I know what I do"},
		{What: "start by lid", Jig: "J-0008", By: "Ines", Reason: "it is all right"},
		{What: "start by lid", Serial: "24-000001", Jig: "J-0008", By: "Ines", Reason: "body distance function falling guards: RA-17"},
	} {
		require.NoError(t, s.Accounts.SaveOverride(t.Context(), o))
		assert.False(t, holds("J-0008", false).On, o.Reason)
	}
	off := accounts.LidStart{Jig: "J-0007", Assessment: "the lid was changed", By: "Ines"}
	require.NoError(t, s.Accounts.SaveLidStart(t.Context(), off))
	held = holds("J-0007", false)
	assert.False(t, held.On)
	assert.Equal(t, off.Assessment, held.Assessment)

	listed, err := s.Lines.Overrides(t.Context(), lines.Filter{})
	require.NoError(t, err)
	require.Len(t, listed, 1, "those of units alone: the line's stops ask which were tested all the same")
	assert.Equal(t, "24-000001", listed[0].Serial)
}
