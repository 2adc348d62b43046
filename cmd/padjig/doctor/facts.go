package doctor

import "time"

// Facts are what was looked at, with nothing decided. What is nil or empty was not looked at;
// Unread says why, by check.
type Facts struct {
	Now     time.Time
	User    string // who looks
	At      string // what commands need to reach the same records, such as " --store FILE"
	Ports   []Port // nil: not looked at
	Records Records
	Disk    *Disk
	Syncs   []time.Duration // how long single appends took until the disk said that it has them
	Faults  *[]string       // what the shorter look at the file of the records found
	Newest  time.Time       // the newest run; zero: there is none, or it was not looked for
	Synced  *bool           // the kernel holds the clock for synchronised
	Zones   *Zones
	Backup  *Backup
	Jigs    *[]Jig
	People  *[]Person
	Cert    *Certificate
	Reached *Reached
	Release *[]Release
	Plant   *Plant
	Notices *Notices
	Since   time.Time // the station runs since then; zero: it is not the station that looks
	Unread  map[Check]string
}

// Port is a serial port.
type Port struct {
	Path    string
	Name    string // such as ttyUSB0
	Allowed bool   // the user may read and write it
	Group   string // that may
	Holder  string // the program that has it open; empty for none that can be seen
	PID     int
	Ours    bool          // that program is padjig
	Latency time.Duration // for which the adapter gathers what it received; 0: it has no such timer
}

// Records are the file of the records.
type Records struct {
	Path   string
	State  RecordsState
	Why    string // where they cannot be read
	Schema int64
}

// RecordsState is how the records were found.
type RecordsState string

// The states.
const (
	RecordsSound  RecordsState = "sound" // opened, with write-ahead log and every commit on the disk
	RecordsNone   RecordsState = "none"
	RecordsOlder  RecordsState = "older"
	RecordsNewer  RecordsState = "newer"
	RecordsBroken RecordsState = "broken"
)

// Disk is what the records lie on.
type Disk struct {
	Folder    string
	Kind      string // of file system
	Network   bool
	Free      uint64 // bytes that the user may write
	Writable  bool   // the user may write in the folder
	Dedicated bool   // room is set aside there already
}

// Zones are that of the plant, empty where nobody said one, and that of the computer.
type Zones struct {
	Plant, Computer string
	Same            bool // now
}

// Backup is the newest backup; a zero time: there never was one.
type Backup struct{ Made time.Time }

// Jig is one on which something is to be done.
type Jig struct {
	Serial string
	Stops  bool   // no unit is tested until it is done
	Key    string // of the words that say what
	Args   []string
}

// Person is an account.
type Person struct {
	Name     string
	Engineer bool // who can decide: with a password, not locked
	Decides  bool // quality or engineer
	Since    time.Time
	Last     time.Time // signed in; zero: never seen
}

// Certificate is that of the pages.
type Certificate struct {
	None          bool   // the pages are served without
	Why           string // it cannot be read
	After, Before time.Time
}

// Reached is what came of asking the station's own address.
type Reached struct {
	Address string
	Local   bool // only this computer can ask there
	Answers bool
	Status  int
	Ours    bool // padjig answers
}

// Release is a product that is in force.
type Release struct{ Code, Why string }

// Plant is how the station stands to the plant that it brings its records to.
type Plant struct {
	None   bool   // it brings them to none
	Member string // its name there
	// Code is that of what keeps records from coming there: "away", "denied", "untrusted", or one of what forwarding stops
	// for (results/plant/forward); empty where nothing does.
	Code        string
	Why         string
	Last        time.Time // when something came there last; zero: not known
	Runs, Rows  int64     // that wait; runs are among the rows
	Oldest      time.Time // when the oldest of these runs was saved; zero: none waits
	Ahead       time.Duration
	Plain       bool      // what goes there can be read on its way
	Server, Own time.Time // until when the certificates hold; zero: there is none
}

// Notices are what the station has of what the plant decides.
type Notices struct {
	None     bool   // there are none at the plant, as far as it could be asked, and no key
	Path     string // of the file with the plant's keys; empty: none was said
	Wrong    string // with that file
	There    int64  // number of the newest that hangs at the plant; 0: none, or not known
	Taken    int64
	Products []string // about which the plant decided what the station does not have
	Trouble  string   // code of what is not believed (results/plant/notice), and its number
	Number   int64
	Never    bool          // nothing was ever heard
	Silent   time.Duration // nothing newer was heard for so long; 0 where that need not be said
	Waiting  []string      // names of accounts that wait
}
