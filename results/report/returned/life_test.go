package returned

import (
	"bytes"
	"image"
	"image/png"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/results/runs/elsewhere"
	"padjig/sequence"
	"padjig/sequence/diagnose"
	"padjig/sequence/evidence"
	"padjig/sequence/product"
	"padjig/sequence/wording"
)

// desk is a store with a product and what a returns desk does to it.
type desk struct {
	*testing.T
	store   *results.Store
	product *product.Product
}

func newDesk(t *testing.T) desk {
	t.Helper()
	p, err := product.Load("../../../testdata/products/vent-6.yaml")
	require.NoError(t, err)
	s, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "records.sqlite"))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	return desk{t, s, p}
}

const unit = "VK-000001"

// run saves a run of the unit in which every key reads the same, changed by edit.
func (d desk) run(c *returns.Case, purpose sequence.Purpose, ohm quantity.Ohm, edit func(*sequence.Run)) runs.Stored {
	d.Helper()
	id, err := d.store.Runs.Save(d.Context(), d.revision(), d.reads(c, purpose, ohm, edit))
	require.NoError(d, err)
	stored, err := d.store.Runs.Run(d.Context(), id)
	require.NoError(d, err)
	return stored
}

// reads is such a run that is not saved yet.
func (d desk) reads(c *returns.Case, purpose sequence.Purpose, ohm quantity.Ohm, edit func(*sequence.Run)) sequence.Run {
	p := d.product
	run := sequence.Run{
		Serial: unit, Product: p.Code, Revision: p.Revision, Hash: p.Hash(), Jig: sequence.JigName{Serial: "J-1"},
		Actuation: sequence.Mechanical, Purpose: purpose, Attempt: 1, Started: time.Now(), Outcome: sequence.Pass,
		Steps: []sequence.StepDone{{Name: "keys", Done: true}},
	}
	if c != nil {
		run.Case = c.ID.String()
	}
	for _, k := range p.Keys {
		run.Keys = append(run.Keys, sequence.KeyResult{
			Key: k.Label, Lines: [2]string{p.Lines[k.A].Name, p.Lines[k.B].Name}, Verdict: sequence.KeyPass,
			Closed: &fixture.Resistance{Value: ohm, U: 0.05}, Make: &fixture.Bounce{Time: time.Millisecond},
		})
	}
	if edit != nil {
		edit(&run)
	}
	return run
}

func (d desk) revision() runs.Revision {
	p := d.product
	return runs.Revision{Code: p.Code, Title: p.Title, Label: p.Revision, Hash: p.Hash(), Definition: p.Canonical()}
}

// simulated makes a run one on a simulated jig.
func simulated(r *sequence.Run) { r.Simulated = true }

// faulty makes the first key fail.
func faulty(r *sequence.Run) {
	value := sequence.Number(640)
	r.Outcome, r.Keys[0].Verdict, r.Keys[0].Closed.Value = sequence.Fail, sequence.KeyFail, 640
	r.Findings = []sequence.Finding{{What: "key high", Place: "key " + r.Keys[0].Key, Key: r.Keys[0].Key, Lines: r.Keys[0].Lines[:], Value: &value, Unit: "ohm"}}
}

// often makes a run one of an exercise in which one key missed so often.
func often(misses int) func(*sequence.Run) {
	return func(r *sequence.Run) {
		for i, k := range r.Keys {
			x := sequence.KeyExercise{Key: k.Key, Presses: 300, Least: &fixture.Resistance{Value: 50, U: 0.1}, Most: &fixture.Resistance{Value: 90, U: 0.1}}
			if i == 1 && misses > 0 {
				x.Misses, x.First = misses, 7
			}
			r.Exercised = append(r.Exercised, x)
		}
	}
}

