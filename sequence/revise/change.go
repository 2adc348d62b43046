package revise

import (
	"cmp"
	"math"
	"slices"
	"strconv"
	"strings"

	"padjig/fixture/quantity"
	"padjig/sequence"
	"padjig/sequence/judge"
	"padjig/sequence/product"
)

// Class is which way a difference goes.
type Class string

// The classes. What nobody has classed is Looser: a difference that is not understood
// must not pass for a harmless one.
const (
	Looser  Class = "looser"  // it may let a unit through that was refused
	Risk    Class = "risk"    // it may hurt a unit or whoever holds it
	Tighter Class = "tighter" // it may refuse a unit that was let through
	Neutral Class = "neutral" // neither
)

var classes = []Class{Looser, Risk, Tighter, Neutral}

// Change is one thing in which a product is tested or drawn otherwise; of several keys
// it is told once.
type Change struct {
	Class Class         `json:"class"`
	Code  sequence.Code `json:"what"`
	Keys  []string      `json:"keys,omitempty"` // labels; none where it is not about keys
	Of    int           `json:"of,omitempty"`   // how many keys the new product has, where it is about keys
	From  string        `json:"from"`           // empty where there was none
	To    string        `json:"to"`             // empty where there is none any more
}

// What may change.
const (
	OtherProduct   sequence.Code = "other product"
	KeyRemoved     sequence.Code = "key removed"
	KeyAdded       sequence.Code = "key added"
	LineRemoved    sequence.Code = "line removed"
	LineAdded      sequence.Code = "line added"
	LineKind       sequence.Code = "kind of line"
	TrackOrder     sequence.Code = "order on track"
	TailPin        sequence.Code = "tail pin"
	KeyLines       sequence.Code = "lines of key"
	KeyDiode       sequence.Code = "diode of key"
	KeyPlace       sequence.Code = "place of key"
	KeyGroup       sequence.Code = "group of key"
	KeyActuator    sequence.Code = "actuator of key"
	NominalValue   sequence.Code = "nominal value"
	ContactLeast   sequence.Code = "contact at least"
	ContactMost    sequence.Code = "contact at most"
	InsulationMost sequence.Code = "insulation at least"
	ClosingBounce  sequence.Code = "bounce on closing"
	OpeningBounce  sequence.Code = "bounce on opening"
	DropLeast      sequence.Code = "diode drop at least"
	DropMost       sequence.Code = "diode drop at most"
	GuardBand      sequence.Code = "guard band"
	TestCurrent    sequence.Code = "test current"
	TestVoltage    sequence.Code = "test voltage"
	ContactCurrent sequence.Code = "contact current"
	Rectangles     sequence.Code = "rectangles"
	ScannerRemoved sequence.Code = "scanner removed"
	ScannerValue   sequence.Code = "scanner"
	SecondContact  sequence.Code = "second contact below"
	SerialFormat   sequence.Code = "serial format"
	SerialCheck    sequence.Code = "serial check"
	MoreAttempts   sequence.Code = "attempts"
	ReferenceGone  sequence.Code = "reference unit removed"
	ReferenceNew   sequence.Code = "reference unit added"
	ReferenceFault sequence.Code = "fault of reference unit"
	ReferenceTime  sequence.Code = "reference units every"
	ReferenceUnits sequence.Code = "reference units after"
	ReferenceBand  sequence.Code = "reference units within"
	AlsoRequired   sequence.Code = "also required"
	NotRequired    sequence.Code = "not required"
	AdapterFits    sequence.Code = "adapter"
	WhereFailsGo   sequence.Code = "fails"
	RepairLoops    sequence.Code = "repair loops"
	StopFinding    sequence.Code = "stop same finding"
	StopYield      sequence.Code = "stop yield"
	StopReseats    sequence.Code = "stop reseats"
	StopProbe      sequence.Code = "stop same probe"
	StopUnseated   sequence.Code = "stop unseated"
	Unclassed      sequence.Code = "unclassed" // its place in the definition is the first key
)

