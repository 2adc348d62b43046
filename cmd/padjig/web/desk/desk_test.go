package desk_test

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"fmt"
	"image"
	"image/png"
	"net/http"
	"os"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/desk"
	"padjig/cmd/padjig/web/page"
	"padjig/cmd/padjig/web/webtest"
	"padjig/results/report/returned"
	"padjig/results/returns"
	"padjig/sequence"
	"padjig/sequence/evidence"
)

// lifeSays is the page of a unit as it comes as JSON.
type lifeSays struct {
	desk.LifeView
	Keys json.RawMessage `json:"keys"`
}

// lifeOf is the page of a unit, as JSON; it is whole as HTML in both languages too.
func lifeOf(h *webtest.House, serial string) (v lifeSays) {
	h.Helper()
	path := desk.UnitAddress(serial)
	require.Equal(h, http.StatusOK, h.Get("returns", path, &v))
	for _, h.Lang = range []string{"de", "en"} {
		h.Page("returns", path)
	}
	return v
}

// What is written at the intake is refused where it is in no words of the desk, and
// says so; then it opens one case, and corrects it.
func TestIntake(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		serial := h.Unit(1)
		for name, c := range map[string]struct {
			role   string
			form   []string
			status int
		}{
			"an operator":          {"operator", []string{"serial", serial, "complaint", "key dead"}, 403},
			"no number":            {"returns", []string{"complaint", "key dead"}, 422},
			"nobody's number":      {"returns", []string{"serial", "X-1", "complaint", "key dead"}, 422},
			"no complaint":         {"returns", []string{"serial", serial, "condition", "dirty"}, 422},
			"a complaint of own":   {"returns", []string{"serial", serial, "complaint", "it smells", "condition", "dirty"}, 422},
			"other, no words":      {"returns", []string{"serial", serial, "complaint", "other", "text", " ", "condition", "dirty"}, 422},
			"nothing said seen":    {"returns", []string{"serial", serial, "complaint", "key dead"}, 422},
			"nothing, and dirt":    {"returns", []string{"serial", serial, "complaint", "key dead", "condition", "nothing visible", "condition", "dirty"}, 422},
			"seen other, no words": {"returns", []string{"serial", serial, "complaint", "key dead", "condition", "other"}, 422},
			"seen what is none":    {"returns", []string{"serial", serial, "complaint", "key dead", "condition", "haunted"}, 422},
		} {
			status, said := h.Post(c.role, "/returns/intake", c.form...)
			assert.Equal(h, c.status, status, "%s: %s", name, said.Say)
			assert.NotEmpty(h, said.Say, name)
		}
		number, err := h.Store.Returns.OpenCaseOf(h.Context(), serial)
		require.NoError(h, err)
		assert.Zero(h, number)

		assert.Nil(h, lifeOf(h, serial).Case, "a form to take it in")
		status, said := h.Post("returns", "/returns/intake", "serial", " "+serial+" ", "complaint", "other", "text", "two keys at once",
			"condition", "dirty", "seen", "coffee", "customer", "Glasshouse Ltd", "lot", "L7")
		assert.Equal(h, 200, status, said.Say)
		assert.Equal(h, desk.UnitAddress(serial), said.Go)
		v := lifeOf(h, serial)
		require.NotNil(h, v.Case)
		assert.Contains(h, v.Case.Complaint, "two keys at once")
		assert.Contains(h, v.Case.Seen, "coffee")
		status, _ = h.Post("returns", "/returns/intake", "serial", serial, "complaint", "key dead", "condition", "wet")
		assert.Equal(h, 200, status)
		c, err := h.Store.Returns.CaseOf(h.Context(), serial)
		require.NoError(h, err)
		assert.Len(h, c.Intakes, 2)
		assert.True(h, c.Intake().EndsTesting, "what is wet is not tested")
		code, _ := h.Stage(c, sequence.FirstPress)
		assert.Equal(h, 422, code)
		lifeOf(h, serial)
		var list desk.ListView
		h.Get("returns", "/returns", &list)
		require.Len(h, list.Cases, 1)
		assert.Equal(h, serial, list.Cases[0].Serial)
		h.Page("returns", "/returns")
		status, said = h.Post("returns", "/returns", "serial", serial)
		assert.Equal(h, desk.UnitAddress(serial), said.Go)
		assert.Equal(h, 200, status)
		status, _ = h.Post("returns", "/returns", "serial", " ")
		assert.Equal(h, 422, status)
		assert.Equal(h, 404, h.Get("returns", "/unit", nil))
	})
}

