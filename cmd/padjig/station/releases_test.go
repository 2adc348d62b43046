package station

import (
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/releases/releasestest"
	"padjig/results/runs"
	"padjig/sequence/product"
)

// A unit from before the serial number from which more is let through is tested by the
// release before; a first release that lets more through leaves none for it. An
// engineering run and a gauge study take any definition, a reference unit has no order.
func TestAnEarlierUnitIsTestedByTheReleaseBefore(t *testing.T) {
	at(t, "", func(s *stand) {
		text := func(label, limit string) string {
			return swap(swap(gcc(s), "revision: C", "revision: "+label), "contact resistance: at most 200 ohm", "contact resistance: at most "+limit) +
				"references: {good: REF-1}\n"
		}
		c, d := parsed(s, text("C", "200 ohm")), parsed(s, text("D", "400 ohm"))
		require.NoError(s, releasestest.Release(s.Context(), s.store, text("C", "200 ohm")))
		require.NoError(s, releasestest.From(s.Context(), s.store, text("D", "400 ohm"), c.Serial.Complete(500)))
		records := Records{Store: s.store}
		refused := func(job Job) Code {
			err := eligibility{records, job}.revision(s.Context())
			if err == nil {
				return ""
			}
			return RefusalOf(err).Code
		}
		early, late := c.Serial.Complete(499), c.Serial.Complete(500)
		for name, of := range map[string]struct {
			job  Job
			want Code
		}{
			"early by before": {Job{Product: c, Serial: early}, ""},
			"early by now":    {Job{Product: d, Serial: early}, EarlierSerial},
			"late by before":  {Job{Product: c, Serial: late}, NotReleased},
			"late by now":     {Job{Product: d, Serial: late}, ""},
			"engineering":     {Job{Product: d, Serial: early, Engineering: true}, ""},
			"gauge study":     {Job{Product: d, Serial: early, Study: true}, ""},
			"reference unit":  {Job{Product: d, Serial: "REF-1"}, ""},
		} {
			assert.Equal(s, of.want, refused(of.job), name)
		}
		_, p, err := records.ReleasedFor(s.Context(), "GCC-20", early)
		require.NoError(s, err)
		assert.Equal(s, "C", p.Revision)
	})
}

// Of numbers whose order nobody knows, none is earlier.
func TestHoldingBySerialNumber(t *testing.T) {
	list := []runs.Release{{Seq: 2, FromSerial: "VP-0200"}, {Seq: 1}}
	p, letters := &product.Product{Serial: product.Serial{Format: "VP-####"}}, &product.Product{Serial: product.Serial{Format: "VP-?###"}}
	for serial, want := range map[string]int64{"VP-0199": 1, "VP-0200": 2, "VP-0201": 2, "REF-1": 2, strings.Repeat("9", 7): 2} {
		assert.Equal(t, want, runs.Holding(list, p, serial).Seq, serial)
	}
	assert.EqualValues(t, 2, runs.Holding(list, letters, "VP-0001").Seq)
	assert.Nil(t, runs.Holding(list[:1], p, "VP-0199"))
}