// Codes are all that may change, for whoever words them.
func Codes() []sequence.Code {
	return []sequence.Code{OtherProduct, KeyRemoved, KeyAdded, LineRemoved, LineAdded, LineKind, TrackOrder, TailPin, KeyLines,
		KeyDiode, KeyPlace, KeyGroup, KeyActuator, NominalValue, ContactLeast, ContactMost, InsulationMost, ClosingBounce,
		OpeningBounce, DropLeast, DropMost, GuardBand, TestCurrent, TestVoltage, ContactCurrent, Rectangles, ScannerRemoved,
		ScannerValue, SecondContact, SerialFormat, SerialCheck, MoreAttempts, ReferenceGone, ReferenceNew, ReferenceFault, ReferenceTime,
		ReferenceUnits, ReferenceBand, AlsoRequired, NotRequired, AdapterFits, WhereFailsGo, RepairLoops, StopFinding, StopYield,
		StopReseats, StopProbe, StopUnseated, Unclassed}
}

// NeedsTwo reports whether changes need a second person: one of them lets more through
// or is a risk.
func NeedsTwo(changes []Change) bool { return len(Loosenings(changes)) > 0 }

// Loosenings are the changes that need a second person.
func Loosenings(changes []Change) []Change {
	return slices.DeleteFunc(slices.Clone(changes), func(c Change) bool { return c.Class != Looser && c.Class != Risk })
}

// Between says in what to differs from from, what lets more through first. The same of
// several keys is one change.
func Between(from, to *product.Product) []Change {
	b := &between{from: from, to: to}
	b.parts()
	b.references()
	b.serial()
	b.asked()
	b.stops()
	if before, now := judge.ClosureOf(from), judge.ClosureOf(to); before != now {
		b.add(Change{Class: less(float64(before), float64(now)), Code: SecondContact, From: before.String(), To: now.String()})
	}
	for _, d := range product.Differences(from.Canonical(), to.Canonical()) {
		b.leaf(d)
	}
	order := func(c Change) int { return slices.Index(classes, c.Class) }
	slices.SortStableFunc(b.found, func(x, y Change) int {
		return cmp.Or(order(x)-order(y), slices.Index(Codes(), x.Code)-slices.Index(Codes(), y.Code))
	})
	for i, c := range b.found {
		if len(c.Keys) > 0 {
			b.found[i].Of = len(to.Keys)
			slices.SortStableFunc(c.Keys, func(x, y string) int { return cmp.Or(to.Key(x)-to.Key(y), from.Key(x)-from.Key(y)) })
		}
	}
	return b.found
}

// Group is all changes of one class.
type Group struct {
	Class   Class
	Changes []Change
}

// Grouped puts changes together by what they do, in the order of [Between].
func Grouped(changes []Change) (groups []Group) {
	for _, class := range classes {
		of := slices.DeleteFunc(slices.Clone(changes), func(c Change) bool { return c.Class != class })
		if len(of) > 0 {
			groups = append(groups, Group{class, of})
		}
	}
	return groups
}

type between struct {
	from, to *product.Product
	found    []Change
}

// add notes a change, together with the same of other keys.
func (b *between) add(c Change) {
	for i, f := range b.found {
		if f.Class == c.Class && f.Code == c.Code && f.From == c.From && f.To == c.To && (len(f.Keys) > 0) == (len(c.Keys) > 0) {
			for _, key := range c.Keys {
				if !slices.Contains(f.Keys, key) {
					b.found[i].Keys = append(b.found[i].Keys, key)
				}
			}
			return
		}
	}
	b.found = append(b.found, c)
}

// parts compares which keys and lines there are, and whether there is a scanner.
func (b *between) parts() {
	for _, k := range b.from.Keys {
		if b.to.Key(k.Label) < 0 {
			b.add(Change{Class: Looser, Code: KeyRemoved, Keys: []string{k.Label}})
		}
	}
	for _, k := range b.to.Keys {
		if b.from.Key(k.Label) < 0 {
			b.add(Change{Class: Tighter, Code: KeyAdded, Keys: []string{k.Label}})
		}
	}
	for _, l := range b.from.Lines {
		if b.to.Line(l.Name) < 0 {
			b.add(Change{Class: Looser, Code: LineRemoved, From: l.Name})
		}
	}
	for _, l := range b.to.Lines {
		if b.from.Line(l.Name) < 0 {
			b.add(Change{Class: Tighter, Code: LineAdded, To: l.Name})
		}
	}
	if b.from.Scanner != nil && b.to.Scanner == nil { // the limits are not held to it any more
		b.add(Change{Class: Looser, Code: ScannerRemoved})
	}
}

