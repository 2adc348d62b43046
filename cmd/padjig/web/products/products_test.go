package products_test

import (
	"crypto/sha256"
	"fmt"
	"net/http"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web/products"
	"padjig/cmd/padjig/web/webtest"
	"padjig/results/accounts"
	"padjig/sequence/product"
	"padjig/sequence/revise"
)

func swap(text, from, to string) string { return strings.Replace(text, from, to, 1) }

// A text that is checked is kept as a draft and shown again as it was written, with every
// mistake at its place, and what would change; nothing of it is in force.
func TestAProductTextIsChecked(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		check := func(text string) products.Editor {
			v := draft(h, text)
			assert.Equal(h, strings.ReplaceAll(text, "\r\n", "\n"), v.Text, "it is kept")
			h.Page("engineer", "/products/GCC-20/edit")
			h.Page("engineer", "/products/GCC-20/try")
			return v
		}
		wrong := swap(swap(h.Text, "contact resistance: at most 200 ohm", "contact resistance: at most 200 parsec"), "revision: C", "revison: C")
		v := check(wrong)
		require.Len(h, v.Mistakes, 2, "all at once")
		assert.Contains(h, v.Mistakes[1].Source, "parsec")
		assert.Equal(h, v.Mistakes[1].Column, len([]rune(v.Mistakes[1].Mark)))
		_, err := product.Parse("GCC-20", []byte(wrong))
		assert.Contains(h, err.Error(), v.Mistakes[0].Message, "as the terminal says it")
		h.Lang = "de"
		assert.Contains(h, check(wrong).Mistakes[0].Message, "unbekanntes Feld \"revison\"")
		h.Lang = "en"
		v = check(swap(h.Text, "product: GCC-20", "product: GCC-21"))
		require.Len(h, v.Mistakes, 1)
		assert.Contains(h, v.Mistakes[0].Message, "GCC-21")
		assert.Contains(h, v.Mistakes[0].Source, "GCC-21", "at the line that says so")
		assert.NotEmpty(h, check("").Mistakes)
		v = check(swap(swap(h.Text, "at most 200 ohm", "at most 150 ohm"), "revision: C", "revision: D"))
		assert.Empty(h, v.Mistakes)
		assert.Equal(h, "D", v.Label)
		assert.Equal(h, 20, v.Figures.Keys)
		check(strings.ReplaceAll(h.Text, "\n", "\r\n")) // as browsers send it
		assert.Equal(h, "C", h.Lanes[0].State().Product.Revision)
		var list products.List
		h.Get("engineer", "/products", &list)
		assert.Equal(h, []int{1}, list.Products[0].Lanes)
		assert.Equal(h, []string{"engineer"}, list.Products[0].Drafts)
		assert.True(h, list.Products[0].Released.IsZero())
		h.Page("engineer", "/products")
		h.Page("quality", "/products/GCC-20")
		for _, path := range []string{"/products/GCC-21", "/products/GCC-21/edit"} {
			assert.Equal(h, 404, h.Get("engineer", path, nil))
		}
		assert.Equal(h, 404, h.Send("engineer", "/products/GCC-21/check", "application/json", "text", "product: GCC-21").Code)
		assert.Equal(h, 413, h.Send("engineer", "/products/GCC-20/check", "application/json", "text", strings.Repeat("#", product.MaxSize+1)).Code)
	})
}

// draft keeps a text as the engineer's draft.
func draft(h *webtest.House, text string) (v products.Editor) {
	h.Helper()
	var before products.Editor
	h.Get("engineer", "/products/GCC-20/edit", &before)
	w := h.Send("engineer", "/products/GCC-20/check", "application/json", "text", text, "version", fmt.Sprint(before.Version))
	require.Equal(h, http.StatusOK, w.Code, w.Body)
	h.Decode(w, &v)
	time.Sleep(time.Second) // nobody types faster
	return v
}

