package web

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

	"padjig/cmd/padjig/bench"
	"padjig/results/report/returned"
	"padjig/results/returns"
	"padjig/sequence"
)

// lifeSays is the page of a unit as it comes as JSON.
type lifeSays struct {
	unitView
	Keys json.RawMessage `json:"keys"`
}

// life is the page of a unit, as JSON; it is whole as HTML in both languages too.
func (h *house) life(serial string) (v lifeSays) {
	h.Helper()
	path := unitAddress(serial)
	require.Equal(h, http.StatusOK, h.get("returns", path, &v))
	for _, h.lang = range []string{"de", "en"} {
		h.page("returns", path)
	}
	return v
}

// stage has the first lane make a stage of a case.
func (h *house) stage(c returns.Case, purpose sequence.Purpose) (int, answer) {
	h.Helper()
	h.site.Lanes[0].Clear()
	code, said := h.post("returns", "/returns/stage", "case", fmt.Sprint(c.Number), "lane", "1", "purpose", string(purpose))
	if code == http.StatusOK {
		s := h.settled(c.Serial)
		require.Equal(h, bench.Ended, s.Phase, "%v", s.Refusal)
		require.Equal(h, purpose, s.Verdict.Purpose)
	}
	return code, said
}

// What is written at the intake is refused where it is in no words of the desk, and
// says so; then it opens one case, and corrects it.
func TestIntake(t *testing.T) {
	at(t, 1, "", func(h *house) {
		serial := h.unit(1)
		for name, c := range map[string]struct {
			role   string
			form   []string
			status int
		}{
			"an operator":        {"operator", []string{"serial", serial, "complaint", "key dead"}, 403},
			"no number":          {"returns", []string{"complaint", "key dead"}, 422},
			"nobody's number":    {"returns", []string{"serial", "X-1", "complaint", "key dead"}, 422},
			"no complaint":       {"returns", []string{"serial", serial}, 422},
			"a complaint of own": {"returns", []string{"serial", serial, "complaint", "it smells"}, 422},
			"other, no words":    {"returns", []string{"serial", serial, "complaint", "other", "text", " "}, 422},
			"seen what is none":  {"returns", []string{"serial", serial, "complaint", "key dead", "condition", "haunted"}, 422},
		} {
			status, said := h.post(c.role, "/returns/intake", c.form...)
			assert.Equal(h, c.status, status, "%s: %s", name, said.Say)
			assert.NotEmpty(h, said.Say, name)
		}
		number, err := h.site.Store.Returns.OpenCaseOf(h.Context(), serial)
		require.NoError(h, err)
		assert.Zero(h, number)

		assert.Nil(h, h.life(serial).Case, "a form to take it in")
		status, said := h.post("returns", "/returns/intake", "serial", " "+serial+" ", "complaint", "other", "text", "two keys at once",
			"condition", "dirty", "seen", "coffee", "customer", "Glasshouse Ltd", "lot", "L7")
		assert.Equal(h, 200, status, said.Say)
		assert.Equal(h, unitAddress(serial), said.Go)
		v := h.life(serial)
		require.NotNil(h, v.Case)
		assert.Contains(h, v.Case.Complaint, "two keys at once")
		assert.Contains(h, v.Case.Seen, "coffee")
		status, _ = h.post("returns", "/returns/intake", "serial", serial, "complaint", "key dead", "condition", "wet")
		assert.Equal(h, 200, status)
		c, err := h.site.Store.Returns.CaseOf(h.Context(), serial)
		require.NoError(h, err)
		assert.Len(h, c.Intakes, 2)
		assert.True(h, c.Intake().EndsTesting, "what is wet is not tested")
		code, _ := h.stage(c, sequence.FirstPress)
		assert.Equal(h, 422, code)
		h.life(serial)
		var list returnsView
		h.get("returns", "/returns", &list)
		require.Len(h, list.Cases, 1)
		assert.Equal(h, serial, list.Cases[0].Serial)
		h.page("returns", "/returns")
		status, said = h.post("returns", "/returns", "serial", serial)
		assert.Equal(h, unitAddress(serial), said.Go)
		assert.Equal(h, 200, status)
		status, _ = h.post("returns", "/returns", "serial", " ")
		assert.Equal(h, 422, status)
		assert.Equal(h, 404, h.get("returns", "/unit", nil))
	})
}