// references compares the reference units, and how often they are due.
func (b *between) references() {
	units := func(p *product.Product) map[string]string {
		of := map[string]string{}
		if r := p.References; r != nil {
			for _, serial := range r.Good {
				of[serial] = "good"
			}
			for _, u := range r.Bad {
				of[u.Serial] = strings.TrimSpace(u.What + " " + cmp.Or(u.Key, strings.Join(u.Lines, " ")))
			}
		}
		return of
	}
	was, now := units(b.from), units(b.to)
	for _, serial := range sorted(was) {
		switch fault, there := now[serial]; {
		case !there:
			b.add(Change{Class: Looser, Code: ReferenceGone, From: serial})
		case fault != was[serial]:
			b.add(Change{Class: Looser, Code: ReferenceFault, From: serial + ": " + was[serial], To: serial + ": " + fault})
		}
	}
	for _, serial := range sorted(now) {
		if _, there := was[serial]; !there {
			b.add(Change{Class: Tighter, Code: ReferenceNew, To: serial})
		}
	}
	if b.from.References == nil || b.to.References == nil {
		return // then all its units are new, or gone
	}
	x, y := b.from.References, b.to.References
	rarer := func(code sequence.Code, before, after float64, say func(float64) string) {
		never := func(v float64) float64 {
			if v == 0 {
				return math.Inf(1)
			}
			return v
		}
		if before != after {
			b.add(Change{Class: more(never(before), never(after)), Code: code, From: say(before), To: say(after)})
		}
	}
	rarer(ReferenceTime, x.Every.Seconds(), y.Every.Seconds(), func(s float64) string { return plain(s) + " s" })
	rarer(ReferenceUnits, float64(x.Units), float64(y.Units), plain)
	if x.Within != y.Within {
		b.add(Change{Class: more(x.Within, y.Within), Code: ReferenceBand, From: percent(x.Within), To: percent(y.Within)})
	}
}

// serial compares which serial numbers are accepted.
func (b *between) serial() {
	x, y := b.from.Serial, b.to.Serial
	if x.CheckSystem != y.CheckSystem {
		class := Looser
		if x.CheckSystem == "" {
			class = Tighter
		}
		b.add(Change{Class: class, Code: SerialCheck, From: x.CheckSystem, To: y.CheckSystem})
	}
	if x.Format != y.Format {
		class := Looser
		if x.Accepts(y) {
			class = Tighter
			if y.Accepts(x) {
				class = Neutral
			}
		}
		b.add(Change{Class: class, Code: SerialFormat, From: x.Format, To: y.Format})
	}
}

// asked compares what is asked of a test beside limits, of the jig, and of what becomes of
// units that fail. None of it stands in the canonical text where it is as usual.
func (b *between) asked() {
	x, y := b.from, b.to
	b.list(AlsoRequired, words(x.Test.AlsoRequired), words(y.Test.AlsoRequired), Looser, Tighter)
	b.list(NotRequired, words(x.Test.NotRequired), words(y.Test.NotRequired), Tighter, Looser)
	switch fit, fits := x.Adapters, y.Adapters; {
	case slices.Equal(fit, fits):
	case len(fit) == 0: // any would do before
		b.add(Change{Class: Tighter, Code: AdapterFits, To: strings.Join(fits, ", ")})
	case len(fits) == 0:
		b.add(Change{Class: Looser, Code: AdapterFits, From: strings.Join(fit, ", ")})
	default:
		b.list(AdapterFits, fit, fits, Tighter, Looser)
	}
	if x.TagsFails() != y.TagsFails() {
		b.add(Change{Class: dropped(strconv.FormatBool(x.TagsFails()), ""), Code: WhereFailsGo, From: string(x.Fails), To: string(y.Fails)})
	}
	b.count(RepairLoops, x.RepairLoops, y.RepairLoops)
	b.contactCurrent(contactCurrent(x), contactCurrent(y))
}

// contactCurrent is the current at which contacts have to be good, 0 for as they are read.
func contactCurrent(p *product.Product) quantity.Ampere {
	if p.Test.Contact.Scanner {
		return p.Scanner.LeastCurrent(0)
	}
	return p.Test.Contact.Stated
}

// contactCurrent compares them: the smaller, the more resistance has a contact that is not
// ohmic.
func (b *between) contactCurrent(from, to quantity.Ampere) {
	if from == to {
		return
	}
	none := func(i quantity.Ampere) (float64, string) {
		if i == 0 {
			return math.Inf(1), ""
		}
		return float64(i), i.String()
	}
	was, said := none(from)
	is, says := none(to)
	b.add(Change{Class: more(was, is), Code: ContactCurrent, From: said, To: says})
}

