package station

import (
	"context"
	"errors"

	"padjig/cmd/padjig/station/apart"
	"padjig/sequence"
	"padjig/sequence/wording"
)

// Kind sorts what keeps a unit from being tested, or its result from being kept.
type Kind int

// The kinds.
const (
	Wrong       Kind = iota + 1 // a unit that must not be tested, or wrong use
	NotMeasured                 // the jig could not, or must not
	NotRecorded                 // the records could not take or give it
)

// Code names the sentence that says a refusal, a warning or a condition.
type Code string

// The codes, each with its arguments.
const (
	SerialWrong      Code = "serial wrong"         // serial, example
	SerialMisread    Code = "serial misread"       // serial
	OtherProduct     Code = apart.OtherProduct     // serial, what it is, what is asked for
	PassedAlready    Code = apart.PassedAlready    // serial, revision, where
	AttemptsUsed     Code = apart.AttemptsUsed     // serial, times, product, where
	AttemptsSpent    Code = apart.AttemptsSpent    // serial, times failed, times stopped after a finding, times not finished, product, where
	SamePadAgain     Code = "same pad again"       // serial, times, where
	InHand           Code = "in hand"              // serial, station, jig, since
	LookedAt         Code = "looked at"            // serial: a check is made on it elsewhere
	LabelTaken       Code = "label taken"          // product, revision as it is known, differences
	NotReleased      Code = "not released"         // product, revision, the one in force, its hash
	NotFromSerial    Code = "not from serial"      // serial, revision, serial from which it holds
	EarlierSerial    Code = "earlier serial"       // serial, revision, serial from which it holds, the one that holds before, its hash
	ReleaseAltered   Code = "release altered"      // product, revision
	NoRecords        Code = "no records"           // none
	RecordsMoved     Code = "records moved"        // none
	NoRoom           Code = "no room"              // none
	NoJig            Code = "no jig"               // jig
	NotPlanned       Code = "not planned"          // jig
	NotProvable      Code = "not provable"         // jig, product, proofs
	PartialTest      Code = "partial"              // jig, product, proofs: a warning
	LidOpen          Code = "lid open"             // none
	EmergencyStop    Code = "emergency stop"       // none
	NotStarted       Code = "not started"          // none
	NotOpened        Code = "not opened"           // serial of the unit in the jig, serial scanned, jig
	NotEmptied       Code = "not emptied"          // likewise, on a jig that sees by its loops what lies in it
	NotShown         Code = "not shown"            // likewise, on a jig that sees nothing of it
	NotReseated      Code = "not reseated"         // serial
	NestEmpty        Code = "nest empty"           // serial scanned
	NestUnseen       Code = "nest unseen"          // jig
	PartWorn         Code = "part worn"            // part, uses, limit
	PartWearing      Code = "part wearing"         // part, uses, limit
	AdapterWrong     Code = "adapter wrong"        // adapter, jig, those that fit
	AdapterUnknown   Code = "adapter unknown"      // jig, those that fit
	AdapterChanged   Code = "adapter changed"      // adapter, jig, the one before
	ReferenceDue     Code = "reference due"        // unit
	ReferenceBad     Code = "reference bad"        // unit
	ReferenceSoon    Code = "reference soon"       // unit, units left or time left
	CalibrationDue   Code = "calibration due"      // kind
	CalibrationBad   Code = "calibration bad"      // kind
	CalibrationSoon  Code = "calibration soon"     // kind, date
	NotCalibrated    Code = "not calibrated"       // kind
	FailNotPlaced    Code = "fail not placed"      // serial of the unit that failed, jig, when
	LineStopped      Code = "line stopped"         // rule, number of the stop, finding, key, lines, pins, units, of how many, unit
	Returned         Code = apart.Returned         // serial, number of the returns case
	NotForProduction Code = apart.NotForProduction // serial, number of the closed returns case, what became of the unit
	RepairLoop       Code = "repair loop"          // serial, times it failed again after a repair, product, where
	Repaired         Code = "repaired"             // times it failed again after a repair, how often before an engineer decides
	StageRefused     Code = "stage refused"        // serial, stage
	LaneBusy         Code = "lane busy"            // serial of the unit in hand, jig
	NotInForce       Code = "not in force"         // product asked for, those that a lane may test
	TestedAlready    Code = "tested already"       // product
	OtherUnit        Code = "other unit"           // serial of the unit in the jig, serial asked for, jig
	OtherSort        Code = "other sort"           // none: one is simulated, the other is not
	Stopped          Code = "stopped"              // none
	Alone            Code = "decided alone"        // what became of the question to the plant: a warning

	PassedElsewhere   Code = apart.PassedElsewhere
	AttemptsElsewhere Code = apart.AttemptsElsewhere
	InHandElsewhere   Code = apart.InHandElsewhere
)

// ErrStoppedBefore is the end of a test that somebody stopped before it began.
var ErrStoppedBefore = errors.New("stopped before anything moved")

// Refusal is an error that says what sort it is and what a person can do.
type Refusal struct {
	Kind   Kind
	Code   Code          // empty where there is only the error itself
	Args   []string      // of the code's sentence
	Err    error         // where there is more to say than the code does; nil where it says all
	Remedy sequence.Said // for a person at a terminal; no code for what the package knows that Err is from
	Stop   *Condition    // the stop that it is for; nil for others
}

func (r *Refusal) Error() string { return r.In(wording.Words{}) }

// In says the refusal in some words; what an error says of itself stays.
func (r *Refusal) In(words wording.Words) string {
	if r.Err == nil {
		return words.Refusal(string(r.Code), r.Args)
	}
	return r.Err.Error()
}

func (r *Refusal) Unwrap() error { return r.Err }

// refuse makes a refusal; err is nil where the code says all.
func refuse(kind Kind, err error, remedy sequence.Said, code Code, args ...string) error {
	return &Refusal{Kind: kind, Code: code, Args: args, Err: err, Remedy: remedy}
}

// noJig refuses for a jig that is not there.
func noJig(why error, jig string) error { return refuse(NotMeasured, why, sequence.Said{}, NoJig, jig) }

// try is a remedy in the catalogue of facts, by code and arguments.
func try(code sequence.Code, args ...string) sequence.Said {
	return sequence.Said{Code: code, Args: args}
}

// RefusalOf finds the refusal in an error; one that is none becomes one that
// could not be measured.
func RefusalOf(err error) *Refusal {
	if r, ok := errors.AsType[*Refusal](err); ok {
		return r
	}
	return &Refusal{Kind: NotMeasured, Err: err}
}

// stopped takes what went wrong because somebody said stop for just that.
func stopped(ctx context.Context, err error) error {
	if err == nil || ctx.Err() == nil {
		return err
	}
	return refuse(NotMeasured, nil, sequence.Said{}, Stopped)
}
