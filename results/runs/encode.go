package runs

import (
	"errors"
	"fmt"
	"math"
	"time"

	"padjig/fixture"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/prove"
)

// newRecord scales a run. What cannot be written down is refused, all of it named.
func newRecord(rev Revision, run sequence.Run) (*Record, error) {
	r := &Record{
		Serial:    run.Serial,
		Product:   rev.Code,
		Title:     rev.Title,
		Revision:  rev.Label,
		Hash:      rev.Hash,
		Jig:       ToJig(run.Jig),
		Simulated: run.Simulated,
		Actuation: string(run.Actuation),
		Operator:  store.Text(run.Operator),
		Attempt:   run.Attempt,
		Started:   run.Started.UnixMicro(),
		Duration:  store.ToMicro(time.Duration(run.Duration)),
		Outcome:   string(run.Outcome),
		Reason:    store.Text(run.Reason),
		Steps:     toSteps(run.Steps),
		Seats:     []seatRow{}, // canonical: lists, never null
		Keys:      []KeyRow{},
		Pairs:     []pairRow{},
		Findings:  []FindingRow{},
		Purpose:   string(run.Purpose),
		Case:      run.Case,
		Why:       toSaid(run.Why),
		Proofs:    toProofs(run.Proofs),
	}
	r.Verdict = r.Outcome // an electrical pass, for which that is not so, is refused
	refused := append(refusals(rev, run), r.scale(run)...)
	if err := errors.Join(refused...); err != nil {
		return nil, fmt.Errorf("%w: %w", store.ErrRefused, err)
	}
	return r, nil
}

func (r *Record) scale(run sequence.Run) []error {
	var refused []error
	note := func(err error, format string, args ...any) {
		if err != nil {
			refused = append(refused, fmt.Errorf(format+": %w", append(args, err)...))
		}
	}
	for _, seat := range run.Seats {
		loop, err := toContact(seat.Loop)
		note(err, "pin %d", seat.Pin)
		r.Seats = append(r.Seats, seatRow{seat.Pin, store.Text(seat.Line), seat.Good, loop})
	}
	for _, key := range run.Keys {
		row, err := toKey(key)
		note(err, "key %s", key.Key)
		r.Keys = append(r.Keys, row)
	}
	for _, pair := range run.Pairs {
		row, err := toPair(pair)
		note(err, "lines %s and %s", pair.Lines[0], pair.Lines[1])
		r.Pairs = append(r.Pairs, row)
	}
	for _, one := range run.Insulation {
		ohms, err := toOhms(one.Ohm)
		note(err, "insulation at %s", one.Step)
		r.Insulation = append(r.Insulation, insulationRow{
			store.Text(one.Step), list(one.Feed), list(one.Ground), ohms,
		})
	}
	for _, finding := range run.Findings {
		row, err := toFinding(finding)
		note(err, "finding %q", finding.What)
		r.Findings = append(r.Findings, row)
	}
	for _, key := range run.Exercised {
		row, err := toExercise(key)
		note(err, "exercise of key %s", key.Key)
		r.Exercised = append(r.Exercised, row)
	}
	return refused
}

// list is one of texts, never null.
func list(names []string) []string { return append([]string{}, store.Each(names, store.Text)...) }

// toProofs is an account as it is stored; nil for a run of which it is not known.
func toProofs(a *prove.Account) *prove.Account {
	if a == nil {
		return nil
	}
	gaps := func(of []prove.Gap) []prove.Gap {
		return append([]prove.Gap{}, store.Each(of, func(g prove.Gap) prove.Gap {
			return prove.Gap{Proof: g.Proof, Of: store.Each(g.Of, store.Text)}
		})...)
	}
	return &prove.Account{Proved: append([]prove.Proof{}, a.Proved...), Missing: gaps(a.Missing), NotRequired: gaps(a.NotRequired)}
}

// ToJig is a jig as it is stored.
func ToJig(j sequence.JigName) sequence.JigName {
	return sequence.JigName{
		Serial: store.Text(j.Serial), Model: store.Text(j.Model), Firmware: store.Text(j.Firmware), Adapter: store.Text(j.Adapter),
	}
}

func toSteps(steps []sequence.StepDone) []stepRow {
	rows := []stepRow{}
	for _, step := range steps {
		rows = append(rows, stepRow{store.Text(step.Name), step.Done, store.ToMicro(time.Duration(step.Took))})
	}
	return rows
}

func toKey(k sequence.KeyResult) (KeyRow, error) {
	row := KeyRow{Key: store.Text(k.Key), Lines: texts(k.Lines)}
	var errs [7]error
	row.Passed, errs[0] = toPassed(k.Verdict)
	row.Closed, errs[1] = convert(k.Closed, toContact)
	row.Make, errs[2] = convert(k.Make, toBounce)
	row.Break, errs[3] = convert(k.Break, toBounce)
	row.Forward, errs[4] = convert(k.Forward, toVolts)
	row.Reverse, errs[5] = convert(k.Reverse, toOhms)
	row.Two, errs[6] = convert(k.Two, toTwo)
	return row, errors.Join(errs[:]...)
}

