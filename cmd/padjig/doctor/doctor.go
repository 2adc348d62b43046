// Package doctor decides whether a station stands as it should: from what was looked at at its
// edges (package look) to findings, each a code with its outcome, in words by the texts of this
// package. Pure: no clock, no file, no log. Terminal, JSON and page render the same findings.
package doctor

import (
	"embed"
	"maps"
	"slices"
	"strings"

	"padjig/sequence/wording"
)

// Check is something that is looked at. Its name is the text "doctor.check.CHECK".
type Check string

// The checks.
const (
	Ports        Check = "ports"
	Latency      Check = "latency"
	RecordsCheck Check = "records"
	DiskCheck    Check = "disk"
	Sync         Check = "sync"
	Integrity    Check = "integrity"
	Clock        Check = "clock"
	Zone         Check = "zone"
	Backups      Check = "backup"
	Jigs         Check = "jigs"
	Accounts     Check = "accounts"
	Certificates Check = "certificate"
	Address      Check = "address"
	Releases     Check = "releases"
	PlantCheck   Check = "plant"
	NoticesCheck Check = "notices"
	Running      Check = "running"
)

// Outcome is what came of a check.
type Outcome string

// The outcomes, what matters most first.
const (
	Wrong   Outcome = "wrong"         // the station cannot or must not work so
	ToDo    Outcome = "to do"         // somebody should do something
	Blind   Outcome = "not looked at" // nobody knows
	Fine    Outcome = "fine"
	unknown Outcome = ""
)

var ranks = []Outcome{Wrong, ToDo, Blind, Fine}

func (o Outcome) rank() int {
	for i, r := range ranks {
		if r == o {
			return i
		}
	}
	return len(ranks)
}

// Code is a finding: its words are the text "doctor.CODE", those of its remedy "doctor.try.CODE".
type Code string

