package diagnose

import (
	"maps"
	"slices"
)

// Kind is what may have happened, in a code that stays the same: records and pages may
// keep it.
type Kind string

// The kinds, in the order of docs/diagnosis.md.
const (
	ContactDirty      Kind = "contact dirty"      // dirt, fibre or adhesive on one contact
	ContactWorn       Kind = "contact worn"       // worn or oil-filmed pill
	ContactMissing    Kind = "contact missing"    // no pill, no dome, a wrong dome
	ContactLow        Kind = "contact bridged"    // closes with less than it should
	DomeCracked       Kind = "dome cracked"       // cracked or fatigued dome
	DomeInverted      Kind = "dome inverted"      // popped through
	KeyStuck          Kind = "key stuck"          // overlay, bezel, spacer: pressed or slow to rise
	KeyPretravelled   Kind = "key pre-travelled"  // nearly closed: closes early, teases
	ContactMisplaced  Kind = "contact misplaced"  // misregistered; on one key or over the panel
	LineOpen          Kind = "line open"          // at the tail or in it
	LineBroken        Kind = "line broken"        // part-way along its track
	LineCracked       Kind = "line cracked"       // a crack that still touches
	TailCreased       Kind = "tail creased"       // several adjacent tail tracks
	PrintThin         Kind = "print thin"         // all tracks, by their length
	PrintSmeared      Kind = "print smeared"      // over-printed between neighbouring lines
	LinesShorted      Kind = "lines shorted"      // row and row, column and column, or others
	CrossingShorted   Kind = "crossing shorted"   // row and column, away from the contact
	SilverGrowing     Kind = "silver growing"     // migration, early
	SilverBridge      Kind = "silver bridge"      // migration, a complete thread
	LiquidInside      Kind = "liquid inside"      // many leaks close to each other
	HumidityFilm      Kind = "humidity film"      // many leaks, all alike
	ShieldShorted     Kind = "shield shorted"     // a line to the shield
	DiodeDamaged      Kind = "diode damaged"      // wrong drop, or leaks in reverse
	DiodeMissing      Kind = "diode missing"      // or open
	DiodeReversed     Kind = "diode reversed"     //
	DiodeShorted      Kind = "diode shorted"      // or bridged
	TailShifted       Kind = "tail shifted"       // by whole pins
	TailReversed      Kind = "tail reversed"      // last pin first
	PinDoubtful       Kind = "pin doubtful"       // half-seated or oxidised tail pin
	WrongProduct      Kind = "wrong product"      // another product's layout
	LinesExchanged    Kind = "lines exchanged"    // two lines in each other's place
	SpacerCreep       Kind = "spacer creep"       // delamination: neighbouring keys stick or tease
	ContactUnsteady   Kind = "contact unsteady"   // drops out while held, or misses presses
	SecondContact     Kind = "second contact"     // the key closes something else as well
	ActuatorMisses    Kind = "actuator misses"    // jig: misaligned, stuck or worn
	ActuatorHolds     Kind = "actuator holds"     // jig: does not come up
	ProbeDirty        Kind = "probe dirty"        // jig: dirty or worn
	JigNoisy          Kind = "jig noisy"          // jig: interference, ground loop
	JigDoubtful       Kind = "jig doubtful"       // jig: does not read its own resistors
	NotFoundAgain     Kind = "not found again"    // a connection that was gone when looked for
	DiodeDropDoubtful Kind = "diode law doubtful" // contact, but no diode's law in its readings
)

// about is what is known of a kind beside its name.
type about struct {
	Rows []int  // of the table of failure modes in docs/diagnosis.md
	Jig  bool   // the jig's fault, not the unit's
	Next string // what a person can do to be sure of it
	// Prior is the probability that a kind befalls one place of a unit, by order of
	// magnitude (common practice, no source). Only its ratios within a group matter much.
	Prior float64
}

