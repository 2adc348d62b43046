package lane_test

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"

	"padjig/cmd/padjig/station"
	"padjig/cmd/padjig/web/webtest"
	"padjig/sequence"
)

// An exercise says which step it is at, how long it still takes, and when the tail is to be
// moved; stopped, it says how far it came and what it had found, and nothing of the rest.
func TestALaneExercises(t *testing.T) {
	webtest.At(t, 1, "", func(h *webtest.House) {
		back := h.Came(h.Unit(1))
		exercise := func(e sequence.Exercising) {
			h.Lanes[0].Clear()
			h.Lanes[0].Scan(station.Scan{Serial: h.Unit(1), Operator: "Rosa", Return: &station.Return{
				Case: back, Purpose: sequence.Exercise, Exercising: e,
			}})
		}
		h.Stage(back, sequence.FirstPress)
		h.Stage(back, sequence.ReturnTest)
		exercise(sequence.Exercising{Presses: 300, Hold: 2 * time.Second, Flex: 5 * time.Second})
		h.Until(1, func(s station.State) bool { return s.Phase == station.Running && s.Done >= 3 && s.Step == "presses" })
		v := h.Says()
		assert.Equal(h, "each key pressed many times", v.Step)
		assert.Contains(h, v.Left, "min left")
		assert.NotContains(h, v.Line+v.Next+v.Left+v.Count+v.Prompt, "⟦")
		h.Lanes[0].Stop()
		h.Until(1, func(s station.State) bool { return s.Phase == station.Ended })
		for _, h.Lang = range []string{"de", "en"} {
			v = h.Says()
			assert.NotContains(h, v.Line, "⟦")
		}
		assert.Contains(h, v.Line, "does not count")
		assert.Contains(h, v.Line, "each key pressed many times: 3 of 20")
		assert.NotContains(h, v.Line, "nothing found")
		assert.NotContains(h, v.Line, "findings: 0")

		exercise(sequence.Exercising{Presses: 1, Flex: 5 * time.Second})
		h.Until(1, func(s station.State) bool { return s.Ask.Code == sequence.AskFlexSoon })
		v = h.Says()
		assert.Contains(h, v.Prompt, "move the tail")
		assert.NotContains(h, v.Line, "Hands off until the end")
		h.Until(1, func(s station.State) bool { return s.Ask.Code == sequence.AskFlex })
		assert.Contains(h, h.Says().Prompt, "is held")
		h.Until(1, func(s station.State) bool { return s.Phase == station.Ended })
		assert.Equal(h, "STORED", h.Says().Word)
	})
}
