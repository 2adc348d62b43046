package reach

import (
	"context"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"

	"padjig/cmd/padjig/station"
	"padjig/fixture/link"
	"padjig/sequence/wording"
)

// A jig that is not there is refused with what to do; one that somebody stops
// looking for is not called missing.
func TestAJigThatIsNotThere(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		_, err := Jig(t.Context(), "/no/such/port", link.Options{})
		r := station.RefusalOf(err)
		assert.Equal(t, station.NoJig, r.Code)
		assert.Equal(t, []string{"/no/such/port"}, r.Args)
		assert.ErrorIs(t, err, link.ErrAbsent)

		began := time.Now()
		_, err = Jig(t.Context(), "J-no-such", link.Options{})
		assert.ErrorContains(t, err, "not there within 5s")
		assert.Contains(t, wording.Words{}.Try(station.RefusalOf(err).Remedy), "padjig jig list")
		assert.Equal(t, searchTime, time.Since(began))

		_, err = Port(t.Context(), "J-no-such", link.Options{})
		assert.ErrorContains(t, err, "not there within 5s")
		assert.Equal(t, station.NoJig, station.RefusalOf(err).Code)
		port, err := Port(t.Context(), "/dev/ttyACM0", link.Options{})
		assert.NoError(t, err)
		assert.Equal(t, "/dev/ttyACM0", port)

		ctx, cancel := context.WithCancel(t.Context())
		cancel()
		_, err = Jig(ctx, "J-no-such", link.Options{})
		assert.ErrorContains(t, err, "stopped before anything moved")
		assert.Equal(t, station.NotMeasured, station.RefusalOf(err).Kind)
	})
}
