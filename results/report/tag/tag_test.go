package tag

import (
	"encoding/xml"
	"errors"
	"fmt"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/results/fails"
	"padjig/results/floor"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/wording"
)

func gcc(t testing.TB) *product.Product {
	t.Helper()
	text, err := os.ReadFile("../../../testdata/products/gcc-20.yaml")
	require.NoError(t, err)
	p, err := product.Parse("gcc-20.yaml", text)
	require.NoError(t, err)
	return p
}

// failed is a run in which so many keys read too much, the first one by its own, and two
// lines leak.
func failed(p *product.Product, bad int) runs.Stored {
	run := sequence.Run{
		Serial: "GCC-000001-3", Product: p.Code, Revision: p.Revision, Hash: p.Hash(), Operator: "Zoë Ångström",
		Jig: sequence.JigName{Serial: "J-0042"}, Attempt: 1, Outcome: sequence.Fail, Actuation: sequence.Mechanical,
		Started: time.Date(2026, 3, 2, 7, 15, 4, 0, time.UTC),
		Steps:   []sequence.StepDone{{Name: "self-test", Done: true}, {Name: "rest", Done: true}},
	}
	for i, k := range p.Keys {
		lines := [2]string{p.Lines[k.A].Name, p.Lines[k.B].Name}
		key := sequence.KeyResult{Key: k.Label, Lines: lines, Verdict: sequence.KeyPass, Closed: &fixture.Resistance{Value: 70, U: 0.2}}
		if i < bad {
			key.Verdict, key.Closed = sequence.KeyFail, &fixture.Resistance{Value: 640, U: 0.4}
			run.Findings = append(run.Findings, sequence.Finding{
				What: "key high", Key: k.Label, Lines: lines[:], Pins: []int{p.Lines[k.A].Pin, p.Lines[k.B].Pin},
				At:    sequence.Said{Code: sequence.AtKey, Args: []string{k.Label, lines[0], lines[1]}},
				Value: new(sequence.Number(640)), U: new(sequence.Number(0.4)), Limit: new(sequence.Number(200)), Unit: "ohm",
			})
		}
		run.Keys = append(run.Keys, key)
	}
	return runs.Stored{ID: store.MakeID(1_772_435_704_000, 5, 6), Run: run}
}

func tagOf(t testing.TB, lang string, run runs.Stored, p *product.Product) Tag {
	t.Helper()
	tag, err := Of(wording.Facts().In(lang), floor.Clock{}, run, p)
	require.NoError(t, err)
	return tag
}

// A tag says everything that a repairer and the fail place need, in text and in HTML, in
// every language, and nothing is a text that is missing.
func TestATagSaysEverything(t *testing.T) {
	p := gcc(t)
	run := failed(p, 2)
	assert.LessOrEqual(t, tagOf(t, "en", run, p).run.Modules(), 345, "bars of 0.28 mm on A6")
	for lang, words := range map[string][]string{
		"en": {"FAIL", "1 of 2", "Likely cause", "limit 200 ohm", "tail pins", "jig channels", "contact"},
		"de": {"FEHLER", "1 von 2", "Wahrscheinliche Ursache", "Grenze 200 ohm", "Pins am Anschluss", "Kanäle der Vorrichtung", "Kontakt"},
	} {
		tag := tagOf(t, lang, run, p)
		var text, html strings.Builder
		require.NoError(t, tag.Text(&text, 80))
		require.NoError(t, tag.HTML(&html))
		for name, out := range map[string]string{"text": text.String(), "html": html.String()} {
			for _, want := range append(words, "GCC-000001-3", "GCC-20 C", "J-0042", "Zoë Ångström", "640.0 ± 0.8 ohm, k = 2",
				fails.TagCode(run.ID), run.ID.String(), "R1, C1", "2026-03-02", ":15:04 ") {
				assert.Contains(t, out, want, "%s %s", lang, name)
			}
			assert.Regexp(t, `:04 UTC`, strings.ReplaceAll(out, "&#43;", "+"), "the zone")
			assert.NotContains(t, out, "⟦", "%s %s", lang, name)
			assert.NotRegexp(t, regexp.MustCompile(`\{\d`), out, "%s %s", lang, name)
		}
		assert.Equal(t, 2, strings.Count(html.String(), "<svg class=\"barcode\""))
		wellFormed(t, html.String())
		wellFormed(t, "<x>"+string(tag.Body())+"</x>")
		assert.True(t, IsPage([]byte(html.String())))
	}
	run.Simulated = true
	assert.Contains(t, string(tagOf(t, "en", run, p).Body()), "no proof of a real unit")
	assert.NotContains(t, string(tagOf(t, "en", failed(p, 1), p).Body()), "SIMULATED")
}