var kinds = map[Kind]about{
	ContactDirty:      {Rows: []int{1}, Prior: 3e-4, Next: "clean the contact and the pad under it, then test again"},
	ContactWorn:       {Rows: []int{2}, Prior: 1e-4, Next: "look at the pill: worn or oily; clean it, then test again"},
	ContactMissing:    {Rows: []int{3}, Prior: 3e-4, Next: "open the key: is its pill or dome there, and the right one?"},
	ContactLow:        {Rows: []int{3, 16}, Prior: 2e-5, Next: "look at the contact for solder or smeared print"},
	DomeCracked:       {Rows: []int{4}, Prior: 5e-5, Next: "feel the key against a good one, and look at the dome"},
	DomeInverted:      {Rows: []int{5}, Prior: 5e-5, Next: "look whether the dome stands up"},
	KeyStuck:          {Rows: []int{6}, Prior: 2e-4, Next: "take overlay and bezel off; does the key open?"},
	KeyPretravelled:   {Rows: []int{7}, Prior: 5e-5, Next: "look for debris under the overlay, and at the spacer"},
	ContactMisplaced:  {Rows: []int{8}, Prior: 3e-5, Next: "hold the layers against the light: do they lie over each other?"},
	LineOpen:          {Rows: []int{9, 10}, Prior: 2e-4, Next: "meter from the tail pin to the first key's pad"},
	LineBroken:        {Rows: []int{11, 12}, Prior: 5e-5, Next: "meter along the track on both sides of the place"},
	LineCracked:       {Rows: []int{13}, Prior: 5e-5, Next: "move the tail while the key is held and watch the ohms"},
	TailCreased:       {Rows: []int{14}, Prior: 2e-5, Next: "look at the tail for a crease"},
	PrintThin:         {Rows: []int{15}, Prior: 2e-5, Next: "compare the tracks with a good unit's against the light"},
	PrintSmeared:      {Rows: []int{16}, Prior: 5e-5, Next: "look between the two tracks with a glass"},
	LinesShorted:      {Rows: []int{17, 18}, Prior: 5e-5, Next: "meter between the two pins while the layers are lifted one after the other"},
	CrossingShorted:   {Rows: []int{19}, Prior: 5e-5, Next: "look at the crossing of the two tracks"},
	SilverGrowing:     {Rows: []int{20}, Prior: 5e-5, Next: "look for stains between the tracks; ask where the unit was kept"},
	SilverBridge:      {Rows: []int{21}, Prior: 3e-5, Next: "look for a thread between the tracks before any larger current flows"},
	LiquidInside:      {Rows: []int{22}, Prior: 3e-5, Next: "open the unit and look for liquid near the tail exit; dry it, then test again"},
	HumidityFilm:      {Rows: []int{23}, Prior: 3e-5, Next: "dry the unit, then test again"},
	ShieldShorted:     {Rows: []int{24}, Prior: 5e-5, Next: "look where the line crosses the edge of the shield"},
	DiodeDamaged:      {Rows: []int{25}, Prior: 5e-5, Next: "change the diode"},
	DiodeMissing:      {Rows: []int{26}, Prior: 1e-4, Next: "look whether the diode is there and soldered"},
	DiodeReversed:     {Rows: []int{27}, Prior: 1e-4, Next: "look at the diode's ring"},
	DiodeShorted:      {Rows: []int{28}, Prior: 1e-4, Next: "look for solder across the diode"},
	TailShifted:       {Rows: []int{30}, Prior: 3e-4, Next: "reseat the unit"},
	TailReversed:      {Rows: []int{31}, Prior: 3e-4, Next: "turn the unit round"},
	PinDoubtful:       {Rows: []int{32}, Prior: 3e-4, Next: "clean the tail, reseat the unit, test again"},
	WrongProduct:      {Rows: []int{33}, Prior: 1e-4, Next: "read the part number on the unit"},
	LinesExchanged:    {Rows: []int{33}, Prior: 1e-4, Next: "compare the artwork or the wiring of the tail with the drawing"},
	SpacerCreep:       {Rows: []int{34}, Prior: 1e-5, Next: "press beside the keys: do layers come apart?"},
	ContactUnsteady:   {Rows: []int{35}, Prior: 1e-4, Next: "hold the key, warm and tap the unit, and watch for dropouts"},
	SecondContact:     {Rows: []int{8}, Prior: 5e-5, Next: "look at the contact: does it reach a neighbouring track?"},
	ActuatorMisses:    {Rows: []int{36}, Jig: true, Prior: 5e-5, Next: "test the reference unit; watch the actuator over the key"},
	ActuatorHolds:     {Rows: []int{36}, Jig: true, Prior: 5e-6, Next: "test the reference unit; watch the actuator come up"},
	ProbeDirty:        {Rows: []int{37}, Jig: true, Prior: 2e-4, Next: "reseat once; if it stays, have the probe cleaned"},
	JigNoisy:          {Rows: []int{38}, Jig: true, Prior: 1e-5, Next: "run the jig with no unit in it; look for what was switched on nearby"},
	JigDoubtful:       {Rows: []int{37, 38}, Jig: true, Prior: 1e-4, Next: "have the fixture engineer look at the jig; the unit was not touched"},
	NotFoundAgain:     {Rows: []int{21, 22, 35}, Prior: 1e-4, Next: "keep the unit; look for stains between tracks before it is measured again"},
	DiodeDropDoubtful: {Rows: []int{25}, Prior: 3e-5, Next: "look at the diode: is it the right part?"},
}

// Rows are the rows of the table of failure modes that a kind stands for.
func (k Kind) Rows() []int { return kinds[k].Rows }

// OfJig reports whether a kind is a fault of the jig and not of the unit.
func (k Kind) OfJig() bool { return kinds[k].Jig }

// Remedy says what a person can do to be sure of a kind.
func (k Kind) Remedy() string { return kinds[k].Next }

// Kinds lists all kinds there are, by their codes.
func Kinds() []Kind {
	return slices.Sorted(maps.Keys(kinds))
}