// The codes, each with its arguments.
const (
	PortDenied     Code = "ports.denied"       // path, user, group
	PortHeld       Code = "ports.held"         // path, program, process
	PortNone       Code = "ports.none"         // none
	PortOurs       Code = "ports.ours"         // path, process
	PortFine       Code = "ports.fine"         // path
	LatencySlow    Code = "latency.slow"       // path, milliseconds, name
	LatencyFine    Code = "latency.fine"       // path, milliseconds
	LatencyNone    Code = "latency.none"       // none
	RecordsBad     Code = "records.bad"        // path, why
	RecordsNew     Code = "records.newer"      // path
	RecordsOld     Code = "records.older"      // path
	RecordsMissing Code = "records.none"       // path
	RecordsFine    Code = "records.fine"       // path, schema
	DiskNetwork    Code = "disk.network"       // folder, kind
	DiskBarred     Code = "disk.barred"        // folder, user
	DiskFull       Code = "disk.full"          // free MiB, needed MiB, folder
	DiskLow        Code = "disk.low"           // free MiB, folder
	DiskFine       Code = "disk.fine"          // free MiB, folder, kind
	SyncSlow       Code = "sync.slow"          // milliseconds
	SyncQuick      Code = "sync.quick"         // microseconds
	SyncFine       Code = "sync.fine"          // milliseconds
	IntegrityBad   Code = "integrity.bad"      // how many faults, the first, at
	IntegrityFine  Code = "integrity.fine"     // none
	ClockBehind    Code = "clock.behind"       // by how much
	ClockFree      Code = "clock.free"         // none
	ClockFine      Code = "clock.fine"         // none
	ZoneUnsaid     Code = "zone.unsaid"        // the computer's
	ZoneDiffers    Code = "zone.differs"       // the plant's, the computer's
	ZoneFine       Code = "zone.fine"          // the plant's
	BackupNever    Code = "backup.never"       // none
	BackupOld      Code = "backup.old"         // days
	BackupFine     Code = "backup.fine"        // days
	JigStops       Code = "jigs.stops"         // serial, at; and what
	JigDue         Code = "jigs.due"           // likewise
	JigFine        Code = "jigs.fine"          // none
	PeopleNone     Code = "accounts.none"      // at
	PeopleAlone    Code = "accounts.alone"     // at
	EngineerAlone  Code = "accounts.engineer"  // at
	PersonUnused   Code = "accounts.unused"    // name, days
	PeopleFine     Code = "accounts.fine"      // how many
	CertBroken     Code = "certificate.broken" // why
	CertOver       Code = "certificate.over"   // day
	CertEarly      Code = "certificate.early"  // day
	CertSoon       Code = "certificate.soon"   // days
	CertNone       Code = "certificate.none"   // none
	CertFine       Code = "certificate.fine"   // days
	AddressOther   Code = "address.other"      // address, status
	AddressSilent  Code = "address.silent"     // address
	AddressLocal   Code = "address.local"      // address
	AddressOpen    Code = "address.open"       // address
	ReleaseBad     Code = "releases.bad"       // product, why, at
	ReleaseNone    Code = "releases.none"      // at
	ReleaseFine    Code = "releases.fine"      // how many
	PlantNone      Code = "plant.none"         // none
	PlantAway      Code = "plant.away"         // why
	PlantSince     Code = "plant.since"        // when something came there last, why
	PlantDenied    Code = "plant.denied"       // name, why
	PlantUntrusted Code = "plant.untrusted"    // why
	PlantUnjoined  Code = "plant.unjoined"     // name
	PlantEmpty     Code = "plant.empty"        // none
	PlantOlder     Code = "plant.older"        // why
	PlantNewer     Code = "plant.newer"        // why
	PlantPast      Code = "plant.past"         // why
	PlantName      Code = "plant.name"         // why
	PlantWord      Code = "plant.word"         // why
	PlantWaiting   Code = "plant.waiting"      // rows, runs, minutes
	PlantClock     Code = "plant.clock"        // seconds ahead
	PlantPlain     Code = "plant.plain"        // none
	PlantServer    Code = "plant.server"       // days
	PlantOwn       Code = "plant.own"          // days
	PlantFine      Code = "plant.fine"         // name, rows
	NoticesNone    Code = "notices.none"       // none
	NoticesUnkeyed Code = "notices.unkeyed"    // how many
	NoticesKey     Code = "notices.key"        // path, why
	NoticesTrouble Code = "notices.trouble"    // code, number
	NoticesBehind  Code = "notices.behind"     // products, number taken
	NoticesNever   Code = "notices.never"      // none
	NoticesDeaf    Code = "notices.deaf"       // hours
	NoticesNames   Code = "notices.names"      // names
	NoticesFine    Code = "notices.fine"       // number taken
	RunningSince   Code = "running.since"      // how long
)

// outcomes is what each code means; what is not in it was not looked at: see [unreadOf].
var outcomes = map[Code]Outcome{
	PortDenied: Wrong, PortHeld: Wrong, PortNone: ToDo, PortOurs: Fine, PortFine: Fine,
	LatencySlow: ToDo, LatencyFine: Fine, LatencyNone: Fine,
	RecordsBad: Wrong, RecordsNew: Wrong, RecordsOld: ToDo, RecordsMissing: ToDo, RecordsFine: Fine,
	DiskNetwork: Wrong, DiskBarred: Wrong, DiskFull: Wrong, DiskLow: ToDo, DiskFine: Fine,
	SyncSlow: ToDo, SyncQuick: ToDo, SyncFine: Fine,
	IntegrityBad: Wrong, IntegrityFine: Fine,
	ClockBehind: Wrong, ClockFree: ToDo, ClockFine: Fine,
	ZoneUnsaid: ToDo, ZoneDiffers: Fine, ZoneFine: Fine,
	BackupNever: ToDo, BackupOld: ToDo, BackupFine: Fine,
	JigStops: Wrong, JigDue: ToDo, JigFine: Fine,
	PeopleNone: ToDo, PeopleAlone: ToDo, EngineerAlone: ToDo, PersonUnused: ToDo, PeopleFine: Fine,
	CertBroken: Wrong, CertOver: Wrong, CertEarly: Wrong, CertSoon: ToDo, CertNone: Fine, CertFine: Fine,
	AddressOther: Wrong, AddressSilent: Blind, AddressLocal: Fine, AddressOpen: Fine,
	ReleaseBad: Wrong, ReleaseNone: ToDo, ReleaseFine: Fine,
	PlantNone: Fine, PlantAway: ToDo, PlantSince: ToDo, PlantDenied: Wrong, PlantUntrusted: Wrong, PlantUnjoined: Wrong, PlantEmpty: Wrong, PlantOlder: Wrong, PlantNewer: Wrong, PlantPast: Wrong, PlantName: Wrong, PlantWord: Wrong, PlantWaiting: ToDo, PlantClock: ToDo, PlantPlain: ToDo, PlantServer: ToDo, PlantOwn: ToDo, PlantFine: Fine,
	NoticesNone: Fine, NoticesUnkeyed: ToDo, NoticesKey: Wrong, NoticesTrouble: Wrong, NoticesBehind: Wrong, NoticesNever: ToDo, NoticesDeaf: ToDo, NoticesNames: ToDo, NoticesFine: Fine,
	RunningSince: Fine,
}

