package products_test

import (
	"crypto/sha256"
	"net/http"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web/products"
	"padjig/cmd/padjig/web/webtest"
	"padjig/sequence/revise"
)

func swap(text, from, to string) string { return strings.Replace(text, from, to, 1) }

// A text that is checked is shown again as it was written, with each mistake at its
// place, and what would change; nothing of it holds.
func TestAProductTextIsChecked(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		check := func(text string) products.View {
			w := h.Send("engineer", "/products/GCC-20/check", "application/json", "text", text, "reason", "trial")
			require.Equal(h, http.StatusOK, w.Code, w.Body)
			var v products.View
			h.Decode(w, &v)
			assert.Equal(h, strings.ReplaceAll(text, "\r\n", "\n"), v.Text, "it is kept")
			page := h.Send("engineer", "/products/GCC-20/check", "text/html", "text", text, "reason", "trial").Body.String()
			assert.NotContains(h, page, "⟦")
			return v
		}
		v := check(swap(h.Text, "contact resistance: at most 200 ohm", "contact resistance: at most 200 parsec"))
		require.Len(h, v.Mistakes, 1)
		assert.Contains(h, v.Mistakes[0].Source, "parsec")
		assert.Equal(h, v.Mistakes[0].Column, len([]rune(v.Mistakes[0].Mark)))
		v = check(swap(h.Text, "product: GCC-20", "product: GCC-21"))
		require.Len(h, v.Mistakes, 1)
		assert.Contains(h, v.Mistakes[0].Message, "GCC-21")
		assert.NotEmpty(h, check("").Mistakes)
		v = check(h.Text)
		assert.True(h, v.Same)
		v = check(swap(swap(h.Text, "at most 200 ohm", "at most 150 ohm"), "revision: C", "revision: D"))
		assert.Empty(h, v.Mistakes)
		assert.False(h, v.Same)
		assert.NotEmpty(h, v.Changes)
		assert.Equal(h, "D", v.Label)
		check(strings.ReplaceAll(h.Text, "\n", "\r\n")) // as browsers send it
		assert.Equal(h, "C", h.Lanes[0].State().Product.Revision)
		var list products.List
		h.Get("engineer", "/products", &list)
		assert.Equal(h, []int{1}, list.Products[0].Lanes)
		assert.True(h, list.Products[0].Released.IsZero())
		h.Page("engineer", "/products")
		h.Page("engineer", "/products/GCC-20")
		assert.Equal(h, 404, h.Get("engineer", "/products/GCC-21", nil))
		assert.Equal(h, 403, h.Get("operator", "/products", nil))
	})
}

// A revision is released by who may, with a password and a reason, when nothing
// is wrong with it; then the lanes test by it, and one of before can be taken back.
func TestReleases(t *testing.T) {
	webtest.At(t, 2, "", func(h *webtest.House) {
		d := swap(swap(h.Text, "at most 200 ohm", "at most 150 ohm"), "revision: C", "revision: D")
		const reason = "customer wants 150 ohm"
		release := func(role, text, why string) (int, string) {
			w := h.Send(role, "/products/GCC-20/release", "application/json", "text", text, "reason", why)
			return w.Code, w.Body.String()
		}
		count := func() int {
			list, err := h.Store.Runs.Releases(h.Context(), "GCC-20")
			require.NoError(h, err)
			return len(list)
		}
		status, _ := release("quality", d, reason)
		assert.Equal(h, 403, status)
		status, _ = release("engineer", d, "because")
		assert.Equal(h, 422, status)
		_, body := release("engineer", swap(d, "keys: VENT", "keys: FROG"), reason)
		assert.Contains(h, body, "FROG")
		assert.NotContains(h, body, `"mistakes": []`)

		// a badge alone releases nothing
		require.NoError(h, h.Store.Accounts.StartSession(h.Context(), sha256.Sum256([]byte("token of badge")), "engineer", "badge"))
		status, _ = release("badge", d, reason)
		assert.Equal(h, 403, status)
		assert.Zero(h, count())
		status, _ = release("engineer", d, reason)
		assert.Equal(h, 200, status)
		assert.Equal(h, 1, count())
		for _, lane := range h.Lanes {
			assert.Equal(h, "D", lane.State().Product.Revision)
		}
		// the same label with another limit
		_, body = release("engineer", swap(d, "150 ohm", "140 ohm"), reason)
		assert.Contains(h, body, "known with another definition")
		assert.Equal(h, 1, count())
		looser(h, h.Text, "C")
		assert.Equal(h, "C", h.Lanes[0].State().Product.Revision)
		var v products.View
		h.Get("engineer", "/products/GCC-20", &v)
		require.NotEmpty(h, v.Releases)
		assert.True(h, v.Releases[0].Holds)
		h.Page("engineer", "/products/GCC-20")
		back := func(seq, why string) int {
			code, _ := h.Post("engineer", "/products/GCC-20/back", "seq", seq, "reason", why)
			return code
		}
		assert.Equal(h, 422, back("1", "no"))
		assert.Equal(h, 404, back("99", reason))
		assert.Equal(h, 200, back("1", reason))
		assert.Equal(h, "D", h.Lanes[0].State().Product.Revision)
		list, err := h.Store.Runs.Releases(h.Context(), "GCC-20")
		require.NoError(h, err)
		assert.True(h, list[0].Back)
		assert.Equal(h, "engineer", list[0].By)
		h.Test(h.Unit(1))
		runs, err := h.Store.Runs.Unit(h.Context(), h.Unit(1))
		require.NoError(h, err)
		assert.Equal(h, "D", runs[0].Revision)
		h.Page("engineer", "/products")
		h.Spoil(`DROP TRIGGER release_no_update`, `UPDATE release SET source = replace(source, '150 ohm', '900 ohm') WHERE seq = 1`)
		assert.Equal(h, 422, back("1", reason), "it is not what was released")
	})
}

