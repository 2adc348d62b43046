package revise

import (
	"slices"

	"padjig/fixture"
	"padjig/sequence"
	"padjig/sequence/decide"
	"padjig/sequence/judge"
	"padjig/sequence/product"
)

// Again is what a recorded run would have been by a definition, as far as its record
// goes: the readings that were kept are judged by what judges a test, and what was found
// without one stays found.
type Again struct {
	sequence.Run          // with outcome, keys and findings anew
	Unread       []string // keys of the definition of which the record has no reading
	Doubtful     []string // keys in the guard band, which a test would read once more
}

// Judge judges a recorded run of a pass or a fail once more.
func Judge(p *product.Product, run sequence.Run) Again {
	set := &judge.Setting{Product: p, Actuation: run.Actuation, Closure: judge.ClosureOf(p)}
	j := &judgement{set: set, sheet: judge.NewSheet(p), run: run}
	j.keys = judge.NewKeys(set, j.sheet, judge.NewRest(set, j.sheet))
	for k := range p.Keys {
		j.key(k)
	}
	out := Again{Run: run, Unread: j.unread, Doubtful: j.doubtful}
	out.Findings = nil
	out.Keys = j.sheet.Keys
	now := j.said()
	for _, f := range run.Findings {
		if stays := !j.settled(f); stays && (f.What != "line resistance" || j.explains(f, &now)) {
			out.Findings = append(out.Findings, f)
		}
	}
	out.Findings = append(out.Findings, now...)
	sequence.SortFindings(out.Findings)
	switch {
	case len(out.Findings) > 0:
		out.Outcome = sequence.Fail
	case len(j.unread) > 0:
		out.Outcome = sequence.Incomplete
	default:
		out.Outcome = sequence.Pass
	}
	for _, f := range out.Findings {
		if k := p.Key(f.Key); k >= 0 {
			out.Keys[k].Verdict = sequence.KeyFail
		}
	}
	out.Revision, out.Hash = p.Revision, p.Hash()
	return out
}

// said are the findings on the sheet in the words of the record. Those of the run have theirs.
func (j *judgement) said() []sequence.Finding {
	words := sequence.Run{Findings: j.sheet.Findings}
	sequence.Plain().Spell(&words)
	return words.Findings
}

// explains reports whether a resistance added to a line is what still makes keys on it read
// high, and takes these away: it stands in their place.
func (j *judgement) explains(f sequence.Finding, now *[]sequence.Finding) bool {
	before := len(*now)
	*now = slices.DeleteFunc(*now, func(key sequence.Finding) bool {
		return key.What == "key high" && slices.ContainsFunc(f.Lines, func(line string) bool { return slices.Contains(key.Lines, line) })
	})
	return len(*now) < before
}

type judgement struct {
	set              *judge.Setting
	sheet            *judge.Sheet
	keys             *judge.Keys
	run              sequence.Run
	unread, doubtful []string
}

// key judges what was read of a key.
func (j *judgement) key(k int) {
	key := j.set.Product.Keys[k]
	i := slices.IndexFunc(j.run.Keys, func(r sequence.KeyResult) bool {
		return r.Key == key.Label && judge.Joins(key, j.set.Product.Line(r.Lines[0]), j.set.Product.Line(r.Lines[1]))
	})
	if i < 0 {
		j.unread = append(j.unread, key.Label)
		return
	}
	r := j.run.Keys[i]
	j.sheet.Keys[k].Verdict = r.Verdict
	if r.Closed == nil || key.Diode != product.NoDiode && (r.Forward == nil || r.Reverse == nil) {
		if r.Verdict == sequence.KeyPass { // it had no diode then, or its kind of reading is older than the record
			j.unread = append(j.unread, key.Label)
		}
		return
	}
	// What was read at one current says nothing of the other, but that a contact is no good.
	asked := j.set.Product.ContactCurrent(k) > 0
	if asked && r.Two == nil && r.Verdict == sequence.KeyPass {
		j.unread = append(j.unread, key.Label)
		return
	}
	v := judge.Value{Closed: *r.Closed, Two: r.Two}
	if r.Two != nil && !asked {
		v.Closed = r.Two.Large.Resistance
	}
	if key.Diode != product.NoDiode {
		v.Forward, v.Reverse = r.Forward, *r.Reverse
	}
	// No connection is known beside the key: what one does to a reading is in its uncertainty already.
	_ = j.keys.Held(k, v)
	if judge.ClosedWithin(v.Closed, key.Limits.ClosedMin, key.Limits.ClosedMax, key.Limits.Guard) == decide.Doubtful {
		j.doubtful = append(j.doubtful, key.Label)
	}
	if r.Make != nil && !j.says("teases", key.Label) {
		j.keys.Made(k, fixture.Edge{Settled: true, Ends: true, Bounce: *r.Make}, true)
	}
	if r.Break != nil {
		j.keys.Broke(k, fixture.Edge{Settled: true, Ends: true, Bounce: *r.Break}, fixture.Resistance{AtLeast: true})
	}
	j.sheet.Keys[k].Closed, j.sheet.Keys[k].Forward, j.sheet.Keys[k].Reverse = r.Closed, r.Forward, r.Reverse
	j.sheet.Keys[k].Make, j.sheet.Keys[k].Break, j.sheet.Keys[k].Two = r.Make, r.Break, r.Two
}

