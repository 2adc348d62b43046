// Package units is the question which units stand behind a point, a bar or a cell.
package units

import (
	"context"
	"math"
	"net/url"
	"strconv"
	"strings"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/lines"
)

// UnitsAsked asks for units.
type UnitsAsked struct {
	answers.Selection
	Behind lines.Behind
	Last   int // newest ones that are listed; 0: [answers.Last]
}

// Units is the answer: a unit counts once, where it was judged first.
type Units struct {
	UnitsAsked
	Rows        []lines.Unit // the newest first
	All         int          // how many there are
	More        bool         // there are more than All: they were not counted further
	Conclusions []answers.Sentence
}

// AskUnits lists units.
func AskUnits(ctx context.Context, s *results.Store, a UnitsAsked) (Units, error) {
	if a.Last == 0 {
		a.Last = answers.Last
	}
	u := Units{UnitsAsked: a}
	if err := a.Behind.Check(); err != nil {
		return u, err
	}
	clock, err := s.Floor.Clock(ctx)
	if err != nil {
		return u, err
	}
	if u.Rows, u.All, u.More, err = s.Lines.Units(ctx, a.Filter, a.Behind, a.Last); err != nil {
		return u, err
	}
	if u.All == 0 {
		return u, a.NoUnits()
	}
	passed := 0
	for i := range u.Rows {
		u.Rows[i].Started = u.Rows[i].Started.In(clock.Zone())
		if u.Rows[i].Passed {
			passed++
		}
	}
	u.Conclusions = []answers.Sentence{answers.Say("units.words", u.All, passed, len(u.Rows)-passed)}
	if u.More || u.All > len(u.Rows) {
		code := "units.newest"
		if u.More {
			code = "units.many"
		}
		u.Conclusions = []answers.Sentence{answers.Say(code, u.All, len(u.Rows), passed, len(u.Rows)-passed)}
	}
	return u, nil
}

// The names of the parameters of an address, beside those of a filter.
const (
	Runs    = "runs" // numbers of the first and the last: "120-124"
	Verdict = "verdict"
	Cause   = "cause" // what causes are told apart by
	Is      = "is"    // the cause
	Worst   = "worst"
	Measure = "measure"
	Key     = "key"
	Low     = "low"
	High    = "high"
	Pin     = "pin"   // number of a pin with doubtful contact
	On      = "on"    // the jig where
	Among   = "among" // numbers of the runs in which: "120-9000"
)

// Values writes a choice as parameters of an address; [Parse] reads them back the same.
func Values(b lines.Behind) url.Values {
	v := url.Values{}
	set := func(name, value string) {
		if value != "" {
			v.Set(name, value)
		}
	}
	if b.Last != 0 {
		v.Set(Runs, span(b.First, b.Last))
	}
	if b.Pin != 0 {
		v.Set(Pin, strconv.Itoa(b.Pin))
	}
	set(On, b.On)
	if b.Until != 0 {
		v.Set(Among, span(b.Since, b.Until))
	}
	set(Verdict, b.Verdict)
	if b.Cause != "" {
		set(Cause, string(b.By))
		set(Is, b.Cause)
		if b.Worst {
			v.Set(Worst, "1")
		}
	}
	set(Measure, string(b.Measure))
	set(Key, b.Key)
	for name, value := range map[string]float64{Low: b.Low, High: b.High} {
		if !math.IsNaN(value) {
			v.Set(name, strconv.FormatFloat(value, 'g', -1, 64))
		}
	}
	return v
}

func span(first, last int64) string {
	return strconv.FormatInt(first, 10) + "-" + strconv.FormatInt(last, 10)
}

// Everything is a choice of all.
func Everything() lines.Behind { return lines.Behind{Low: math.NaN(), High: math.NaN()} }

// Parse reads a choice from parameters of an address or from flags of these names.
func Parse(v url.Values) (lines.Behind, error) {
	text := func(name string) string { return strings.TrimSpace(v.Get(name)) }
	b := Everything()
	b.Verdict, b.Cause, b.Measure, b.Key, b.Worst = text(Verdict), text(Is), lines.Measure(text(Measure)), text(Key), text(Worst) == "1"
	if b.Cause != "" {
		b.By = lines.CauseDimension(text(Cause))
		if b.By == "" {
			b.By = answers.DefaultCause
		}
	}
	var err error
	if b.First, b.Last, err = Span(text(Runs)); err != nil {
		return b, err
	}
	b.On = text(On)
	if b.Since, b.Until, err = Span(text(Among)); err != nil {
		return b, err
	}
	if t := text(Pin); t != "" {
		if b.Pin, err = strconv.Atoi(t); err != nil || b.Pin < 1 {
			return b, &NumberError{Pin, t}
		}
	}
	for name, into := range map[string]*float64{Low: &b.Low, High: &b.High} {
		if t := text(name); t != "" {
			if *into, err = strconv.ParseFloat(t, 64); err != nil || math.IsNaN(*into) {
				return b, &NumberError{name, t}
			}
		}
	}
	return b, b.Check()
}

// NumberError is returned for a bound that is no number.
type NumberError struct{ Name, Text string }

// Error says what to write.
func (e *NumberError) Error() string {
	return e.Name + " " + strconv.Quote(e.Text) + " is no number: write one such as 61.5"
}

// SpanError is returned for numbers of runs that are none.
type SpanError struct{ Text string }

// Error says what to write.
func (e *SpanError) Error() string {
	return "runs " + strconv.Quote(e.Text) + ": write the numbers of the first and the last, such as 120-124"
}

// Span reads numbers of runs, the first and the last: "120-124"; empty for all.
func Span(text string) (first, last int64, err error) {
	if text == "" {
		return 0, 0, nil
	}
	from, to, _ := strings.Cut(text, "-")
	first, wrong := strconv.ParseInt(from, 10, 64)
	last, also := strconv.ParseInt(to, 10, 64)
	if wrong != nil || also != nil || first < 1 || last < first {
		return 0, 0, &SpanError{text}
	}
	return first, last, nil
}