// looser proposes a text that lets more through, and has quality approve it.
func looser(h *webtest.House, text, label string) {
	h.Helper()
	status, _ := h.Post("engineer", "/products/GCC-20/release", "text", text, "reason", "agreed with the customer", "from", h.Unit(1))
	require.Equal(h, 200, status)
	var v products.View
	h.Get("quality", "/products/GCC-20", &v)
	require.NotNil(h, v.Open)
	require.Equal(h, label, v.Open.Label)
	status, _ = h.Post("quality", "/products/GCC-20/approve", "hash", v.Open.Hash)
	require.Equal(h, 200, status)
}

// What lets more through is proposed by one and approved by another: neither by the same
// person by another way in, nor after they came in anew, nor by a badge, nor by whom it is
// not for; and what is approved is what was looked at.
func TestALooseningIsApprovedByASecondPerson(t *testing.T) {
	webtest.At(t, 2, "", func(h *webtest.House) {
		require.Equal(h, 200, first(h.Post("engineer", "/products/GCC-20/release", "text", h.Text, "reason", "first release of it")))
		ten := swap(swap(h.Text, "at most 200 ohm", "at most 2 kohm"), "revision: C", "revision: D")
		propose := func(text, from string) products.View {
			w := h.Send("engineer", "/products/GCC-20/release", "application/json", "text", text, "reason", "customer wants 2 kohm", "from", from)
			require.Less(h, w.Code, 400, w.Body)
			var v products.View
			h.Get("engineer", "/products/GCC-20", &v)
			return v
		}
		v := propose(ten, "")
		assert.Nil(h, v.Open, "it says from which unit on")
		v = propose(ten, h.Unit(1))
		require.NotNil(h, v.Open)
		assert.True(h, v.Open.Own)
		assert.Equal(h, "LOOSER", v.Open.Classed[0].Way)
		assert.Equal(h, "16 keys: contact resistance at most 200 ohm → 2 kohm", v.Open.Classed[0].Text)
		assert.Contains(h, v.Open.Trial[0], "No unit of GCC-20 has readings")
		assert.Equal(h, "C", h.Lanes[0].State().Product.Revision, "nothing is in force yet")
		approve := func(role, hash string) int { return first(h.Post(role, "/products/GCC-20/approve", "hash", hash)) }
		assert.Equal(h, 422, approve("engineer", v.Open.Hash))
		for how, token := range map[string]string{"badge": "badge", "password": "again"} {
			require.NoError(h, h.Store.Accounts.StartSession(h.Context(), sha256.Sum256([]byte("token of "+token)), "engineer", how))
		}
		assert.Equal(h, 422, approve("again", v.Open.Hash), "who came in anew is the same person")
		assert.Equal(h, 403, approve("badge", v.Open.Hash))
		assert.Equal(h, 403, approve("operator", v.Open.Hash))
		assert.Equal(h, 403, approve("returns", v.Open.Hash))
		page := h.Page("quality", "/products/GCC-20")
		assert.Contains(h, page, "Approve D")
		assert.NotContains(h, h.Page("engineer", "/products/GCC-20"), "Approve D")

		// It changed since quality looked at it.
		seen := v.Open.Hash
		v = propose(swap(swap(ten, "at most 2 kohm", "at most 3 kohm"), "revision: D", "revision: E"), h.Unit(1))
		assert.Equal(h, 422, approve("quality", seen))
		assert.Equal(h, "C", h.Lanes[0].State().Product.Revision)
		// Another release went in between.
		tighter := swap(swap(h.Text, "at most 200 ohm", "at most 150 ohm"), "revision: C", "revision: F")
		require.Equal(h, 200, first(h.Post("engineer", "/products/GCC-20/release", "text", tighter, "reason", "tighter for the winter")))
		assert.Equal(h, 422, approve("quality", v.Open.Hash))
		assert.Equal(h, "F", h.Lanes[0].State().Product.Revision)
		// Going back to what is looser is a loosening too.
		require.Equal(h, 200, first(h.Post("engineer", "/products/GCC-20/back", "seq", "1", "reason", "as it was before", "from", h.Unit(3))))
		assert.Equal(h, "F", h.Lanes[0].State().Product.Revision)
		h.Get("quality", "/products/GCC-20", &v)
		require.Equal(h, 200, approve("quality", v.Open.Hash))
		for _, lane := range h.Lanes {
			assert.Equal(h, "C", lane.State().Product.Revision)
		}
		h.Test(h.Unit(3))
		h.Get("engineer", "/products/GCC-20", &v)
		assert.Equal(h, "quality", v.Releases[0].Approved)
		assert.Equal(h, h.Unit(3), v.Releases[0].From)
		assert.Equal(h, h.Unit(3), v.Releases[0].First)
	})
}