// A case that is none is nowhere, whatever is asked of it, and moves nothing.
func TestACaseThatIsNone(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		for _, number := range []string{"", "x", "7", "-1"} {
			for _, path := range []string{"/returns/stage", "/returns/dispose", "/returns/check", "/returns/ohms", "/returns/photo", "/returns/nophoto"} {
				status, said := h.Post("returns", path, "case", number, "lane", "1", "purpose", "first press", "key", "1", "code", "confirmed")
				want := 404
				if path == "/returns/ohms" && number == "" {
					want = 422
				}
				assert.Equal(h, want, status, "%s of %q: %s", path, number, said.Say)
			}
			assert.Equal(h, 404, h.Get("returns", "/returns/check?case="+number, nil), number)
			if number != "" { // else the page asks which unit
				assert.Equal(h, 404, h.Get("returns", "/returns/ohms?case="+number, nil), number)
			}
			if number != "" {
				assert.Equal(h, 404, h.Get("returns", "/returns/report/"+number, nil))
				assert.Equal(h, 404, h.Get("returns", "/returns/photo/"+number+"/abc", nil))
			}
		}
		assert.Equal(h, station.Ready, h.Lanes[0].State().Phase)
	})
}

// A unit that came back goes through the desk, stage by stage in their order, to a
// disposition that its stages support; its page shows what is known at each point.
func TestACaseThroughTheDesk(t *testing.T) {
	webtest.At(t, 2, "", func(h *webtest.House) {
		serial := h.Unit(1)
		h.Test(serial) // as it left
		h.Put("key 7 high 640 ohm; lines C1 C2 leak 2 Mohm")
		c := h.Came(serial)
		v := lifeOf(h, serial)
		assert.NotEmpty(h, v.Shipped)
		assert.NotEmpty(h, v.Next)

		for _, wrong := range []sequence.Purpose{sequence.Production, sequence.ReturnTest, sequence.Exercise, "gauge study", "nonsense"} {
			code, said := h.Stage(c, wrong)
			assert.Equal(h, 422, code, wrong)
			assert.NotEmpty(h, said.Say)
		}
		presses := h.Jigs[0].Counts().Presses[0]
		assert.Equal(h, 1, presses, "only when it left")
		code, _ := h.Post("returns", "/returns/stage", "case", fmt.Sprint(c.Number), "purpose", "first press")
		assert.Equal(h, 422, code, "on which lane")
		code, _ = h.Post("returns", "/returns/stage", "case", fmt.Sprint(c.Number), "purpose", "first press", "lane", "3")
		assert.Equal(h, 404, code)
		code, _ = h.Stage(c, sequence.FirstPress)
		assert.Equal(h, 200, code)
		assert.Equal(h, "STORED", h.Says().Word)
		code, _ = h.Stage(c, sequence.FirstPress)
		assert.Equal(h, 422, code, "a second one is no first press")
		code, _ = h.Stage(c, sequence.ReturnTest)
		assert.Equal(h, 200, code)
		code, said := h.Stage(c, sequence.ReturnTest)
		assert.Equal(h, 422, code)
		assert.Contains(h, said.Say, "was made already")

		v = lifeOf(h, serial)
		assert.Len(h, v.Runs, 3)
		assert.NotEmpty(h, v.Keys)
		w := webtest.Fetch(h.T, h.Handler, webtest.Ask{Path: desk.UnitAddress(serial) + "&csv=keys", Role: "returns"})
		rows, err := csv.NewReader(strings.NewReader(w.Body.String())).ReadAll()
		require.NoError(h, err)
		assert.Len(h, rows, 1+len(h.Product.Keys))
		assert.Contains(h, w.Header().Get("Content-Disposition"), "padjig-keys.csv")
		assert.Equal(h, 404, h.Get("returns", desk.UnitAddress(serial)+"&csv=none", nil))
		report := webtest.Fetch(h.T, h.Handler, webtest.Ask{Path: fmt.Sprintf("/returns/report/%d", c.Number), Role: "returns"})
		assert.Equal(h, 200, report.Code)
		assert.Contains(h, report.Body.String(), serial)
		assert.Equal(h, desk.ReportPolicy, report.Header().Get("Content-Security-Policy"))

		_, err = h.Store.Returns.AddPhoto(h.Context(), c, dot(h), returns.Photo{ContentType: "image/png", Name: "dot.png", By: "Rosa"})
		require.NoError(h, err)
		photos := lifeOf(h, serial).Photos
		require.Len(h, photos, 1)
		photo := webtest.Fetch(h.T, h.Handler, webtest.Ask{Path: photos[0].Address, Role: "returns"})
		assert.Equal(h, "image/png", photo.Header().Get("Content-Type"))
		assert.Equal(h, dot(h), photo.Body.Bytes())
		assert.Equal(h, 403, webtest.Fetch(h.T, h.Handler, webtest.Ask{Path: photos[0].Address, Role: "operator"}).Code)
		now, err := h.Store.Returns.Case(h.Context(), c.Number)
		require.NoError(h, err)
		require.NoError(h, os.Remove(h.Store.Returns.PhotoFile(now.Photos[0])))
		assert.Equal(h, 404, h.Get("returns", photos[0].Address, nil), "its file is gone")

		dispose := func(code, reason string) (int, string) {
			disposal := "scrapped"
			if code == "reopened" {
				disposal = ""
			}
			status, said := h.Post("returns", "/returns/dispose", "case", fmt.Sprint(c.Number), "code", code, "disposal", disposal, "reason", reason)
			return status, said.Say
		}
		for _, wrong := range []string{"", "lost", "not reproduced", "reopened"} {
			status, say := dispose(wrong, "because")
			assert.Equal(h, 422, status, "%s: %s", wrong, say)
		}
		status, _ := dispose("confirmed", "key 7 is high")
		assert.Equal(h, 200, status)
		v = lifeOf(h, serial)
		assert.True(h, v.Case.Closed)
		assert.Nil(h, v.Stage)
		code, _ = h.Stage(c, sequence.Exercise)
		assert.Equal(h, 422, code, "it is closed")
		status, _ = dispose("reopened", "customer asks again")
		assert.Equal(h, 200, status)
		assert.False(h, lifeOf(h, serial).Case.Closed)
	})
}

