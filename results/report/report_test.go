package report

import (
	"bytes"
	"encoding/csv"
	"encoding/json"
	"encoding/xml"
	"io"
	"math"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/parquet-go/parquet-go"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/answers"
	"padjig/results/lines"
	"padjig/results/stats/control"
)

func sample() Document {
	return Document{
		Title: "Yield", Selection: "all runs, SIMULATED", Simulated: true, Remarks: []string{"two revisions are pooled"},
		Tables: []Table{{Name: "yield", Title: "Yields", Columns: []Column{{Name: "jig"}, {Name: "units"},
			{Name: "first_pass", Unit: "%", Digits: 1}, {Name: "note", Minor: true}},
			Rows: [][]any{{"=J-1", 200, Estimate{Value: 0.975, Low: 0.9423, High: 0.9893},
				"a note that is much too long for a narrow terminal, so that it goes"}, {"J-2", 0, nil, ""}}}},
		Conclusion: []answers.Sentence{{Code: "yield.toofew"}},
	}
}

func TestTextFitsTheTerminal(t *testing.T) {
	for _, wide := range []int{40, 80, 120} {
		var b bytes.Buffer
		require.NoError(t, sample().Text(&b, wide))
		for line := range strings.Lines(b.String()) {
			assert.LessOrEqual(t, len([]rune(strings.TrimRight(line, "\n"))), wide, "%d columns: %s", wide, line)
		}
		assert.Contains(t, b.String(), "97.5 (94.2 to 98.9)")
		assert.Contains(t, b.String(), "SIMULATED")
		assert.Equal(t, wide == 120, strings.Contains(b.String(), "much too long"), "minor columns go first")
		assert.Equal(t, wide != 120, strings.Contains(b.String(), "also: note"), "and are named")
	}
}

func TestCSVReadsBackAndIsNoFormula(t *testing.T) {
	var b bytes.Buffer
	require.NoError(t, sample().Tables[0].CSV(&b))
	assert.Contains(t, b.String(), "\r\n")
	rows, err := csv.NewReader(&b).ReadAll()
	require.NoError(t, err)
	assert.Equal(t, []string{"jig", "units", "first_pass", "first_pass_low", "first_pass_high", "note"}, rows[0])
	assert.Equal(t, []string{"'=J-1", "200", "0.975", "0.9423", "0.9893"}, rows[1][:5])
	assert.Equal(t, []string{"J-2", "0", "", "", "", ""}, rows[2])
	for _, text := range []string{"=1+1", "+1", "-1", "@SUM(A1)", "\tx", "\rx"} {
		assert.Equal(t, "'"+text, guarded(text))
	}
	assert.Equal(t, "J-1", guarded("J-1"))
}

func TestJSONHasNoWordForInfinity(t *testing.T) {
	d := sample()
	d.Tables[0].Rows[0][2] = Estimate{Value: math.NaN(), Low: math.Inf(-1), High: math.Inf(1)}
	text, err := json.Marshal(d.Object())
	require.NoError(t, err)
	var got struct {
		Tables    map[string][]map[string]any
		Simulated bool
	}
	require.NoError(t, json.Unmarshal(text, &got))
	assert.Nil(t, got.Tables["yield"][0]["first_pass"])
	assert.True(t, got.Simulated)
}

// The page is well-formed, needs nothing from elsewhere, and escapes what it shows.
func TestPageStandsAlone(t *testing.T) {
	d := sample()
	d.Conclusion = []answers.Sentence{{Code: "lots.words"},
		{Code: "gauge.left", Args: []any{1, "<script>alert(1)</script>"}}}
	var b bytes.Buffer
	require.NoError(t, d.HTML(&b))
	text := b.String()
	assert.NotContains(t, text, "<script>")
	for _, outside := range []string{"http:", "https:", "src=", "url("} {
		assert.NotContains(t, text, outside)
	}
	assert.Contains(t, text, "@page")
	assert.Contains(t, text, "SIMULATED")
	decoder := xml.NewDecoder(strings.NewReader(text))
	decoder.Strict, decoder.AutoClose, decoder.Entity = false, xml.HTMLAutoClose, xml.HTMLEntity
	for {
		if _, err := decoder.Token(); err != nil {
			require.ErrorIs(t, err, io.EOF)
			return
		}
	}
}

// Every language has the same texts, with the same places for arguments.
func TestTextsInEveryLanguage(t *testing.T) {
	places := regexp.MustCompile(`\{(\d)[^}]*\}`)
	in := func(text string) []string {
		return slices.Compact(slices.Sorted(slices.Values(strings.Split(places.ReplaceAllString(strings.Join(places.FindAllString(text, -1), ""), "$1"), ""))))
	}
	for _, lang := range []string{"en", "de"} {
		assert.Empty(t, texts.Lacking(lang), lang)
		for code, text := range texts[lang] {
			if english, is := texts["en"][code]; is {
				assert.Equal(t, in(english), in(text), "%s: %s", lang, code)
			}
		}
	}
}