// A case that is none is nowhere, whatever is asked of it, and moves nothing.
func TestACaseThatIsNone(t *testing.T) {
	at(t, 1, "", func(h *house) {
		for _, number := range []string{"", "x", "7", "-1"} {
			for _, path := range []string{"/returns/stage", "/returns/dispose", "/returns/check", "/returns/ohms", "/returns/photo"} {
				status, said := h.post("returns", path, "case", number, "lane", "1", "purpose", "first press", "key", "1", "code", "confirmed")
				assert.Equal(h, 404, status, "%s of %q: %s", path, number, said.Say)
			}
			for _, path := range []string{"/returns/check?case=", "/returns/ohms?case="} {
				assert.Equal(h, 404, h.get("returns", path+number, nil), "%s%s", path, number)
			}
			if number != "" {
				assert.Equal(h, 404, h.get("returns", "/returns/report/"+number, nil))
				assert.Equal(h, 404, h.get("returns", "/returns/photo/"+number+"/abc", nil))
			}
		}
		assert.Equal(h, bench.Ready, h.site.Lanes[0].State().Phase)
	})
}

// A unit that came back goes through the desk, stage by stage in their order, to a
// disposition that its stages support; its page shows what is known at each point.
func TestACaseThroughTheDesk(t *testing.T) {
	at(t, 2, "", func(h *house) {
		serial := h.unit(1)
		h.test(serial) // as it left
		h.put("key 7 high 640 ohm; lines C1 C2 leak 2 Mohm")
		c := h.came(serial)
		v := h.life(serial)
		assert.NotEmpty(h, v.Shipped)
		assert.NotEmpty(h, v.Next)

		for _, wrong := range []sequence.Purpose{sequence.Production, sequence.ReturnTest, sequence.Exercise, "gauge study", "nonsense"} {
			code, said := h.stage(c, wrong)
			assert.Equal(h, 422, code, wrong)
			assert.NotEmpty(h, said.Say)
		}
		presses := h.jigs[0].Counts().Presses[0]
		assert.Equal(h, 1, presses, "only when it left")
		code, _ := h.post("returns", "/returns/stage", "case", fmt.Sprint(c.Number), "purpose", "first press")
		assert.Equal(h, 422, code, "on which lane")
		code, _ = h.post("returns", "/returns/stage", "case", fmt.Sprint(c.Number), "purpose", "first press", "lane", "3")
		assert.Equal(h, 404, code)
		code, _ = h.stage(c, sequence.FirstPress)
		assert.Equal(h, 200, code)
		assert.Equal(h, "STORED", h.says().Word)
		code, _ = h.stage(c, sequence.FirstPress)
		assert.Equal(h, 422, code, "a second one is no first press")
		code, _ = h.stage(c, sequence.ReturnTest)
		assert.Equal(h, 200, code)
		code, said := h.stage(c, sequence.ReturnTest)
		assert.Equal(h, 422, code)
		assert.Contains(h, said.Say, "was made already")

		v = h.life(serial)
		assert.Len(h, v.Runs, 3)
		assert.NotEmpty(h, v.Keys)
		w := fetch(h.T, h.handler, asking{path: unitAddress(serial) + "&csv=keys", role: "returns"})
		rows, err := csv.NewReader(strings.NewReader(w.Body.String())).ReadAll()
		require.NoError(h, err)
		assert.Len(h, rows, 1+len(h.product.Keys))
		assert.Contains(h, w.Header().Get("Content-Disposition"), "padjig-keys.csv")
		assert.Equal(h, 404, h.get("returns", unitAddress(serial)+"&csv=none", nil))
		report := fetch(h.T, h.handler, asking{path: fmt.Sprintf("/returns/report/%d", c.Number), role: "returns"})
		assert.Equal(h, 200, report.Code)
		assert.Contains(h, report.Body.String(), serial)
		assert.Equal(h, reportPolicy, report.Header().Get("Content-Security-Policy"))

		_, err = h.site.Store.Returns.AddPhoto(h.Context(), c, dot(h), returns.Photo{ContentType: "image/png", Name: "dot.png", By: "Rosa"})
		require.NoError(h, err)
		photos := h.life(serial).Photos
		require.Len(h, photos, 1)
		photo := fetch(h.T, h.handler, asking{path: photos[0].Address, role: "returns"})
		assert.Equal(h, "image/png", photo.Header().Get("Content-Type"))
		assert.Equal(h, dot(h), photo.Body.Bytes())
		assert.Equal(h, 403, fetch(h.T, h.handler, asking{path: photos[0].Address, role: "operator"}).Code)
		now, err := h.site.Store.Returns.Case(h.Context(), c.Number)
		require.NoError(h, err)
		require.NoError(h, os.Remove(h.site.Store.Returns.PhotoFile(now.Photos[0])))
		assert.Equal(h, 404, h.get("returns", photos[0].Address, nil), "its file is gone")

		dispose := func(code, reason string) (int, string) {
			status, said := h.post("returns", "/returns/dispose", "case", fmt.Sprint(c.Number), "code", code, "reason", reason)
			return status, said.Say
		}
		for _, wrong := range []string{"", "lost", "not reproduced", "reopened"} {
			status, say := dispose(wrong, "because")
			assert.Equal(h, 422, status, "%s: %s", wrong, say)
		}
		status, _ := dispose("confirmed", "key 7 is high")
		assert.Equal(h, 200, status)
		v = h.life(serial)
		assert.True(h, v.Case.Closed)
		assert.Nil(h, v.Stage)
		code, _ = h.stage(c, sequence.Exercise)
		assert.Equal(h, 422, code, "it is closed")
		status, _ = dispose("reopened", "customer asks again")
		assert.Equal(h, 200, status)
		assert.False(h, h.life(serial).Case.Closed)
	})
}

