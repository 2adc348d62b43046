package main

import (
	"bytes"
	"fmt"
	"image"
	"image/jpeg"
	"math/rand/v2"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results"
	"padjig/results/report/returned"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/evidence"
	"padjig/sequence/product"
)

// crowded is a case with more of everything than a page holds: a long life, a
// fault at every sixth key, photos, neighbours, long words.
func crowded(t *testing.T, s *results.Store, p *product.Product) returns.Case {
	t.Helper()
	ctx, serial := t.Context(), "GCC-000001-3"
	rev := runs.Revision{Code: p.Code, Title: p.Title, Label: p.Revision, Hash: p.Hash(), Definition: p.Canonical()}
	save := func(run sequence.Run) runs.Stored {
		id, err := s.Runs.Save(ctx, rev, run)
		require.NoError(t, err)
		stored, err := s.Runs.Run(ctx, id)
		require.NoError(t, err)
		return stored
	}
	for i := range 6 {
		bad := madeUp(p, uint64(i), sequence.Production, i%3)
		bad.Serial = fmt.Sprintf("GCC-00010%d", i)
		save(bad)
		again := madeUp(p, uint64(i), sequence.Production, 6)
		again.Serial = serial
		save(again)
	}
	shipped := madeUp(p, 7, sequence.Production, 0)
	shipped.Serial = serial
	save(shipped)
	for i := range 4 {
		require.NoError(t, s.Returns.SaveRework(ctx, returns.Rework{
			Serial: serial, Deed: "contact cleaned", Place: returns.Place{Kind: returns.AtKey, Name: p.Keys[i].Label},
			Note: "with a dry brush and blown out, the second time this week", By: "Ines Ortega", Done: time.Now(),
		}, p))
	}
	c, err := s.Returns.OpenCase(ctx, serial, p.Code, returns.Intake{
		Received: time.Now(), Complaint: "some keys dead", ComplaintText: strings.Repeat("in the damp hall by the river, ", 4), Conditions: []string{"dirty", "scratched", "opened before"},
		ConditionText: "<script>alert(1)</script> sand under the overlay", Customer: "Growers of the Lower Valley, hall 4", Lot: "M-2231", By: "Jon",
	})
	require.NoError(t, err)
	for i := range 6 {
		_, err := s.Returns.AddPhoto(ctx, c, snapshot(t, i), returns.Photo{ContentType: "image/jpeg", Name: fmt.Sprintf("IMG_%04d.JPG", i), Note: "the tail from below, crease near pin 3", By: "Jon"})
		require.NoError(t, err)
	}
	for i, purpose := range []sequence.Purpose{sequence.FirstPress, sequence.ReturnTest, sequence.Exercise} {
		run := madeUp(p, uint64(20+i), purpose, 6)
		run.Serial, run.Case = serial, c.ID.String()
		stored := save(run)
		d, err := evidence.Diagnose(stored.Run, p)
		require.NoError(t, err)
		causes, err := returned.Snapshot(d)
		require.NoError(t, err)
		require.NoError(t, s.Returns.Diagnosed(ctx, c, returns.Diagnosis{Run: stored.Seq, Causes: causes}))
	}
	c, err = s.Returns.Case(ctx, c.Number)
	require.NoError(t, err)
	return c
}