// A stage whose lid was open waits for it, and then for the start on the page of its unit.
func TestAStageWaitsForItsStart(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		c := h.Came(h.Unit(1))
		number := fmt.Sprint(c.Number)
		h.Jigs[0].Lid(true)
		status, said := h.Post("returns", "/returns/stage", "case", number, "lane", "1", "purpose", "first press")
		require.Equal(h, 200, status, said.Say)
		h.Until(1, func(s station.State) bool { return s.Phase == station.Lid })
		h.Post("returns", "/returns/start", "case", number) // before the lid is closed: forgotten
		h.Jigs[0].Lid(false)
		h.Until(1, func(s station.State) bool { return s.Phase == station.Armed })
		time.Sleep(10 * time.Second)
		require.Equal(h, station.Armed, h.Lanes[0].State().Phase)
		now := h.Page("returns", desk.UnitAddress(h.Unit(1)))
		assert.Contains(h, now, "the lid is closed. Hands out, then press start.")
		assert.Contains(h, now, `action="/returns/start"`)
		status, _ = h.Post("returns", "/returns/start", "case", number, "heard", "1")
		assert.Equal(h, 409, status, "a press that lay in a queue")
		status, _ = h.Post("returns", "/returns/start", "case", number)
		assert.Equal(h, 200, status)
		assert.Equal(h, sequence.FirstPress, h.Settled(h.Unit(1)).Verdict.Purpose)
		status, _ = h.Post("returns", "/returns/start", "case", number)
		assert.Equal(h, 409, status, "a page of before")
	})
}