func (d desk) intake(conditions ...string) returns.Case {
	d.Helper()
	if len(conditions) == 0 {
		conditions = []string{returns.NothingVisible}
	}
	c, err := d.store.Returns.OpenCase(d.Context(), unit, d.product.Code, returns.Intake{
		Received: time.Now(), Complaint: "key dead", Conditions: conditions, By: "Jon",
	})
	require.NoError(d, err)
	require.NoError(d, d.store.Returns.SayNoPhoto(d.Context(), c, returns.NoPhoto{Reason: "the camera is broken", By: "Jon"}))
	return c
}

func (d desk) life(c returns.Case) (*Life, string) {
	d.Helper()
	c, err := d.store.Returns.Case(d.Context(), c.Number)
	require.NoError(d, err)
	l, err := Of(d.Context(), d.store, c)
	require.NoError(d, err)
	var text bytes.Buffer
	require.NoError(d, l.Text(&text, 100))
	return l, strings.Join(strings.Fields(text.String()), " ") // wherever its lines are broken
}

func TestKeysStandBesideWhatTheyLeftWith(t *testing.T) {
	d := newDesk(t)
	d.run(nil, sequence.Production, 60, nil)
	d.run(nil, sequence.Production, 5, simulated) // practice: nothing of it
	c := d.intake()
	d.run(&c, sequence.FirstPress, 64, nil)
	l, text := d.life(c)
	require.NotNil(t, l.Keys[0].Change)
	assert.Equal(t, quantity.Ohm(60), l.Keys[0].Shipped.Value, "the real run, not the simulated one after it")
	assert.Equal(t, quantity.Ohm(4), l.Keys[0].Change.Value)
	assert.Equal(t, "first press", l.Keys[0].Now)
	assert.NotContains(t, text, "SIMULATED: no proof")

	d.run(&c, sequence.ReturnTest, 60.1, nil)
	l, text = d.life(c)
	assert.Equal(t, "return test", l.Keys[0].Now, "the test at production limits is compared as soon as there is one")
	assert.InDelta(t, 0.1, float64(l.Keys[0].Change.Value), 1e-9)
	assert.False(t, l.Keys[0].Change.Real())
	assert.Contains(t, text, "other keys read as shipped, within uncertainty; the most is +0.10 ± 0.14 ohm")

	d.run(&c, sequence.Exercise, 90, often(0))
	l, text = d.life(c)
	assert.True(t, l.Keys[0].Spread, "60 ohm is between what it reads from press to press")
	assert.Contains(t, text, "each of 6 keys closed and opened as it should in all of 300 presses: with 95 % confidence it fails to in "+
		"less than 1 % of them (3/n, the rule of three; exactly 1 - 0.05^(1/n) = 0.994 %)")
	assert.Equal(t, []Offer{{returns.NotReproduced, "no stage found a fault"}}, l.Offers)
}

func TestWhichStageFoundIt(t *testing.T) {
	d := newDesk(t)
	d.run(nil, sequence.Production, 60, nil)
	c := d.intake("tail creased")
	d.run(&c, sequence.FirstPress, 60, nil)
	tested := d.run(&c, sequence.ReturnTest, 60, faulty)
	diagnosis, err := evidence.Diagnose(tested.Run, d.product)
	require.NoError(t, err)
	causes, err := Snapshot(diagnosis)
	require.NoError(t, err)
	require.NoError(t, d.store.Returns.Diagnosed(t.Context(), c, returns.Diagnosis{Run: tested.Seq, Causes: causes}))
	d.run(&c, sequence.Exercise, 60, func(r *sequence.Run) { faulty(r); often(12)(r) })
	l, text := d.life(c)
	require.Len(t, l.Findings, 1, "each thing once, by the stage that saw it first")
	assert.Equal(t, sequence.ReturnTest, l.Findings[0].Stage)
	assert.True(t, l.Keys[0].Wrong)
	assert.Contains(t, text, "not good key "+d.product.Keys[1].Label+" in 12 of 300 presses (4 %, with 95 % confidence 2.1 to 6.9 %)")
	require.NotEmpty(t, l.Groups)
	first, _ := diagnosis.First()
	assert.Equal(t, string(first.Kind), l.Groups[0].Causes[0].Cause, "as it was made then")
	assert.Contains(t, text, "next check ")
	var offered []string
	for _, o := range l.Offers {
		offered = append(offered, o.Disposition)
	}
	assert.Equal(t, []string{returns.CustomerDamage, returns.Confirmed}, offered)
	assert.Equal(t, returns.NextEnd, l.Next().Code)
}

