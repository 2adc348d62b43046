package product

import (
	"strconv"
	"strings"
	"time"

	yaml "go.yaml.in/yaml/v4"
)

// References says which reference units must be tested on a jig, and how
// often, for production of this product to go on there.
type References struct {
	Every  time.Duration // since the last good check; 0: not by time
	Units  int           // runs on the jig since the last good check; 0: not by number
	Within float64       // how far a good unit's keys may read from its first good check, relative
	Good   []string      // serial numbers of units that must pass
	Bad    []BadUnit     // units that must fail, each for its reason
}

// BadUnit is a reference unit with a known fault.
type BadUnit struct {
	Serial string
	What   string   // the finding it must be failed for, in the words of a report
	Key    string   // label of the key concerned, empty when it is about lines
	Lines  []string // the lines concerned, none when it is about a key
}

// Reference reports whether a serial number is that of a reference unit, and
// its known fault, nil for a good one.
func (p *Product) Reference(serial string) (bad *BadUnit, ok bool) {
	if p.References == nil {
		return nil, false
	}
	for _, good := range p.References.Good {
		if good == serial {
			return nil, true
		}
	}
	for i := range p.References.Bad {
		if p.References.Bad[i].Serial == serial {
			return &p.References.Bad[i], true
		}
	}
	return nil, false
}

// Defaults of the section, ours, for want of a standard: a shift, and the
// spread that reseating shows on a good pad.
const (
	usualEvery  = 8 * time.Hour
	usualWithin = 0.15
)

func (b *builder) references(o object) {
	l, ok := b.section(o, "references", "every", "within", "good", "bad")
	if !ok {
		return
	}
	refs := &References{Every: usualEvery, Within: usualWithin}
	if f, ok := l.get("every"); ok {
		b.every(f, refs)
	}
	if f, ok := l.get("within"); ok {
		b.within(f, refs)
	}
	taken := map[string]bool{}
	for _, w := range b.list(l, "good") {
		if b.newReference(w, taken) {
			refs.Good = append(refs.Good, w.text)
		}
	}
	if f, ok := l.get("bad"); ok {
		b.badUnits(f, refs, taken)
	}
	if len(refs.Good) == 0 {
		b.wrong(l.at, `references need a good unit; add "good: REF-1", its serial number`)
	}
	b.p.References = refs
}

func (b *builder) newReference(w word, taken map[string]bool) bool {
	if taken[w.text] {
		b.wrong(w.place, "reference unit %q is named twice; keep one of them", w.text)
		return false
	}
	taken[w.text] = true
	return true
}

// every reads "8 h", "200 units", or both with "or" between.
func (b *builder) every(f field, refs *References) {
	words := b.words(f)
	refs.Every, refs.Units = 0, 0
	for i := 0; i+1 < len(words); i += 3 {
		n, err := strconv.ParseFloat(words[i].text, 64)
		unit := words[i+1].text
		joint := i+2 >= len(words) || words[i+2].text == "or"
		switch {
		case err != nil || n <= 0 || n > 1e6 || !joint:
			b.wrong(f.at(), `every cannot be %q; write "8 h", "200 units" or "8 h or 200 units"`, joined(words))
			return
		case unit == "h":
			refs.Every = time.Duration(n * float64(time.Hour))
		case unit == "min":
			refs.Every = time.Duration(n * float64(time.Minute))
		case unit == "units" && n == float64(int(n)):
			refs.Units = int(n)
		default:
			b.wrong(words[i+1].place, `every: %q is no unit here; write h, min or units, as in "8 h or 200 units"`, unit)
			return
		}
	}
	if refs.Every == 0 && refs.Units == 0 {
		b.wrong(f.at(), `every cannot be %q; write "8 h", "200 units" or "8 h or 200 units"`, joined(words))
	}
}

func (b *builder) within(f field, refs *References) {
	text := joined(b.words(f))
	number, percent := cutUnit(text, "%")
	v, err := strconv.ParseFloat(number, 64)
	if !percent || err != nil || v <= 0 || v > 100 {
		b.wrong(f.at(), `within cannot be %q; write a part of the reading, such as "15 %%"`, text)
		return
	}
	refs.Within = v / 100
}

// badUnits reads each as "SERIAL: FINDING at PLACE".
func (b *builder) badUnits(f field, refs *References, taken map[string]bool) {
	if f.value.Kind != yaml.MappingNode {
		b.wrong(f.at(), `bad must be a set of units, each like "REF-2: key open at 7"`)
		return
	}
	for _, unit := range b.object(f.value, "bad").fields {
		words := b.words(unit)
		if len(words) == 0 || !b.newReference(unit.name, taken) {
			continue
		}
		at := indexOf(words, "at")
		if at < 1 || at == len(words)-1 {
			b.wrong(unit.at(), `%q does not say what must be found where; write it like "key open at 7" or "lines shorted at R1 R2"`,
				joined(words))
			continue
		}
		bad := BadUnit{Serial: unit.name.text, What: joined(words[:at])}
		if b.where(words[at+1:], &bad) {
			refs.Bad = append(refs.Bad, bad)
		}
	}
}

// where reads a key's label or the names of lines.
func (b *builder) where(words []word, bad *BadUnit) bool {
	if len(words) == 1 && b.p.Key(words[0].text) >= 0 {
		bad.Key = words[0].text
		return true
	}
	for _, w := range words {
		if b.p.Line(w.text) < 0 {
			b.wrong(w.place, "no key or line %q%s", w.text, didYouMean(w.text, append(b.labels(), b.lineNames()...)))
			return false
		}
		bad.Lines = append(bad.Lines, w.text)
	}
	return true
}

// String says how often, "every 8 h or 200 units".
func (r References) String() string {
	var parts []string
	if r.Every > 0 {
		parts = append(parts, strconv.FormatFloat(r.Every.Hours(), 'f', -1, 64)+" h")
	}
	if r.Units > 0 {
		parts = append(parts, strconv.Itoa(r.Units)+" units")
	}
	return "every " + strings.Join(parts, " or ")
}
