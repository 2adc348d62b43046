// Package cfx writes a run as the message UnitsTested of IPC-2591 (Connected Factory Exchange), by the
// classes that IPC publishes for it. docs/standard.md says what of a run goes where, what has no
// place there, and what was verified.
package cfx

import (
	"bytes"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"time"

	"github.com/google/uuid"

	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/product"
)

// Version is the one of the standard that messages say they keep to.
const Version = "1.3"

// Why a run is not published.
var (
	ErrNoVerdict = errors.New("the standard has no word for what came of it")
	ErrPurpose   = errors.New("it is no run of production")
)

// Message is a message in its envelope, by the names of the standard. What is null is said to be null.
type Message struct {
	MessageName string
	Version     string
	TimeStamp   time.Time
	UniqueID    string
	Source      string
	Target      *string
	RequestID   *string
	MessageBody Body
}

// Body is what was tested.
type Body struct {
	Type                string `json:"$type"` // first: readers make their object by it
	TransactionID       string `json:"TransactionId"`
	TestMethod          string
	Tester              *Operator
	RecipeName          string
	RecipeRevision      string
	SamplingInformation Sampling
	TestedUnits         []Unit
}

// Operator is a person.
type Operator struct {
	OperatorIdentifier             string
	ActorType                      string
	LastName, FirstName, LoginName *string
}

// Sampling is none: every unit is tested.
type Sampling struct {
	SamplingMethod      string
	LotSize, SampleSize *float64
}

// Unit is one that was tested.
type Unit struct {
	UnitIdentifier     string
	UnitPositionNumber int
	OverallResult      string
	Tests              []Test
}

// Test is one of a unit.
type Test struct {
	UniqueIdentifier           string
	TestName                   string
	TestStartTime, TestEndTime *time.Time
	TestConditions             []struct{}
	TestProcedure, Comments    *string
	Result                     string
	Error                      *string
	SymptomsFound              []Symptom
	DefectsFound               []struct{}
	Measurements               []Measurement
}

// Symptom is a finding: that something is wrong, and not what its cause is.
type Symptom struct {
	UniqueIdentifier     string
	SymptomCode          string
	SymptomCategory      *string
	Description          string
	Comments             *string
	ComponentsOfInterest []struct{}
	RegionOfInterest     *struct{}
	Priority             int
	RelatedMeasurements  []Measurement
}

// Measurement is a number that was read.
type Measurement struct {
	Type             string `json:"$type"`
	MeasuredValue    Value
	UniqueIdentifier string
	MeasurementName  string
	TimeRecorded     *time.Time
	Sequence         int
	Result           string
}

// Value is a number in an SI unit, with the limits that it was held to.
type Value struct {
	Value                  float64
	ValueUnits             string
	ExpectedValue          *float64
	ExpectedValueUnits     *string
	MinimumAcceptableValue *float64
	MaximumAcceptableValue *float64
}

// The results of the standard.
const (
	passed  = "Passed"
	failed  = "Failed"
	inError = "Error"
	aborted = "Aborted"
)

var overall = map[sequence.Outcome]string{
	sequence.Pass: passed, sequence.Fail: failed, sequence.Reseat: inError, sequence.Incomplete: inError, sequence.Aborted: aborted,
}

// Source is the handle of a jig where none is said.
func Source(jig sequence.JigName) string { return fmt.Sprintf("padjig.%s.%s", jig.Model, jig.Serial) }

// Of is the message of a run, judged by a product; the same each time it is made.
func Of(run runs.Stored, p *product.Product, source string) (Message, error) {
	if run.Purpose != sequence.Production {
		return Message{}, fmt.Errorf("run %s: %w but %s", run.ID, ErrPurpose, run.Purpose)
	}
	result, known := overall[run.Outcome]
	if !known {
		return Message{}, fmt.Errorf("run %s: %w: %s", run.ID, ErrNoVerdict, run.Outcome)
	}
	w := writer{run: run, limits: map[string]product.Limits{}}
	for _, k := range p.Keys {
		w.limits[k.Label] = k.Limits
	}
	body := Body{
		Type: "CFX.Production.TestAndInspection.UnitsTested, CFX", TransactionID: run.ID.String(), TestMethod: "Automated",
		RecipeName: run.Product, RecipeRevision: run.Revision, SamplingInformation: Sampling{SamplingMethod: "NoSampling"},
		TestedUnits: []Unit{{UnitIdentifier: run.Serial, UnitPositionNumber: 1, OverallResult: result, Tests: w.tests(result)}},
	}
	if run.Actuation == sequence.Hand {
		body.TestMethod = "Human"
	}
	if run.Operator != "" {
		body.Tester = &Operator{OperatorIdentifier: run.Operator, ActorType: "Human"}
	}
	return Message{
		MessageName: "CFX.Production.TestAndInspection.UnitsTested", Version: Version,
		TimeStamp: run.Started.Add(time.Duration(run.Duration)).UTC(), UniqueID: run.ID.String(), Source: source, MessageBody: body,
	}, nil
}

