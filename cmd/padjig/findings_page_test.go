package main

import (
	"fmt"
	"maps"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture/wire"
	"padjig/sequence"
	"padjig/sequence/product/mistakes"
	"padjig/sequence/wording"
)

const findingsPage = "../../docs/findings.md"

// TestFindingsPage makes docs/findings.md from the catalogues: whatever can be found, refused or be wrong stands there
// once, with what to do about it in the words that pages and terminal have. With -update the page is written.
func TestFindingsPage(t *testing.T) {
	for _, lang := range wording.Languages {
		text := wording.Facts()[lang]
		for _, code := range sequence.Findings() {
			assert.NotEmpty(t, text["mend.finding."+code], "%s: the finding %q has no remedy", lang, code)
		}
		for key := range text {
			if code, is := strings.CutPrefix(key, "why."); is && !slices.Contains(saysWhatToDo, code) {
				assert.NotEmpty(t, text["mend.why."+code], "%s: the end %q has no remedy", lang, code)
			}
			if code, is := strings.CutPrefix(key, "code."); is {
				assert.NotEmpty(t, nextOf(text, code), "%s: the refusal %q has no remedy", lang, code)
			}
		}
		for r := wire.Reason(1); !strings.HasPrefix(r.String(), "reason-"); r++ {
			assert.NotEmpty(t, text["mend.jig."+r.String()], "%s: a jig's refusal %q has no remedy", lang, r)
		}
	}
	for _, code := range stationCodes(t) {
		assert.True(t, slices.ContainsFunc(slices.Collect(maps.Keys(wording.Facts()["en"])), func(key string) bool {
			return key == "code."+code || strings.HasPrefix(key, "code."+code+".")
		}) || code == "stage refused", "the refusal %q has no words", code) // its words are those of its case
	}
	made := findingsMade(t)
	if *update {
		require.NoError(t, os.WriteFile(findingsPage, []byte(made), 0o644))
	}
	kept, err := os.ReadFile(findingsPage)
	require.NoError(t, err)
	assert.Equal(t, made, string(kept), "go test ./cmd/padjig -run FindingsPage -update")
}

// saysWhatToDo are the ends of a run whose own sentence says what to do.
var saysWhatToDo = []string{"seat unproven", "seat doubtful", "no contact", "tail off by 1", "tail off", "tail turned", "same pad",
	"not compared", "jig misreads", "measurement doubtful", "drifted since verification", "drifted between units",
	"drifted meanwhile", "scale doubtful", "inputs doubtful", "noise doubtful", "lid opened", "emergency stop"}

// nextOf is the remedy of a refusal: its own, else that of all of its kind.
func nextOf(text map[string]string, code string) string {
	for {
		if said := text["next.code."+code]; said != "" {
			return said
		}
		i := strings.LastIndex(code, ".")
		if i < 0 {
			return ""
		}
		code = code[:i]
	}
}

// stationCodes are the codes by which a station refuses, as its source has them.
func stationCodes(t *testing.T) (codes []string) {
	t.Helper()
	source, err := os.ReadFile(filepath.Join("station", "refusal.go"))
	require.NoError(t, err)
	for _, code := range codesIn(t, string(source)) {
		codes = append(codes, code)
	}
	require.Greater(t, len(codes), 40)
	return codes
}

// codesIn are the codes of a source by their names: as they stand there, or as station/apart has them.
func codesIn(t *testing.T, source string) map[string]string {
	t.Helper()
	apart, err := os.ReadFile(filepath.Join("station", "apart", "apart.go"))
	require.NoError(t, err)
	there, codes := map[string]string{}, map[string]string{}
	for _, m := range regexp.MustCompile(`(?m)^\t(\w+) += "([^"]+)"`).FindAllStringSubmatch(string(apart), -1) {
		there["apart."+m[1]] = m[2]
		if strings.HasSuffix(m[1], "Elsewhere") {
			codes[m[1]] = m[2]
		}
	}
	for _, m := range regexp.MustCompile(`(?m)^\t(\w+) +Code += (?:"([^"]+)"|(apart\.\w+))`).FindAllStringSubmatch(source, -1) {
		codes[m[1]] = m[2] + there[m[3]]
	}
	return codes
}

// triesOf are the remedies at a terminal, by code of the refusal, as the station's source hands them out.
func triesOf(t *testing.T) map[string]string {
	t.Helper()
	tries := map[string]string{}
	files, err := filepath.Glob(filepath.Join("station", "*.go"))
	require.NoError(t, err)
	var all strings.Builder
	for _, file := range files {
		text, err := os.ReadFile(file)
		require.NoError(t, err)
		all.Write(text)
	}
	codes := codesIn(t, all.String())
	for name, code := range codes {
		if strings.HasSuffix(name, "Elsewhere") { // what other stations know is refused with one remedy
			tries[code] = "known elsewhere"
		}
	}
	handed := regexp.MustCompile(`refuse\(\w+, [\w.]+, try\("([^"]+)"[^)]*\)?\)?,\s*(\w+)`)
	for _, m := range handed.FindAllStringSubmatch(all.String(), -1) {
		if code := codes[m[2]]; code != "" {
			tries[code] = m[1]
		}
	}
	require.Greater(t, len(tries), 15)
	return tries
}

