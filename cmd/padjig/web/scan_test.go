package web_test

import (
	"net/http"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/webtest"
)

// Whoever scans a badge that is misread is told so, and not to scan a badge: a letter that is
// none of a badge's, one that is missing, a beginning that was cut off.
func TestMisreadBadgeIsToldSo(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		badge := account.NewBadge()
		for name, text := range map[string]string{
			"a letter that is none": badge[:9] + "0" + badge[10:], "a letter lost": badge[:22], "a letter twice": badge + badge[22:],
			"without its beginning": badge[4:], "capital letters lost": strings.ToLower(badge), "of nobody": badge,
		} {
			time.Sleep(time.Minute)
			_, said := h.Post("", "/scan", "text", text)
			assert.Contains(h, said.Say, "This badge was misread", name)
		}
		_, said := h.Post("", "/scan", "text", h.Unit(1))
		assert.Contains(h, said.Say, "Sign in first", "a serial number is no badge")
		status, said := h.Post("operator", "/scan", "lane", "1", "text", badge[:22])
		assert.Equal(h, http.StatusForbidden, status)
		assert.Contains(h, said.Say, "This badge was misread")
		assert.Empty(h, h.Lanes[0].State().Unit.Serial, "and no unit")
	})
}

// A number whose check character does not fit was misread; the product is not blamed for it.
func TestMisreadNumberIsToldSo(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		wrong := strings.Replace(h.Unit(1), "000001", "000007", 1)
		assert.Equal(h, station.SerialMisread, h.Test(wrong).Refusal.Code)
		assert.Contains(h, h.Says().Line, "its check character does not fit")
		_, said := h.Post("returns", "/returns/intake", "serial", wrong, "complaint", "key dead", "condition", "dirty")
		assert.Contains(h, said.Say, "its check character does not fit")
	})
}
