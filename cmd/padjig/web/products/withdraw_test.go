package products_test

import (
	"crypto/sha256"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web/products"
	"padjig/cmd/padjig/web/webtest"
	"padjig/results/accounts"
)

// proposed has a looser revision D wait, from a unit on, and gives the product as somebody sees it.
func proposed(h *webtest.House, from string) products.View {
	h.Helper()
	text := swap(swap(h.Text, "at most 200 ohm", "at most 2 kohm"), "revision: C", "revision: D")
	status, body := release(h, text, "customer wants 2 kohm", from)
	require.Equal(h, 200, status, body)
	return seen(h, "engineer")
}

func seen(h *webtest.House, role string) (v products.View) {
	h.Helper()
	require.Equal(h, 200, h.Get(role, "/products/GCC-20", &v))
	return v
}

// A proposal is withdrawn on the page of its product, by its proposer or another engineer and
// nobody else; then it cannot be approved, also not in a tab of before, and the page says what
// became of it.
func TestAProposalIsWithdrawnOnItsPage(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		require.Equal(h, 200, first(release(h, h.Text, "first release of it", "")))
		v := proposed(h, h.Unit(1))
		withdraw := func(role, look, reason string) int {
			return h.Send(role, "/products/GCC-20/withdraw", "application/json", "hash", look, "reason", reason).Code
		}
		const why = "customer wants 150 ohm after all"
		for _, role := range []string{"quality", "operator", "returns"} {
			assert.Equal(h, 403, withdraw(role, v.Open.Look, why), role)
			if role == "quality" {
				assert.NotContains(h, h.Page(role, "/products/GCC-20"), "/withdraw")
			}
		}
		require.NoError(h, h.Store.Accounts.StartSession(h.Context(), sha256.Sum256([]byte("token of badge")), "engineer", "badge"))
		assert.Equal(h, 403, withdraw("badge", v.Open.Look, why), "a badge can be picked up")
		assert.Equal(h, 422, withdraw("engineer", v.Open.Look, "no"))
		assert.Equal(h, 422, withdraw("engineer", "000000000000.1", why))
		assert.Contains(h, h.Page("engineer", "/products/GCC-20"), "/withdraw")
		require.Equal(h, 200, withdraw("engineer", v.Open.Look, why))
		assert.Equal(h, 422, withdraw("engineer", v.Open.Look, why), "in a second tab")
		assert.Equal(h, 422, first(h.Post("quality", "/products/GCC-20/approve", "hash", v.Open.Look)), "in a tab of before")
		for _, h.Lang = range []string{"de", "en"} {
			assert.Contains(h, h.Page("quality", "/products/GCC-20"), why)
		}
		now := seen(h, "quality")
		assert.Nil(h, now.Open)
		assert.Equal(h, []string{"D", "engineer", why}, []string{now.Taken.Label, now.Taken.By, now.Taken.Reason})
		assert.Equal(h, "C", h.Lanes[0].State().Product.Revision)
	})
}

