package diagnose

import (
	"fmt"
	"slices"
	"strings"
)

// trial is an action with what can come out of it, and how likely that is for each kind;
// a kind that is not listed gives what the last entry says. The numbers are common
// practice without a source, rounded; what matters is which are near 1 and which near 0.
type trial struct {
	action  Action
	by      Doer
	says    []string
	given   map[Kind][]float64
	others  []float64
	applies func(*model, *Cause) bool
	words   func(*Cause) string
}

var shut = []float64{0.005, 0.005, 0.01, 0.98}

var trials = []trial{
	{
		PressAgain, Jig,
		[]string{"closes alike every time", "closes every time, but not alike", "misses some presses", "never closes"},
		map[Kind][]float64{
			ContactDirty: {0.10, 0.75, 0.13, 0.02}, ContactWorn: {0.35, 0.50, 0.13, 0.02},
			ContactMisplaced: {0.75, 0.20, 0.04, 0.01}, DomeCracked: {0.40, 0.35, 0.23, 0.02},
			ActuatorMisses: {0.10, 0.10, 0.20, 0.60}, ContactUnsteady: {0.15, 0.20, 0.60, 0.05},
			KeyPretravelled: {0.50, 0.30, 0.19, 0.01}, PinDoubtful: {0.50, 0.40, 0.07, 0.03},
			ContactMissing: shut, DiodeMissing: shut, LineBroken: shut, LineOpen: shut,
		},
		[]float64{0.85, 0.12, 0.02, 0.01},
		func(m *model, c *Cause) bool { return c.Key != "" && !m.hidden(c.Key) },
		func(c *Cause) string { return fmt.Sprintf("press key %s ten times and compare what it reads", c.Key) },
	},
	{
		PressJoined, Jig,
		[]string{"reads less while the key is held", "reads the same", "is open now"},
		map[Kind][]float64{
			KeyStuck: {0.01, 0.89, 0.10}, DomeInverted: {0.01, 0.89, 0.10}, ActuatorHolds: {0.01, 0.91, 0.08},
			CrossingShorted: {0.95, 0.03, 0.02}, SilverBridge: {0.85, 0.05, 0.10},
		},
		[]float64{0.90, 0.05, 0.05},
		func(m *model, c *Cause) bool { return c.Key != "" && m.hidden(c.Key) },
		func(c *Cause) string {
			return fmt.Sprintf("read the lines of key %s at rest and with the key held: a contact that is closed already reads the same, a short less",
				c.Key)
		},
	},
	{
		WatchPair, Jig,
		[]string{"falls while it is watched", "stays", "rises while it is watched", "is gone"},
		map[Kind][]float64{
			SilverGrowing: {0.70, 0.20, 0.03, 0.07}, HumidityFilm: {0.05, 0.35, 0.58, 0.02},
			LiquidInside: {0.20, 0.20, 0.55, 0.05}, SilverBridge: {0.15, 0.40, 0.05, 0.40},
		},
		[]float64{0.01, 0.97, 0.01, 0.01},
		func(_ *model, c *Cause) bool { return c.Key == "" && len(c.Lines) == 2 && bridging(c.Kind) },
		func(c *Cause) string {
			return fmt.Sprintf("watch %s and %s under voltage in both polarities, the smallest current first", c.Lines[0], c.Lines[1])
		},
	},
	{
		HoldKey, Jig,
		[]string{"drops out while held", "holds"},
		map[Kind][]float64{
			ContactUnsteady: {0.85, 0.15}, KeyPretravelled: {0.30, 0.70}, DomeCracked: {0.20, 0.80}, ContactDirty: {0.25, 0.75},
		},
		[]float64{0.02, 0.98},
		func(m *model, c *Cause) bool {
			return c.Key != "" && !m.hidden(c.Key) && m.ev.Keys[m.ev.Product.Key(c.Key)].State == Closed
		},
		func(c *Cause) string { return fmt.Sprintf("hold key %s and watch for dropouts", c.Key) },
	},
	{
		ReadLoops, Jig,
		[]string{"channels beyond the tail are touched", "the same pins as before", "all pins are good now"},
		map[Kind][]float64{TailShifted: {0.95, 0.04, 0.01}, PinDoubtful: {0.01, 0.50, 0.49}},
		[]float64{0.01, 0.80, 0.19},
		func(m *model, c *Cause) bool { return m.badSeats() && (c.Kind == TailShifted || c.Kind == PinDoubtful) },
		func(*Cause) string { return "read the loops of all channels again, and of two beyond the tail" },
	},
	{
		Reseat, Person,
		[]string{"reads the same", "reads otherwise"},
		map[Kind][]float64{
			PinDoubtful: {0.30, 0.70}, ProbeDirty: {0.60, 0.40}, TailShifted: {0.02, 0.98}, TailReversed: {0.02, 0.98},
			ActuatorMisses: {0.90, 0.10},
		},
		[]float64{0.98, 0.02},
		func(*model, *Cause) bool { return true },
		func(*Cause) string { return "reseat the unit and test it again" },
	},
	{
		TryReference, Person,
		[]string{"the reference unit shows the same", "the reference unit is good"},
		map[Kind][]float64{
			ActuatorMisses: {0.97, 0.03}, ActuatorHolds: {0.97, 0.03}, ProbeDirty: {0.97, 0.03}, JigNoisy: {0.95, 0.05},
		},
		[]float64{0.01, 0.99},
		func(*model, *Cause) bool { return true },
		func(*Cause) string { return "test the reference unit on this jig" },
	},
	{
		MoveTail, Person,
		[]string{"the reading changes", "the reading stays"},
		map[Kind][]float64{
			LineCracked: {0.80, 0.20}, TailCreased: {0.80, 0.20}, PinDoubtful: {0.60, 0.40}, ProbeDirty: {0.30, 0.70}, LineOpen: {0.30, 0.70},
		},
		[]float64{0.03, 0.97},
		func(_ *model, c *Cause) bool {
			return c.Kind == LineCracked || c.Kind == TailCreased || c.Kind == LineOpen
		},
		func(c *Cause) string {
			return fmt.Sprintf("move the tail gently while a key on %s is held, and watch the ohms", strings.Join(c.Lines, ", "))
		},
	},
}

// bridging are the kinds that join two lines away from keys.
func bridging(k Kind) bool {
	return slices.Contains([]Kind{
		SilverGrowing, SilverBridge, HumidityFilm, LiquidInside, LinesShorted, PrintSmeared, CrossingShorted, ShieldShorted,
	}, k)
}

func (m *model) hidden(label string) bool {
	k := m.ev.Product.Key(label)
	return k >= 0 && m.nets.same(m.ev.Product.Keys[k].A, m.ev.Product.Keys[k].B)
}

// badSeats reports whether any pin had no sure contact.
func (m *model) badSeats() bool {
	return slices.ContainsFunc(m.ev.Seats, func(s Seat) bool { return !s.Good && m.ev.Product.Tail[s.Pin-1] != "" })
}
