package care

import (
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"padjig/results/store"
	"padjig/sequence"
)

// The places of a jig that take a part.
const (
	Nest     = "nest"    // takes the tail; each run mates it once
	Adapter  = "adapter" // between jig and nest
	ProbeSet = "probe set"
	Cable    = "cable"
	actuator = "actuator"
)

// numbered are the parts of which a jig may have several, each with a number from 1.
// Only an actuator always has one.
var numbered = []string{ProbeSet, Cable, actuator}

// ActuatorPart names an actuator as a part, by its number in product files
// plus one: people count from 1.
func ActuatorPart(number int) string { return fmt.Sprintf("%s %d", actuator, number+1) }

// ParsePart reads the name of a part as people write it.
func ParsePart(text string) (string, error) {
	if slices.Contains([]string{Nest, Adapter, ProbeSet, Cable}, text) {
		return text, nil
	}
	for _, kind := range numbered {
		digits, ok := strings.CutPrefix(text, kind+" ")
		if n, err := strconv.Atoi(digits); ok && err == nil && n >= 1 {
			return fmt.Sprintf("%s %d", kind, n), nil
		}
	}
	return "", sequence.Wrong("part", `"%s" is no part; write "nest", "actuator 7", "probe set", "probe set 2", "cable" or "adapter"`, text)
}

// partKind is what sort of part a name means, and its number, 0 for none.
func partKind(part string) (kind string, number int) {
	for _, kind := range numbered {
		if digits, ok := strings.CutPrefix(part, kind+" "); ok {
			number, _ = strconv.Atoi(digits)
			return kind, number
		}
	}
	return part, 0
}

// WearEvent is what somebody did or decided about a part of a jig.
type WearEvent struct {
	Jig, Part string
	Simulated bool
	Warn      int // limits; both 0 for all else
	Block     int
	Removed   bool   // taken out, and nothing put in its place
	Name      string // of the part that was put in, its own; empty: none
	Lot       string
	Tip       string // what its tips are like
	Serves    []int  // channels from 1; none: all
	By, Note  string
	At        time.Time

	either   bool  // of before the sorts of jigs were told apart: holds for both
	AfterRun int64 // it lies between this run and the next; set when it is read
}

func (e WearEvent) kind() string {
	switch {
	case e.Block > 0:
		return "limits"
	case e.Removed:
		return "removed"
	}
	return "replaced"
}

// PartError says why something cannot be recorded of a part, what can be done, and which field
// of what was to be recorded it is about: part, removed, name or lot.
type PartError struct {
	Why, Remedy, Field string
	What               sequence.Said // the same, remedy and all, for pages
}

func (e *PartError) Error() string { return e.Why }

// SaveWear records parts put in or taken out, or new limits when Warn and Block are
// set: all of them, or with an error of type [*PartError] none.
func (s *Records) SaveWear(ctx context.Context, all ...WearEvent) error {
	if len(all) == 0 {
		return nil
	}
	return s.db.Save(ctx, fmt.Sprintf("save wear of jig %s", all[0].Jig), func(tx *sql.Tx) error {
		for _, e := range all {
			if err := SaveWear(ctx, tx, e, s.db.Now().UnixMicro()); err != nil {
				return err
			}
		}
		return nil
	})
}

// SaveWear records an event inside a transaction, as of a time.
func SaveWear(ctx context.Context, tx *sql.Tx, e WearEvent, at int64) error {
	if err := e.check(ctx, tx); err != nil {
		return err
	}
	warn, block := sql.NullInt64{}, sql.NullInt64{}
	if e.Block > 0 {
		warn, block = sql.NullInt64{Int64: int64(e.Warn), Valid: true}, sql.NullInt64{Int64: int64(e.Block), Valid: true}
	}
	serves := ""
	if len(e.Serves) > 0 {
		text, err := json.Marshal(e.Serves)
		if err != nil {
			return err
		}
		serves = string(text)
	}
	_, err := tx.ExecContext(ctx, `
		INSERT INTO wear_event (seq, jig, simulated, part, kind, name, lot, tip, serves, after_run, warn, block, by, note, at_us)
		SELECT (SELECT coalesce(max(seq), 0) + 1 FROM wear_event), ?, ?, ?, ?, ?, ?, ?, ?,
		       (SELECT coalesce(max(seq), 0) FROM run), ?, ?, ?, ?, ?`,
		e.Jig, e.Simulated, e.Part, e.kind(), e.Name, e.Lot, e.Tip, serves, warn, block, e.By, e.Note, at)
	return err
}

