package web_test

import (
	"io/fs"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/station/apart"
	"padjig/cmd/padjig/station/note"
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
	c, err := web.Texts(nil)
	require.NoError(t, err)
	return c
}

// whole are the languages that must not lack anything.
var whole = []string{"en", "de"}

// Every language says everything, with the same places for arguments. What a language that is
// half translated lacks is named; it may have words for numbers that English has no use for.
func TestLanguagesSayTheSame(t *testing.T) {
	c := texts(t)
	places := regexp.MustCompile(`\{(\d)[^}]*\}`)
	in := func(text string) (all []string) {
		for _, found := range places.FindAllStringSubmatch(text, -1) {
			all = append(all, found[1])
		}
		return slices.Compact(slices.Sorted(slices.Values(all)))
	}
	for _, lang := range c.Languages() {
		lacking := c.Lacking(lang)
		if slices.Contains(whole, lang) {
			assert.Empty(t, lacking, lang)
		} else {
			t.Logf("%s lacks %d of %d texts, said in English: %q", lang, len(lacking), len(c[wording.First]), lacking)
		}
		for key, text := range c[lang] {
			assert.NotEmpty(t, strings.TrimSpace(text), "%s: %s", lang, key)
			if english, is := c[wording.First][key]; is {
				assert.Equal(t, in(english), in(text), "%s: %s", lang, key)
			} else {
				assert.True(t, strings.HasPrefix(key, "form."), "%s: nothing says %s", lang, key)
			}
		}
	}
}

// counted are the forms of words for numbers, by language.
func counted(c page.Catalogue, lang string) (stems []string) {
	for key := range c[lang] {
		if stem, is := strings.CutSuffix(key, ".other"); is && c[lang][stem+".one"] != "" {
			stems = append(stems, stem)
		}
	}
	return stems
}

// What has words for numbers is nowhere counted without them, and each form is there in each
// plural of its language (Unicode CLDR): 0, 1, 2, 5 and 21 of anything are said as they should be.
func TestCountsGoByPlurals(t *testing.T) {
	c := texts(t)
	for _, lang := range whole {
		stems := counted(c, lang)
		require.Greater(t, len(stems), 40, lang)
		used := map[string]bool{}
		for _, text := range c[lang] {
			for _, m := range regexp.MustCompile(`\{\d (\w+)\}`).FindAllStringSubmatch(text, -1) {
				used["form."+m[1]] = true
			}
		}
		var nouns []string
		for _, stem := range stems {
			assert.True(t, used[stem], "%s: nothing counts %s", lang, stem)
			noun, is := strings.CutPrefix(c[lang][stem+".other"], "{0} ")
			if is && noun != "tests" && noun != "times" { // which are words of other sorts too
				nouns = append(nouns, regexp.QuoteMeta(noun))
			}
			for number, want := range map[string]string{"0": "other", "1": "one", "2": "other", "5": "other", "21": "other"} {
				form := wording.Catalogue{lang: {"x": "{0 " + strings.TrimPrefix(stem, "form.") + "}", stem + ".one": "one", stem + ".other": "other"}}
				assert.Equal(t, want, form.Say(lang, "x", number), "%s: %s of %s", lang, number, stem)
			}
		}
		loose := regexp.MustCompile(`\{\d\} (` + strings.Join(nouns, "|") + `)(?:[^\pL-]|$)`)
		require.Regexp(t, loose, map[string]string{"en": "{0} units", "de": "{0} Teile"}[lang])
		for key, text := range c[lang] {
			if !strings.HasPrefix(key, "form.") {
				assert.Empty(t, loose.FindString(text), "%s: %s", lang, key)
			}
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
		station.NoJig, station.NotPlanned, station.NotProvable, station.PartialTest, station.LidOpen, station.NotStarted, station.EmergencyStop, station.PartWorn, station.PartWearing, station.AdapterWrong, station.AdapterUnknown, station.AdapterChanged, station.ReferenceDue,
		station.ReferenceBad, station.ReferenceSoon, station.CalibrationDue, station.CalibrationBad, station.CalibrationSoon, station.NotCalibrated,
		station.LaneBusy, station.OtherUnit, station.OtherSort, station.Stopped, station.NotForProduction, station.RepairLoop, station.Repaired, station.PassedElsewhere, station.AttemptsElsewhere, station.InHandElsewhere, station.Alone,
		apart.OtherProductElsewhere, apart.ReturnedElsewhere, apart.NotForProductionElsewhere,
	} {
		keys = append(keys, "code."+string(code))
	}
	for _, note := range []note.Code{note.Twice, note.Busy, note.Recalled, note.Stopping, note.NotNow, note.Shut, note.NoStart, note.Released, note.Repaired, note.Changed, note.Resumed, note.NotResumed, note.Alone} {
		keys = append(keys, "note."+string(note))
	}
	for _, standing := range []care.CalibrationStatus{care.StatusGood, care.StatusDueSoon, care.StatusOverdue, care.StatusBad, care.StatusNever} {
		keys = append(keys, "standing."+string(standing), "jigs.standing."+string(standing))
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