// A stage that runs on a lane is not begun on another, and the page of its unit
// says where it is.
func TestAStageIsMadeOnce(t *testing.T) {
	webtest.At(t, 2, "", func(h *webtest.House) {
		serial := h.Unit(1)
		c := h.Came(serial)
		stage := func(lane string) (int, page.Answer) {
			return h.Post("returns", "/returns/stage", "case", fmt.Sprint(c.Number), "lane", lane, "purpose", "first press")
		}
		status, said := stage("1")
		assert.Equal(h, 200, status)
		assert.Equal(h, desk.UnitAddress(serial), said.Go)
		h.Until(1, func(s station.State) bool { return s.Phase == station.Running && s.Done > 0 })
		now := h.Page("returns", desk.UnitAddress(serial))
		assert.Contains(h, now, "Lane 1, jig SIM-0001: it is being tested.")
		assert.Contains(h, now, `data-live="/returns/case/1/live"`)
		assert.NotContains(h, now, "not finished", "it goes on")
		status, said = stage("2")
		assert.Equal(h, 422, status)
		assert.Contains(h, said.Say, "1")
		h.Settled(serial)
		runs, err := h.Store.Runs.Unit(h.Context(), serial)
		require.NoError(h, err)
		assert.Len(h, runs, 1)
	})
}

// diagnosed gives a case a diagnosis of its last run, as a lane keeps it.
func diagnosed(h *webtest.House, c returns.Case) {
	h.Helper()
	runs, err := h.Store.Runs.Unit(h.Context(), c.Serial)
	require.NoError(h, err)
	last := runs[len(runs)-1]
	d, err := evidence.Diagnose(last.Run, h.Product)
	require.NoError(h, err)
	causes, err := returned.Snapshot(d)
	require.NoError(h, err)
	require.NoError(h, h.Store.Returns.Diagnosed(h.Context(), c, returns.Diagnosis{Run: last.Seq, Causes: causes}))
}

// The check that would tell most is asked of a jig only where it can be made, on a
// lane that is free, and what it changes is shown; a jig that may not move says so.
func TestTheNextCheck(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		serial, fault := h.Unit(1), "key 7 high 640 ohm"
		c := h.Came(serial)
		number := fmt.Sprint(c.Number)
		assert.Equal(h, 422, h.Get("returns", "/returns/check?case="+number, nil), "nothing was measured")
		h.Put(fault)
		h.Stage(c, sequence.FirstPress)
		h.Stage(c, sequence.ReturnTest)
		diagnosed(h, c)
		assert.NotEmpty(h, lifeOf(h, serial).Causes)
		var v desk.CheckView
		require.Equal(h, 200, h.Get("returns", "/returns/check?case="+number, &v))
		h.Page("returns", "/returns/check?case="+number)
		require.NotEmpty(h, v.Check)
		assert.True(h, v.Simulated)
		assert.Empty(h, v.Refused)
		status, _ := h.Post("returns", "/returns/check", "case", number)
		assert.Equal(h, 422, status, "on which lane")
		status, _ = h.Post("operator", "/returns/check", "case", number, "lane", "1")
		assert.Equal(h, 403, status)
		h.Put(fault + "; jig opens interlock")
		status, said := h.Post("returns", "/returns/check", "case", number, "lane", "1")
		assert.Equal(h, 422, status)
		assert.NotEmpty(h, said.Say)
		h.Put(fault)
		runs := len(lifeOf(h, serial).Runs)
		w := h.Send("returns", "/returns/check", "application/json", "case", number, "lane", "1")
		require.Equal(h, 200, w.Code, w.Body)
		h.Decode(w, &v)
		assert.NotEmpty(h, v.Came)
		assert.NotEmpty(h, v.Shifts)
		assert.NotEmpty(h, v.Next)
		w = h.Send("returns", "/returns/check", "text/html", "case", number, "lane", "1")
		assert.NotContains(h, w.Body.String(), "⟦")
		assert.Len(h, lifeOf(h, serial).Runs, runs, "a check is no test")
		require.NoError(h, h.Store.Returns.Dispose(h.Context(), c, returns.Disposition{Code: returns.Confirmed, Disposal: returns.Scrapped, Reason: "key 7 is high", By: "Rosa"}))
		status, _ = h.Post("returns", "/returns/check", "case", number, "lane", "1")
		assert.Equal(h, 422, status, "it is closed")
		require.Equal(h, 200, h.Get("returns", "/returns/check?case="+number, &v))
		assert.NotEmpty(h, v.Refused)
	})
}