// check holds that a part is somewhere once, and that a count begins anew only for a
// part that can be named.
func (e WearEvent) check(ctx context.Context, tx *sql.Tx) error {
	kind, _ := partKind(e.Part)
	if e.kind() == "limits" {
		return nil
	}
	all, err := wearEvents(ctx, tx, e.Simulated)
	if err != nil {
		return err
	}
	here := all.of(e.Jig).part(e.Part).Replaced
	switch {
	case e.Removed && (kind == Nest || kind == actuator):
		return &PartError{fmt.Sprintf("a %s is replaced, not taken out", kind), "record it with what was put in its place", "removed",
			sequence.Fact("part not taken out", kind)}
	case e.Removed && here == nil:
		return &PartError{fmt.Sprintf("no %s is fitted to jig %s by the records", e.Part, e.Jig), "", "removed",
			sequence.Fact("part not fitted", e.Part, e.Jig)}
	case e.Removed:
		return nil
	case e.Name == "" && kind != Nest && kind != actuator:
		return &PartError{fmt.Sprintf("a %s goes by its own name: its count goes where it goes", kind), "its name or serial number", "name",
			sequence.Fact("part unnamed", kind)}
	case e.Name == "" && e.Lot == "":
		return &PartError{fmt.Sprintf("what was put in as %s has neither name nor lot: a count begins anew for a new part only", e.Part),
			"the lot or the serial number of the new part", "lot", sequence.Fact("part without lot", e.Part)}
	case e.Name == "":
		return nil
	}
	for _, at := range all.fitted() {
		if is, _ := partKind(at.Part); is != kind || at.Name != e.Name {
			continue
		}
		if at.Jig == e.Jig && at.Part == e.Part {
			return &PartError{fmt.Sprintf("%s %s is fitted to jig %s already, and its count goes on", kind, e.Name, e.Jig), "", "name",
				sequence.Fact("part fitted", kind, e.Name, e.Jig)}
		}
		remedy := "record there first what was put in its place"
		if kind != actuator && kind != Nest {
			remedy = fmt.Sprintf("padjig jig parts %s --removed %q --operator NAME first, if it was moved", at.Jig, at.Part)
		}
		return &PartError{fmt.Sprintf("%s %s is fitted to jig %s as its %s: one part is in one place", kind, e.Name, at.Jig, at.Part), remedy, "name",
			sequence.Fact("part elsewhere", kind, e.Name, at.Jig, at.Part)}
	}
	return nil
}

// events are wear events of jigs of one sort, oldest first.
type events []WearEvent

func wearEvents(ctx context.Context, tx *sql.Tx, simulated bool) (events, error) {
	return store.Collect(ctx, tx, func(rows *sql.Rows) (e WearEvent, err error) {
		var kind, serves string
		e.Simulated = simulated
		err = rows.Scan(&e.Jig, &e.either, &e.Part, &kind, &e.Name, &e.Lot, &e.Tip, &serves, &e.AfterRun, &e.Warn, &e.Block, &e.By, &e.Note,
			store.Time(&e.At))
		e.Removed = kind == "removed"
		if serves != "" && err == nil {
			err = json.Unmarshal([]byte(serves), &e.Serves)
		}
		return e, err
	}, `SELECT jig, simulated IS NULL, part, kind, name, lot, tip, serves, after_run, coalesce(warn, 0), coalesce(block, 0), by, note, at_us
	    FROM wear_event WHERE simulated IS NULL OR simulated = ? ORDER BY after_run, seq`, simulated)
}

// of are those of one jig.
func (all events) of(jig string) events {
	return slices.DeleteFunc(slices.Clone(all), func(e WearEvent) bool { return e.Jig != jig })
}

// part gives the limits and the last replacement of a part of one jig, uses not
// counted. What was taken out without anything in its place is no replacement.
func (all events) part(part string) PartWear {
	w := PartWear{Part: part}
	for i, e := range all {
		switch {
		case e.Part != part:
		case e.Block > 0:
			w.Warn, w.Block = e.Warn, e.Block
		case e.Removed:
			w.Replaced = nil
		default:
			w.Replaced = &all[i]
		}
	}
	return w
}

// parts are the names of the parts of one jig that there are events of, in the order of
// their first ones, but for those of which nothing but limits is left.
func (all events) parts() (names []string) {
	for _, e := range all {
		if !slices.Contains(names, e.Part) {
			names = append(names, e.Part)
		}
	}
	return slices.DeleteFunc(names, func(part string) bool {
		kind, _ := partKind(part)
		return kind != Nest && kind != actuator && all.part(part).Replaced == nil
	})
}

// fitted are the last replacements everywhere that hold.
func (all events) fitted() (there events) {
	for _, e := range all {
		if e.Block > 0 {
			continue
		}
		there = slices.DeleteFunc(there, func(at WearEvent) bool { return at.Jig == e.Jig && at.Part == e.Part })
		if !e.Removed {
			there = append(there, e)
		}
	}
	return there
}