func TestWhatComesNext(t *testing.T) {
	d := newDesk(t)
	c := d.intake()
	says := func(want string) {
		l, text := d.life(c)
		assert.Contains(t, l.Next().Command, want)
		assert.Contains(t, text, want)
	}
	says("padjig returns first-press " + unit)
	d.run(&c, sequence.FirstPress, 60, func(r *sequence.Run) { r.Outcome, r.Reason = sequence.Aborted, "lid opened" })
	says("padjig returns first-press " + unit)
	d.run(&c, sequence.FirstPress, 60, nil)
	says("padjig returns test " + unit)
	d.run(&c, sequence.ReturnTest, 60, nil)
	says("padjig returns exercise " + unit)
	d.run(&c, sequence.Exercise, 60, often(0))
	says("padjig returns dispose " + unit)
	require.NoError(t, d.store.Returns.Dispose(t.Context(), c, returns.Disposition{Code: returns.NotReproduced, Disposal: returns.SentAsItIs, By: "Jon"}))
	says("padjig returns report " + unit)
	l, text := d.life(c)
	assert.Nil(t, l.Shipped)
	assert.Contains(t, text, "no passing run of this unit is in these records")
	assert.Contains(t, text, "Not reproduced, sent back as it is (Jon, ")
}

func TestDamageEndsTesting(t *testing.T) {
	d := newDesk(t)
	c := d.intake("burnt")
	l, text := d.life(c)
	assert.Equal(t, []Offer{{returns.CustomerDamage, "at intake: burnt"}}, l.Offers)
	assert.Contains(t, text, "visible damage ended electrical testing")
}

// A simulated case says so on the page, and what people wrote stays text.
func TestPage(t *testing.T) {
	d := newDesk(t)
	d.run(nil, sequence.Production, 60, simulated)
	c, err := d.store.Returns.OpenCase(t.Context(), unit, d.product.Code, returns.Intake{
		Received: time.Now(), Complaint: "other", ComplaintText: `<img src=x onerror="alert(1)">`, Conditions: []string{"dirty"}, By: "Jon",
	})
	require.NoError(t, err)
	var small bytes.Buffer
	require.NoError(t, png.Encode(&small, image.NewGray(image.Rect(0, 0, 1, 1))))
	for i, content := range [][]byte{small.Bytes(), []byte("\x89PNG\r\n\x1a\ngone"), []byte("\x89PNG\r\n\x1a\nno picture at all")} {
		p, err := d.store.Returns.AddPhoto(t.Context(), c, content, returns.Photo{ContentType: "image/png", Name: "a.png", Note: `"quoted"`, By: "Jon"})
		require.NoError(t, err)
		if i == 1 {
			require.NoError(t, os.Remove(d.store.Returns.PhotoFile(p)))
		}
	}
	d.run(&c, sequence.FirstPress, 60, simulated)
	l, _ := d.life(c)
	var page bytes.Buffer
	require.NoError(t, l.HTML(&page, d.store.Returns.PhotoFile, time.Now()))
	html := page.String()
	assert.Contains(t, html, "SIMULATED · no proof of a real unit")
	assert.NotContains(t, html, "<img src=x")
	assert.Contains(t, html, "&lt;img src=x")
	assert.Contains(t, html, "data:image/png;base64,", "a small picture is taken as it is")
	assert.Contains(t, html, "it cannot be decoded: see it with the records")
	assert.Contains(t, html, "the file is not there: padjig records check")
	assert.Equal(t, len(d.product.Keys), strings.Count(html, `<g class="key `))
}