// Every code that package answers says, and every head of a table, has a text.
func TestEveryCodeHasAText(t *testing.T) {
	says, columns := regexp.MustCompile(`\b(?:Say|Warn|Word)\("([a-z]+\.[a-z.]+)"[,)]`), regexp.MustCompile(`(?:Column|[^a-zA-Z])\{Name: "([a-z0-9_]+)"`)
	found := 0
	for _, pattern := range []string{"../answers/*.go", "../answers/*/*.go", "*.go"} {
		files, err := filepath.Glob(pattern)
		require.NoError(t, err)
		for _, file := range files {
			if strings.HasSuffix(file, "_test.go") || strings.Contains(file, "answerstest") {
				continue // a test may name what is none
			}
			source, err := os.ReadFile(file)
			require.NoError(t, err)
			for _, m := range says.FindAllStringSubmatch(string(source), -1) {
				found++
				assert.NotContains(t, word(terminal, m[1]), "⟦", "%s says %s", file, m[1])
			}
			for _, m := range columns.FindAllStringSubmatch(string(source), -1) {
				if texts["en"]["col."+m[1]] == "" {
					assert.NotEmpty(t, tablesWith(m[1]), "%s has a column %s without a head", file, m[1])
				}
			}
		}
	}
	assert.Greater(t, found, 90)
	for _, rule := range control.AllRules() {
		assert.NotContains(t, word(terminal, "rule."+rule.String()), "⟦")
	}
}

// tablesWith are the heads of a column that is told otherwise in each table.
func tablesWith(column string) (out []string) {
	for code := range texts["en"] {
		if strings.HasPrefix(code, "col.") && strings.HasSuffix(code, "."+column) {
			out = append(out, code)
		}
	}
	return out
}

// Programs get a conclusion as its code and plain arguments.
func TestConclusionsAsCodes(t *testing.T) {
	d := sample()
	d.Conclusion = []answers.Sentence{{Code: "yield.words", Tone: answers.Plain, Args: []any{3, 4,
		answers.Part{Value: 0.75, Low: 0.3, High: math.Inf(1)}, answers.Percent{Value: 0.1, Digits: 1}}},
		{Code: "charts.rule", Tone: answers.Attention, Args: []any{1, answers.Word("rule.beyond-3"), answers.Chance(0.02)}}}
	text, err := json.Marshal(d.Object())
	require.NoError(t, err)
	var got struct{ Sentences []Sentence }
	require.NoError(t, json.Unmarshal(text, &got))
	assert.Equal(t, []Sentence{{"yield.words", false, []any{3.0, 4.0, []any{0.75, 0.3, nil}, 0.1}},
		{"charts.rule", true, []any{1.0, "beyond-3", 0.02}}}, got.Sentences)
}

func TestNumbersInWords(t *testing.T) {
	s := answers.Sentence{Code: "yield.words", Args: []any{12345, 20000, answers.Part{Value: 0.61725, Low: 0.61,
		High: 0.62}, answers.Part{Value: 0.7, Low: 0.65, High: 0.75}}}
	assert.Equal(t, "12\u202f345 of 20\u202f000 units passed when they were judged first: first-pass yield 61.7 % (61.0 to 62.0 %); final yield, after retests, 70 % (65 to 75 %).", Say(terminal, s))
	assert.Contains(t, Say(texts.In("de"), s), "61,7 % (61,0 bis 62,0 %)")
	assert.Equal(t, "< 0.0001", Probability(terminal, 2e-65))
	assert.Contains(t, Told(terminal, answers.Sentence{Code: "charts.outside", Tone: answers.Attention, Args: []any{3}}),
		"Attention: ")
	assert.Equal(t, "⟦no.such⟧", Say(terminal, answers.Sentence{Code: "no.such"}))
}

func TestParquetReadsBack(t *testing.T) {
	row := lines.ExportRow{Seq: 7, Serial: "GCC-000007-1", Product: "GCC-20", Key: "VENT", Closed: new(81.974),
		Started: time.UnixMicro(1772427600123456).UTC()}
	open := lines.ExportRow{Seq: 8, Key: "VENT", AtLeast: true, Started: row.Started}
	var b bytes.Buffer
	p := NewParquet(&b)
	require.NoError(t, p.Write(row))
	require.NoError(t, p.Write(open))
	require.NoError(t, p.Close())
	got, err := parquet.Read[lines.ExportRow](bytes.NewReader(b.Bytes()), int64(b.Len()))
	require.NoError(t, err)
	assert.Equal(t, []lines.ExportRow{row, open}, got)
	assert.Nil(t, got[1].Closed)
}