// Ways to have a loosening approved that one person alone decides about, or that nobody looked
// at as it is.
func TestWaysRoundASecondPerson(t *testing.T) {
	event := func(h *webtest.House, name string, kind accounts.AccountEventKind, role, by string) {
		h.Helper()
		require.NoError(h, h.Store.Accounts.SaveAccountEvent(h.Context(), accounts.AccountEvent{Name: name, Kind: kind, Role: role, By: by}))
	}
	signIn := func(h *webtest.House, name string) {
		h.Helper()
		require.NoError(h, h.Store.Accounts.StartSession(h.Context(), sha256.Sum256([]byte("token of "+name)), name, "password"))
	}
	for name, way := range map[string]func(h *webtest.House, v products.View) (who, look string){
		"an account that the proposer made": func(h *webtest.House, v products.View) (string, string) {
			event(h, "Second", accounts.AccountRole, "quality", "engineer")
			signIn(h, "Second")
			return "Second", v.Open.Look
		},
		"and closed and made anew": func(h *webtest.House, v products.View) (string, string) {
			event(h, "Second", accounts.AccountRole, "quality", "engineer")
			event(h, "Second", accounts.AccountClosed, "", "engineer")
			event(h, "Second", accounts.AccountRole, "quality", "engineer")
			signIn(h, "Second")
			return "Second", v.Open.Look
		},
		"closed by another, made anew by the proposer": func(h *webtest.House, v products.View) (string, string) {
			event(h, "Second", accounts.AccountRole, "quality", "engineer")
			event(h, "Second", accounts.AccountClosed, "", "test")
			event(h, "Second", accounts.AccountRole, "quality", "engineer")
			signIn(h, "Second")
			return "Second", v.Open.Look
		},
		"an account of another, given a role by the proposer": func(h *webtest.House, v products.View) (string, string) {
			event(h, "Second", accounts.AccountRole, "operator", "test")
			event(h, "Second", accounts.AccountRole, "quality", "engineer")
			signIn(h, "Second")
			return "Second", v.Open.Look
		},
		"the name in other letters": func(h *webtest.House, v products.View) (string, string) {
			event(h, "ENGI NEER", accounts.AccountRole, "quality", "test")
			signIn(h, "ENGI NEER")
			return "ENGI NEER", v.Open.Look
		},
		"an account that is closed, in a session of before": func(h *webtest.House, v products.View) (string, string) {
			event(h, "quality", accounts.AccountClosed, "", "test")
			return "quality", v.Open.Look
		},
		"the same text, proposed anew from an earlier unit on": func(h *webtest.House, v products.View) (string, string) {
			proposed(h, h.Unit(1))
			return "quality", v.Open.Look
		},
		"the same by the hash of the text alone": func(h *webtest.House, v products.View) (string, string) {
			proposed(h, h.Unit(1))
			return "quality", v.Open.Hash
		},
		"an older proposal": func(h *webtest.House, v products.View) (string, string) {
			text := swap(swap(h.Text, "at most 200 ohm", "at most 3 kohm"), "revision: C", "revision: E")
			require.Equal(h, 200, first(release(h, text, "customer wants 3 kohm", h.Unit(5))))
			return "quality", v.Open.Look
		},
	} {
		t.Run(name, func(t *testing.T) {
			webtest.At(t, 1, "", func(h *webtest.House) {
				require.Equal(h, 200, first(release(h, h.Text, "first release of it", "")))
				who, look := way(h, proposed(h, h.Unit(5)))
				w := h.Send(who, "/products/GCC-20/approve", "application/json", "hash", look)
				assert.GreaterOrEqual(h, w.Code, 400, w.Body)
				assert.Less(h, w.Code, 500, w.Body)
				assert.Equal(h, "C", h.Lanes[0].State().Product.Revision)
				list, err := h.Store.Runs.Releases(h.Context(), "GCC-20")
				require.NoError(h, err)
				assert.Len(h, list, 1)
			})
		})
	}
}

// Approved in one tab it is approved once: the second tab, a proposal after it and a changed
// draft move nothing.
func TestApprovedInTwoTabs(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		require.Equal(h, 200, first(release(h, h.Text, "first release of it", "")))
		v := proposed(h, h.Unit(1))
		require.Equal(h, 200, first(h.Post("quality", "/products/GCC-20/approve", "hash", v.Open.Look)))
		assert.Equal(h, 422, first(h.Post("quality", "/products/GCC-20/approve", "hash", v.Open.Look)))
		draft(h, swap(swap(h.Text, "at most 200 ohm", "at most 9 kohm"), "revision: C", "revision: D"))
		assert.Equal(h, 422, first(h.Post("quality", "/products/GCC-20/approve", "hash", v.Open.Look)))
		assert.Equal(h, v.Open.Hash, h.Lanes[0].State().Product.Hash(), "what was approved, and not what it became")
	})
}