// stay is a time that a part was in one place, as runs: those after one and up to another.
type stay struct {
	jig, part   string
	serves      []int
	after, upTo int64
}

// holds reports whether a run lies in the stay.
func (s stay) holds(run int64) bool { return run > s.after && run <= s.upTo }

// stays are where what is fitted as a part of a jig has been: a part without a name of
// its own only here, since it was fitted.
func (all events) stays(jig, part string) (out []stay) {
	const open = 1<<63 - 1
	fitted := all.of(jig).part(part).Replaced
	if fitted == nil {
		return []stay{{jig: jig, part: part, upTo: open}}
	}
	if fitted.Name == "" {
		return []stay{{jig, part, fitted.Serves, fitted.AfterRun, open}}
	}
	kind, _ := partKind(part)
	for i, e := range all {
		if is, _ := partKind(e.Part); is != kind || e.Name != fitted.Name || e.kind() != "replaced" {
			continue
		}
		s := stay{e.Jig, e.Part, e.Serves, e.AfterRun, open}
		for _, later := range all[i+1:] {
			if later.Jig == e.Jig && later.Part == e.Part && later.Block == 0 {
				s.upTo = later.AfterRun
				break
			}
		}
		out = append(out, s)
	}
	return out
}

// mostChannels is how many channels a jig can have.
const mostChannels = 64

// ParseChannels reads which channels a part serves, as people write them: "1-20 23".
// Nothing is all of them.
func ParseChannels(text string) (all []int, err error) {
	for _, word := range strings.FieldsFunc(text, func(r rune) bool { return r == ' ' || r == ',' }) {
		first, last, isRange := strings.Cut(word, "-")
		from, err := strconv.Atoi(first)
		to := from
		if isRange && err == nil {
			to, err = strconv.Atoi(last)
		}
		if err != nil || from < 1 || to < from || to > mostChannels {
			return nil, sequence.Wrong("channels", `"%s" are no channels; write them like "1-20 23", from 1 to %d`, word, mostChannels)
		}
		for c := from; c <= to; c++ {
			all = append(all, c)
		}
	}
	slices.Sort(all)
	return slices.Compact(all), nil
}

// Channels are the channels that a part serves as people write them, empty for all.
func Channels(all []int) string {
	var words []string
	for i := 0; i < len(all); i++ {
		first := all[i]
		for i+1 < len(all) && all[i+1] == all[i]+1 {
			i++
		}
		if all[i] == first {
			words = append(words, strconv.Itoa(first))
		} else {
			words = append(words, fmt.Sprintf("%d-%d", first, all[i]))
		}
	}
	return strings.Join(words, " ")
}

// Settle gives the events that make the parts of a jig what they are to be: what is so
// already needs none.
func (s *Records) Settle(ctx context.Context, wanted []WearEvent) (needed []WearEvent, err error) {
	err = s.db.Ask(ctx, "look up the parts of a jig", func(tx *sql.Tx) error {
		for _, w := range wanted {
			all, err := wearEvents(ctx, tx, w.Simulated)
			if err != nil {
				return err
			}
			now := all.of(w.Jig).part(w.Part)
			fitted, limits := w, w
			fitted.Warn, fitted.Block = 0, 0
			limits.Name, limits.Lot, limits.Tip, limits.Serves, limits.Note = "", "", "", nil, ""
			if (w.Name != "" || w.Lot != "") && (now.Replaced == nil || !now.Replaced.same(w)) {
				needed = append(needed, fitted)
			}
			if w.Block > 0 && (w.Warn != now.Warn || w.Block != now.Block) {
				needed = append(needed, limits)
			}
		}
		return nil
	})
	return needed, err
}

// same reports whether two events put the same part in.
func (e WearEvent) same(o WearEvent) bool {
	return e.Name == o.Name && e.Lot == o.Lot && e.Tip == o.Tip && slices.Equal(e.Serves, o.Serves)
}

// ProbeSets are the probe sets that were put into jigs, oldest first, those taken out
// among them.
func (s *Records) ProbeSets(ctx context.Context, simulated bool) ([]WearEvent, error) {
	var out []WearEvent
	err := s.db.Ask(ctx, "look up probe sets", func(tx *sql.Tx) error {
		all, err := wearEvents(ctx, tx, simulated)
		for _, e := range all {
			if kind, _ := partKind(e.Part); kind == ProbeSet && e.Block == 0 {
				out = append(out, e)
			}
		}
		return err
	})
	return out, err
}

// Reaches reports whether a part serves a channel.
func (e WearEvent) Reaches(channel int) bool {
	return len(e.Serves) == 0 || slices.Contains(e.Serves, channel)
}