// A key is watched by who was permitted, once, soon, and on the page that asked;
// it is let go when the page goes.
func TestAKeyIsWatched(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		serial := h.Unit(1)
		c := h.Came(serial)
		number := fmt.Sprint(c.Number)
		page := "/returns/ohms?case=" + number
		assert.Equal(h, 422, h.Get("returns", page, nil), "it was never measured")
		h.Stage(c, sequence.FirstPress)
		var v desk.OhmsView
		require.Equal(h, 200, h.Get("returns", page+"&key=7", &v))
		assert.NotEmpty(h, v.Limit)
		h.Page("returns", page)
		for name, form := range map[string][]string{
			"no lane": {"key", "7"}, "no key": {"lane", "1"}, "a key of none": {"lane", "1", "key", "77"},
		} {
			status, _ := h.Post("returns", "/returns/ohms", append(form, "case", number)...)
			assert.Equal(h, 422, status, name)
		}
		permit := func() string {
			status, said := h.Post("returns", "/returns/ohms", "case", number, "lane", "1", "key", "7")
			require.Equal(h, 200, status, said.Say)
			h.Page("returns", said.Go)
			_, id, _ := strings.Cut(said.Go, "watch=")
			return "/returns/ohms/" + id + "/live"
		}
		used := permit()
		watch := h.Listen("returns", used)
		assert.Contains(h, watch.Event("ohms"), "Ω")
		assert.Equal(h, station.Exclusive, h.Lanes[0].State().Phase)
		watch.Leave()
		h.Until(1, func(s station.State) bool { return !s.Phase.Busy() })

		watch = h.Listen("returns", permit())
		for range 3 {
			watch.Event("ohms")
		}
		watch.Event("over") // by its time
		h.Until(1, func(s station.State) bool { return !s.Phase.Busy() })
		for name, path := range map[string]func() (string, string){
			"used":      func() (string, string) { return "returns", used },
			"another's": func() (string, string) { return "quality", permit() },
			"too late":  func() (string, string) { p := permit(); time.Sleep(desk.OhmsBegin + time.Second); return "returns", p },
			"of none":   func() (string, string) { return "returns", "/returns/ohms/abc/live" },
		} {
			before := h.Jigs[0].Counts().Presses
			role, address := path()
			h.Listen(role, address).Event("over")
			assert.Equal(h, before, h.Jigs[0].Counts().Presses, name)
		}
		h.Put("jig emergency")
		h.Listen("returns", permit()).Event("over")
		status, _ := h.Post("returns", "/returns/intake", "serial", serial, "complaint", "key dead", "condition", "wet")
		assert.Equal(h, 200, status)
		status, _ = h.Post("returns", "/returns/ohms", "case", number, "lane", "1", "key", "7")
		assert.Equal(h, 422, status, "damage has been seen")
		require.Equal(h, 200, h.Get("returns", page, &v))
		assert.NotEmpty(h, v.Refused)
	})
}

// A form without photos, or with what is no picture, is refused and kept nothing of.
func TestPhotosThatAreNone(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		c := h.Came(h.Unit(1))
		status, _ := h.Post("returns", "/returns/photo", "case", fmt.Sprint(c.Number))
		assert.Equal(h, 422, status)
		assert.Equal(h, 404, h.Get("returns", fmt.Sprintf("/returns/photo/%d/abc", c.Number), nil))
	})
}

