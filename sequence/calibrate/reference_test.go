package calibrate_test

import (
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/sequence"
	"padjig/sequence/calibrate"
	"padjig/sequence/product"
)

func withReferences(t *testing.T) *product.Product {
	p := load(t, "gcc-20")
	p.References = &product.References{
		Within: 0.15, Good: []string{"REF-G"},
		Bad: []product.BadUnit{{Serial: "REF-K", What: "key open", Key: "7"}, {Serial: "REF-L", What: "lines shorted", Lines: []string{"R2", "R1"}}},
	}
	return p
}

func TestReferenceUnitsMustShowWhatTheyAre(t *testing.T) {
	p := withReferences(t)
	for _, c := range []struct{ serial, faults, why string }{
		{"REF-G", "", ""},
		{"REF-G", "key 5 high 900 ohm", "a good unit, yet fail: key high: key 5"},
		{"REF-G", "channel 2 dirty open", "a good unit, yet reseat"},
		{"REF-K", "key 7 open", ""},
		{"REF-K", "", `must fail for "key open", yet pass`},
		{"REF-K", "key 8 open", `"key open" was not found where it is`},
		{"REF-K", "key 7 open; key 9 high 2 kohm", "also found key high: key 9"},
		{"REF-L", "lines R1 R2 shorted 3 ohm", ""},
		{"REF-L", "lines R1 R3 shorted 3 ohm", `"lines shorted" was not found where it is`},
		{"GCC-000001-3", "", "is no reference unit"},
	} {
		synctest.Test(t, func(t *testing.T) {
			run := tested(t, p, c.faults, nil)
			run.Serial = c.serial
			why := calibrate.JudgeReference(p, run, run.Keys)
			if c.why == "" {
				assert.Empty(t, why, "%s %s", c.serial, c.faults)
				return
			}
			require.NotEmpty(t, why, "%s %s", c.serial, c.faults)
			assert.Contains(t, sequence.Plain().Of(why[0]), c.why)
		})
	}
}

func TestGoodReferenceStaysWithinItsBand(t *testing.T) {
	p := withReferences(t)
	synctest.Test(t, func(t *testing.T) {
		first, worn := tested(t, p, "", nil), tested(t, p, "key 5 high 105 ohm", nil)
		first.Serial, worn.Serial = "REF-G", "REF-G"
		require.Equal(t, sequence.Pass, worn.Outcome, "within its limits all the same")
		why := calibrate.JudgeReference(p, worn, first.Keys)
		require.Len(t, why, 1)
		assert.Contains(t, sequence.Plain().Of(why[0]), "key 5 reads")
		assert.Contains(t, sequence.Plain().Of(why[0]), "band 15 %")
	})
}
