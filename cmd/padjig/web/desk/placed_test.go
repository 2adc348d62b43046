package desk_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web/desk"
	"padjig/cmd/padjig/web/webtest"
)

// The page of a unit that failed says that it is not yet where fails go, and then where it lies.
func TestAUnitsPageSaysWhereItLies(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		h.Put("key 7 open")
		h.Test(h.Unit(1))
		for lang, says := range map[string]string{
			"en": "not put where fails go", "de": "nicht dort, wohin Ausfälle gehören",
		} {
			h.Lang = lang
			assert.Contains(t, h.Page("quality", desk.UnitAddress(h.Unit(1))), says)
		}
		h.PutAway()
		for lang, says := range map[string]string{
			"en": "put into the fail place by Abel", "de": "abgelegt in: Fehlerplatz, von Abel",
		} {
			h.Lang = lang
			life := h.Page("quality", desk.UnitAddress(h.Unit(1)))
			assert.Contains(t, life, says)
			assert.NotContains(t, life, "not put where fails go")
		}
		owed, err := h.Store.Fails.Open(h.Context(), true)
		require.NoError(t, err)
		assert.Empty(t, owed)
	})
}
