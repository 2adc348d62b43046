package runs

import (
	"bytes"
	"crypto/sha256"
	"encoding/json"
	"time"

	"padjig/fixture"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/prove"
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
	ID    store.ID
	Seq   int64 // 1, 2, 3 ... in the order of saving: the order of runs
	Saved time.Time
	Plant string // what became of the question to the plant by which it was begun, see elsewhere.Word; empty: there was none
	Turn  int    // 1: the first judged run of the unit for its purpose, 2: the second ...; 0: not judged
	sequence.Run
}

// Record is a run in the units it is stored in. Its JSON, members in this
// order and without spaces, is the canonical record whose SHA-256 goes into
// run.hash; docs/records.md describes it, and a change of it is a new migration.
type Record struct {
	ID          store.ID         `json:"id"`
	Serial      string           `json:"serial"`
	Product     string           `json:"product"`
	Title       string           `json:"title"`
	Revision    string           `json:"revision"`
	Hash        string           `json:"revision_hash"`
	Jig         sequence.JigName `json:"jig"`
	Station     store.Station    `json:"station"`
	Simulated   bool             `json:"simulated"`
	Actuation   string           `json:"actuation"`
	Operator    string           `json:"operator"`
	Attempt     int              `json:"attempt"`
	Started     int64            `json:"started_us"`
	Duration    int64            `json:"duration_us"`
	Outcome     string           `json:"outcome"`
	Reason      string           `json:"reason"`
	Saved       int64            `json:"saved_us"`
	Mono        *int64           `json:"mono_ns"`
	ClockSynced *bool            `json:"clock_synced"`
	Steps       []stepRow        `json:"steps"`
	Seats       []seatRow        `json:"seats"`
	Keys        []KeyRow         `json:"keys"`
	Pairs       []pairRow        `json:"pairs"`
	Findings    []FindingRow     `json:"findings"`

	// Left out where absent, as in records of before.
	Purpose   string        `json:"purpose,omitempty"`
	Case      string        `json:"return_case,omitempty"`
	Exercised []exerciseRow `json:"exercised,omitempty"`
	Start     string        `json:"start,omitempty"` // id of its start
	Why       sequence.Said `json:"why,omitzero"`

	Proofs     *prove.Account  `json:"proofs,omitempty"` // codes; the names in it are texts as they are stored
	Insulation []insulationRow `json:"insulation,omitempty"`

	start int64  // number of its start, 0 for none
	turn  int    // as it is counted, see Stored
	plant string // see Stored
	hash  []byte // where it was formed already

	// Verdict is the outcome that the run counts as: run.verdict, which is not
	// stored and no part of the hash.
	Verdict string `json:"-"`
}

// Contacts are the keys whose contact was read; an electrical press reads the
// jig's own resistor in their place.
func (r *Record) Contacts() []KeyRow {
	if !ReadsContacts(r.Actuation) {
		return nil
	}
	return r.Keys
}

// ReadsContacts reports whether keys that were pressed so say something of their contacts.
func ReadsContacts(actuation string) bool { return actuation != string(sequence.Electrical) }

type stepRow struct {
	Name string `json:"step"`
	Done bool   `json:"done"`
	Took int64  `json:"took_us"`
}

type seatRow struct {
	Pin  int    `json:"pin"`
	Line string `json:"line"`
	Good bool   `json:"good"`
	Loop Ohms   `json:"loop"`
}

// KeyRow is what was read of a key as it is stored.
type KeyRow struct {
	Key     string    `json:"key"`
	Lines   [2]string `json:"lines"`
	Passed  *bool     `json:"passed"` // nil: untested
	Closed  *Ohms     `json:"closed"`
	Make    *bounce   `json:"make"`
	Break   *bounce   `json:"break"`
	Forward *volts    `json:"forward"`
	Reverse *Ohms     `json:"reverse,omitempty"` // left out where absent, as in records of before
	Two     *twoRow   `json:"two_currents,omitempty"`
}

// twoRow is a contact read at two currents, as it is stored: this text is its column.
type twoRow struct {
	Small      atCurrent          `json:"small"`
	Large      atCurrent          `json:"large"`
	Conduction fixture.Conduction `json:"conduction"`
}

type atCurrent struct {
	PicoAmpere int64  `json:"pa"`
	MilliOhm   int64  `json:"mohm"`
	U          *int64 `json:"u_mohm"` // nil: unknown
}

type pairRow struct {
	Lines [2]string `json:"lines"`
	While string    `json:"held"`
	Ohms  Ohms      `json:"reading"`

	// Left out where absent, as in records of before.
	Forward  *Ohms  `json:"forward,omitempty"`
	Backward *Ohms  `json:"backward,omitempty"`
	Trend    string `json:"trend,omitempty"`
}

type insulationRow struct {
	Step   string   `json:"step"`
	Feed   []string `json:"fed"`
	Ground []string `json:"grounded"`
	Ohms   Ohms     `json:"reading"`
}

type exerciseRow struct {
	Key     string `json:"key"`
	Presses int    `json:"presses"`
	Misses  int    `json:"misses"`
	High    int    `json:"high"`
	Sticks  int    `json:"sticks"`
	First   int    `json:"first_bad"`
	Least   *Ohms  `json:"least"`
	Most    *Ohms  `json:"most"`
	Make    int64  `json:"make_us"`
	Break   int64  `json:"break_us"`
	Held    hold   `json:"held"`
	Flexed  hold   `json:"flexed"`
}

// hold is a stored watch over a contact held closed.
type hold struct {
	Watched int64 `json:"us"`
	Opened  int   `json:"opened"`
	Longest int64 `json:"longest_us"`
	More    bool  `json:"more"`
}

// FindingRow is a finding as it is stored.
type FindingRow struct {
	What      string           `json:"what"`
	Location  string           `json:"location"`
	Key       string           `json:"key"`
	Lines     []string         `json:"lines"`
	Pins      []int            `json:"pins"`
	Value     *sequence.Number `json:"value"`
	ValueOpen bool             `json:"value_open"`
	U         *sequence.Number `json:"u"`
	Limit     *sequence.Number `json:"limit"`
	Unit      string           `json:"unit"`

	// Left out where absent, as in records of before.
	Site sequence.Said   `json:"site,omitzero"`
	How  []sequence.Said `json:"how,omitempty"`
}

// canonical is the text that stands for the record for ever.
func (r *Record) canonical() ([]byte, error) {
	var text bytes.Buffer
	enc := json.NewEncoder(&text)
	enc.SetEscapeHTML(false)
	if err := enc.Encode(r); err != nil {
		return nil, err
	}
	return bytes.TrimSuffix(text.Bytes(), []byte("\n")), nil
}

func (r *Record) sum() ([]byte, error) {
	if r.hash != nil {
		return r.hash, nil
	}
	text, err := r.canonical()
	if err != nil {
		return nil, err
	}
	hash := sha256.Sum256(text)
	return hash[:], nil
}
