package results

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"errors"
	"fmt"
	"math"
	"strings"
	"time"
	"unicode/utf8"

	"padjig/sequence"
)

// Revision is a product revision, stored once.
type Revision struct {
	Code       string // of the product
	Title      string
	Label      string // the engineer's name of the revision
	Hash       string // of the product's meaning, hexadecimal SHA-256
	Definition []byte // the whole product as canonical JSON
}

// Stored is a run as it lies in the store, complete.
type Stored struct {
	ID    ID
	Seq   int64 // 1, 2, 3 ... in the order of saving: the order of runs
	Saved time.Time
	sequence.Run
}

// record is a run in the units it is stored in. Its JSON, members in this
// order and without spaces, is the canonical record whose SHA-256 goes into
// run.hash; docs/records.md describes it, and a change of it is a new migration.
type record struct {
	ID          ID           `json:"id"`
	Serial      string       `json:"serial"`
	Product     string       `json:"product"`
	Title       string       `json:"title"`
	Revision    string       `json:"revision"`
	Hash        string       `json:"revision_hash"`
	Jig         jigRow       `json:"jig"`
	Station     station      `json:"station"`
	Simulated   bool         `json:"simulated"`
	Actuation   string       `json:"actuation"`
	Operator    string       `json:"operator"`
	Attempt     int          `json:"attempt"`
	Started     int64        `json:"started_us"`
	Duration    int64        `json:"duration_us"`
	Outcome     string       `json:"outcome"`
	Reason      string       `json:"reason"`
	Saved       int64        `json:"saved_us"`
	Mono        *int64       `json:"mono_ns"`
	ClockSynced *bool        `json:"clock_synced"`
	Steps       []stepRow    `json:"steps"`
	Seats       []seatRow    `json:"seats"`
	Keys        []keyRow     `json:"keys"`
	Pairs       []pairRow    `json:"pairs"`
	Findings    []findingRow `json:"findings"`
}

type jigRow struct {
	Serial   string `json:"serial"`
	Model    string `json:"model"`
	Firmware string `json:"firmware"`
	Adapter  string `json:"adapter"`
}

type stepRow struct {
	Name string `json:"step"`
	Done bool   `json:"done"`
	Took int64  `json:"took_us"`
}

type seatRow struct {
	Pin  int    `json:"pin"`
	Line string `json:"line"`
	Good bool   `json:"good"`
	Loop ohms   `json:"loop"`
}

type keyRow struct {
	Key     string    `json:"key"`
	Lines   [2]string `json:"lines"`
	Passed  *bool     `json:"passed"` // nil: untested
	Closed  *ohms     `json:"closed"`
	Make    *bounce   `json:"make"`
	Break   *bounce   `json:"break"`
	Forward *volts    `json:"forward"`
}

type pairRow struct {
	Lines [2]string `json:"lines"`
	While string    `json:"held"`
	Ohms  ohms      `json:"reading"`
}

type findingRow struct {
	What      string   `json:"what"`
	Location  string   `json:"location"`
	Key       string   `json:"key"`
	Lines     []string `json:"lines"`
	Pins      []int    `json:"pins"`
	Value     *float64 `json:"value"`
	ValueOpen bool     `json:"value_open"`
	U         *float64 `json:"u"`
	Limit     *float64 `json:"limit"`
	Unit      string   `json:"unit"`
}

// canonical is the text that stands for the record for ever.
func (r *record) canonical() ([]byte, error) {
	var text bytes.Buffer
	enc := json.NewEncoder(&text)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(r); err != nil {
		return nil, err
	}
	return bytes.TrimSuffix(text.Bytes(), []byte("\n")), nil
}

func (r *record) sum() ([]byte, error) {
	text, err := r.canonical()
	if err != nil {
		return nil, err
	}
	hash := sha256.Sum256(text)
	return hash[:], nil
}

// newRecord scales a run. What cannot be written down is refused, all of it named.
func newRecord(rev Revision, run sequence.Run) (*record, error) {
	r := &record{
		Serial:    run.Serial,
		Product:   rev.Code,
		Title:     rev.Title,
		Revision:  rev.Label,
		Hash:      rev.Hash,
		Jig:       jigRow{text(run.Jig.Serial), text(run.Jig.Model), text(run.Jig.Firmware), text(run.Jig.Adapter)},
		Simulated: run.Simulated,
		Actuation: string(run.Actuation),
		Operator:  text(run.Operator),
		Attempt:   run.Attempt,
		Started:   run.Started.UnixMicro(),
		Duration:  toMicro(run.Duration),
		Outcome:   string(run.Outcome),
		Reason:    text(run.Reason),
		Steps:     toSteps(run.Steps),
		Seats:     []seatRow{}, // canonical: lists, never null
		Keys:      []keyRow{},
		Pairs:     []pairRow{},
		Findings:  []findingRow{},
	}
	refused := append(refusals(rev, run), r.scale(run)...)
	if err := errors.Join(refused...); err != nil {
		return nil, fmt.Errorf("%w: %w", ErrRefused, err)
	}
	return r, nil
}

