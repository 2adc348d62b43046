package web_test

import (
	"encoding/json"
	"errors"
	"maps"
	"net/http"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/log"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/page"
	"padjig/cmd/padjig/web/webtest"
	"padjig/results/accounts"
)

// events are what was logged since the last time, as objects, of some names.
func events(h *webtest.House, names ...string) (out []map[string]any) {
	h.Helper()
	for _, line := range h.Logged() {
		var e map[string]any
		require.NoError(h, json.Unmarshal([]byte(line), &e), line)
		delete(e, "time")
		if slices.Contains(names, e["msg"].(string)) {
			out = append(out, e)
		}
	}
	return out
}

// A lane's life is in the log: its jig, what it refused and why, what it stored.
func TestALaneIsLogged(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		there := events(h, log.JigThere)
		require.Len(h, there, 1)
		assert.Equal(h, "SIM-0001", there[0]["jig"])
		assert.EqualValues(h, 1, there[0]["lane"])

		h.Test(h.Unit(1))
		stored := events(h, log.RunStored, log.UnitRefused, log.SaveSlow)
		require.Len(h, stored, 1)
		assert.Equal(h, log.RunStored, stored[0]["msg"])
		assert.Equal(h, h.Unit(1), stored[0]["unit"])
		assert.Equal(h, "pass", stored[0]["outcome"])
		assert.Equal(h, "operator", stored[0]["who"])

		h.Lanes[0].Clear()
		h.Test(h.Unit(1))
		refused := events(h, log.UnitRefused)
		require.Len(h, refused, 1)
		assert.Equal(h, string(station.PassedAlready), refused[0]["code"])
		assert.Equal(h, "WARN", refused[0]["level"])
		assert.Equal(h, h.Unit(1), refused[0]["unit"])

		h.Post("operator", "/scan", "text", "GCC-0", "lane", "1")
		h.Post("operator", "/scan", "text", "GCC-1", "lane", "1") // at once: neither is missed
		assert.Len(h, events(h, log.UnitRefused), 2)

		h.Ports.Unplug("sim/SIM-0001")
		h.Until(1, func(s station.State) bool { return !s.Jig.Present })
		lost := events(h, log.JigLost)
		require.NotEmpty(h, lost)
		assert.Equal(h, "SIM-0001", lost[0]["jig"])
		assert.NotEmpty(h, lost[0]["why"])
		h.Ports.Plug("sim/elsewhere", h.Jigs[0])
		h.Until(1, func(s station.State) bool { return s.Jig.Present })
		assert.Equal(h, "sim/elsewhere", events(h, log.JigThere)[0]["port"])
	})
}

// What somebody may not do, or cannot, is logged: who, what, and which sentence said so.
func TestRefusedActionsAreLogged(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		for name, c := range map[string]struct {
			ask       webtest.Ask
			who, code string
		}{
			"a page that a role may not see": {webtest.Ask{Path: "/jigs", Role: "operator"}, "operator", "error.role"},
			"a form without its token":       {webtest.Ask{Method: "POST", Path: "/met", Role: "engineer"}, "engineer", "error.token"},
			"another site's form":            {webtest.Ask{Method: "POST", Path: "/met", Role: "engineer", Header: map[string]string{"Sec-Fetch-Site": "cross-site"}}, "", "error.elsewhere"},
			"a name that is not ours":        {webtest.Ask{Path: "/", Host: "evil.example"}, "", "error.host"},
		} {
			h.Logged()
			webtest.Fetch(h.T, h.Handler, c.ask)
			got := events(h, log.ActionRefused)
			if !assert.Len(h, got, 1, name) {
				continue
			}
			assert.Equal(h, c.code, got[0]["code"], name)
			assert.Equal(h, c.ask.Path, got[0]["path"], name)
			who, _ := got[0]["who"].(string)
			assert.Equal(h, c.who, who, name)
		}
		code, _ := h.Post("engineer", "/accounts/add", "name", "Ines", "role", "gardener")
		assert.Equal(h, http.StatusUnprocessableEntity, code)
		got := events(h, log.ActionRefused)
		require.Len(h, got, 1)
		assert.Equal(h, []any{"role"}, got[0]["fields"], "which fields were wrong")
		assert.Equal(h, "accounts.norole", got[0]["code"])
	})
}

// A mistake of the program itself is one page that says an id, and the cause in the log by it;
// the station goes on.
func TestAPanicIsFoundByItsID(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		h.Site.Add(page.Action{Path: "/breaks", Who: page.Everyone, Do: func(*page.Visit) (page.Answer, error) {
			panic(errors.New("index out of range in /home/ines/padjig.go"))
		}})
		for _, accept := range []string{"text/html", "application/json"} {
			h.Logged()
			w := h.Send("engineer", "/breaks", accept)
			assert.Equal(h, http.StatusInternalServerError, w.Code)
			got := events(h, log.PageFailed)
			require.Len(h, got, 1)
			assert.Equal(h, "ERROR", got[0]["level"])
			assert.Contains(h, got[0]["why"], "index out of range")
			assert.Contains(h, got[0]["stack"], "logged_test.go")
			assert.Contains(h, w.Body.String(), got[0]["id"])
			assert.NotContains(h, w.Body.String(), "out of range")
			assertNoPlace(h, "a panic", w.Body.String())
		}
		assert.Equal(h, http.StatusOK, h.Get("engineer", "/jigs", nil))
	})
}

// Nothing that is typed into any field of any form, by anybody, comes into the log: any of them
// may be a password in the wrong place. Nor do badges, or the tokens of sessions and forms.
func TestNoSecretIsLogged(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		const secret = "Cucumber-At-Midnight"
		badge := account.NewBadge()
		require.NoError(h, h.Store.Accounts.SaveAccountEvent(h.Context(), accounts.AccountEvent{
			Name: "operator", Kind: accounts.AccountBadge, Secret: account.HashBadge(badge), By: "test",
		}))
		fields := map[string]bool{"text": true, "password": true, "name": true, "badge": true, "code": true}
		for _, text := range templateTexts(t) {
			for _, m := range regexp.MustCompile(` name="([^"{}]+)"`).FindAllStringSubmatch(text, -1) {
				fields[m[1]] = true
			}
		}
		assert.Greater(h, len(fields), 50, "the forms were found")
		h.Logged()
		var all []string
		for _, typed := range []string{secret, badge, account.NewBadge() + "x", badge[:len(badge)-1]} {
			var pairs []string
			for _, name := range slices.Sorted(maps.Keys(fields)) {
				if name != "token" && name != "lane" {
					pairs = append(pairs, name, typed)
				}
			}
			pairs = append(pairs, "lane", "1")
			for _, a := range h.Site.All().Actions {
				for _, role := range []string{"", "operator", "engineer"} {
					if role != "" && (a.Path == "/leave" || a.Path == "/door") {
						continue // the session would be over
					}
					h.Send(role, filled(a.Path), "application/json", pairs...)
				}
			}
			all = append(all, h.Logged()...)
			for _, line := range all {
				assert.NotContains(h, line, typed)
			}
		}
		text := strings.Join(all, "\n")
		assert.Contains(h, text, log.ActionRefused)
		assert.Contains(h, text, log.SignInRefused)
		assert.NotContains(h, text, "token of")
	})
}