// dot is the smallest picture.
func dot(t testing.TB) []byte {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, png.Encode(&out, image.NewGray(image.Rect(0, 0, 1, 1))))
	return out.Bytes()
}

// Nothing is measured of a unit before it was photographed or it was said why not; the page
// says so, offers no stage, and a page that was loaded before gets no further.
func TestNoStageBeforeAPhoto(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		serial := h.Unit(1)
		status, _ := h.Post("returns", "/returns/intake", "serial", serial, "complaint", "key dead", "condition", "nothing visible")
		require.Equal(h, 200, status)
		c, err := h.Store.Returns.CaseOf(h.Context(), serial)
		require.NoError(h, err)
		v := lifeOf(h, serial)
		assert.Contains(h, v.Next, "photograph it before anything touches it")
		page := h.Page("returns", desk.UnitAddress(serial))
		assert.NotContains(h, page, `action="/returns/stage"`)
		assert.Contains(h, page, `action="/returns/nophoto"`)
		code, said := h.Stage(c, sequence.FirstPress)
		assert.Equal(h, 422, code)
		assert.Contains(h, said.Say, "has no photo yet")
		h.Lanes[0].Scan(station.Scan{Serial: serial, Operator: "Rosa", Return: &station.Return{Case: c, Purpose: sequence.FirstPress}})
		s := h.Settled(serial)
		require.NotNil(h, s.Refusal, "asked of the lane itself")
		assert.Equal(h, station.StageRefused, s.Refusal.Code)
		assert.Zero(h, h.Jigs[0].Counts().Presses[0])
		number := fmt.Sprint(c.Number)
		for _, short := range []string{"", "no"} {
			status, _ = h.Post("returns", "/returns/nophoto", "case", number, "reason", short)
			assert.Equal(h, 422, status)
		}
		status, _ = h.Post("operator", "/returns/nophoto", "case", number, "reason", "the camera is broken")
		assert.Equal(h, 403, status)
		status, _ = h.Post("returns", "/returns/nophoto", "case", number, "reason", "the camera is broken")
		assert.Equal(h, 200, status)
		assert.Equal(h, "the camera is broken", lifeOf(h, serial).Case.NoPhoto)
		code, _ = h.Stage(c, sequence.FirstPress)
		assert.Equal(h, 200, code)
	})
}

// Whether a damaged unit is tested is an engineer's decision, and nobody else's.
func TestDamageIsAnEngineersDecision(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		serial := h.Unit(1)
		c := h.Came(serial)
		number := fmt.Sprint(c.Number)
		status, _ := h.Post("engineer", "/returns/unlock", "case", number, "reason", "nothing is wrong with it")
		assert.Equal(h, 422, status, "no damage was seen")
		h.Post("returns", "/returns/intake", "serial", serial, "complaint", "key dead", "condition", "burnt")
		h.Post("returns", "/returns/intake", "serial", serial, "complaint", "key dead", "condition", "dirty")
		code, said := h.Stage(c, sequence.FirstPress)
		assert.Equal(h, 422, code, "a correction takes no damage back")
		assert.Contains(h, said.Say, "visible damage (burnt)")
		assert.True(h, lifeOf(h, serial).Case.Locked)
		assert.NotContains(h, h.Page("returns", desk.UnitAddress(serial)), "/returns/unlock")
		assert.Contains(h, h.Page("engineer", desk.UnitAddress(serial)), "/returns/unlock")
		for _, role := range []string{"operator", "returns", "quality"} {
			status, _ = h.Post(role, "/returns/unlock", "case", number, "reason", "only the label is burnt")
			assert.Equal(h, 403, status, role)
		}
		status, _ = h.Post("engineer", "/returns/unlock", "case", number, "reason", "only the label is burnt")
		assert.Equal(h, 200, status)
		assert.False(h, lifeOf(h, serial).Case.Locked)
		code, _ = h.Stage(c, sequence.FirstPress)
		assert.Equal(h, 200, code)
	})
}

