package people_test

import (
	"crypto/sha256"
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/web/people"
	"padjig/cmd/padjig/web/webtest"
	"padjig/results/accounts"
)

// Accounts are made and changed by engineers who came by a password, by the rules of the
// terminal, and each change says who made it.
func TestAccountsOnAPage(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		all := []string{"add", "role", "password", "badge", "lock", "unlock", "close", "end"}
		require.NoError(h, h.Store.Accounts.StartSession(h.Context(), sha256.Sum256([]byte("token of card")), "engineer", "badge"))
		for _, role := range []string{"operator", "quality", "returns", "card"} {
			for _, action := range all {
				assert.Equal(h, 403, h.Send(role, "/accounts/"+action, "application/json", "name", "operator", "role", "engineer").Code, "%s %s", role, action)
			}
		}
		for _, role := range []string{"operator", "quality", "returns"} {
			assert.Equal(h, 403, h.Get(role, "/accounts", nil))
		}
		do := func(action string, pairs ...string) int {
			return first(h.Post("engineer", "/accounts/"+action, pairs...))
		}
		const good = "cucumbers at dawn"

		for want, typed := range map[string][]string{
			"The name is missing":         {"name", " ", "role", "operator"},
			"Choose a role":               {"name", "Jon", "role", "king"},
			"The two passwords differ":    {"name", "Jon", "role", "engineer", "password", good, "again", "cucumbers"},
			"at least 10 are needed":      {"name", "Jon", "role", "engineer", "password", "short", "again", "short"},
			"one character over and over": {"name", "Jon", "role", "engineer", "password", "aaaaaaaaaaaa", "again", "aaaaaaaaaaaa"},
			"differs in case or blanks":   {"name", "ENGI NEER", "role", "engineer", "way", "badge"},
			"There is an account of":      {"name", "quality", "role", "engineer", "password", good, "again", good},
		} {
			code, said := h.Post("engineer", "/accounts/add", typed...)
			assert.GreaterOrEqual(h, code, 400)
			assert.Contains(h, said.Say, want)
		}
		require.Equal(h, 200, do("add", "name", " Jon  Hill ", "role", "engineer", "password", good, "again", good))
		assert.Equal(h, 409, do("role", "name", "Jon Hill", "role", "quality"), "he is the last engineer with a password")
		assert.Equal(h, 409, do("lock", "name", "Jon Hill"))
		assert.Equal(h, 409, do("close", "name", "Jon Hill"))
		assert.Equal(h, 404, do("role", "name", "Nobody", "role", "quality"), "changing a role makes nobody")
		assert.Equal(h, 404, do("badge", "name", "Nobody"))

		// A badge is shown in answer to its making only, and lets in.
		w := h.Send("engineer", "/accounts/badge", "application/json", "name", "operator")
		var made people.Badge
		h.Decode(w, &made)
		require.True(h, account.IsBadge(made.Code))
		page := h.Send("engineer", "/accounts/badge", "text/html", "name", "quality").Body.String()
		assert.Contains(h, page, "<svg")
		assert.NotContains(h, page, "⟦")
		assert.NotContains(h, h.Page("engineer", "/accounts"), made.Code)
		assert.Equal(h, 303, webtest.Fetch(h.T, h.Handler, webtest.Ask{Path: "/accounts/badge", Role: "engineer"}).Code)
		badge := func() int { return h.Send("", "/scan", "application/json", "text", made.Code).Code }
		assert.Equal(h, 200, badge())

		// Whoever is locked is out at once, and in again with the same badge afterwards.
		require.NoError(h, h.Store.Accounts.StartSession(h.Context(), sha256.Sum256([]byte("token of abel")), "operator", "badge"))
		assert.Equal(h, 200, h.Get("abel", "/lane/1", nil))
		require.Equal(h, 200, do("lock", "name", "operator"))
		assert.Equal(h, 401, h.Get("abel", "/lane/1", nil))
		assert.Equal(h, 403, badge())
		require.Equal(h, 200, do("unlock", "name", "operator"))
		assert.Equal(h, 200, badge())

		// A session is ended by somebody, who is named.
		var v people.List
		h.Get("engineer", "/accounts", &v)
		var of int64
		for _, s := range v.Sessions {
			if s.Name == "returns" {
				of = s.Seq
			}
		}
		time.Sleep(time.Second) // decided later than the rest
		require.Equal(h, 200, do("end", "session", fmt.Sprint(of)))
		assert.Equal(h, 401, h.Get("returns", "/returns", nil))
		assert.Equal(h, 404, do("end", "session", fmt.Sprint(of)))
		assert.Equal(h, 404, do("end", "session", "x"))
		h.Get("engineer", "/accounts", &v)
		assert.Equal(h, people.Decision{At: v.Decided[0].At, Name: "returns", What: "session ended", By: "engineer"}, v.Decided[0])
		require.Equal(h, 200, do("close", "name", "returns"))
		require.Equal(h, 200, h.Send("engineer", "/accounts/add", "application/json", "name", "returns", "role", "returns", "way", "badge").Code)
		list, err := h.Store.Accounts.Accounts(h.Context())
		require.NoError(h, err)
		assert.Len(h, list, 5)
		h.Page("engineer", "/accounts")
		h.Lang = "de"
		assert.Contains(h, h.Page("engineer", "/accounts"), "Sitzung beendet")
	})
}

// Two engineers who close each other at once leave one of them.
func TestTwoEngineersCloseEachOther(t *testing.T) {
	_, _, store := webtest.Door(t)
	for _, e := range []accounts.AccountEvent{{Name: "engineer", Kind: accounts.AccountPassword, Secret: "hash"},
		{Name: "jon", Kind: accounts.AccountRole, Role: "engineer"}, {Name: "jon", Kind: accounts.AccountPassword, Secret: "hash"}} {
		e.By = "test"
		require.NoError(t, store.Accounts.SaveAccountEvent(t.Context(), e))
	}
	done := make(chan error, 2)
	for _, name := range []string{"engineer", "jon"} {
		go func() {
			done <- store.Accounts.Decide(t.Context(), accounts.AccountEvent{Name: name, Kind: accounts.AccountClosed, By: "the other"})
		}()
	}
	a, b := <-done, <-done
	assert.True(t, (a == nil) != (b == nil), "%v, %v", a, b)
}

func first[A, B any](a A, _ B) A { return a }