func (r *record) scale(run sequence.Run) []error {
	var refused []error
	note := func(err error, format string, args ...any) {
		if err != nil {
			refused = append(refused, fmt.Errorf(format+": %w", append(args, err)...))
		}
	}
	for _, seat := range run.Seats {
		loop, err := toOhms(seat.Loop)
		note(err, "pin %d", seat.Pin)
		r.Seats = append(r.Seats, seatRow{seat.Pin, text(seat.Line), seat.Good, loop})
	}
	for _, key := range run.Keys {
		row, err := toKey(key)
		note(err, "key %s", key.Key)
		r.Keys = append(r.Keys, row)
	}
	for _, pair := range run.Pairs {
		reading, err := toOhms(pair.Ohm)
		note(err, "lines %s and %s", pair.Lines[0], pair.Lines[1])
		r.Pairs = append(r.Pairs, pairRow{texts(pair.Lines), text(pair.While), reading})
	}
	for _, finding := range run.Findings {
		row, err := toFinding(finding)
		note(err, "finding %q", finding.What)
		r.Findings = append(r.Findings, row)
	}
	return refused
}

func toSteps(steps []sequence.StepDone) []stepRow {
	rows := []stepRow{}
	for _, step := range steps {
		rows = append(rows, stepRow{text(step.Name), step.Done, toMicro(step.Took)})
	}
	return rows
}

