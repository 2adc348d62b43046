package desk_test

import (
	"fmt"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web/desk"
	"padjig/cmd/padjig/web/webtest"
	"padjig/results/returns"
)

// Cases are searched by the address, by what is asked for together, and a search that cannot be is
// refused; the answer is that of the records, whom the terminal asks too.
func TestCasesAreSearched(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		day := 24 * time.Hour
		for i, in := range []returns.Intake{
			{Complaint: "key dead", ComplaintText: "the OK key in hall 4", Customer: "Glasshouse Ltd", Received: time.Now().Add(-20 * day)},
			{Complaint: "none given", Customer: "Gärtnerei Übersee", Received: time.Now().Add(-14*day - time.Hour)},
			{Complaint: "key dead", Customer: "glasshouse ltd", Received: time.Now().Add(-13 * day)},
			{Complaint: "looks damaged", ConditionText: "sand & grit", Received: time.Now()},
		} {
			in.Conditions, in.By = []string{"dirty"}, "Rosa"
			c, err := h.Store.Returns.OpenCase(h.Context(), h.Unit(i+1), h.Product.Code, in)
			require.NoError(h, err)
			if i == 2 {
				require.NoError(h, h.Store.Returns.Dispose(h.Context(), c, returns.Disposition{Code: returns.Confirmed, Disposal: returns.Scrapped, By: "Rosa",
					Answers: map[string]string{"nothing found": "seen", "good unit scrapped": "seen"}}))
			}
		}
		for query, want := range map[string]struct {
			cases []int64
			asked returns.Search
		}{
			"":                                    {[]int64{4, 3, 2, 1}, returns.Search{}},
			"serial=" + h.Unit(2)[6:]:             {[]int64{2}, returns.Search{Serial: h.Unit(2)[6:]}},
			"customer=GLASS":                      {[]int64{3, 1}, returns.Search{Customer: "GLASS"}},
			"customer=%C3%BCBER":                  {[]int64{2}, returns.Search{Customer: "üBER"}},
			"complaint=key+dead&state=open":       {[]int64{1}, returns.Search{Complaint: "key dead", State: "open"}},
			"state=closed":                        {[]int64{3}, returns.Search{State: "closed"}},
			"words=hall+4":                        {[]int64{1}, returns.Search{Words: "hall 4"}},
			"words=%26":                           {[]int64{4}, returns.Search{Words: "&"}},
			"words=%25":                           {nil, returns.Search{Words: "%"}},
			"older=14":                            {[]int64{2, 1}, returns.Search{Older: 14}},
			"older=14&sort=received":              {[]int64{1, 2}, returns.Search{Older: 14, Sort: "received"}},
			"sort=-complaint":                     {[]int64{2, 4, 3, 1}, returns.Search{Sort: "-complaint"}},
			"sort=customer":                       {[]int64{4, 3, 1, 2}, returns.Search{Sort: "customer"}},
			"sort=-state":                         {[]int64{3, 4, 2, 1}, returns.Search{Sort: "-state"}},
			"customer=glass&serial=nobody&older=": {nil, returns.Search{Customer: "glass", Serial: "nobody"}},
		} {
			var v desk.ListView
			require.Equal(h, 200, h.Get("returns", "/returns?"+query, &v), query)
			var got, asked []int64
			for _, c := range v.Cases {
				got = append(got, c.Number)
			}
			want.asked.Most = 10
			found, err := h.Store.Returns.Find(h.Context(), want.asked)
			require.NoError(h, err)
			for _, c := range found.Cases {
				asked = append(asked, c.Number)
			}
			assert.Equal(h, want.cases, got, query)
			assert.Equal(h, asked, got, query)
			assert.Equal(h, found.All, v.Found, query)
			h.Page("returns", "/returns?"+query)
		}
		for _, wrong := range []string{"older=two", "older=-1", "state=lost", "complaint=it+smells", "sort=colour"} {
			assert.Equal(h, 422, h.Get("returns", "/returns?"+wrong, nil), wrong)
		}
		page := h.Page("returns", "/returns?customer=glass&older=14")
		assert.Contains(h, page, `value="glass"`, "what was asked for stands in its field")
		assert.Contains(h, page, "/returns?customer=glass&amp;older=14&amp;state=open", "a chip keeps the rest")
		assert.Contains(h, page, fmt.Sprintf("found %d, shown %[1]d", 1))
		found, err := h.Store.Returns.Find(h.Context(), returns.Search{Most: 1})
		require.NoError(h, err)
		assert.Len(h, found.Cases, 1)
		assert.Equal(h, 4, found.All)
	})
}