// However much was found: all of it is there, each line within the width.
func TestNothingIsCut(t *testing.T) {
	p := gcc(t)
	run := failed(p, len(p.Keys))
	run.Findings[3].What = strings.TrimSpace(strings.Repeat("very ", 30)) + " odd"
	tag := tagOf(t, "de", run, p)
	var text strings.Builder
	require.NoError(t, tag.Text(&text, 80))
	html := string(tag.Body())
	for _, f := range run.Findings {
		assert.Contains(t, text.String(), "Taste "+f.Key+" ("+f.Lines[0])
		assert.Contains(t, html, "Taste "+strings.NewReplacer("<", "&lt;", ">", "&gt;").Replace(f.Key)+" ("+f.Lines[0])
	}
	for line := range strings.Lines(text.String()) {
		assert.LessOrEqual(t, len([]rune(strings.TrimSuffix(line, "\n"))), 80, line)
	}
}

// Labels and names of people are text wherever they stand, and what has no value or does
// not fit its product is said all the same.
func TestOddTags(t *testing.T) {
	p := gcc(t)
	run := failed(p, 1)
	run.Operator = `<script>alert("1")</script>`
	run.Findings = append(run.Findings, sequence.Finding{What: "odd & new", Place: "<nowhere>"})
	run.Findings[0].Value, run.Keys[0].Closed = nil, &fixture.Resistance{Value: 5e7, U: 1, AtLeast: true}
	html := string(tagOf(t, "en", run, p).Body())
	assert.NotContains(t, html, "<script")
	assert.Contains(t, html, "&lt;nowhere&gt;")
	assert.Contains(t, html, "50 Mohm", "what its key read, where the finding has no value")
	wellFormed(t, "<x>"+html+"</x>")
	run.Findings[0].Value = new(sequence.Number(math.Inf(1)))
	tagOf(t, "en", run, p)
	run.Keys = run.Keys[:3]
	assert.Empty(t, tagOf(t, "en", run, p).Causes, "no diagnosis of a run that is of another product")
	run.Serial = "Größe"
	_, err := Of(wording.Words{}, floor.Clock{}, run, p)
	assert.Error(t, err, "no barcode of that")
}

// The sheet of places has a barcode of each.
func TestSheet(t *testing.T) {
	var out strings.Builder
	require.NoError(t, Sheet{wording.Facts().In("de"), []fails.Place{{Number: 0, Name: fails.UsualPlace}, {Number: 1, Name: "Regal <2>"}}}.HTML(&out))
	for _, want := range []string{"Fehlerplatz", "PJF00000P", "PJF00001P", "Regal &lt;2&gt;"} {
		assert.Contains(t, out.String(), want)
	}
	wellFormed(t, out.String())
}

// wellFormed holds that tags close as they open.
func wellFormed(t *testing.T, html string) {
	t.Helper()
	d := xml.NewDecoder(strings.NewReader(html))
	d.Strict, d.AutoClose, d.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	for {
		_, err := d.Token()
		if errors.Is(err, io.EOF) {
			return
		}
		if !assert.NoError(t, err) {
			return
		}
	}
}

// Pages to look at are kept where REPORTS says.
func TestTagsToLookAt(t *testing.T) {
	to := os.Getenv("REPORTS")
	if to == "" {
		to = t.TempDir()
	}
	p := gcc(t)
	for _, lang := range wording.Languages {
		for _, bad := range []int{1, 20} {
			var out strings.Builder
			run := failed(p, bad)
			run.Simulated = bad == 20
			require.NoError(t, tagOf(t, lang, run, p).HTML(&out))
			require.NoError(t, os.WriteFile(filepath.Join(to, fmt.Sprintf("tag-%s-%d.html", lang, bad)), []byte(out.String()), 0o644))
		}
	}
}
