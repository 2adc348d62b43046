package web_test

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
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web"
	"padjig/cmd/padjig/web/page"
	"padjig/cmd/padjig/web/webtest"
	"padjig/fixture"
	"padjig/fixture/jigsim"
	"padjig/results/care"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/runner"
	"padjig/sequence/wording"
)

func texts(t *testing.T) page.Catalogue {
	t.Helper()
	c, err := page.LoadCatalogue(web.Assets)
	require.NoError(t, err)
	return c
}

// Every language says everything, with the same places for arguments.
func TestLanguagesSayTheSame(t *testing.T) {
	c := texts(t)
	places := regexp.MustCompile(`\{\d\}`)
	want := slices.Sorted(maps.Keys(c[wording.Languages[0]]))
	for _, lang := range wording.Languages[1:] {
		assert.Equal(t, want, slices.Sorted(maps.Keys(c[lang])), lang)
		for key, text := range c[lang] {
			in := func(text string) []string { return slices.Sorted(slices.Values(places.FindAllString(text, -1))) }
			assert.Equal(t, in(c[wording.Languages[0]][key]), in(text), "%s: %s", lang, key)
			assert.NotEmpty(t, strings.TrimSpace(text), "%s: %s", lang, key)
		}
	}
}

// Every key that a template or a Go file names is in the catalogue.
func TestKeysThatAreNamedExist(t *testing.T) {
	c := texts(t)
	all := regexp.MustCompile(`\(?\bt "([^"]+)"`)
	found := 0
	for name, text := range templateTexts(t) {
		for _, m := range all.FindAllStringSubmatch(text, -1) {
			found++
			assert.True(t, c.Has(m[1]), "%s names %q", name, m[1])
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
	for _, code := range []station.Code{
		station.SerialWrong, station.SerialMisread, station.OtherProduct, station.PassedAlready, station.AttemptsUsed, station.AttemptsSpent, station.InHand, station.LookedAt, station.RecordsMoved, station.Returned, station.NoRecords, station.NoRoom,
		station.NoJig, station.NotPlanned, station.NotProvable, station.PartialTest, station.LidOpen, station.EmergencyStop, station.PartWorn, station.PartWearing, station.AdapterWrong, station.AdapterUnknown, station.AdapterChanged, station.ReferenceDue,
		station.ReferenceBad, station.ReferenceSoon, station.CalibrationDue, station.CalibrationBad, station.CalibrationSoon, station.NotCalibrated,
		station.LaneBusy, station.OtherUnit, station.OtherSort, station.Stopped, station.NotForProduction, station.RepairLoop, station.Repaired,
	} {
		keys = append(keys, "code."+string(code))
	}
	for _, note := range []station.NoteCode{station.NoteTwice, station.NoteBusy, station.NoteRecalled, station.NoteStopping, station.NoteNotNow, station.NoteReleased, station.NoteRepaired, station.NoteChanged, station.NoteResumed, station.NoteNotResumed} {
		keys = append(keys, "note."+string(note))
	}
	for _, standing := range []care.CalibrationStatus{care.StatusGood, care.StatusDueSoon, care.StatusOverdue, care.StatusBad, care.StatusNever} {
		keys = append(keys, "standing."+string(standing))
	}
	for _, code := range []sequence.AskCode{
		sequence.AskEachKey, sequence.AskLetGo, sequence.AskAgain, sequence.AskOne, sequence.AskEnough, sequence.AskNowhere, sequence.AskNext, sequence.AskHandsOff,
		sequence.AskUnseen, sequence.AskFlexSoon, sequence.AskFlex, sequence.AskFlexOver,
	} {
		keys = append(keys, "ask."+string(code))
	}
	for _, code := range []station.Code{station.LidOpen, station.EmergencyStop, station.Stopped} {
		keys = append(keys, "stopped."+string(code), "next.stopped."+string(code))
	}
	for _, what := range sequence.Findings() {
		keys = append(keys, "finding."+what)
	}
	for _, step := range everyStep(t) {
		keys = append(keys, "step."+step)
	}
	_, site, _ := webtest.Door(t)
	for _, p := range site.All().Pages {
		keys = append(keys, "title."+p.Name)
		if p.Menu != "" {
			keys = append(keys, p.Menu)
		}
	}
	for _, key := range keys {
		assert.True(t, c.Has(key), key)
	}
}

// everyStep names the steps of every plan there is.
func everyStep(t *testing.T) (names []string) {
	t.Helper()
	p, err := product.Load("../../../testdata/products/gcc-20.yaml")
	require.NoError(t, err)
	caps := fixture.CapabilitiesOf(jigsim.Defaults())
	add := func(plan *runner.Plan, err error) {
		t.Helper()
		require.NoError(t, err)
		for _, step := range plan.Steps {
			names = append(names, step.Name)
		}
	}
	for _, how := range []sequence.Actuation{sequence.Mechanical, sequence.Electrical, sequence.Hand} {
		add(runner.NewPlan(p, caps, how))
	}
	add(runner.NewFirstPress(p, caps, sequence.Mechanical))
	add(runner.NewFirstPress(p, caps, sequence.Hand))
	add(runner.NewExercise(p, caps, sequence.Exercising{Presses: 1, Hold: 1, Flex: 1}))
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
	for name, text := range templateTexts(t) {
		assert.Empty(t, spoken.FindString(text), "%s: an attribute with text", name)
		text = regexp.MustCompile(`data-\w+="[^"]*"`).ReplaceAllString(text, "")
		bare := tags.ReplaceAllString(actions.ReplaceAllString(text, ""), "")
		bare = strings.ReplaceAll(strings.ReplaceAll(bare, "padjig", ""), "&nbsp;", "")
		bare = regexp.MustCompile(`\bn\b`).ReplaceAllString(bare, "") // the letter of counts
		assert.Empty(t, regexp.MustCompile(`\pL[\pL ]*`).FindString(bare), name)
	}
}

func templateTexts(t *testing.T) map[string]string {
	t.Helper()
	all := map[string]string{}
	names, err := fs.Glob(web.Assets, "templates/*.html")
	require.NoError(t, err)
	for _, name := range names {
		raw, err := web.Assets.ReadFile(name)
		require.NoError(t, err)
		all[name] = string(raw)
	}
	return all
}
