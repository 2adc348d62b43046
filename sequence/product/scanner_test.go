package product

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

const scanned = `product: S
tail: R1 C1
matrix: {rows: R1, columns: C1, keys: GO}
scanner: {supply: 3.3 V, pull-up: 47 kohm}
`

func TestScannerIsUsualWhereItSaysNothing(t *testing.T) {
	s := parse(t, scanned).Scanner
	assert.Equal(t, Scanner{
		Supply: 3.3, PullUp: 47e3, Low: 0.3 * s.Supply, High: 0.7 * s.Supply, Drive: 50,
		PullUpTolerance: 0.35, SupplyTolerance: 0.05, Capacitance: 100e-12, Settle: 30 * time.Microsecond,
		Period: 10 * time.Millisecond, ShortestPress: 50 * time.Millisecond, PortCurrent: 4e-3,
	}, *s)
}

// Fields that came later change the hash when they change the meaning, and only then: the
// first of these was the hash of this file before there were any.
func TestLaterScannerFieldsInTheHash(t *testing.T) {
	with := func(more string) string {
		return hashOf(t, scanned[:len(scanned)-2]+", "+more+"}\n")
	}
	before := hashOf(t, scanned)
	assert.Equal(t, "44b4da88e1ea75f32e3a1f4656b57ee01809864b4dcc0d82ec90aca881ed6213", before)
	assert.Equal(t, before, with("pull-up tolerance: 35 %, supply tolerance: 5 %, line capacitance: 0.1 nF, "+
		"settle: 30 us, period: 0.01 s, shortest press: 50 ms, port current: 4 mA"))
	seen := map[string]string{before: "nothing"}
	for _, more := range []string{"pull-up tolerance: 0 %", "supply tolerance: 0 %", "line capacitance: 101 pF",
		"settle: 31 us", "period: 11 ms", "debounce: 5 ms", "shortest press: 51 ms", "port current: 5 mA"} {
		hash := with(more)
		assert.Empty(t, seen[hash], more)
		seen[hash] = more
	}
}
