package web

import (
	"io/fs"
	"maps"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/bench"
	"padjig/fixture"
	"padjig/fixture/jigsim"
	"padjig/results/care"
	"padjig/sequence"
	"padjig/sequence/product"
)

func texts(t *testing.T) catalogue {
	t.Helper()
	c, err := loadCatalogue()
	require.NoError(t, err)
	return c
}

// Every language says everything, with the same places for arguments.
func TestLanguagesSayTheSame(t *testing.T) {
	c := texts(t)
	places := regexp.MustCompile(`\{\d\}`)
	want := slices.Sorted(maps.Keys(c[languages[0]]))
	for _, lang := range languages[1:] {
		assert.Equal(t, want, slices.Sorted(maps.Keys(c[lang])), lang)
		for key, text := range c[lang] {
			in := func(text string) []string { return slices.Sorted(slices.Values(places.FindAllString(text, -1))) }
			assert.Equal(t, in(c[languages[0]][key]), in(text), "%s: %s", lang, key)
			assert.NotEmpty(t, strings.TrimSpace(text), "%s: %s", lang, key)
		}
	}
}

// Every key that a template or a Go file names is in the catalogue.
func TestKeysThatAreNamedExist(t *testing.T) {
	c := texts(t)
	all := regexp.MustCompile(`\(?\bt "([^"]+)"`)
	found := 0
	for name, text := range templates(t) {
		for _, m := range all.FindAllStringSubmatch(text, -1) {
			found++
			assert.True(t, c.has(m[1]), "%s names %q", name, m[1])
		}
	}
	assert.Greater(t, found, 150)
}

// Keys that are put together from codes exist for every code there is.
func TestKeysOfCodesExist(t *testing.T) {
	c := texts(t)
	var keys []string
	for _, role := range account.Roles {
		keys = append(keys, "role."+string(role))
	}
	for _, code := range []bench.Code{
		bench.SerialWrong, bench.OtherProduct, bench.PassedAlready, bench.AttemptsUsed, bench.AttemptsSpent, bench.InHand, bench.RecordsMoved, bench.Returned, bench.NoRecords, bench.NoRoom,
		bench.NoJig, bench.NotPlanned, bench.LidOpen, bench.EmergencyStop, bench.PartWorn, bench.PartWearing, bench.ReferenceDue,
		bench.ReferenceBad, bench.ReferenceSoon, bench.CalibrationDue, bench.CalibrationBad, bench.CalibrationSoon, bench.NotCalibrated,
		bench.LaneBusy, bench.OtherUnit, bench.OtherSort, bench.Stopped,
	} {
		keys = append(keys, "code."+string(code))
	}
	for _, note := range []bench.NoteCode{bench.NoteTwice, bench.NoteBusy, bench.NoteRecalled, bench.NoteStopping, bench.NoteNotNow, bench.NoteReleased} {
		keys = append(keys, "note."+string(note))
	}
	for _, standing := range []care.CalibrationStatus{care.StatusGood, care.StatusDueSoon, care.StatusOverdue, care.StatusBad, care.StatusNever} {
		keys = append(keys, "standing."+string(standing))
	}
	for _, command := range commands {
		keys = append(keys, "command."+command)
	}
	for _, code := range []sequence.AskCode{
		sequence.AskEachKey, sequence.AskLetGo, sequence.AskAgain, sequence.AskOne, sequence.AskEnough, sequence.AskNowhere, sequence.AskNext, sequence.AskHandsOff,
	} {
		keys = append(keys, "ask."+string(code))
	}
	for _, code := range []bench.Code{bench.LidOpen, bench.EmergencyStop, bench.Stopped} {
		keys = append(keys, "stopped."+string(code), "next.stopped."+string(code))
	}
	for _, what := range sequence.Findings() {
		keys = append(keys, "finding."+what)
	}
	for _, step := range everyStep(t) {
		keys = append(keys, "step."+step)
	}
	for _, p := range allPages() {
		keys = append(keys, "title."+p.name)
		if p.menu != "" {
			keys = append(keys, p.menu)
		}
	}
	for _, key := range keys {
		assert.True(t, c.has(key), key)
	}
}

// everyStep names the steps of every plan there is.
func everyStep(t *testing.T) (names []string) {
	t.Helper()
	p, err := product.Load("../../../testdata/products/gcc-20.yaml")
	require.NoError(t, err)
	caps := fixture.CapabilitiesOf(jigsim.Defaults())
	add := func(plan *sequence.Plan, err error) {
		t.Helper()
		require.NoError(t, err)
		for _, step := range plan.Steps {
			names = append(names, step.Name)
		}
	}
	for _, how := range []sequence.Actuation{sequence.Mechanical, sequence.Electrical, sequence.Hand} {
		add(sequence.NewPlan(p, caps, how))
	}
	add(sequence.NewFirstPress(p, caps, sequence.Mechanical))
	add(sequence.NewFirstPress(p, caps, sequence.Hand))
	add(sequence.NewExercise(p, caps, sequence.Exercising{Presses: 1, Hold: 1, Flex: 1}))
	require.Contains(t, names, "tail moved")
	return names
}

// No template says anything itself: between its tags there are only actions.
func TestTemplatesHoldNoText(t *testing.T) {
	var (
		actions = regexp.MustCompile(`(?s)\{\{.*?\}\}`)
		tags    = regexp.MustCompile(`(?s)<pre[^>]*>.*?</pre>|<[^>]*>`)
		spoken  = regexp.MustCompile(`(?:aria-label|title|alt|placeholder)="[^"{]*\pL`)
	)
	for name, text := range templates(t) {
		assert.Empty(t, spoken.FindString(text), "%s: an attribute with text", name)
		text = regexp.MustCompile(`data-\w+="[^"]*"`).ReplaceAllString(text, "")
		bare := tags.ReplaceAllString(actions.ReplaceAllString(text, ""), "")
		bare = strings.ReplaceAll(strings.ReplaceAll(bare, "padjig", ""), "&nbsp;", "")
		bare = regexp.MustCompile(`\bn\b`).ReplaceAllString(bare, "") // the letter of counts
		assert.Empty(t, regexp.MustCompile(`\pL[\pL ]*`).FindString(bare), name)
	}
}

func templates(t *testing.T) map[string]string {
	t.Helper()
	all := map[string]string{}
	names, err := fs.Glob(templateFiles, "templates/*.html")
	require.NoError(t, err)
	for _, name := range names {
		raw, err := templateFiles.ReadFile(name)
		require.NoError(t, err)
		all[name] = string(raw)
	}
	return all
}

func TestArgumentsAndNumbers(t *testing.T) {
	c := catalogue{"en": {"a": "{1} after {0}"}, "de": {}}
	assert.Equal(t, "y after x", c.say("en", "a", "x", "y"))
	assert.Equal(t, "y after x", c.say("de", "a", "x", "y"), "what a language lacks is said in the first")
	assert.Equal(t, "⟦b⟧", c.say("en", "b"))
	assert.Equal(t, "1,50", number("de", 2, 1.5))
	assert.Equal(t, "−1.5", number("en", 1, -1.5))
	for header, want := range map[string]string{"": "en", "fr, de;q=0.8": "de", "de-AT": "de", "en-GB,de": "en", "x": "en"} {
		assert.Equal(t, want, choose(header), header)
	}
}
