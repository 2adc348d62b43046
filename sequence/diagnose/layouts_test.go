package diagnose

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/sequence/diagnose/model"
	"padjig/sequence/diagnose/padtest"
)

// Each layout is found from what it does, by a jig that cannot read loops.
func TestLayoutsAreFound(t *testing.T) {
	p := padtest.Telephone(t)
	for _, c := range []struct {
		name  string
		m     *model.Layout
		kind  Kind
		place Said
	}{
		{"mirror", model.Mirror(p), TailReversed, said(AtTurned)},
		{"one too far", model.Shift(p, 1), TailShifted, said(AtFurther, 1)},
		{"two too far", model.Shift(p, 2), TailShifted, said(AtFurther, 2)},
		{"one too near", model.Shift(p, -1), TailShifted, said(AtNearer, 1)},
		{"two too near", model.Shift(p, -2), TailShifted, said(AtNearer, 2)},
		{"rows 1 and 3", model.Swap(p, 2, 0), LinesExchanged, said(AtExchanged, "R3", 3, "R1", 1)},
		{"row 2 and column 3", model.Swap(p, 6, 1), LinesExchanged, said(AtExchanged, "C3", 7, "R2", 2)},
		{"columns 1 and 2", model.Swap(p, 5, 4), LinesExchanged, said(AtExchanged, "C2", 6, "C1", 5)},
		{"two pairs", model.Swap(p, 6, 4).And(model.Swap(p, 2, 0), p), LinesExchanged, said(AtTwoExchange, "C3", 7, "C1", 5, "R3", 3, "R1", 1)},
	} {
		t.Run(c.name, func(t *testing.T) {
			s := subjectOf(p)
			s.lies(c.m)
			d := s.diagnose()
			first, ok := d.First()
			require.True(t, ok, d.Sum)
			assert.Equal(t, c.kind, first.Kind, d.Sum)
			assert.Equal(t, c.place, first.Place)
			assert.Equal(t, 1, d.Found, d.Sum)
			assert.Empty(t, d.Unexplained)
			assert.NotEmpty(t, d.Masked, "moved keys were not tested")
		})
	}
}
