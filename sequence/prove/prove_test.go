package prove

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"
)

// subjects draws what some proofs have to be given of.
func subjects(t *rapid.T, name string, least int) Subjects {
	s := Subjects{}
	for _, p := range rapid.SliceOfNDistinct(rapid.SampledFrom(All()), least, len(All()), rapid.ID[Proof]).Draw(t, name) {
		s[p] = rapid.SliceOfNDistinct(rapid.IntRange(0, 5), 0, 6, rapid.ID[int]).Draw(t, name+" "+string(p))
	}
	return s
}

// Whatever was done and left out: a run passes exactly when nothing was found, no step was
// left out, and each thing required was shown of each of its subjects, of which there is one.
func TestNothingPassesWithARequiredProofUnmet(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		required, shown := subjects(t, "required", 0), Shown{}
		for p, of := range subjects(t, "shown", 0) {
			for _, one := range of {
				shown.Note(p, one)
			}
		}
		if rapid.Bool().Draw(t, "all of it") {
			for p, of := range required {
				for _, one := range of {
					shown.Note(p, one)
				}
			}
		}
		found, left := rapid.IntRange(0, 2).Draw(t, "found"), rapid.IntRange(0, 2).Draw(t, "left")
		met := len(required) > 0
		for p, of := range required {
			met = met && len(of) > 0
			for _, one := range of {
				met = met && shown[p][one]
			}
		}
		passes := Passes(required, shown, found, left)
		assert.Equal(t, met && found == 0 && left == 0, passes)

		a := AccountOf(required, required, shown, func(Proof, int) string { return "7" })
		if passes {
			assert.Empty(t, a.Missing, "what passes lacks nothing")
		}
		for _, g := range a.Missing {
			assert.NotContains(t, a.Proved, g.Proof)
		}
	})
}

// The ways in which nothing is asked for.
func TestNothingAskedForIsNoPass(t *testing.T) {
	all := Shown{}
	for _, p := range All() {
		all.Note(p, 0)
	}
	assert.False(t, Passes(nil, all, 0, 0))
	assert.False(t, Passes(Subjects{}, all, 0, 0))
	assert.False(t, Passes(Subjects{SelfTest: {0}, Closes: nil}, all, 0, 0), "a product without keys")
	assert.True(t, Passes(Subjects{SelfTest: {0}}, all, 0, 0))
	assert.False(t, Passes(Subjects{SelfTest: {0}}, all, 1, 0))
	assert.False(t, Passes(Subjects{SelfTest: {0}}, all, 0, 1))
}

func TestAccount(t *testing.T) {
	shown := Shown{}
	shown.Note(SelfTest, 0)
	shown.Note(Closes, 0)
	shown.Note(Closes, 1)
	shown.Note(Contact, 0)
	called := Subjects{SelfTest: {0}, Seating: {1, 2}, Closes: {0, 1}, Contact: {0, 1}, Rectangles: {0}}
	required := Subjects{SelfTest: {0}, Closes: {0, 1}, Contact: {0, 1}, Rectangles: {0}}
	name := func(_ Proof, of int) string { return string(rune('A' + of)) }
	a := AccountOf(called, required, shown, name)
	assert.Equal(t, &Account{
		Proved:      []Proof{SelfTest, Closes},
		Missing:     []Gap{{Proof: Contact, Of: []string{"B"}}, {Proof: Rectangles}},
		NotRequired: []Gap{{Proof: Seating}},
	}, a)
	assert.Equal(t, "contact resistance (B), rectangles", Listed(a.Missing))
}