// A stage that runs on a lane is not begun on another, and the page of its unit
// says where it is.
func TestAStageIsMadeOnce(t *testing.T) {
	at(t, 2, "", func(h *house) {
		serial := h.unit(1)
		c := h.came(serial)
		stage := func(lane string) (int, answer) {
			return h.post("returns", "/returns/stage", "case", fmt.Sprint(c.Number), "lane", lane, "purpose", "first press")
		}
		status, said := stage("1")
		assert.Equal(h, 200, status)
		assert.Equal(h, "/lane/1", said.Go)
		h.until(1, func(s bench.State) bool { return s.Phase == bench.Running && s.Done > 0 })
		assert.Contains(h, h.page("returns", unitAddress(serial)), "lane 1")
		status, said = stage("2")
		assert.Equal(h, 422, status)
		assert.Contains(h, said.Say, "1")
		h.settled(serial)
		runs, err := h.site.Store.Runs.Unit(h.Context(), serial)
		require.NoError(h, err)
		assert.Len(h, runs, 1)
	})
}

// diagnosed gives a case a diagnosis of its last run, as a lane keeps it.
func (h *house) diagnosed(c returns.Case) {
	h.Helper()
	runs, err := h.site.Store.Runs.Unit(h.Context(), c.Serial)
	require.NoError(h, err)
	last := runs[len(runs)-1]
	d, err := sequence.Diagnose(last.Run, h.product)
	require.NoError(h, err)
	causes, err := returned.Snapshot(d)
	require.NoError(h, err)
	require.NoError(h, h.site.Store.Returns.Diagnosed(h.Context(), c, returns.Diagnosis{Run: last.Seq, Causes: causes}))
}

// The check that would tell most is asked of a jig only where it can be made, on a
// lane that is free, and what it changes is shown; a jig that may not move says so.
func TestTheNextCheck(t *testing.T) {
	at(t, 1, "", func(h *house) {
		serial, fault := h.unit(1), "key 7 high 640 ohm"
		c := h.came(serial)
		number := fmt.Sprint(c.Number)
		assert.Equal(h, 422, h.get("returns", "/returns/check?case="+number, nil), "nothing was measured")
		h.put(fault)
		h.stage(c, sequence.FirstPress)
		h.stage(c, sequence.ReturnTest)
		h.diagnosed(c)
		assert.NotEmpty(h, h.life(serial).Causes)
		var v nextCheckView
		require.Equal(h, 200, h.get("returns", "/returns/check?case="+number, &v))
		h.page("returns", "/returns/check?case="+number)
		require.NotEmpty(h, v.Check)
		assert.True(h, v.Simulated)
		assert.Empty(h, v.Refused)
		status, _ := h.post("returns", "/returns/check", "case", number)
		assert.Equal(h, 422, status, "on which lane")
		status, _ = h.post("operator", "/returns/check", "case", number, "lane", "1")
		assert.Equal(h, 403, status)
		h.put(fault + "; jig opens interlock")
		status, said := h.post("returns", "/returns/check", "case", number, "lane", "1")
		assert.Equal(h, 422, status)
		assert.NotEmpty(h, said.Say)
		h.put(fault)
		runs := len(h.life(serial).Runs)
		w := h.send("returns", "/returns/check", "application/json", "case", number, "lane", "1")
		require.Equal(h, 200, w.Code, w.Body)
		h.decode(w, &v)
		assert.NotEmpty(h, v.Came)
		assert.NotEmpty(h, v.Shifts)
		assert.NotEmpty(h, v.Next)
		w = h.send("returns", "/returns/check", "text/html", "case", number, "lane", "1")
		assert.NotContains(h, w.Body.String(), "⟦")
		assert.Len(h, h.life(serial).Runs, runs, "a check is no test")
		require.NoError(h, h.site.Store.Returns.Dispose(h.Context(), c, returns.Disposition{Code: returns.Confirmed, Reason: "key 7 is high", By: "Rosa"}))
		status, _ = h.post("returns", "/returns/check", "case", number, "lane", "1")
		assert.Equal(h, 422, status, "it is closed")
		require.Equal(h, 200, h.get("returns", "/returns/check?case="+number, &v))
		assert.NotEmpty(h, v.Refused)
	})
}

