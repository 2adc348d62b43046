package diagnose

import (
	"slices"
	"strings"

	"padjig/sequence/diagnose/readings"
)

// trial is an action with what can come out of it, and how likely that is for each kind;
// a kind that is not listed gives what the last entry says. The numbers are common
// practice without a source, rounded; what matters is which are near 1 and which near 0.
type trial struct {
	action  Action
	by      Doer
	says    []Code
	given   map[Kind][]float64
	others  []float64
	applies func(chooser, *Cause) bool
	args    func(*Cause) []any // of the words for what to do
}

var shut = []float64{0.005, 0.005, 0.01, 0.98}

var trials = []trial{
	{
		PressAgain, Jig,
		[]Code{"came.alike", "came.not alike", "came.misses", "came.never closes"},
		map[Kind][]float64{
			ContactDirty: {0.10, 0.75, 0.13, 0.02}, ContactWorn: {0.35, 0.50, 0.13, 0.02},
			ContactMisplaced: {0.75, 0.20, 0.04, 0.01}, DomeCracked: {0.40, 0.35, 0.23, 0.02},
			ActuatorMisses: {0.10, 0.10, 0.20, 0.60}, ContactUnsteady: {0.15, 0.20, 0.60, 0.05},
			KeyPretravelled: {0.50, 0.30, 0.19, 0.01}, PinDoubtful: {0.50, 0.40, 0.07, 0.03},
			ContactMissing: shut, DiodeMissing: shut, LineBroken: shut, LineOpen: shut,
		},
		[]float64{0.85, 0.12, 0.02, 0.01},
		chooser.presses,
		keyOf,
	},
	{
		PressJoined, Jig,
		[]Code{"came.less", "came.same", "came.open now"},
		map[Kind][]float64{
			KeyStuck: {0.01, 0.89, 0.10}, DomeInverted: {0.01, 0.89, 0.10}, ActuatorHolds: {0.01, 0.91, 0.08},
			CrossingShorted: {0.95, 0.03, 0.02}, SilverBridge: {0.85, 0.05, 0.10},
		},
		[]float64{0.90, 0.05, 0.05},
		chooser.hidden,
		keyOf,
	},
	{
		WatchPair, Jig,
		[]Code{"came.falls", "came.stays", "came.rises", "came.gone"},
		map[Kind][]float64{
			SilverGrowing: {0.70, 0.20, 0.03, 0.07}, HumidityFilm: {0.05, 0.35, 0.58, 0.02},
			LiquidInside: {0.20, 0.20, 0.55, 0.05}, SilverBridge: {0.15, 0.40, 0.05, 0.40},
		},
		[]float64{0.01, 0.97, 0.01, 0.01},
		func(_ chooser, c *Cause) bool { return c.Key == "" && len(c.Lines) == 2 && bridging(c.Kind) },
		func(c *Cause) []any { return []any{c.Lines[0], c.Lines[1]} },
	},
	{
		HoldKey, Jig,
		[]Code{"came.drops out", "came.holds"},
		map[Kind][]float64{
			ContactUnsteady: {0.85, 0.15}, KeyPretravelled: {0.30, 0.70}, DomeCracked: {0.20, 0.80}, ContactDirty: {0.25, 0.75},
		},
		[]float64{0.02, 0.98},
		func(w chooser, c *Cause) bool {
			return w.presses(c) && w.unit.Keys[w.unit.Product.Key(c.Key)].State == readings.Closed
		},
		keyOf,
	},
	{
		ReadLoops, Jig,
		[]Code{"came.beyond the tail", "came.same pins", "came.all good"},
		map[Kind][]float64{TailShifted: {0.95, 0.04, 0.01}, PinDoubtful: {0.01, 0.50, 0.49}},
		[]float64{0.01, 0.80, 0.19},
		func(w chooser, c *Cause) bool {
			return w.badSeats() && (c.Kind == TailShifted || c.Kind == PinDoubtful)
		},
		nothing,
	},
	{
		Reseat, Person,
		[]Code{"came.same", "came.reads otherwise"},
		map[Kind][]float64{
			PinDoubtful: {0.30, 0.70}, ProbeDirty: {0.60, 0.40}, TailShifted: {0.02, 0.98}, TailReversed: {0.02, 0.98},
			ActuatorMisses: {0.90, 0.10},
		},
		[]float64{0.98, 0.02},
		func(chooser, *Cause) bool { return true },
		nothing,
	},
	{
		TryReference, Person,
		[]Code{"came.reference same", "came.reference good"},
		map[Kind][]float64{
			ActuatorMisses: {0.97, 0.03}, ActuatorHolds: {0.97, 0.03}, ProbeDirty: {0.97, 0.03}, JigNoisy: {0.95, 0.05},
		},
		[]float64{0.01, 0.99},
		func(chooser, *Cause) bool { return true },
		nothing,
	},
	{
		MoveTail, Person,
		[]Code{"came.changes", "came.does not change"},
		map[Kind][]float64{
			LineCracked: {0.80, 0.20}, TailCreased: {0.80, 0.20}, PinDoubtful: {0.60, 0.40}, ProbeDirty: {0.30, 0.70}, LineOpen: {0.30, 0.70},
		},
		[]float64{0.03, 0.97},
		func(_ chooser, c *Cause) bool {
			return c.Kind == LineCracked || c.Kind == TailCreased || c.Kind == LineOpen
		},
		func(c *Cause) []any { return []any{strings.Join(c.Lines, ", ")} },
	},
}

func keyOf(c *Cause) []any { return []any{c.Key} }

func nothing(*Cause) []any { return nil }

// bridging are the kinds that join two lines away from keys.
func bridging(k Kind) bool {
	return slices.Contains([]Kind{
		SilverGrowing, SilverBridge, HumidityFilm, LiquidInside, LinesShorted, PrintSmeared, CrossingShorted, ShieldShorted,
	}, k)
}
