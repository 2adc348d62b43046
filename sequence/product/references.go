package product

import (
	"slices"
	"strconv"
	"strings"
	"time"

	"padjig/sequence/fields"
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

func readReferences(o fields.Object, p *Product) *References {
	l, ok := o.Section("references", "every", "within", "good", "bad")
	if !ok {
		return nil
	}
	refs := &References{Every: usualEvery, Within: usualWithin}
	if f, ok := l.Get("every"); ok {
		readEvery(f, refs)
	}
	if f, ok := l.Get("within"); ok {
		text := fields.Joined(f.Words())
		if v, ok := numberOf(text, "%"); ok && v > 0 && v <= 100 {
			refs.Within = v / 100
		} else {
			f.Wrong(f.At(), "within", text)
		}
	}
	taken := map[string]bool{}
	for _, w := range l.List("good") {
		if newReference(l.Collector, w, taken) {
			refs.Good = append(refs.Good, w.Text)
		}
	}
	if f, ok := l.Get("bad"); ok {
		refs.Bad = badUnits(f, p, taken)
	}
	if len(refs.Good) == 0 {
		l.Wrong(l.At, "references.none")
	}
	return refs
}

func newReference(c *fields.Collector, w fields.Word, taken map[string]bool) bool {
	if taken[w.Text] {
		c.Wrong(w.Place, "reference.twice", w.Text)
		return false
	}
	taken[w.Text] = true
	return true
}

// readEvery reads "8 h", "200 units", or both with "or" between.
func readEvery(f fields.Field, refs *References) {
	words := f.Words()
	refs.Every, refs.Units = 0, 0
	for i := 0; i+1 < len(words); i += 3 {
		n, err := strconv.ParseFloat(words[i].Text, 64)
		unit := words[i+1].Text
		joint := i+2 >= len(words) || words[i+2].Text == "or"
		switch {
		case err != nil || !(n > 0 && n <= 1e6) || !joint:
			f.Wrong(f.At(), "every", fields.Joined(words))
			return
		case unit == "h":
			refs.Every = time.Duration(n * float64(time.Hour))
		case unit == "min":
			refs.Every = time.Duration(n * float64(time.Minute))
		case unit == "units" && n == float64(int(n)):
			refs.Units = int(n)
		default:
			f.Wrong(words[i+1].Place, "every.unit", unit)
			return
		}
	}
	if refs.Every == 0 && refs.Units == 0 {
		f.Wrong(f.At(), "every", fields.Joined(words))
	}
}

// badUnits reads each as "SERIAL: FINDING at PLACE".
func badUnits(f fields.Field, p *Product, taken map[string]bool) (all []BadUnit) {
	if !f.IsSet() {
		f.Wrong(f.At(), "bad.not")
		return nil
	}
	for _, unit := range f.Object("bad").Fields {
		words := unit.Words()
		if len(words) == 0 || !newReference(f.Collector, unit.Name, taken) {
			continue
		}
		at := fields.IndexOf(words, "at")
		if at < 1 {
			f.Wrong(unit.At(), "bad", fields.Joined(words))
			continue
		}
		bad := BadUnit{Serial: unit.Name.Text, What: fields.Joined(words[:at])}
		if bad.where(unit.Collector, words[at+1:], p) {
			all = append(all, bad)
		}
	}
	return all
}

// where reads a key's label or the names of lines.
func (u *BadUnit) where(c *fields.Collector, words []fields.Word, p *Product) bool {
	if len(words) == 1 && p.Key(words[0].Text) >= 0 {
		u.Key = words[0].Text
		return true
	}
	for _, w := range words {
		if p.Line(w.Text) < 0 {
			c.Wrong(w.Place, "reference.place", w.Text, fields.Suggest(w.Text, append(keyLabels(p.Keys), lineNames(p.Lines)...)))
			return false
		}
		u.Lines = append(u.Lines, w.Text)
	}
	return true
}

// All are the serial numbers of all reference units, none where a product demands none.
func (r *References) All() []string {
	if r == nil {
		return nil
	}
	units := slices.Clone(r.Good)
	for _, bad := range r.Bad {
		units = append(units, bad.Serial)
	}
	return units
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
