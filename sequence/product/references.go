package product

import (
	"slices"
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
	if slices.Contains(p.References.Good, serial) {
		return nil, true
	}
	i := slices.IndexFunc(p.References.Bad, func(u BadUnit) bool { return u.Serial == serial })
	if i < 0 {
		return nil, false
	}
	return &p.References.Bad[i], true
}

// Defaults of the section, ours, for want of a standard: a shift, and the
// spread that reseating shows on a good pad.
const (
	usualEvery  = 8 * time.Hour
	usualWithin = 0.15
)

func readReferences(o object, p *Product) *References {
	l, ok := o.section("references", "every", "within", "good", "bad")
	if !ok {
		return nil
	}
	refs := &References{Every: usualEvery, Within: usualWithin}
	if f, ok := l.get("every"); ok {
		readEvery(f, refs)
	}
	if f, ok := l.get("within"); ok {
		text := joined(f.words())
		if v, ok := numberOf(text, "%"); ok && v > 0 && v <= 100 {
			refs.Within = v / 100
		} else {
			f.wrong(f.at(), "within", text)
		}
	}
	taken := map[string]bool{}
	for _, w := range l.list("good") {
		if newReference(l.collector, w, taken) {
			refs.Good = append(refs.Good, w.text)
		}
	}
	if f, ok := l.get("bad"); ok {
		refs.Bad = badUnits(f, p, taken)
	}
	if len(refs.Good) == 0 {
		l.wrong(l.at, "references.none")
	}
	return refs
}

func newReference(c *collector, w word, taken map[string]bool) bool {
	if taken[w.text] {
		c.wrong(w.place, "reference.twice", w.text)
		return false
	}
	taken[w.text] = true
	return true
}

// readEvery reads "8 h", "200 units", or both with "or" between.
func readEvery(f field, refs *References) {
	words := f.words()
	refs.Every, refs.Units = 0, 0
	for i := 0; i+1 < len(words); i += 3 {
		n, err := strconv.ParseFloat(words[i].text, 64)
		unit := words[i+1].text
		joint := i+2 >= len(words) || words[i+2].text == "or"
		switch {
		case err != nil || !(n > 0 && n <= 1e6) || !joint:
			f.wrong(f.at(), "every", joined(words))
			return
		case unit == "h":
			refs.Every = time.Duration(n * float64(time.Hour))
		case unit == "min":
			refs.Every = time.Duration(n * float64(time.Minute))
		case unit == "units" && n == float64(int(n)):
			refs.Units = int(n)
		default:
			f.wrong(words[i+1].place, "every.unit", unit)
			return
		}
	}
	if refs.Every == 0 && refs.Units == 0 {
		f.wrong(f.at(), "every", joined(words))
	}
}

// badUnits reads each as "SERIAL: FINDING at PLACE".
func badUnits(f field, p *Product, taken map[string]bool) (all []BadUnit) {
	if f.value.Kind != yaml.MappingNode {
		f.wrong(f.at(), "bad.not")
		return nil
	}
	for _, unit := range f.object("bad").fields {
		words := unit.words()
		if len(words) == 0 || !newReference(f.collector, unit.name, taken) {
			continue
		}
		at := indexOf(words, "at")
		if at < 1 {
			f.wrong(unit.at(), "bad", joined(words))
			continue
		}
		bad := BadUnit{Serial: unit.name.text, What: joined(words[:at])}
		if bad.where(unit.collector, words[at+1:], p) {
			all = append(all, bad)
		}
	}
	return all
}

// where reads a key's label or the names of lines.
func (u *BadUnit) where(c *collector, words []word, p *Product) bool {
	if len(words) == 1 && p.Key(words[0].text) >= 0 {
		u.Key = words[0].text
		return true
	}
	for _, w := range words {
		if p.Line(w.text) < 0 {
			c.wrong(w.place, "reference.place", w.text, meant{w.text, append(keyLabels(p.Keys), lineNames(p.Lines)...)})
			return false
		}
		u.Lines = append(u.Lines, w.text)
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