func words[T ~string](list []T) (out []string) {
	for _, w := range list {
		out = append(out, string(w))
	}
	return out
}

// list compares a list of names, whatever their order. One gone and one come may do both:
// then the worse is said.
func (b *between) list(code sequence.Code, from, to []string, gone, come Class) {
	missing := func(of, in []string) bool {
		return slices.ContainsFunc(of, func(name string) bool { return !slices.Contains(in, name) })
	}
	class := Neutral
	switch lost, won := missing(from, to), missing(to, from); {
	case !lost && !won:
		return
	case lost && won:
		class = Looser
	case lost:
		class = gone
	case won:
		class = come
	}
	b.add(Change{Class: class, Code: code, From: strings.Join(from, ", "), To: strings.Join(to, ", ")})
}

// stops compares by which rules the line stops itself: the later, the looser.
func (b *between) stops() {
	x, y := b.from.Stops, b.to.Stops
	b.count(StopFinding, x.SameFinding, y.SameFinding)
	b.count(StopReseats, x.Reseats, y.Reseats)
	b.count(StopProbe, x.SameProbe, y.SameProbe)
	b.count(StopUnseated, x.Unseated, y.Unseated)
	if x.Yield == y.Yield && x.Of == y.Of {
		return
	}
	class := less(x.Yield, y.Yield)
	if x.Of != y.Of && y.Yield > 0 && x.Yield > 0 {
		class = Looser // over another number of units it sees other things
	}
	say := func(s product.Stops) string {
		if s.Yield == 0 {
			return ""
		}
		return percent(s.Yield) + ", " + strconv.Itoa(s.Of)
	}
	b.add(Change{Class: class, Code: StopYield, From: say(x), To: say(y)})
}

// count compares after how many something is done; after 0 it never is.
func (b *between) count(code sequence.Code, from, to int) {
	if from == to {
		return
	}
	never := func(n int) float64 {
		if n == 0 {
			return math.Inf(1)
		}
		return float64(n)
	}
	say := func(n int) string {
		if n == 0 {
			return ""
		}
		return strconv.Itoa(n)
	}
	b.add(Change{Class: more(never(from), never(to)), Code: code, From: say(from), To: say(to)})
}

// compared are the parts of the canonical text that are compared whole.
var compared = []string{"references", "serial.", "test.also_required", "test.not_required", "test.contact_current",
	"adapters", "fails", "repair_loops", "stops"}

// leaf classes one leaf of the canonical text, if that has not been done with a part.
func (b *between) leaf(d product.Difference) {
	where, key := d.Where, ""
	if of, rest, is := part(d.Where, "keys"); is {
		if b.from.Key(of) < 0 || b.to.Key(of) < 0 {
			return
		}
		where, key = "key."+rest, of
	} else if of, rest, is := part(d.Where, "lines"); is {
		if b.from.Line(of) < 0 || b.to.Line(of) < 0 {
			return
		}
		where = "line." + rest
	}
	if slices.ContainsFunc(compared, func(p string) bool { return strings.HasPrefix(where, p) }) ||
		strings.HasPrefix(where, "scanner.") && b.to.Scanner == nil {
		return
	}
	r, known := rules[index.pattern(where)]
	if !known {
		b.add(Change{Class: Looser, Code: Unclassed, Keys: []string{d.Where}, From: d.From, To: d.To})
		return
	}
	c := Change{Class: r.class(d.From, d.To), Code: r.code, From: r.say(d.From), To: r.say(d.To)}
	if c.Class == "" {
		return
	}
	switch {
	case r.brief:
		c.From, c.To = "", ""
	case key != "":
		c.Keys = []string{key}
	}
	b.add(c)
}

// part takes a named part of a list apart from the path of one of its leaves.
func part(path, list string) (name, rest string, is bool) {
	in, is := strings.CutPrefix(path, list+"[")
	if !is {
		return "", "", false
	}
	name, rest, is = strings.Cut(in, "].")
	return name, rest, is
}

// rule classes a leaf of the canonical text.
type rule struct {
	code  sequence.Code
	class func(from, to string) Class // "" where another rule says it
	say   func(string) string
	brief bool // that it changed says all
}

// indexer makes one pattern of the places of a list that are treated alike.
type indexer []string

var index = indexer{"tail", "key.place", "key.lines", "line.track", "nominal.diode_a_n_ohm"}

func (lists indexer) pattern(where string) string {
	if in, _, is := strings.Cut(where, "["); is && slices.Contains(lists, in) {
		return in
	}
	if strings.HasPrefix(where, "scanner.") {
		return "scanner"
	}
	return where
}

