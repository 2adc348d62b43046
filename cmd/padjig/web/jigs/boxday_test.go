package jigs_test

import (
	"crypto/ed25519"
	"net/http"
	"os"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web/webtest"
	"padjig/results"
	"padjig/results/notices"
	"padjig/results/plant/notice"
)

// A whole calibration on the page of a jig, by a reference box of which the plant said a last day, as signed notices do: until that day
// it is good, after it the box is refused whatever its certificate says, and nothing is recorded; a later day lets it be used again.
func TestReferenceBoxAfterThePlantsDay(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		e := engineer{h}
		office, err := results.Open(h.Context(), filepath.Join(h.TempDir(), "office.sqlite"))
		require.NoError(h, err)
		defer office.Close()
		key, err := notice.NewKey()
		require.NoError(h, err)
		taker, err := h.Store.Notices.Taker(h.Context(), []ed25519.PublicKey{notice.PublicOf(key)}, time.Hour)
		require.NoError(h, err)
		says := func(name string, days int) {
			h.Helper()
			due := time.Now().UTC().AddDate(0, 0, days).Format(time.DateOnly)
			issued, err := office.Notices.Issue(h.Context(), key, notices.Further{Dates: []notices.Dated{{Name: name, DatesBody: notice.DatesBody{Of: "box", Due: due, Certificate: "K-2231", By: "Ines"}}}})
			require.NoError(h, err)
			head, err := office.Notices.Head(h.Context(), key)
			require.NoError(h, err)
			_, err = taker.Take(h.Context(), notices.Heard{Notices: issued, Head: &head})
			require.NoError(h, err)
			st, err := h.Store.Notices.Contact(h.Context())
			require.NoError(h, err)
			require.Nil(h, st.Trouble)
		}
		h.Jigs[0].Lid(false)
		e.plug("")
		status, said := h.Post("engineer", "/jigs/1/zero")
		require.Equal(h, 200, status, said.Say)
		e.over()
		require.NotNil(h, e.sees("/jigs/1/do/zero").Result)
		text, err := os.ReadFile(boxFile(h.T, "rb-1"))
		require.NoError(h, err)
		e.box("rb-1")
		verifies := func(good bool, calibrations int) {
			h.Helper()
			require.Equal(h, http.StatusSeeOther, e.verifies("rb-1.yaml", text).Code)
			e.over()
			g := e.sees("/jigs/1/do/verify")
			if good {
				require.NotNil(h, g.Result, g.Why)
				assert.True(h, g.Result.Good, g.Result.Why)
			} else {
				assert.Nil(h, g.Result)
				assert.Contains(h, g.Why, "nothing was recorded")
				assert.Contains(h, g.Why, "expired")
				assert.NotEmpty(h, g.Remedy)
			}
			assert.Equal(h, calibrations, e.calibrations())
		}
		says("RB-1", 2)
		verifies(true, 2)
		says("RB-1", -1)
		verifies(false, 2)
		says("RB-1", 30)
		verifies(true, 3)
		says("RB-1-0007", -1) // by its serial number
		verifies(false, 3)
	})
}
