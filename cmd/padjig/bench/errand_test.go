package bench

import (
	"testing"

	"github.com/stretchr/testify/assert"

	"padjig/sequence"
	"padjig/sequence/product"
)

// A lane lends its jig for the unit that can be in it, and only when it has no
// other work.
func TestLendable(t *testing.T) {
	mine, other := &product.Product{Code: "GCC-20"}, &product.Product{Code: "VENT-6"}
	free := State{Phase: Ready, Product: mine, Jig: JigState{Present: true, Serial: "J-0042"}}
	for name, c := range map[string]struct {
		change func(*State)
		wants  Code // empty: lent
	}{
		"ready":                       {func(*State) {}, ""},
		"after a refusal":             {func(s *State) { s.Phase = Refused }, ""},
		"its own verdict stands":      {func(s *State) { s.Phase = Ended; s.Unit = sequence.Unit{Serial: "A"} }, ""},
		"its own verdict is hidden":   {func(s *State) { s.Phase = Locked; s.Unit = sequence.Unit{Serial: "A"} }, ""},
		"another's verdict stands":    {func(s *State) { s.Phase = Ended; s.Unit = sequence.Unit{Serial: "B"} }, OtherUnit},
		"another's verdict is hidden": {func(s *State) { s.Phase = Locked; s.Unit = sequence.Unit{Serial: "B"} }, OtherUnit},
		"waits for the lid":           {func(s *State) { s.Phase = Lid }, LaneBusy},
		"tests":                       {func(s *State) { s.Phase = Running }, LaneBusy},
		"stores":                      {func(s *State) { s.Phase = Storing }, LaneBusy},
		"lent already":                {func(s *State) { s.Phase = Lent }, LaneBusy},
		"no jig":                      {func(s *State) { s.Jig.Present = false }, NoJig},
		"another product":             {func(s *State) { s.Product = other }, OtherProduct},
		"a simulated jig":             {func(s *State) { s.Jig.Simulated = true }, OtherSort},
	} {
		t.Run(name, func(t *testing.T) {
			s := free
			c.change(&s)
			err := lendable(&s, Errand{Serial: "A", Product: mine})
			if c.wants == "" {
				assert.NoError(t, err)
				return
			}
			assert.Equal(t, c.wants, RefusalOf(err).Code)
		})
	}
}
