package placing

import (
	"os"
	"path/filepath"
	"regexp"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/fails"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/wording"
)

// person is somebody at a screen of a line with runs that failed.
type person struct {
	*testing.T
	store *results.Store
	hand  Hand
	now   time.Time
}

func at(t *testing.T) *person {
	t.Helper()
	s, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "r.sqlite"))
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	return &person{T: t, store: s, now: time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)}
}

// run stores a run and gives the code of its tag.
func (p *person) run(run sequence.Run, change ...func(*sequence.Run)) string {
	p.Helper()
	for _, c := range change {
		c(&run)
	}
	id, err := p.store.Runs.Save(p.Context(), runstest.Climate(), run)
	require.NoError(p, err)
	return fails.TagCode(id)
}

// scan gives the code of what is said, and whether something was placed.
func (p *person) scan(text string) (code string, placed bool) {
	p.Helper()
	answer, err := p.hand.Read(p.Context(), p.store.Fails, text, "Abel", p.now)
	require.NoError(p, err)
	for _, lang := range []string{"en", "de"} {
		assert.NotContains(p, wording.Facts().In(lang).Placing(answer.Say), "{", "every argument is there")
	}
	p.now = p.now.Add(time.Second)
	return string(answer.Say.Code), answer.Done != nil
}

// says holds what is said to each of some scans, and that only the last places anything.
func (p *person) says(scans ...string) {
	p.Helper()
	for i := 0; i < len(scans); i += 2 {
		code, placed := p.scan(scans[i])
		assert.Equal(p, scans[i+1], code, "scan %d", i/2+1)
		assert.Equal(p, code == "placed" || code == "placed, more", placed)
	}
}

func (p *person) owed() (serials []string) {
	p.Helper()
	for _, simulated := range []bool{false, true} {
		list, err := p.store.Fails.Open(p.Context(), simulated)
		require.NoError(p, err)
		for _, o := range list {
			serials = append(serials, o.Serial)
		}
	}
	return serials
}

// usual is the code of the place that every line has.
var usual = fails.Place{}.Code()

// Both orders will do, and slips on the way cost nothing.
func TestPlaceAndTag(t *testing.T) {
	for name, scans := range map[string]func(tag, other string) []string{
		"place then tag": func(tag, _ string) []string { return []string{usual, "place read", tag, "placed"} },
		"tag then place": func(tag, _ string) []string { return []string{tag, "tag read", usual, "placed"} },
		"each read twice": func(tag, _ string) []string {
			return []string{usual, "place read", usual, "place read", tag, "placed", tag, "tag twice"}
		},
		"tag read twice": func(tag, _ string) []string { return []string{tag, "tag read", tag, "tag read", usual, "placed"} },
		"cut on the way": func(tag, _ string) []string {
			return []string{usual, "place read", tag[:20], "code cut", tag, "placed"}
		},
		"a wrong tag first": func(tag, other string) []string {
			return []string{usual, "place read", other, "tag no fail", tag, "placed"}
		},
		"a place that is none": func(tag, _ string) []string {
			return []string{fails.Place{Number: 7}.Code(), "place unknown", tag, "tag read", usual, "placed"}
		},
	} {
		t.Run(name, func(t *testing.T) {
			p := at(t)
			other := p.run(runstest.Passed("24-000009"))
			tag := p.run(runstest.Failed("24-000001"))
			p.says(scans(tag, other)...)
			assert.Empty(t, p.owed())
		})
	}
}

// One alone proves nothing, however often, and what waited too long is forgotten.
func TestOneCodeAloneProvesNothing(t *testing.T) {
	p := at(t)
	tag := p.run(runstest.Failed("24-000001"))
	p.says(usual, "place read", usual, "place read")
	p.now = p.now.Add(Within)
	p.says(tag, "tag read", tag, "tag read")
	p.now = p.now.Add(Within)
	p.says(usual, "place read")
	assert.False(t, p.hand.Holds(p.now.Add(Within)))
	assert.Equal(t, []string{"24-000001"}, p.owed())
}

// A place is good for one tag: whoever has two units scans it twice, and nobody places
// a heap of tags at once.
func TestAPlaceIsGoodForOneTag(t *testing.T) {
	p := at(t)
	one, two := p.run(runstest.Failed("24-000001")), p.run(runstest.Failed("24-000002"))
	p.says(usual, "place read", one, "placed, more", two, "tag read")
	assert.Equal(t, []string{"24-000002"}, p.owed())
}

// Another unit's tag places that unit and frees nothing else; nor does the tag of an
// earlier run, of a simulated one, one that is in no records, or a copy.
func TestTagsThatFreeNothing(t *testing.T) {
	p := at(t)
	jig8 := func(r *sequence.Run) { r.Jig.Serial = "J-0008" }
	simulated := func(r *sequence.Run) { r.Simulated = true }
	earlier := p.run(runstest.Failed("24-000001"))
	tag := p.run(runstest.Failed("24-000001"))
	others := p.run(runstest.Failed("24-000002"), jig8)
	same := p.run(runstest.Failed("24-000001"), simulated)
	impossible := fails.TagCode(store.NextID(time.Now().Add(time.Hour), store.ID{}))
	p.says(usual, "place read", impossible, "tag unknown", earlier, "tag older", others, "placed")
	assert.Equal(t, []string{"24-000001", "24-000001"}, p.owed())
	p.says(same, "tag read", usual, "placed")
	assert.Equal(t, []string{"24-000001"}, p.owed(), "the real one")
	p.says(usual, "place read", others, "tag twice", same, "tag twice", earlier, "tag older", tag, "placed")
	assert.Empty(t, p.owed())
	p.says(usual, "place read", tag, "tag twice")
	passed := p.run(runstest.Failed("24-000003"))
	p.run(runstest.Passed("24-000003"))
	p.says(usual, "place read", passed, "tag passed")
}

// It was fine when the tag was read, and is not any more when the place is.
func TestTheRecordsAsTheyAreInThatMoment(t *testing.T) {
	p := at(t)
	tag := p.run(runstest.Failed("24-000001"))
	p.says(tag, "tag read")
	p.run(runstest.Failed("24-000001"))
	p.says(usual, "tag older")
	assert.Len(t, p.owed(), 1)
}

// Whatever can be said has words.
func TestEveryAnswerHasWords(t *testing.T) {
	source, err := os.ReadFile("hand.go")
	require.NoError(t, err)
	found := regexp.MustCompile(`\b(?:yes|no)\("([^"]+)"`).FindAllSubmatch(source, -1)
	require.Greater(t, len(found), 6)
	for _, m := range found {
		assert.True(t, wording.Facts().Has("placing."+string(m[1])), "%s", m[1])
	}
	for _, why := range []fails.TagTrouble{fails.TagUnknown, fails.TagTwice, fails.TagOlder, fails.TagPassed, fails.TagNoFail} {
		assert.True(t, wording.Facts().Has("placing."+string(why)), why)
	}
}