// madeUp is a run with readings of its own and a fault at every so manieth key.
func madeUp(p *product.Product, seed uint64, purpose sequence.Purpose, every int) sequence.Run {
	random := rand.New(rand.NewPCG(seed, 1))
	run := sequence.Run{
		Product: p.Code, Revision: p.Revision, Hash: p.Hash(), Jig: sequence.JigName{Serial: "J-0042", Model: "reference jig"},
		Actuation: sequence.Mechanical, Operator: "Jon", Purpose: purpose, Attempt: 1, Started: time.Now(),
		Duration: sequence.Seconds(9 * time.Second), Outcome: sequence.Pass, Steps: []sequence.StepDone{{Name: "rest", Done: true}, {Name: "keys", Done: true}},
	}
	for i, k := range p.Keys {
		lines := [2]string{p.Lines[k.A].Name, p.Lines[k.B].Name}
		key := sequence.KeyResult{
			Key: k.Label, Lines: lines, Verdict: sequence.KeyPass,
			Closed: &fixture.Resistance{Value: quantity.Ohm(60 + 20*random.Float64()), U: 0.03}, Make: &fixture.Bounce{Time: time.Millisecond},
		}
		if every > 0 && i%every == 0 {
			key.Verdict, key.Closed.Value = sequence.KeyFail, 640
			value, limit := sequence.Number(640), sequence.Number(k.Limits.ClosedMax)
			run.Outcome = sequence.Fail
			run.Findings = append(run.Findings, sequence.Finding{
				What: "key high", Place: fmt.Sprintf("key %s (%s-%s)", k.Label, lines[0], lines[1]), Key: k.Label, Lines: lines[:],
				Pins: []int{1, 2}, Value: &value, Limit: &limit, Unit: "ohm",
			})
		}
		run.Keys = append(run.Keys, key)
		if purpose == sequence.Exercise {
			run.Exercised = append(run.Exercised, sequence.KeyExercise{Key: k.Label, Presses: 300, High: i % 2, First: i % 2, Held: fixture.Hold{Watched: 2 * time.Second}})
		}
	}
	return run
}

// snapshot is a photo larger than the page needs it.
func snapshot(t *testing.T, seed int) []byte {
	t.Helper()
	picture := image.NewRGBA(image.Rect(0, 0, 900, 700))
	_, err := rand.NewChaCha8([32]byte{uint8(seed)}).Read(picture.Pix)
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, jpeg.Encode(&out, picture, nil))
	return out.Bytes()
}

var pdfPage = regexp.MustCompile(`/Type\s*/Page\b[^s]`)

// The report is one page of A4 when it is printed, however much there is to say
// and however large the pad is, and needs nothing but itself.
func TestReportIsOnePage(t *testing.T) {
	t.Parallel()
	for _, name := range []string{"gcc-20", "vent-6", "bay-16", "console-104"} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			p, err := product.Load("../../testdata/products/" + name + ".yaml")
			require.NoError(t, err)
			dir := t.TempDir()
			s, err := results.Open(t.Context(), filepath.Join(dir, "records.sqlite"))
			require.NoError(t, err)
			defer s.Close()
			life, err := returned.Of(t.Context(), s, crowded(t, s, p))
			require.NoError(t, err)
			var page bytes.Buffer
			require.NoError(t, life.HTML(&page, s.Returns.PhotoFile, time.Now()))
			file, pdf := filepath.Join(dir, "report.html"), filepath.Join(dir, "report.pdf")
			require.NoError(t, os.WriteFile(file, page.Bytes(), 0o644))
			out, err := exec.CommandContext(t.Context(), browserPath(t), "--headless", "--no-sandbox", "--disable-gpu", "--no-pdf-header-footer",
				"--print-to-pdf="+pdf, "file://"+file).CombinedOutput()
			require.NoError(t, err, "%s", out)
			printed, err := os.ReadFile(pdf)
			require.NoError(t, err)
			assert.Len(t, pdfPage.FindAll(printed, -1), 1)
			if keep := os.Getenv("REPORTS"); keep != "" {
				require.NoError(t, os.WriteFile(filepath.Join(keep, name+".html"), page.Bytes(), 0o644))
			}

			html := page.String()
			assert.NotContains(t, html, "<script", "what people wrote stays text")
			assert.Contains(t, html, "&lt;script&gt;")
			assert.NotRegexp(t, `(src|href)="[^d]`, html, "nothing outside the page")
			assert.Less(t, page.Len(), 4<<20, "photos are made smaller")
			for _, k := range p.Keys {
				assert.Contains(t, html, fmt.Sprintf("<title>key %s (", htmlText(k.Label)))
			}
		})
	}
}

func htmlText(s string) string {
	return strings.NewReplacer("&", "&amp;", "<", "&lt;", ">", "&gt;", `"`, "&#34;", "'", "&#39;", "+", "&#43;").Replace(s)
}