// says reports whether the run has a finding of a kind about a key.
func (j *judgement) says(what, key string) bool {
	return slices.ContainsFunc(j.run.Findings, func(f sequence.Finding) bool { return f.What == what && f.Key == key })
}

// settled reports whether a finding of the run does not stay: it is about what the
// definition has not, or it follows from a reading that was judged anew.
func (j *judgement) settled(f sequence.Finding) bool {
	p := j.set.Product
	k := p.Key(f.Key)
	if f.Key != "" && k < 0 || slices.ContainsFunc(f.Lines, func(name string) bool { return p.Line(name) < 0 }) {
		return true
	}
	switch f.What {
	case "key high", "key low":
		return j.read(f.Key, func(r sequence.KeyResult) bool { return r.Closed != nil })
	case "diode drop", "diode shorted":
		return k >= 0 && p.Keys[k].Diode == product.NoDiode ||
			j.read(f.Key, func(r sequence.KeyResult) bool { return r.Forward != nil && r.Reverse != nil && r.Closed != nil })
	case "bounce on make":
		return j.read(f.Key, func(r sequence.KeyResult) bool { return r.Make != nil && r.Closed != nil })
	case "bounce on break":
		return j.read(f.Key, func(r sequence.KeyResult) bool { return r.Break != nil && r.Closed != nil })
	case "ghost key":
		return !p.Test.Rectangles
	case "leak":
		return j.holds(f)
	}
	return false
}

// read reports whether a key of the run was judged anew by what was read of it.
func (j *judgement) read(label string, has func(sequence.KeyResult) bool) bool {
	return !slices.Contains(j.unread, label) &&
		slices.ContainsFunc(j.run.Keys, func(r sequence.KeyResult) bool { return r.Key == label && has(r) })
}

// holds reports whether a leak is none by the limit of the definition. One that came and
// went stays what it is.
func (j *judgement) holds(f sequence.Finding) bool {
	if len(f.Lines) != 2 || f.Says(sequence.Gone) || f.Says(sequence.GoneAgain) || f.Says(sequence.WhileFalling) {
		return false
	}
	i := slices.IndexFunc(j.run.Pairs, func(p sequence.Pair) bool { return p.While == "" && slices.Equal(p.Lines[:], f.Lines) })
	if i < 0 {
		return false
	}
	limit, guard := j.set.AtRest(j.set.Product.Line(f.Lines[0]), j.set.Product.Line(f.Lines[1]))
	return judge.Apart(j.run.Pairs[i].Ohm, limit, guard) == decide.Accepted
}

// Tried reports whether a change shows when runs of before are judged anew. What a run
// does not keep cannot: connections that were good, and whatever was done otherwise.
func (c Change) Tried() bool {
	switch c.Code {
	case ContactLeast, ContactMost, DropLeast, DropMost, ClosingBounce, OpeningBounce, GuardBand, KeyRemoved, ReferenceGone,
		ReferenceNew, ReferenceFault, ReferenceBand:
		return true
	case InsulationMost, Rectangles:
		return c.Class == Looser
	}
	return c.Class == Neutral
}

// Blind are the changes that do not show in runs of before.
func Blind(changes []Change) []Change {
	return slices.DeleteFunc(slices.Clone(changes), Change.Tried)
}