// argumentsOf a text are where arguments stand in a text: on a page an ellipsis does.
var argumentsOf = regexp.MustCompile(`\{\d(?: \w+)?\}|%(?:\[\d\])?[a-zA-Z]`)

func cell(text string) string {
	text = argumentsOf.ReplaceAllString(strings.ReplaceAll(text, "%%", "\x00"), "…")
	return strings.NewReplacer("|", `\|`, "\x00", "%", "*", `\*`, "<", "&lt;", "\n", " ").Replace(text)
}

func findingsMade(t *testing.T) string {
	facts := wording.Facts()["en"]
	var b strings.Builder
	row := func(cells ...string) { fmt.Fprintf(&b, "| %s |\n", strings.Join(cells, " | ")) }
	head := func(title, intro string, heads ...string) {
		fmt.Fprintf(&b, "\n## %s\n\n%s\n\n", title, intro)
		row(heads...)
		row(slices.Repeat([]string{"---"}, len(heads))...)
	}
	b.WriteString(`# Findings and refusals, and what to do

Whatever padjig can find wrong, refuse, or not make out stands here once, with its remedy. An ellipsis (…) stands for what
is told each time: a key, a value, a serial number. The page is made from the catalogues that the pages of the station
and the terminal speak from: ` + "`go test ./cmd/padjig -run FindingsPage -update`" + `.

Before you reach into a jig: lid open or actuators' supply off, and the ESD strap on. [Safety](safety.md) says why.
`)
	head("What a test finds", "The unit fails. Findings come worst first. What is behind them stands in the next table.",
		"finding", "at the station", "what to do")
	for _, code := range sequence.Findings() {
		row(cell(facts["term."+code]), cell(facts["finding."+code]), cell(facts["mend.finding."+code]))
	}
	head("What is behind a finding", "Physical causes as [the diagnosis](diagnosis.md) names them.", "cause", "what to do")
	for _, key := range slices.Sorted(maps.Keys(facts)) {
		if kind, is := strings.CutPrefix(key, "kind."); is && facts["remedy."+kind] != "" {
			row(cell(facts[key]), cell(facts["remedy."+kind]))
		}
	}
	head("Why a test ended without a verdict", "The unit is neither good nor bad: it is reseated, or tested again.", "what is said", "what to do")
	for _, key := range slices.Sorted(maps.Keys(facts)) {
		if code, is := strings.CutPrefix(key, "why."); is {
			said, todo := facts[key], facts["mend.why."+code]
			if todo == "" {
				todo = "as it says"
			}
			row(cell(said), cell(todo))
		}
	}
	tries := triesOf(t)
	head("What a station refuses", "Nothing has moved. Who may go on all the same, and how, is in [the station](station.md).",
		"what is said", "at the station", "at a terminal")
	for _, key := range slices.Sorted(maps.Keys(facts)) {
		if code, is := strings.CutPrefix(key, "code."); is {
			kind, _, _ := strings.Cut(code, ".")
			row(cell(facts[key]), cell(nextOf(facts, code)), cell(facts["try."+tries[kind]]))
		}
	}
	head("What a jig refuses", "The reason is in the traffic (`padjig jig talk`); [the protocol](jig-protocol.md) says when a jig gives it.", "reason", "what to do")
	for r := wire.Reason(1); !strings.HasPrefix(r.String(), "reason-"); r++ {
		row("`"+r.String()+"`", cell(facts["mend.jig."+r.String()]))
	}
	head("What a commissioning asks", "A step that fails is done once more when it is mended ([building a jig](build-guide.md)).", "step", "passed when", "else")
	for _, key := range slices.Sorted(maps.Keys(facts)) {
		if step, is := strings.CutPrefix(key, "commission.step."); is {
			row(cell(facts[key]), cell(facts["commission.criterion."+step]), cell(facts["commission.remedy."+step]))
		}
	}
	for _, list := range []struct{ title, intro, prefix string }{
		{"What a release refuses", "Two people put a revision in force where it lets more through.", "release."},
		{"What a scan at the fail place is answered", "Place and tag are scanned one after the other.", "placing.tag "},
		{"What the returns desk cannot do now", "The order of stages is in [returns](returns.md).", "desk.not now."},
	} {
		head(list.title, list.intro, "what is said")
		for _, key := range slices.Sorted(maps.Keys(facts)) {
			if strings.HasPrefix(key, list.prefix) {
				row(cell(facts[key]))
			}
		}
	}
	head("Mistakes in a product file", "`padjig product check` says each with line and column, and what to write instead.", "code", "what is said")
	wrong := mistakes.Texts()["en"]
	require.Greater(t, len(wrong), 100)
	for _, key := range slices.Sorted(maps.Keys(wrong)) {
		row("`"+strings.TrimPrefix(key, "mistake.")+"`", cell(wrong[key]))
	}
	return b.String()
}
