package judge

import (
	"slices"
	"strconv"
	"time"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/prove"
)

// Sheet is what is written down of a unit while it is tested. Findings are facts on it;
// the sentences of the record are made last.
type Sheet struct {
	product  *product.Product
	Keys     []sequence.KeyResult
	Pairs    []sequence.Pair
	Findings []sequence.Finding

	Shown      prove.Shown           // by readings that were found good
	Insulation []sequence.Insulation // with nothing pressed, as it was read
}

// NewSheet has every key untested.
func NewSheet(p *product.Product) *Sheet {
	s := &Sheet{product: p, Shown: prove.Shown{}}
	for _, k := range p.Keys {
		s.Keys = append(s.Keys, sequence.KeyResult{Key: k.Label, Lines: s.names(k.A, k.B), Verdict: sequence.KeyUntested})
	}
	return s
}

// finding is a finding about some lines.
func (s *Sheet) finding(what string, at sequence.Said, a Amount, lines ...int) sequence.Finding {
	f := sequence.Finding{What: what, At: at}
	for _, l := range lines {
		f.Lines = append(f.Lines, s.product.Lines[l].Name)
		f.Pins = append(f.Pins, s.product.Lines[l].Pin)
	}
	a(&f)
	return f
}

// add writes a finding down, with what is odd about it.
func (s *Sheet) add(f sequence.Finding, how ...sequence.Said) {
	f.How = append(f.How, how...)
	s.Findings = append(s.Findings, f)
}

// fail adds a finding about one key.
func (s *Sheet) fail(k int, what string, a Amount, how ...sequence.Said) {
	s.failAt(k, what, s.atKey(sequence.AtKey, k), a, how...)
}

// failAt is the same, at a place that says more than which key it is.
func (s *Sheet) failAt(k int, what string, at sequence.Said, a Amount, how ...sequence.Said) {
	key := s.product.Keys[k]
	f := s.finding(what, at, a, key.A, key.B)
	f.Key = key.Label
	s.Keys[k].Verdict = sequence.KeyFail
	s.add(f, how...)
}

// drop removes the findings of one kind about keys that a wider cause explains.
func (s *Sheet) drop(what string, keys []int) {
	s.Findings = slices.DeleteFunc(s.Findings, func(f sequence.Finding) bool {
		return f.What == what && slices.ContainsFunc(keys, func(k int) bool { return s.product.Keys[k].Label == f.Key })
	})
}

// found reports whether there is a finding of a kind about a key.
func (s *Sheet) found(what string, k int) bool {
	return slices.ContainsFunc(s.Findings, func(f sequence.Finding) bool {
		return f.What == what && f.Key == s.product.Keys[k].Label
	})
}

// pair writes a connection down, found while a key was held or with nothing pressed.
func (s *Sheet) pair(c Connection, held string) {
	s.Pairs = append(s.Pairs, sequence.Pair{
		Lines: s.names(c.A, c.B), While: held, Ohm: c.Ohm, Forward: &c.Forward, Backward: &c.Backward, Trend: c.Trend,
	})
}

// Knows reports whether this pair was written down as connected with nothing pressed.
func (s *Sheet) Knows(c Connection) bool {
	return slices.ContainsFunc(s.Pairs, func(p sequence.Pair) bool { return p.While == "" && p.Lines == s.names(c.A, c.B) })
}

// read writes down what was read between lines with nothing pressed.
func (s *Sheet) read(step string, between Split, r fixture.Resistance) {
	s.Insulation = append(s.Insulation, sequence.Insulation{
		Step: step, Feed: s.lines(between.Feed), Ground: s.lines(between.Ground), Ohm: r,
	})
}

func (s *Sheet) lines(lines []int) []string {
	names := make([]string, len(lines))
	for i, l := range lines {
		names[i] = s.product.Lines[l].Name
	}
	return names
}

// Labels are those of some keys.
func (s *Sheet) Labels(keys []int) []string {
	var labels []string
	for _, k := range keys {
		labels = append(labels, s.product.Keys[k].Label)
	}
	return labels
}

func (s *Sheet) names(a, b int) [2]string {
	return [2]string{s.product.Lines[a].Name, s.product.Lines[b].Name}
}

// atKey is a place that ends with a key and its lines.
func (s *Sheet) atKey(code sequence.Code, k int, before ...string) sequence.Said {
	key := s.product.Keys[k]
	return sequence.Fact(code, append(before, key.Label, s.product.Lines[key.A].Name, s.product.Lines[key.B].Name)...)
}

// atLines is a place that begins with two lines and their pins.
func (s *Sheet) atLines(code sequence.Code, a, b int) sequence.Said {
	l := s.product.Lines
	return sequence.Fact(code, l[a].Name, strconv.Itoa(l[a].Pin), l[b].Name, strconv.Itoa(l[b].Pin))
}

// Amount fills in value, uncertainty, limit and unit of a finding.
type Amount func(*sequence.Finding)

func nothing(*sequence.Finding) {}

// ohms is a resistance. A reading beyond the range has no value, which says
// "open" better than a number would.
func ohms(r fixture.Resistance, limit quantity.Ohm) Amount {
	return func(f *sequence.Finding) {
		f.Limit, f.Unit = new(sequence.Number(limit)), "ohm"
		if !r.AtLeast {
			f.Value, f.U = new(sequence.Number(r.Value)), new(sequence.Number(r.U))
		}
	}
}

func volts(v fixture.Voltage, limit quantity.Volt) Amount {
	return func(f *sequence.Finding) {
		f.Value, f.U, f.Limit, f.Unit = new(sequence.Number(v.Value)), new(sequence.Number(v.U)), new(sequence.Number(limit)), "V"
	}
}

func millis(d, limit time.Duration) Amount {
	return func(f *sequence.Finding) {
		f.Value, f.U, f.Limit, f.Unit = new(inMillis(d)), new(sequence.Number(0)), new(inMillis(limit)), "ms"
	}
}

// only is a value that has no limit.
func only(value sequence.Number, unit string) Amount {
	return func(f *sequence.Finding) { f.Value, f.Unit = &value, unit }
}

func inMillis(d time.Duration) sequence.Number {
	return sequence.Number(d) / sequence.Number(time.Millisecond)
}