func toTwo(t fixture.TwoCurrents) (row twoRow, err error) {
	row.Conduction = t.Conduction
	var errs [3]error
	row.Small, errs[0] = toAtCurrent(t.Small)
	row.Large, errs[1] = toAtCurrent(t.Large)
	if !known(t.Conduction, fixture.Ohmic, fixture.NotOhmic, fixture.Unsteady) {
		errs[2] = fmt.Errorf("conduction %q is none", t.Conduction)
	}
	return row, errors.Join(errs[:]...)
}

func toAtCurrent(a fixture.AtCurrent) (atCurrent, error) {
	ohms, err := toOhms(a.Resistance)
	i := float64(a.Current) * pico
	switch {
	case err != nil:
		return atCurrent{}, err
	case ohms.MilliOhm == nil || ohms.AtLeast || math.IsNaN(i) || math.Abs(i) > beyond:
		return atCurrent{}, fmt.Errorf("%v at %v is no reading of a contact", a.Resistance, a.Current)
	}
	return atCurrent{int64(math.Round(i)), *ohms.MilliOhm, ohms.U}, nil
}

func toPair(p sequence.Pair) (pairRow, error) {
	row := pairRow{Lines: texts(p.Lines), While: store.Text(p.While), Trend: string(p.Trend)}
	var errs [4]error
	row.Ohms, errs[0] = toOhms(p.Ohm)
	row.Forward, errs[1] = convert(p.Forward, toOhms)
	row.Backward, errs[2] = convert(p.Backward, toOhms)
	if !known(p.Trend, "", sequence.Steady, sequence.Rising, sequence.Falling) {
		errs[3] = fmt.Errorf("trend %q is none", p.Trend)
	}
	return row, errors.Join(errs[:]...)
}

func toPassed(v sequence.Verdict) (*bool, error) {
	switch v {
	case sequence.KeyPass:
		return new(true), nil
	case sequence.KeyFail:
		return new(false), nil
	case sequence.KeyUntested:
		return nil, nil
	}
	return nil, fmt.Errorf("verdict %q is none", v)
}

// convert keeps nil, which is "not measured", nil.
func convert[A, B any](a *A, to func(A) (B, error)) (*B, error) {
	if a == nil {
		return nil, nil
	}
	b, err := to(*a)
	return &b, err
}

func toExercise(e sequence.KeyExercise) (exerciseRow, error) {
	row := exerciseRow{
		Key: store.Text(e.Key), Presses: e.Presses, Misses: e.Misses, High: e.High, Sticks: e.Sticks, First: e.First,
		Make: store.ToMicro(time.Duration(e.Make)), Break: store.ToMicro(time.Duration(e.Break)),
		Held: toHold(e.Held), Flexed: toHold(e.Flexed),
	}
	var errs [2]error
	row.Least, errs[0] = convert(e.Least, toContact)
	row.Most, errs[1] = convert(e.Most, toContact)
	return row, errors.Join(errs[:]...)
}

func toHold(h fixture.Hold) hold {
	return hold{store.ToMicro(h.Watched), h.Openings, store.ToMicro(h.Longest), h.AtLeast}
}

func toFinding(f sequence.Finding) (FindingRow, error) {
	row := FindingRow{
		What:     store.Text(f.What),
		Location: store.Text(f.Place),
		Key:      store.Text(f.Key),
		Lines:    []string{},
		Pins:     append([]int{}, f.Pins...),
		Unit:     store.Text(f.Unit),
		Site:     toSaid(f.At),
	}
	for _, how := range f.How {
		row.How = append(row.How, toSaid(how))
	}
	for _, line := range f.Lines {
		row.Lines = append(row.Lines, store.Text(line))
	}
	var errs [3]error
	row.Value, errs[0] = finite(f.Value)
	row.U, errs[1] = finite(f.U)
	row.Limit, errs[2] = finite(f.Limit)
	row.ValueOpen = f.Value != nil && math.IsInf(float64(*f.Value), 1)
	return row, errors.Join(errs[:]...)
}

// finite drops an infinite number: as a value it is marked beside, as an
// uncertainty or a limit it says nothing.
func finite(v *sequence.Number) (*sequence.Number, error) {
	switch {
	case v == nil || math.IsInf(float64(*v), 1):
		return nil, nil
	case math.IsNaN(float64(*v)) || math.Abs(float64(*v)) >= 1e308:
		return nil, fmt.Errorf("%v is no value", *v)
	}
	return new(*v + 0), nil // SQLite knows no negative zero
}

func texts(s [2]string) [2]string { return [2]string{store.Text(s[0]), store.Text(s[1])} }