var rules = map[string]rule{
	"product":                  {OtherProduct, always(Looser), same, false},
	"tail":                     {TailPin, unlessNew, same, false},
	"line.kind":                {LineKind, always(Looser), same, false},
	"line.track":               {TrackOrder, always(Neutral), same, true},
	"key.lines":                {KeyLines, always(Looser), same, false},
	"key.diode":                {KeyDiode, unlessNew, same, false},
	"key.place":                {KeyPlace, always(Neutral), same, true},
	"key.group":                {KeyGroup, always(Neutral), same, true},
	"key.actuator number":      {KeyActuator, always(Neutral), same, false},
	"key.contact_ohm":          {NominalValue, always(Neutral), same, true},
	"nominal.contact_ohm":      {NominalValue, always(Neutral), same, true},
	"nominal.track_ohm":        {NominalValue, always(Neutral), same, true},
	"nominal.tail_ohm":         {NominalValue, always(Neutral), same, true},
	"nominal.diode_a_n_ohm":    {NominalValue, always(Neutral), same, true},
	"key.limits.closed_ohm[1]": {ContactLeast, numbers(less), in(quantity.Ohm.String), false},
	"key.limits.closed_ohm[2]": {ContactMost, numbers(more), in(quantity.Ohm.String), false},
	"key.limits.rest_ohm":      {InsulationMost, numbers(less), in(quantity.Ohm.String), false},
	"key.limits.make_s":        {ClosingBounce, numbers(more), millis, false},
	"key.limits.break_s":       {OpeningBounce, numbers(more), millis, false},
	"key.limits.diode_v[1]":    {DropLeast, both(less), in(quantity.Volt.String), false},
	"key.limits.diode_v[2]":    {DropMost, both(more), in(quantity.Volt.String), false},
	"key.limits.guard_u":       {GuardBand, numbers(less), guard, false},
	"test.current_a":           {TestCurrent, numbers(risk), in(quantity.Ampere.String), false},
	"test.voltage_v":           {TestVoltage, numbers(risk), in(quantity.Volt.String), false},
	"test.rectangles":          {Rectangles, dropped, same, true},
	"scanner":                  {ScannerValue, always(Neutral), same, true},
	"attempts":                 {MoreAttempts, numbers(more), same, false},
}

func always(c Class) func(string, string) Class { return func(string, string) Class { return c } }

// unlessNew is looser, but for what was not there before.
func unlessNew(from, _ string) Class {
	if from == "" {
		return Tighter
	}
	return Looser
}

// dropped is of something that is done or not.
func dropped(from, _ string) Class {
	if from == "true" {
		return Looser
	}
	return Tighter
}

// numbers compares what is always there. What is no number is not understood.
func numbers(class func(from, to float64) Class) func(string, string) Class {
	return func(from, to string) Class {
		x, err := strconv.ParseFloat(from, 64)
		y, err2 := strconv.ParseFloat(to, 64)
		if err != nil || err2 != nil {
			return Looser
		}
		return class(x, y)
	}
}

// both is of limits that a key with a diode has: where that comes or goes it says all.
func both(class func(from, to float64) Class) func(string, string) Class {
	return func(from, to string) Class {
		if from == "" || to == "" {
			return ""
		}
		return numbers(class)(from, to)
	}
}

// more is looser where there is more of it, less where there is less.
func more(from, to float64) Class {
	if to > from {
		return Looser
	}
	return Tighter
}

func less(from, to float64) Class { return more(to, from) }

func risk(from, to float64) Class {
	if to > from {
		return Risk
	}
	return Neutral
}

func same(text string) string { return text }

func in[Q ~float64](say func(Q) string) func(string) string {
	return func(text string) string {
		v, err := strconv.ParseFloat(text, 64)
		if err != nil {
			return text
		}
		return say(Q(v))
	}
}

func millis(text string) string {
	v, err := strconv.ParseFloat(text, 64)
	if err != nil {
		return text
	}
	return plain(1e3*v) + " ms"
}

func guard(text string) string { return text + " U" }

func plain(v float64) string { return strconv.FormatFloat(v, 'g', 6, 64) }

func percent(v float64) string { return plain(100*v) + " %" }

func sorted(of map[string]string) []string {
	names := make([]string, 0, len(of))
	for name := range of {
		names = append(names, name)
	}
	slices.Sort(names)
	return names
}