// ofRecords are the checks that ask the records.
var ofRecords = []Check{Integrity, Zone, Backups, Jigs, Accounts, Releases, PlantCheck, NoticesCheck}

// unreadOf is what a check found that was not looked at: CHECK.unread, with why as far as that is
// an error; CHECK.unrecorded where there are no records to ask.
func unreadOf(c Check, f Facts) Finding {
	switch why := f.Unread[c]; {
	case why != "":
		return Finding{Code: Code(c) + ".unread", Args: []string{why}}
	case f.Records.State != RecordsSound && slices.Contains(ofRecords, c):
		return Finding{Code: Code(c) + ".unrecorded"}
	}
	return Finding{Code: Code(c) + ".unread"}
}

// Finding is what a check found.
type Finding struct {
	Code Code
	Args []string
	What *What // words of another catalogue, the last argument
}

// What are words by their key.
type What struct {
	Key  string
	Args []string
}

// Check is what was looked at.
func (f Finding) Check() Check {
	check, _, _ := strings.Cut(string(f.Code), ".")
	return Check(check)
}

// Outcome is what it means.
func (f Finding) Outcome() Outcome {
	if o := outcomes[f.Code]; o != unknown {
		return o
	}
	return Blind
}

// Words are what findings are said in.
type Words interface {
	Say(key string, args ...any) string
	Has(key string) bool
}

// Say says a finding.
func (f Finding) Say(w Words) string {
	key := "doctor." + string(f.Code)
	_, what, _ := strings.Cut(string(f.Code), ".")
	switch {
	case what == "unread" && len(f.Args) > 0:
		key = "doctor.unread.why"
	case !w.Has(key):
		key = "doctor." + what
	}
	return w.Say(key, f.args(w)...)
}

// Remedy is what to do: a command, or a sentence. Empty where nothing is.
func (f Finding) Remedy(w Words) string {
	key := "doctor.try." + string(f.Code)
	if !w.Has(key) {
		return ""
	}
	return w.Say(key, f.args(w)...)
}

func (f Finding) args(w Words) []any {
	out := each(f.Args)
	if f.What != nil {
		out = append(out, w.Say(f.What.Key, each(f.What.Args)...))
	}
	return out
}

func each(args []string) []any {
	out := make([]any, len(args))
	for i, a := range args {
		out[i] = a
	}
	return out
}

// Worst is the outcome that matters most.
func Worst(all []Finding) Outcome {
	worst := Fine
	for _, f := range all {
		if f.Outcome().rank() < worst.rank() {
			worst = f.Outcome()
		}
	}
	return worst
}

//go:embed text/*.json
var textFiles embed.FS

// Texts are the words of findings in every language, a copy for the caller.
func Texts() wording.Catalogue {
	own, err := wording.Read(textFiles, "text")
	if err != nil {
		panic(err) // embedded: a build with it broken passes no test
	}
	c := wording.Catalogue{}
	for lang, text := range own {
		c[lang] = maps.Clone(text)
	}
	return c
}