func TestSnapshotKeepsWhatTells(t *testing.T) {
	many := make([]diagnose.Contribution, 20)
	d := diagnose.Diagnosis{Found: 1, Check: &diagnose.Check{Say: diagnose.Said{Code: "check.reseat"}}}
	for range 9 {
		d.Groups = append(d.Groups, diagnose.Group{
			Causes: []diagnose.Cause{{Kind: diagnose.ContactDirty, Place: diagnose.Said{Code: diagnose.AtLabel, Args: []string{"7"}}, Ohm: &diagnose.Estimate{Value: 640, U: 2}}},
			For:    many, Against: many, Probability: 0.1,
		})
	}
	raw, err := Snapshot(d)
	require.NoError(t, err)
	l := &Life{Case: returns.Case{Diagnoses: []returns.Diagnosis{{Causes: raw}}}}
	groups := l.diagnosis()
	require.Len(t, groups, mostKept)
	assert.True(t, groups[0].Found)
	assert.False(t, groups[1].Found)
	assert.Equal(t, "reseat the unit and test it again", groups[0].next())
	assert.Equal(t, wording.Kept().Of(diagnose.ContactDirty.Remedy()), groups[1].next())
	assert.Len(t, groups[0].For, mostKept)
	assert.Equal(t, 640.0, *groups[0].Causes[0].Ohm)
	l.Case.Diagnoses[0].Causes = []byte(`[{"causes":7}]`)
	assert.Nil(t, l.diagnosis(), "what another version wrote is left alone")
}

// What a station decided without the plant is said of that run and of that start alone, in the words that padjig unit and the
// pages have for it; of one that the plant answered, and of a station without a plant, nothing is.
func TestDecidedAloneIsSaidInTheReport(t *testing.T) {
	d := newDesk(t)
	begin := func(word elsewhere.Word) *runs.Begun {
		b, err := d.store.Runs.Begin(t.Context(), d.revision(), runs.Start{Serial: unit, Jig: sequence.JigName{Serial: "J-1"},
			Actuation: sequence.Mechanical, Started: time.Now(), Asked: elsewhere.Answer{Word: word}}, func(runs.History) error { return nil })
		require.NoError(t, err)
		return b
	}
	words := wording.Words{}
	for _, word := range []elsewhere.Word{"", elsewhere.Given, elsewhere.Late, elsewhere.Away, elsewhere.Refused} {
		b := begin(word)
		_, err := b.Save(t.Context(), d.reads(nil, sequence.Production, 70, func(r *sequence.Run) { faulty(r); r.Attempt = b.Attempt }))
		require.NoError(t, err)
	}
	begin(elsewhere.NotAsked).LetGo() // it was never finished
	c := d.intake()
	l, text := d.life(c)
	said := 0
	for _, e := range EventsIn(l, wording.Facts().In("de")) {
		if strings.Contains(e.Text, "ohne das Werk entschieden") {
			said++
		}
	}
	assert.Equal(t, 4, said)
	var page bytes.Buffer
	require.NoError(t, l.HTML(&page, func(returns.Photo) string { return "" }, time.Now()))
	for _, word := range []elsewhere.Word{elsewhere.Late, elsewhere.Away, elsewhere.Refused, elsewhere.NotAsked} {
		sentence := DecidedAlone(words, string(word))
		require.NotEmpty(t, sentence)
		assert.Equal(t, 1, strings.Count(text, sentence), text)
	}
	assert.Contains(t, page.String(), DecidedAlone(words, "not asked"))
	assert.Empty(t, DecidedAlone(words, ""))
	assert.Empty(t, DecidedAlone(words, string(elsewhere.Given)))
}
