package log

import "log/slog"

// The names of what is logged.
const (
	StationStarted = "station started"
	StationStopped = "station stopped"
	OfficeStarted  = "office started"
	OfficeStopped  = "office stopped"
	StandsStill    = "station stands still"
	JigThere       = "jig there"
	JigLeft        = "jig left"
	JigLost        = "jig lost"
	LaneFell       = "lane fell"
	UnitRefused    = "unit refused"
	RunStored      = "run stored"
	SaveSlow       = "save slow"
	LaneChanged    = "lane changed"
	SignedIn       = "signed in"
	SignInRefused  = "sign-in refused"
	ActionRefused  = "action refused"
	PageFailed     = "page failed"
	ServerTrouble  = "server trouble"
	LinesLost      = "log lines lost"
	BackupTaken    = "backup taken"
	BackupFailed   = "backup failed"
	TokenRefused   = "token refused"
	AnswerFailed   = "answer failed"
	PlantAway      = "plant away"
	PlantUntrusted = "plant not trusted"
	HandOffFailed  = "hand-off failed"

	ForwardingFailed  = "forwarding failed"
	ForwardingGoesOn  = "forwarding goes on"
	ForwardingStopped = "forwarding stopped"
	NoticeTaken       = "notice taken"
	NoticeNotBelieved = "notice not believed"
	PlantNotHeard     = "plant not heard"
	PlantHeard        = "plant heard again"
	NoticesPut        = "notices put up"
	NoticesNotPut     = "notices not put up"
	NoticesNotTold    = "notices not told of"
)

// Event is what is logged under a name: docs/logs.md has a row for each.
type Event struct {
	Name  string
	Level slog.Level // the highest that it is logged at
	Of    string     // attributes
	When  string
}

// Events are all of them. Whoever logs something new adds it: a test finds what is not here.
func Events() []Event {
	return []Event{
		{StationStarted, slog.LevelInfo, "pid, version, go, at, records, set", "The pages are served. `set` has the flags that were said, none of which is a secret."},
		{StationStopped, slog.LevelError, "after, why", "The station ends: information where it was asked to, an error with why where it could not go on."},
		{OfficeStarted, slog.LevelInfo, "pid, version, go, at, records, plant", "The pages of a plant's office are served."},
		{OfficeStopped, slog.LevelError, "after, why", "The office ends: information where it was asked to, an error with why where it could not go on."},
		{StandsStill, slog.LevelError, "why", "A lane or the pages do not turn any more, and the watchdog is fed no longer unless other lanes are in use; or who started the station could not be told."},
		{JigThere, slog.LevelInfo, "lane, jig, port, model, firmware, simulated", "A lane has its jig, at the start or again."},
		{JigLeft, slog.LevelInfo, "lane, jig", "A lane lets go of its jig, because the station ends."},
		{JigLost, slog.LevelWarn, "lane, jig, why", "A lane does not have its jig, or not for the same reason as before."},
		{LaneFell, slog.LevelError, "lane, jig, why, stack", "Something went wrong in the station itself at this lane, or at the line to its jig. The lane lets go of its jig; the others go on."},
		{UnitRefused, slog.LevelWarn, "lane, code, who, unit, why, in hand", "What was scanned or pressed is not done. Only slips are information. Without `unit` where it was no serial number."},
		{RunStored, slog.LevelInfo, "lane, unit, run, outcome, attempt, who, jig, simulated, took", "A run is in the records, and shown."},
		{SaveSlow, slog.LevelWarn, "lane, unit, limit, over, took", "Storing takes longer than `limit`: once while it does, once when it is over."},
		{LaneChanged, slog.LevelDebug, "lane, from, to, unit", "A lane went to another phase."},
		{SignedIn, slog.LevelInfo, "who, from, how", "Somebody signed in, by password or badge."},
		{SignInRefused, slog.LevelWarn, "who, from, how, why", "Somebody was not let in. `who` is empty where there is no such account: what was typed may be a password."},
		{ActionRefused, slog.LevelWarn, "who, role, from, path, status, code, fields", "A page or form was refused; `code` is the key of the sentence that said so."},
		{PageFailed, slog.LevelError, "id, who, role, from, method, path, why, stack", "Something went wrong in the station itself. The page says `id`."},
		{ServerTrouble, slog.LevelWarn, "why", "What the server says of connections, such as a TLS handshake that failed."},
		{BackupTaken, slog.LevelInfo, "backup, runs, bytes, same_disk, took", "A backup was taken and is whole."},
		{BackupFailed, slog.LevelError, "error", "A backup failed: the newest one that is whole is older than it should be."},
		{TokenRefused, slog.LevelWarn, "token, from, path, why", "A program was not let in. `token` is its name, empty where there is no such token."},
		{AnswerFailed, slog.LevelError, "path, why", "A program was let in, and the records could not be read, or that it was there not be noted."},
		{PlantAway, slog.LevelWarn, "path, why, who, role, from", "The plant's database did not answer a page or a program of its office."},
		{PlantUntrusted, slog.LevelError, "path, why, who, role, from", "What answers an office as the plant's database does not show who it is: nothing is read from it."},
		{HandOffFailed, slog.LevelWarn, "receiver, event, error", "A receiver did not take what was handed on: it is tried again, or stands until somebody decides."},
		{ForwardingFailed, slog.LevelWarn, "tries, error", "The plant did not take what was brought, or its word was lost: it is tried again."},
		{ForwardingGoesOn, slog.LevelInfo, "behind", "The plant takes what is brought again; so many runs are still to come."},
		{ForwardingStopped, slog.LevelError, "code, error", "Nothing is brought to the plant until somebody has seen to it; testing goes on. Once an hour while it lasts."},
		{NoticeTaken, slog.LevelInfo, "number, kind, subject, outcome", "A notice of the plant was taken, with what it brings about."},
		{NoticeNotBelieved, slog.LevelError, "code, number, why", "Something that comes of the plant is not what the plant signed, or not all of it. What is here stays in force; once for each sort of it."},
		{PlantNotHeard, slog.LevelWarn, "error", "The plant's notices could not be read, or not be kept: it is tried again. Once until it is heard again."},
		{PlantHeard, slog.LevelInfo, "number", "The plant's notices are read again; up to `number` they are here."},
		{NoticesPut, slog.LevelInfo, "put, count, issued", "An office put notices up at the plant; so many are there now. Also when that goes on after it did not."},
		{NoticesNotPut, slog.LevelError, "error", "An office could not issue its notices or put them up at the plant: it is tried again. Once until it goes on, then once an hour."},
		{NoticesNotTold, slog.LevelWarn, "error", "A station took notices and could not tell the plant so: the office shows it behind. Once until it goes on."},
		{LinesLost, slog.LevelWarn, "lines", "So many lines had no room while nobody took them: at this place they are missing."},
	}
}