// Nothing is chosen beforehand in any form of the desk.
func TestNothingIsChosenBeforehand(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		serial := h.Unit(1)
		pages := h.Page("returns", desk.UnitAddress(serial))
		h.Came(serial)
		pages += h.Page("returns", desk.UnitAddress(serial))
		for _, name := range []string{"complaint", "code", "disposal", "did"} {
			assert.Regexp(h, `<select id="`+name+`" name="`+name+`" required><option value="" selected disabled>`, pages)
		}
		assert.NotContains(h, pages, " checked")
		assert.Equal(h, strings.Count(pages, " selected"), strings.Count(pages, `value="" selected disabled`))
	})
}

// What the records say against a disposition is shown before it is chosen, and asked for
// when it is, also on a page from before a stage found something.
func TestContradictionsAreAnswered(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		serial := h.Unit(1)
		c := h.Came(serial)
		number := fmt.Sprint(c.Number)
		asks := lifeOf(h, serial).Case.Asks // of the page that stays open
		codes := map[string]string{}
		for _, a := range asks {
			codes[a.Code] = a.With
		}
		assert.Equal(h, "not reproduced", codes["no exercise"])
		assert.NotContains(h, codes, "a stage found it")
		h.Put("key 7 open")
		h.Stage(c, sequence.FirstPress)
		close := []string{"case", number, "code", "not reproduced", "disposal", "sent back as it is", "answer no exercise", "nobody has time"}
		status, said := h.Post("returns", "/returns/dispose", close...)
		assert.Equal(h, 422, status)
		assert.Contains(h, said.Say, "the first press found a fault (key open: key 7 (R3-C1))")
		assert.Contains(h, said.Say, "it goes back with it")
		assert.False(h, lifeOf(h, serial).Case.Closed)
		close = append(close, "answer a stage found it", "the customer asked for it so", "answer fault goes back", "the customer asked for it so")
		status, said = h.Post("returns", "/returns/dispose", close...)
		assert.Equal(h, 200, status, said.Say)
		v := lifeOf(h, serial)
		assert.Equal(h, "sent back as it is", v.Case.Disposal)
		require.Len(h, v.Case.Answered, 2)
		assert.Contains(h, v.Case.Answered[0], "the customer asked for it so")
		status, said = h.Post("returns", "/returns/dispose", "case", number, "code", "confirmed", "disposal", "scrapped")
		assert.Equal(h, 422, status, "closed once, from another page")
		assert.Contains(h, said.Say, "was closed as “not reproduced”")
	})
}

// Rework of a unit is recorded at the desk, in codes and at a place that it has, not while
// the unit lies in a jig.
func TestReworkAtTheDesk(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		serial := h.Unit(1)
		rework := func(pairs ...string) (int, string) {
			status, said := h.Post("returns", "/returns/rework", append(pairs, "serial", serial)...)
			return status, said.Say
		}
		status, say := rework("did", "contact cleaned", "at", "key MSIT")
		assert.Equal(h, 422, status)
		assert.Contains(h, say, `did you mean "MIST"`)
		status, _ = rework("at", "key 7")
		assert.Equal(h, 422, status, "nothing is chosen")
		status, _ = rework("did", "dome replaced", "at", "key 7")
		assert.Equal(h, 422, status, "of which lot")
		status, _ = h.Post("returns", "/returns/rework", "serial", "X-1", "did", "dried")
		assert.Equal(h, 422, status, "nobody's number")
		status, say = rework("did", "dome replaced", "at", "key 7", "lot", "D-17")
		assert.Equal(h, 200, status, say)
		v := lifeOf(h, serial)
		require.Len(h, v.Events, 1)
		assert.Contains(h, v.Events[0].Text, "dome replaced at key 7, dome of lot D-17, by ")
		c := h.Came(serial)
		status, _ = rework("did", "dried")
		assert.Equal(h, 200, status)
		list, err := h.Store.Returns.Reworks(h.Context(), serial)
		require.NoError(h, err)
		assert.Equal(h, []int64{0, c.Number}, []int64{list[0].Case, list[1].Case})
	})
}