// Whoever types faster than a person is held back for a while, and nobody else is.
func TestLooksAreBounded(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		held := 0
		for range 60 {
			if h.Send("engineer", "/products/GCC-20/check", "application/json", "text", h.Text).Code == 429 {
				held++
			}
		}
		assert.Equal(h, 30, held)
		time.Sleep(10 * time.Second)
		assert.Equal(h, 200, h.Send("engineer", "/products/GCC-20/check", "application/json", "text", h.Text).Code)
	})
}

// A draft is its writer's, whatever others do, and is not written over by what another
// window had before.
func TestDraftsAreKept(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		v := draft(h, "product: GCC-20")
		require.EqualValues(h, 1, v.Version)
		second := h.Send("engineer", "/products/GCC-20/check", "application/json", "text", "product: other window", "version", "0")
		h.Decode(second, &v)
		assert.True(h, v.Changed)
		assert.Equal(h, "product: other window", v.Text, "what was typed is not lost")
		var kept products.Editor
		h.Get("engineer", "/products/GCC-20/edit", &kept)
		assert.Equal(h, "product: GCC-20", kept.Text)
		h.Decode(h.Send("engineer", "/products/GCC-20/check", "application/json", "text", "product: other window", "version", fmt.Sprint(v.Version)), &v)
		assert.False(h, v.Changed, "said twice it is meant")

		// A second engineer is told, has a draft of his own, and may begin with a copy.
		require.NoError(h, h.Store.Accounts.SaveAccountEvent(h.Context(), accounts.AccountEvent{Name: "jon", Kind: accounts.AccountRole, Role: "engineer", By: "test"}))
		require.NoError(h, h.Store.Accounts.StartSession(h.Context(), sha256.Sum256([]byte("token of jon")), "jon", "password"))
		h.Get("jon", "/products/GCC-20/edit", &v)
		require.Len(h, v.Others, 1)
		assert.Equal(h, "engineer", v.Others[0].By)
		assert.Contains(h, h.Page("jon", "/products/GCC-20/edit"), "engineer has a draft of this product too")
		require.Equal(h, 200, first(h.Post("jon", "/products/GCC-20/again", "from", "of engineer")))
		h.Get("jon", "/products/GCC-20/edit", &v)
		assert.Equal(h, "product: other window", v.Text)
		require.Equal(h, 200, first(h.Post("jon", "/products/GCC-20/again", "from", "file")))
		h.Get("jon", "/products/GCC-20/edit", &v)
		assert.Equal(h, h.Text, v.Text)
		assert.Equal(h, 422, first(h.Post("jon", "/products/GCC-20/again", "from", "of nobody")))
		h.Get("engineer", "/products/GCC-20/edit", &kept)
		assert.Equal(h, "product: other window", kept.Text, "hers stays hers")
	})
}

// A product begins from nothing, from another, or from a devicetree source; it is a draft
// until somebody releases it.
func TestANewProductBeginsAsADraft(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		begin := func(pairs ...string) int {
			return h.Send("engineer", "/new-product", "application/json", pairs...).Code
		}
		dts, err := os.ReadFile(filepath.Join(filepath.Dir(webtest.ProductFile(h)), "../devicetree/gcc-20.dts"))
		require.NoError(h, err)
		assert.Equal(h, 422, begin("code", "", "from", "template"))
		assert.Equal(h, 422, begin("code", "no blanks", "from", "template"))
		assert.Equal(h, 422, begin("code", "GCC-20", "from", "template"))
		for code, from := range map[string]string{"FAN-4": "template", "FAN-5": "like GCC-20", "FAN-6": "devicetree"} {
			require.Equal(h, 200, begin("code", code, "from", from, "source", string(dts)), code)
			var v products.Editor
			h.Get("engineer", "/products/"+code+"/edit", &v)
			assert.Empty(h, v.Mistakes, code)
			assert.Equal(h, code, v.Code)
			assert.True(h, v.First)
			h.Page("engineer", "/products/"+code)
			h.Page("engineer", "/products/"+code+"/try")
			assert.Equal(h, 422, begin("code", code, "from", "template"))
		}
		w := h.Send("engineer", "/new-product", "application/json", "code", "FAN-7", "from", "devicetree", "source", "/ { };")
		assert.Contains(h, w.Body.String(), "find the keypad")
		h.Page("engineer", "/new-product")
		var list products.List
		h.Get("quality", "/products", &list)
		assert.Len(h, list.Products, 4)
		assert.Empty(h, list.Products[1].Hash)
	})
}

