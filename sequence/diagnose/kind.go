package diagnose

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
	Rows []int // of the table of failure modes in docs/diagnosis.md
	Jig  bool  // the jig's fault, not the unit's
	// Prior is the probability that a kind befalls one place of a unit, by order of
	// magnitude (common practice, no source). Only its ratios within a group matter much.
	Prior float64
}

var kinds = map[Kind]about{
	ContactDirty:      {Rows: []int{1}, Prior: 3e-4},
	ContactWorn:       {Rows: []int{2}, Prior: 1e-4},
	ContactMissing:    {Rows: []int{3}, Prior: 3e-4},
	ContactLow:        {Rows: []int{3, 16}, Prior: 2e-5},
	DomeCracked:       {Rows: []int{4}, Prior: 5e-5},
	DomeInverted:      {Rows: []int{5}, Prior: 5e-5},
	KeyStuck:          {Rows: []int{6}, Prior: 2e-4},
	KeyPretravelled:   {Rows: []int{7}, Prior: 5e-5},
	ContactMisplaced:  {Rows: []int{8}, Prior: 3e-5},
	LineOpen:          {Rows: []int{9, 10}, Prior: 2e-4},
	LineBroken:        {Rows: []int{11, 12}, Prior: 5e-5},
	LineCracked:       {Rows: []int{13}, Prior: 5e-5},
	TailCreased:       {Rows: []int{14}, Prior: 2e-5},
	PrintThin:         {Rows: []int{15}, Prior: 2e-5},
	PrintSmeared:      {Rows: []int{16}, Prior: 5e-5},
	LinesShorted:      {Rows: []int{17, 18}, Prior: 5e-5},
	CrossingShorted:   {Rows: []int{19}, Prior: 5e-5},
	SilverGrowing:     {Rows: []int{20}, Prior: 5e-5},
	SilverBridge:      {Rows: []int{21}, Prior: 3e-5},
	LiquidInside:      {Rows: []int{22}, Prior: 3e-5},
	HumidityFilm:      {Rows: []int{23}, Prior: 3e-5},
	ShieldShorted:     {Rows: []int{24}, Prior: 5e-5},
	DiodeDamaged:      {Rows: []int{25}, Prior: 5e-5},
	DiodeMissing:      {Rows: []int{26}, Prior: 1e-4},
	DiodeReversed:     {Rows: []int{27}, Prior: 1e-4},
	DiodeShorted:      {Rows: []int{28}, Prior: 1e-4},
	TailShifted:       {Rows: []int{30}, Prior: 3e-4},
	TailReversed:      {Rows: []int{31}, Prior: 3e-4},
	PinDoubtful:       {Rows: []int{32}, Prior: 3e-4},
	WrongProduct:      {Rows: []int{33}, Prior: 1e-4},
	LinesExchanged:    {Rows: []int{33}, Prior: 1e-4},
	SpacerCreep:       {Rows: []int{34}, Prior: 1e-5},
	ContactUnsteady:   {Rows: []int{35}, Prior: 1e-4},
	SecondContact:     {Rows: []int{8}, Prior: 5e-5},
	ActuatorMisses:    {Rows: []int{36}, Jig: true, Prior: 5e-5},
	ActuatorHolds:     {Rows: []int{36}, Jig: true, Prior: 5e-6},
	ProbeDirty:        {Rows: []int{37}, Jig: true, Prior: 2e-4},
	JigNoisy:          {Rows: []int{38}, Jig: true, Prior: 1e-5},
	JigDoubtful:       {Rows: []int{37, 38}, Jig: true, Prior: 1e-4},
	NotFoundAgain:     {Rows: []int{21, 22, 35}, Prior: 1e-4},
	DiodeDropDoubtful: {Rows: []int{25}, Prior: 3e-5},
}

// Rows are the rows of the table of failure modes that a kind stands for.
func (k Kind) Rows() []int { return kinds[k].Rows }

// OfJig reports whether a kind is a fault of the jig and not of the unit.
func (k Kind) OfJig() bool { return kinds[k].Jig }

// Remedy says what a person can do to be sure of a kind.
func (k Kind) Remedy() Said { return said("remedy." + Code(k)) }