func toKey(k sequence.KeyResult) (keyRow, error) {
	row := keyRow{Key: text(k.Key), Lines: texts(k.Lines)}
	var errs [5]error
	row.Passed, errs[0] = toPassed(k.Verdict)
	row.Closed, errs[1] = convert(k.Closed, toOhms)
	row.Make, errs[2] = convert(k.Make, toBounce)
	row.Break, errs[3] = convert(k.Break, toBounce)
	row.Forward, errs[4] = convert(k.Forward, toVolts)
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

func toFinding(f sequence.Finding) (findingRow, error) {
	row := findingRow{
		What:     text(f.What),
		Location: text(f.Place),
		Key:      text(f.Key),
		Lines:    []string{},
		Pins:     append([]int{}, f.Pins...),
		Unit:     text(f.Unit),
	}
	for _, line := range f.Lines {
		row.Lines = append(row.Lines, text(line))
	}
	var errs [3]error
	row.Value, errs[0] = finite(f.Value)
	row.U, errs[1] = finite(f.U)
	row.Limit, errs[2] = finite(f.Limit)
	row.ValueOpen = f.Value != nil && math.IsInf(*f.Value, 1)
	return row, errors.Join(errs[:]...)
}

// finite drops an infinite number: as a value it is marked beside, as an
// uncertainty or a limit it says nothing.
func finite(v *float64) (*float64, error) {
	switch {
	case v == nil || math.IsInf(*v, 1):
		return nil, nil
	case math.IsNaN(*v) || math.Abs(*v) >= 1e308:
		return nil, fmt.Errorf("%v is no value", *v)
	}
	return new(*v + 0), nil // SQLite knows no negative zero
}

// refusals names what makes a run no record.
func refusals(rev Revision, run sequence.Run) []error {
	var refused []error
	refuse := func(when bool, format string, args ...any) {
		if when {
			refused = append(refused, fmt.Errorf(format, args...))
		}
	}
	refuse(run.Serial == "", "the serial number is empty")
	refuse(run.Serial != text(run.Serial), "the serial number %q is no text", run.Serial)
	refuse(rev.Hash == "", "the product revision has no hash")
	refuse(rev.Code != run.Product || rev.Label != run.Revision || rev.Hash != run.Hash,
		"the run is of %s %s (%s), the revision given is %s %s (%s)",
		run.Product, run.Revision, run.Hash, rev.Code, rev.Label, rev.Hash)
	refuse(!json.Valid(rev.Definition), "the product definition is no JSON")
	for _, word := range []string{rev.Code, rev.Title, rev.Label, rev.Hash} {
		refuse(word != text(word), "%q in the product revision is no text", word)
	}
	refuse(run.Attempt < 1, "attempt %d; the first is 1", run.Attempt)
	refuse(run.Duration < 0, "duration %v", run.Duration)
	refuse(!known(run.Actuation, "", sequence.Mechanical, sequence.Electrical, sequence.Hand),
		"actuation %q is none", run.Actuation)
	refuse(!known(run.Outcome, sequence.Pass, sequence.Fail, sequence.Reseat, sequence.Incomplete, sequence.Aborted),
		"outcome %q is none", run.Outcome)
	if run.Outcome == sequence.Pass {
		refused = append(refused, unsupported(run)...)
	}
	return refused
}

// unsupported names what speaks against a pass.
func unsupported(run sequence.Run) []error {
	var against []error
	if len(run.Keys) == 0 {
		against = append(against, errors.New("it passed without a key"))
	}
	for _, key := range run.Keys {
		if key.Verdict != sequence.KeyPass {
			against = append(against, fmt.Errorf("it passed with key %s %s", key.Key, key.Verdict))
		}
	}
	for _, finding := range run.Findings {
		against = append(against, fmt.Errorf("it passed with the finding %q at %s", finding.What, finding.Place))
	}
	for _, step := range run.Steps {
		if !step.Done {
			against = append(against, fmt.Errorf("it passed without the step %q", step.Name))
		}
	}
	return against
}

func known[T comparable](v T, among ...T) bool {
	for _, a := range among {
		if v == a {
			return true
		}
	}
	return false
}

// text makes s storable as text: a jig's name with a damaged byte in it must
// not cost a result. SQLite's shell would stop reading at a zero byte.
func text(s string) string {
	if utf8.ValidString(s) && !strings.Contains(s, "\x00") {
		return s
	}
	return strings.ReplaceAll(strings.ToValidUTF8(s, "\uFFFD"), "\x00", "\uFFFD")
}

func texts(s [2]string) [2]string { return [2]string{text(s[0]), text(s[1])} }

// stored gives the run back in the units of the program.
func (r *record) stored(seq int64) Stored {
	run := sequence.Run{
		Serial:    r.Serial,
		Product:   r.Product,
		Revision:  r.Revision,
		Hash:      r.Hash,
		Jig:       sequence.JigName(r.Jig),
		Simulated: r.Simulated,
		Actuation: sequence.Actuation(r.Actuation),
		Operator:  r.Operator,
		Attempt:   r.Attempt,
		Started:   time.UnixMicro(r.Started).UTC(),
		Duration:  fromMicro(r.Duration),
		Outcome:   sequence.Outcome(r.Outcome),
		Reason:    r.Reason,
		Steps:     each(r.Steps, stepRow.step),
		Seats:     each(r.Seats, seatRow.seat),
		Keys:      each(r.Keys, keyRow.result),
		Pairs:     each(r.Pairs, pairRow.pair),
		Findings:  each(r.Findings, findingRow.finding),
	}
	return Stored{ID: r.ID, Seq: seq, Saved: time.UnixMicro(r.Saved).UTC(), Run: run}
}

func each[A, B any](list []A, to func(A) B) []B {
	var all []B
	for _, a := range list {
		all = append(all, to(a))
	}
	return all
}

func (r stepRow) step() sequence.StepDone {
	return sequence.StepDone{Name: r.Name, Done: r.Done, Took: fromMicro(r.Took)}
}

func (r seatRow) seat() sequence.Seat {
	return sequence.Seat{Pin: r.Pin, Line: r.Line, Loop: r.Loop.resistance(), Good: r.Good}
}

func (r keyRow) result() sequence.KeyResult {
	return sequence.KeyResult{
		Key:     r.Key,
		Lines:   r.Lines,
		Verdict: verdict(r.Passed),
		Closed:  read(r.Closed, ohms.resistance),
		Forward: read(r.Forward, volts.voltage),
		Make:    read(r.Make, bounce.reading),
		Break:   read(r.Break, bounce.reading),
	}
}

func verdict(passed *bool) sequence.Verdict {
	switch {
	case passed == nil:
		return sequence.KeyUntested
	case *passed:
		return sequence.KeyPass
	}
	return sequence.KeyFail
}

func read[A, B any](a *A, to func(A) B) *B {
	if a == nil {
		return nil
	}
	return new(to(*a))
}

func (r pairRow) pair() sequence.Pair {
	return sequence.Pair{Lines: r.Lines, While: r.While, Ohm: r.Ohms.resistance()}
}

func (r findingRow) finding() sequence.Finding {
	f := sequence.Finding{
		What: r.What, Place: r.Location, Key: r.Key,
		Value: r.Value, U: r.U, Limit: r.Limit, Unit: r.Unit,
		Lines: append([]string(nil), r.Lines...),
		Pins:  append([]int(nil), r.Pins...),
	}
	if r.ValueOpen {
		f.Value = new(math.Inf(1))
	}
	return f
}
