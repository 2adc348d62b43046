package jigs_test

import (
	"html"
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/cmd/padjig/web/webtest"
)

// Where a jig moves, or is opened by hand, the page says first what can hurt: docs/safety.md.
func TestCautionsStandWhereAJigMovesOrIsOpened(t *testing.T) {
	const (
		esd   = "Static electricity can hurt a keypad and the jig"
		reach = "Before you reach into the jig: switch off the supply of its actuators"
		moves = "Keys are pressed by actuators: hands out of the jig"
		still = "Nothing is pressed here, and current flows through the probes"
	)
	webtest.At(t, 1, "\nreferences: {every: 8 h, good: REF-1}\n", func(h *webtest.House) {
		for path, says := range map[string][]string{
			"/jigs/1/do/zero":       {still, esd},
			"/jigs/1/do/verify":     {still, esd},
			"/jigs/1/do/references": {moves, esd},
			"/jigs/1":               {reach, esd}, // parts are put in from here
		} {
			said := html.UnescapeString(h.Page("engineer", path))
			for _, sentence := range says {
				assert.Contains(h, said, sentence, path)
			}
		}
		h.Lang = "de"
		assert.Contains(h, h.Page("engineer", "/jigs/1/do/zero"), "Statische Elektrizität")
	})
}

// A part is chosen among those that the jig has or can have: what no jig has is put on record
// neither by its name nor by the shape of its tips or its channels.
func TestPartsAreThoseOfTheJig(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		h.Test(h.Unit(1))
		for name, c := range map[string]struct {
			form  []string
			field string
		}{
			"an actuator more than it has": {[]string{"part", "actuator 999"}, "part"},
			"a probe set far away":         {[]string{"part", "probe set 77", "name", "PS-1"}, "part"},
			"a name in other letters":      {[]string{"part", "Nest"}, "part"},
			"tips mistyped":                {[]string{"part", "probe set", "name", "PS-1", "tip", "crwon"}, "tip"},
			"channels beyond the jig's":    {[]string{"part", "probe set", "name", "PS-1", "serves", "1-9999"}, "serves"},
		} {
			status, said := h.Post("engineer", "/jigs/1/wear", c.form...)
			assert.Equal(h, 422, status, name)
			if assert.NotEmpty(h, said.Fields, name) {
				assert.Equal(h, c.field, said.Fields[0].Field, name)
			}
		}
		page := h.Page("engineer", "/jigs/1")
		assert.Contains(h, page, `<option value="crown">crown</option>`)
		assert.NotContains(h, page, `<input id="part"`)
		assert.NotContains(h, page, `<input id="parttip"`)
		for _, form := range [][]string{
			{"part", "probe set", "name", "PS-1", "tip", "crown", "serves", "1-9"}, {"part", "probe set 2", "name", "PS-2", "tip", "round"},
			{"part", "probe set 3", "name", "PS-3"}, {"part", "actuator 1", "lot", "7"},
		} {
			status, said := h.Post("engineer", "/jigs/1/wear", form...)
			assert.Equal(h, 200, status, "%v %s", form, said.Say)
		}
	})
}