// A key is watched by who was permitted, once, soon, and on the page that asked;
// it is let go when the page goes.
func TestAKeyIsWatched(t *testing.T) {
	at(t, 1, "", func(h *house) {
		serial := h.unit(1)
		c := h.came(serial)
		number := fmt.Sprint(c.Number)
		page := "/returns/ohms?case=" + number
		assert.Equal(h, 422, h.get("returns", page, nil), "it was never measured")
		h.stage(c, sequence.FirstPress)
		var v ohmsView
		require.Equal(h, 200, h.get("returns", page+"&key=7", &v))
		assert.NotEmpty(h, v.Limit)
		h.page("returns", page)
		for name, form := range map[string][]string{
			"no lane": {"key", "7"}, "no key": {"lane", "1"}, "a key of none": {"lane", "1", "key", "77"},
		} {
			status, _ := h.post("returns", "/returns/ohms", append(form, "case", number)...)
			assert.Equal(h, 422, status, name)
		}
		permit := func() string {
			status, said := h.post("returns", "/returns/ohms", "case", number, "lane", "1", "key", "7")
			require.Equal(h, 200, status, said.Say)
			h.page("returns", said.Go)
			_, id, _ := strings.Cut(said.Go, "watch=")
			return "/returns/ohms/" + id + "/live"
		}
		used := permit()
		watch := h.listen("returns", used)
		assert.Contains(h, watch.event("ohms"), "Ω")
		assert.Equal(h, bench.Lent, h.site.Lanes[0].State().Phase)
		watch.leave()
		h.until(1, func(s bench.State) bool { return !s.Phase.Busy() })

		watch = h.listen("returns", permit())
		for range 3 {
			watch.event("ohms")
		}
		watch.event("over") // by its time
		h.until(1, func(s bench.State) bool { return !s.Phase.Busy() })
		for name, path := range map[string]func() (string, string){
			"used":      func() (string, string) { return "returns", used },
			"another's": func() (string, string) { return "quality", permit() },
			"too late":  func() (string, string) { p := permit(); time.Sleep(ohmsBegin + time.Second); return "returns", p },
			"of none":   func() (string, string) { return "returns", "/returns/ohms/abc/live" },
		} {
			before := h.jigs[0].Counts().Presses
			role, address := path()
			h.listen(role, address).event("over")
			assert.Equal(h, before, h.jigs[0].Counts().Presses, name)
		}
		h.put("jig emergency")
		h.listen("returns", permit()).event("over")
		status, _ := h.post("returns", "/returns/intake", "serial", serial, "complaint", "key dead", "condition", "wet")
		assert.Equal(h, 200, status)
		status, _ = h.post("returns", "/returns/ohms", "case", number, "lane", "1", "key", "7")
		assert.Equal(h, 422, status, "damage has been seen")
		require.Equal(h, 200, h.get("returns", page, &v))
		assert.NotEmpty(h, v.Refused)
	})
}

// A form without photos, or with what is no picture, is refused and kept nothing of.
func TestPhotosThatAreNone(t *testing.T) {
	at(t, 1, "", func(h *house) {
		c := h.came(h.unit(1))
		status, _ := h.post("returns", "/returns/photo", "case", fmt.Sprint(c.Number))
		assert.Equal(h, 422, status)
		assert.Equal(h, 404, h.get("returns", fmt.Sprintf("/returns/photo/%d/abc", c.Number), nil))
	})
}

// dot is the smallest picture.
func dot(t testing.TB) []byte {
	t.Helper()
	var out bytes.Buffer
	require.NoError(t, png.Encode(&out, image.NewGray(image.Rect(0, 0, 1, 1))))
	return out.Bytes()
}