// Text is the message as it is sent.
func (m Message) Text() ([]byte, error) {
	var text bytes.Buffer
	encoder := json.NewEncoder(&text)
	encoder.SetEscapeHTML(false)
	encoder.SetIndent("", "  ")
	err := encoder.Encode(m)
	return text.Bytes(), err
}

// writer writes the tests of one run.
type writer struct {
	run    runs.Stored
	limits map[string]product.Limits
	read   int // measurements so far
}

// id is the identifier of a part of the run, the same whenever it is asked for.
func (w *writer) id(part string) string {
	return uuid.NewSHA1(uuid.UUID(w.run.ID), []byte(part)).String()
}

func (w *writer) tests(result string) []Test {
	all := []Test{}
	for _, k := range w.run.Keys {
		all = append(all, w.key(k))
	}
	return append(all, w.rest(result))
}

func (w *writer) test(name string) Test {
	return Test{
		UniqueIdentifier: w.id("test " + name), TestName: name, TestConditions: []struct{}{}, Result: passed, SymptomsFound: []Symptom{},
		DefectsFound: []struct{}{}, Measurements: []Measurement{},
	}
}

// key is the test of one key.
func (w *writer) key(k sequence.KeyResult) Test {
	t, limits, found := w.test("key "+k.Key), w.limits[k.Key], map[string]bool{}
	for i, f := range w.run.Findings {
		if f.Key == k.Key {
			t.SymptomsFound = append(t.SymptomsFound, w.symptom(i, f))
			found[f.What] = true
		}
	}
	switch k.Verdict {
	case sequence.KeyFail:
		t.Result = failed
	case sequence.KeyUntested:
		t.Result, t.Error = inError, said("not tested")
	}
	add := func(name, unit string, value, least, most float64, faults ...string) {
		m := w.measured("key "+k.Key+" "+name, value, unit, least, most)
		if slices.ContainsFunc(faults, func(what string) bool { return found[what] }) {
			m.Result = failed
		}
		t.Measurements = append(t.Measurements, m)
	}
	if k.Closed != nil && w.run.Actuation != sequence.Electrical {
		if k.Closed.AtLeast {
			t.Comments = said("contact resistance over range")
		} else {
			add("contact resistance", "Ohm", float64(k.Closed.Value), float64(limits.ClosedMin), float64(limits.ClosedMax), "key high", "key low", "contact unsteady")
		}
	}
	if k.Forward != nil {
		add("diode drop", "V", float64(k.Forward.Value), float64(limits.ForwardMin), float64(limits.ForwardMax), "diode drop", "diode reversed", "diode shorted")
	}
	if k.Make != nil {
		add("bounce on closing", "s", k.Make.Time.Seconds(), 0, limits.Make.Seconds(), "bounce on make")
	}
	if k.Break != nil {
		add("bounce on opening", "s", k.Break.Time.Seconds(), 0, limits.Break.Seconds(), "bounce on break")
	}
	return t
}

// rest is the test of what is no single key's: seating, insulation, wiring, and why a run came to no verdict.
func (w *writer) rest(result string) Test {
	t := w.test("keypad")
	for i, f := range w.run.Findings {
		if f.Key == "" {
			t.SymptomsFound = append(t.SymptomsFound, w.symptom(i, f))
			t.Result = failed
		}
	}
	if w.run.Reason != "" {
		t.Comments = said(w.run.Reason)
	}
	if result == inError || result == aborted {
		t.Result, t.Error = result, said(string(w.run.Outcome))
	}
	return t
}

func (w *writer) symptom(i int, f sequence.Finding) Symptom {
	return Symptom{
		UniqueIdentifier: w.id(fmt.Sprintf("symptom %d", i)), SymptomCode: f.What, Description: f.What + ": " + f.Place,
		ComponentsOfInterest: []struct{}{}, Priority: i + 1, RelatedMeasurements: []Measurement{},
	}
}

func (w *writer) measured(name string, value float64, unit string, least, most float64) Measurement {
	w.read++
	return Measurement{
		Type: "CFX.Structures.NumericMeasurement, CFX", UniqueIdentifier: w.id("measurement " + name), MeasurementName: name, Sequence: w.read,
		Result: passed, MeasuredValue: Value{Value: value, ValueUnits: unit, MinimumAcceptableValue: limit(least), MaximumAcceptableValue: limit(most)},
	}
}

// limit is one that there is: no limit of a keypad is none.
func limit(v float64) *float64 {
	if v <= 0 {
		return nil
	}
	return &v
}

func said(text string) *string { return &text }