// release has the engineer type a text, see it tried, and release or propose it.
func release(h *webtest.House, text, reason, from string) (int, string) {
	h.Helper()
	draft(h, text)
	return released(h, "engineer", "", reason, from)
}

// released releases what was seen tried: the draft, or a release of before.
func released(h *webtest.House, role, back, reason, from string) (int, string) {
	h.Helper()
	var seen products.Try
	h.Get(role, "/products/GCC-20/try?back="+back, &seen)
	w := h.Send(role, "/products/GCC-20/release", "application/json", "hash", seen.Hash, "back", back, "reason", reason, "from", from)
	return w.Code, w.Body.String()
}

// A revision is released by who may, with a password and a reason, when nothing is wrong
// with it and its trial was seen; then the lanes test by it, and one of before can be taken back.
func TestReleases(t *testing.T) {
	webtest.At(t, 2, "", func(h *webtest.House) {
		d := swap(swap(h.Text, "at most 200 ohm", "at most 150 ohm"), "revision: C", "revision: D")
		const reason = "customer wants 150 ohm"
		count := func() int {
			list, err := h.Store.Runs.Releases(h.Context(), "GCC-20")
			require.NoError(h, err)
			return len(list)
		}
		for _, role := range []string{"operator", "returns", "quality"} {
			for _, action := range []string{"check", "again", "release"} {
				assert.Equal(h, 403, h.Send(role, "/products/GCC-20/"+action, "application/json", "text", d).Code, "%s %s", role, action)
			}
			assert.Equal(h, 403, h.Send(role, "/new-product", "application/json", "code", "FAN-4").Code)
			assert.Equal(h, 403, h.Get(role, "/products/GCC-20/edit", nil))
		}
		for _, role := range []string{"operator", "returns"} {
			assert.Equal(h, 403, h.Get(role, "/products", nil))
			assert.Equal(h, 403, h.Send(role, "/products/GCC-20/approve", "application/json").Code)
		}
		assert.Equal(h, 409, h.Send("engineer", "/products/GCC-20/release", "application/json", "reason", reason).Code, "there is no draft")
		draft(h, d)
		of, err := product.Parse("d", []byte(d))
		require.NoError(h, err)
		w := h.Send("engineer", "/products/GCC-20/release", "application/json", "hash", of.Hash(), "reason", reason)
		assert.Contains(h, w.Body.String(), "its trial was not seen", "whoever knows the hash has not seen it yet")
		assert.Zero(h, count())
		status, _ := release(h, d, "because", "")
		assert.Equal(h, 422, status)
		_, body := release(h, swap(d, "keys: VENT", "keys: FROG"), reason, "")
		assert.Contains(h, body, "there are mistakes in the text")
		assert.NotContains(h, h.Page("engineer", "/products/GCC-20/try"), "<button class=\"button small\">Put")

		// changed since it was looked at
		draft(h, d)
		var seen products.Try
		h.Get("engineer", "/products/GCC-20/try", &seen)
		draft(h, swap(d, "150 ohm", "140 ohm"))
		w = h.Send("engineer", "/products/GCC-20/release", "application/json", "hash", seen.Hash, "reason", reason)
		assert.Contains(h, w.Body.String(), "The draft changed since")
		assert.Zero(h, count())
		draft(h, d)

		// a badge alone releases nothing
		require.NoError(h, h.Store.Accounts.StartSession(h.Context(), sha256.Sum256([]byte("token of badge")), "engineer", "badge"))
		status, _ = released(h, "badge", "", reason, "")
		assert.Equal(h, 403, status)
		assert.Zero(h, count())
		status, _ = release(h, d, reason, "")
		assert.Equal(h, 200, status)
		assert.Equal(h, 1, count())
		for _, lane := range h.Lanes {
			assert.Equal(h, "D", lane.State().Product.Revision)
		}
		// the same label with another limit
		_, body = release(h, swap(d, "150 ohm", "140 ohm"), reason, "")
		assert.Contains(h, body, "known with another definition")
		assert.Equal(h, 1, count())
		looser(h, h.Text, "C")
		assert.Equal(h, "C", h.Lanes[0].State().Product.Revision)
		var v products.View
		h.Get("engineer", "/products/GCC-20", &v)
		require.NotEmpty(h, v.Releases)
		assert.True(h, v.Releases[0].Holds)
		require.NotNil(h, v.Before)
		assert.Equal(h, "D", v.Before.Label, "one step back")
		assert.Contains(h, h.Page("engineer", "/products/GCC-20"), "Back to D, the revision before")
		h.Page("engineer", "/products/GCC-20/try?back=1")
		back := func(seq, why string) int { return first(released(h, "engineer", seq, why, "")) }
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
	status, _ := release(h, text, "agreed with the customer", h.Unit(1))
	require.Equal(h, 200, status)
	var v products.View
	h.Get("quality", "/products/GCC-20", &v)
	require.NotNil(h, v.Open)
	require.Equal(h, label, v.Open.Label)
	assert.True(h, v.Open.Turn)
	status, _ = h.Post("quality", "/products/GCC-20/approve", "hash", v.Open.Hash)
	require.Equal(h, 200, status)
}

// What lets more through is proposed by one and approved by another: neither by the same
// person by another way in, nor after they came in anew, nor by a badge, nor by whom it is
// not for; and what is approved is what was looked at.
func TestALooseningIsApprovedByASecondPerson(t *testing.T) {
	webtest.At(t, 2, "", func(h *webtest.House) {
		require.Equal(h, 200, first(release(h, h.Text, "first release of it", "")))
		ten := swap(swap(h.Text, "at most 200 ohm", "at most 2 kohm"), "revision: C", "revision: D")
		propose := func(text, from string) products.View {
			status, body := release(h, text, "customer wants 2 kohm", from)
			require.Equal(h, from == "", status == 422, body)
			var v products.View
			h.Get("engineer", "/products/GCC-20", &v)
			return v
		}
		v := propose(ten, "")
		assert.Nil(h, v.Open, "it says from which unit on")
		v = propose(ten, h.Unit(1))
		require.NotNil(h, v.Open)
		assert.True(h, v.Open.Own)
		assert.False(h, v.Open.Turn)
		assert.Equal(h, []string{"quality"}, v.Open.May)
		require.Len(h, v.Open.Changes, 1)
		assert.Equal(h, "lets more through", v.Open.Changes[0].Way)
		assert.Equal(h, []string{"16 keys: contact resistance at most 200 ohm → 2 kohm"}, v.Open.Changes[0].Changes, "once, and not a line a key")
		assert.Contains(h, v.Open.Trial[0], "No unit of GCC-20 has readings")
		assert.Equal(h, "C", h.Lanes[0].State().Product.Revision, "nothing is in force yet")
		approve := func(role, hash string) int { return first(h.Post(role, "/products/GCC-20/approve", "hash", hash)) }
		assert.Equal(h, 422, approve("engineer", v.Open.Hash))
		for how, token := range map[string]string{"badge": "badge", "password": "again"} {
			require.NoError(h, h.Store.Accounts.StartSession(h.Context(), sha256.Sum256([]byte("token of "+token)), "engineer", how))
		}
		assert.Equal(h, 422, approve("again", v.Open.Hash), "who came in anew is the same person")
		assert.Equal(h, 403, approve("badge", v.Open.Hash))
		page := h.Page("quality", "/products/GCC-20")
		assert.Contains(h, page, "Approve D")
		assert.Contains(h, page, "Your turn")
		page = h.Page("engineer", "/products/GCC-20")
		assert.NotContains(h, page, "Approve D")
		assert.Contains(h, page, "Now one of these has to approve it: quality.")

		// Who has an account of the proposer has no turn.
		require.NoError(h, h.Store.Accounts.SaveAccountEvent(h.Context(), accounts.AccountEvent{
			Name: "quality", Kind: accounts.AccountBadge, Secret: "of a badge that the engineer printed", By: "engineer"}))
		assert.Equal(h, 422, approve("quality", v.Open.Hash))
		assert.Contains(h, h.Page("quality", "/products/GCC-20"), "Nobody may approve it as accounts are")
		for _, e := range []accounts.AccountEvent{{Kind: accounts.AccountClosed}, {Kind: accounts.AccountRole, Role: "quality"}} {
			e.Name, e.By = "quality", "another engineer"
			require.NoError(h, h.Store.Accounts.SaveAccountEvent(h.Context(), e))
		}

		// It changed since quality looked at it.
		seen := v.Open.Hash
		v = propose(swap(swap(ten, "at most 2 kohm", "at most 3 kohm"), "revision: D", "revision: E"), h.Unit(1))
		assert.Equal(h, 422, approve("quality", seen))
		assert.Equal(h, "C", h.Lanes[0].State().Product.Revision)
		// Another release went in between.
		tighter := swap(swap(h.Text, "at most 200 ohm", "at most 150 ohm"), "revision: C", "revision: F")
		require.Equal(h, 200, first(release(h, tighter, "tighter for the winter", "")))
		assert.Equal(h, 422, approve("quality", v.Open.Hash))
		assert.Equal(h, "F", h.Lanes[0].State().Product.Revision)
		// Going back to what is looser is a loosening too.
		require.Equal(h, 200, first(released(h, "engineer", "1", "as it was before", h.Unit(3))))
		assert.Equal(h, "F", h.Lanes[0].State().Product.Revision)
		h.Get("quality", "/products/GCC-20", &v)
		require.Equal(h, 200, approve("quality", v.Open.Hash))
		for _, lane := range h.Lanes {
			assert.Equal(h, "C", lane.State().Product.Revision)
		}
		h.Test(h.Unit(3))
		v = products.View{}
		h.Get("engineer", "/products/GCC-20", &v)
		assert.Equal(h, "quality", v.Releases[0].Approved)
		assert.Equal(h, h.Unit(3), v.Releases[0].From)
		assert.Equal(h, h.Unit(3), v.Releases[0].First)
	})
}

func first[A, B any](a A, _ B) A { return a }

// What a revision would have done is reckoned from the units of before, shown with the way
// to each of them, and kept with the proposal.
func TestARevisionIsTriedOnUnitsOfBefore(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		h.Test(h.Unit(1))
		h.Put("key 7 high 260 ohm")
		h.Test(h.Unit(2))
		check := func(from, to string) (v products.Try) {
			draft(h, swap(swap(h.Text, from, to), "revision: C", "revision: D"))
			h.Get("engineer", "/products/GCC-20/try", &v)
			return v
		}
		v := check("contact resistance: at most 200 ohm", "contact resistance: at most 400 ohm")
		assert.True(h, v.Loosens)
		said := strings.Join(v.Trial, "\n")
		assert.Contains(h, said, "Of the last 2 units, by their first judged run, 0 that passed would have failed, and 1 that failed would have passed.")
		require.Len(h, v.Through, 1)
		assert.Equal(h, h.Unit(2), v.Through[0].Serial)
		assert.Equal(h, 200, h.Get("engineer", v.Through[0].Path, nil))
		page := h.Page("engineer", "/products/GCC-20/try")
		assert.Contains(h, page, "1 of 2 units would have come out otherwise.")
		assert.Contains(h, page, "Propose D to a second person")
		v = check("contact resistance: at most 200 ohm", "contact resistance: at most 82 ohm")
		require.Len(h, v.Rejects, 1)
		assert.Equal(h, h.Unit(1), v.Rejects[0].Serial)
		assert.False(h, v.Loosens)
		assert.Contains(h, h.Page("engineer", "/products/GCC-20/try"), "Put D in force now")
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
