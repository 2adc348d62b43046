package checkup_test

import (
	"net/http"
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/cmd/padjig/web/checkup"
	"padjig/cmd/padjig/web/webtest"
)

// The page shows an engineer what padjig doctor says, of the station that serves it, in both
// languages; what is wrong comes first. Nobody else sees it.
func TestThePageOfTheStation(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		h.Test(h.Unit(1))
		var v checkup.View
		assert.Equal(h, http.StatusOK, h.Get("engineer", checkup.Path, &v))
		codes := map[string]string{}
		for _, l := range v.Findings {
			codes[string(l.Code)] = string(l.Outcome)
		}
		assert.Equal(h, "fine", codes["records.fine"])
		assert.Equal(h, "fine", codes["running.since"])
		assert.Equal(h, "to do", codes["accounts.alone"], "nobody has a password here")
		assert.Equal(h, "fine", codes["integrity.fine"])
		body := h.Page("engineer", checkup.Path)
		assert.Contains(h, body, "The station runs for 1h0m0s.")
		assert.Contains(h, body, "padjig station accounts add NAME --role quality")
		h.Lang = "de"
		body = h.Page("engineer", checkup.Path)
		assert.Contains(h, body, "Die Station läuft seit 1h0m0s.")
		assert.Contains(h, body, "zu tun")
		assert.Contains(h, h.Page("engineer", "/jigs"), `href="/doctor"`)
		assert.Contains(h, h.Page("engineer", "/accounts"), `href="/doctor"`)
		assert.Equal(h, http.StatusForbidden, h.Get("operator", checkup.Path, nil))

		h.Lang = "en"
		h.Spoil("ALTER TABLE release RENAME TO gone")
		assert.Equal(h, http.StatusOK, h.Get("engineer", checkup.Path, &v), "whatever is wrong, the page comes")
		assert.Contains(h, h.Page("engineer", checkup.Path), "It could not be looked at: ")
	})
}
