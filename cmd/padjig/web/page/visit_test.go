package page_test

import (
	"bytes"
	"encoding/json"
	"errors"
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/web/page"
	"padjig/cmd/padjig/web/webtest"
	"padjig/results/report"
)

// A stream tells at once how things stand and what changes, beats while nothing does, and
// ends with the browser or the station.
func TestStreams(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		one, other := h.Listen("operator", "/lane/1/live"), h.Listen("operator", "/lane/1/live")
		one.Event("still")
		assert.Contains(h, one.Event("lane"), "SCAN")
		h.Test(h.Unit(1))
		one.Event("progress")
		time.Sleep(page.Silence)
		one.Event("still")
		other.Leave()
		h.Site.End()
		for range one.Lines { // until it ends
		}
	})
}

// A table of numbers is in the reader's language on the page, in plain values as JSON and
// as a file.
func TestTables(t *testing.T) {
	words := page.In("de", page.Catalogue{"de": {"col.low": "von", "col.high": "bis"}})
	table := words.TableOf(report.Table{Name: "keys", Columns: []report.Column{
		{Name: "reason"}, {Name: "value", Unit: "ohm", Digits: 1}, {Name: "value_low", Digits: 1}, {Name: "n"},
	}, Rows: [][]any{{"worn", 1.5, math.NaN(), 3}, {"new", math.Inf(1), 2.5, nil}}}, "Tasten")
	assert.Equal(t, []bool{false, true, true, true}, []bool{table.Columns[0].Num, table.Columns[1].Num, table.Columns[2].Num, table.Columns[3].Num})
	assert.Equal(t, "von", table.Columns[2].Head)
	assert.Equal(t, "1,5", table.Rows[0][1].Text)
	assert.Equal(t, "en", table.Rows[0][0].Lang, "as it is on record")
	raw, err := json.Marshal(table)
	require.NoError(t, err)
	assert.JSONEq(t, `{"name": "keys", "caption": "Tasten", "rows": [
		{"reason": "worn", "value": 1.5, "value_low": null, "n": 3}, {"reason": "new", "value": null, "value_low": 2.5, "n": null}]}`, string(raw))
	var file bytes.Buffer
	require.NoError(t, table.File().CSV(&file))
	assert.Contains(t, file.String(), "reason,value,value_low,n")

	own := page.Table{Columns: []page.Column{page.Col("key", "Taste"), page.NumCol("n", "n"), page.NumCol("ohm", "Ω")},
		Rows: [][]page.Cell{{page.Plain("7"), page.Count(12000), words.NearCell(page.OrNone(0))}}}
	assert.Equal(t, []string{"7", "12\u202f000", "–"}, []string{own.Rows[0][0].Text, own.Rows[0][1].Text, own.Rows[0][2].Text})
	assert.Equal(t, 3.0, page.OrNone(3))
	v, err := page.ParseNumber(" 95,5 ")
	require.NoError(t, err)
	assert.Equal(t, 95.5, v)
}

// What a visit says of a request, and nothing more.
func TestVisits(t *testing.T) {
	r := httptest.NewRequest(http.MethodPost, "/x?screen=a", strings.NewReader(url.Values{"reason": {" because "}, "c": {"1", "2"}, "heard": {"1"}}.Encode()))
	r.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	r.Header.Set("Accept", "application/json")
	r.Header.Set("Referer", "http://station/unit?serial=1")
	r.AddCookie(&http.Cookie{Name: "language", Value: "de"})
	r.SetPathValue("lane", "4")
	w := httptest.NewRecorder()
	v := page.NewVisit(w, r, page.Catalogue{"en": {"a": ""}, "de": {"override.reason": "mindestens {0}", "a": "A {0} {1}"}})
	form, err := v.Form()
	require.NoError(t, err)
	assert.Len(t, form, 4)
	assert.Equal(t, []string{"de", "a", "4", "because", "/unit?serial=1"}, []string{v.Lang.Tag, v.Screen(), v.Place("lane"), v.Text("reason"), v.Address()})
	assert.Equal(t, []string{"1", "2"}, v.Values("c"))
	assert.True(t, v.WantsJSON() && v.Late() && v.Has("a") && !v.Has("b"))
	assert.Empty(t, v.Files("photo"))
	assert.NotEmpty(t, v.Remote())
	_, err = v.Reason()
	assert.EqualError(t, err, "mindestens 8")
	assert.Equal(t, "A x y", v.Say("a", page.Each([]string{"x", "y"})...))
	assert.Equal(t, "first-press", page.Key("first press"))
	v.SetCookie(&http.Cookie{Name: "n", Value: "v"})
	assert.Equal(t, "n=v", w.Header().Get("Set-Cookie"))
	then := v.AsIf(url.Values{"reason": {"a reason that says something"}})
	why, err := then.Reason()
	require.NoError(t, err)
	assert.Equal(t, "a reason that says something", why)
	assert.Equal(t, "because", v.Text("reason"), "this one stays as it is")
}

// Who may is one of these; an entry of the menu holds what lies below it, and not what
// begins alike.
func TestWhoAndWhere(t *testing.T) {
	var nobody *page.Person
	ines := &page.Person{Role: account.Engineer}
	assert.True(t, nobody.HasRole(nil) && ines.HasRole(page.Engineers) && ines.HasRole(page.Deciding) && ines.HasRole(page.Everyone))
	assert.False(t, nobody.HasRole(page.Everyone) || (&page.Person{Role: account.Operator}).HasRole(page.Engineers))
	all := page.Page{Path: "/{$}", Below: "/lane"}
	assert.Equal(t, "/", all.Address())
	assert.True(t, all.Holds("/") && all.Holds("/lane/1") && !all.Holds("/lanes") && !all.Holds("/jigs"))
	jigs := page.Page{Path: "/jigs"}
	assert.True(t, jigs.Holds("/jigs/1/traffic") && !jigs.Holds("/jigsaw"))
	for status, err := range map[int]error{404: page.NotFound("x"), 422: page.Wrong("x"), 403: page.Refused("x"), 409: page.Conflict("x")} {
		p, is := errors.AsType[*page.Problem](err)
		require.True(t, is)
		assert.Equal(t, status, p.Status)
	}
}