func first[A, B any](a A, _ B) A { return a }

// What a revision would have done is reckoned from the units of before, and kept with it.
func TestARevisionIsTriedOnUnitsOfBefore(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		h.Test(h.Unit(1))
		h.Put("key 7 high 260 ohm")
		h.Test(h.Unit(2))
		check := func(from, to string) products.View {
			w := h.Send("engineer", "/products/GCC-20/check", "application/json", "text", swap(swap(h.Text, from, to), "revision: C", "revision: D"), "reason", "trial")
			var v products.View
			h.Decode(w, &v)
			return v
		}
		v := check("contact resistance: at most 200 ohm", "contact resistance: at most 400 ohm")
		assert.True(h, v.Loosens)
		said := strings.Join(v.Trial, "\n")
		assert.Contains(h, said, "Of the last 2 units, by their first judged run, 0 that passed would have failed, and 1 that failed would have passed.")
		assert.Contains(h, said, "Failed, and would pass: "+h.Unit(2))
		v = check("contact resistance: at most 200 ohm", "contact resistance: at most 82 ohm")
		assert.Contains(h, strings.Join(v.Trial, "\n"), "Passed, and would fail: "+h.Unit(1))
		assert.False(h, v.Loosens)
	})
}

// By its own definition a run of before is what it was, whatever was wrong with the unit.
func TestARunJudgedByItsOwnDefinitionIsWhatItWas(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		for i, fault := range []string{"", "key 7 high 260 ohm", "key 7 open", "lines R3 C1 leak 800 kohm", "line R3 adds 300 ohm",
			"key VENT high 310 ohm", "key 7 stuck 80 ohm", "lines R3 R4 shorted 2 ohm", "key 7 bounces 14 ms on closing", "key 7 bounces 14 ms on opening"} {
			h.Put(fault)
			h.Test(h.Unit(i))
			h.PutAway()
			list, err := h.Store.Runs.Unit(h.Context(), h.Unit(i))
			require.NoError(h, err)
			again := revise.Judge(h.Product, list[0].Run)
			assert.Equal(h, list[0].Outcome, again.Outcome, fault)
			var was, now []string
			for _, f := range list[0].Findings {
				was = append(was, f.What+" "+f.Key+" "+f.Place)
			}
			for _, f := range again.Findings {
				now = append(now, f.What+" "+f.Key+" "+f.Place)
			}
			assert.ElementsMatch(h, was, now, fault)
			for k, r := range again.Keys {
				assert.Equal(h, list[0].Keys[k].Verdict, r.Verdict, "%s: key %s", fault, r.Key)
			}
		}
	})
}
