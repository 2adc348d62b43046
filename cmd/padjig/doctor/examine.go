package doctor

import (
	"cmp"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"
)

// Limits of the checks (common practice, no source, where none is named).
const (
	slowLatency = 4 * time.Millisecond   // FTDI's own default is 16 ms (AN232B-04)
	slowSync    = 100 * time.Millisecond // a unit waits for two of them
	quickSync   = 50 * time.Microsecond  // no flash or turning disk has it that soon: something says so that has not
	diskNeed    = 128 << 20              // as results/store wants before each unit
	diskLow     = 2 << 30
	clockSlack  = 2 * time.Minute
	backupOld   = 8 * 24 * time.Hour
	unusedFor   = 90 * 24 * time.Hour
	certSoon    = 30 * 24 * time.Hour
	plantLate   = 5 * time.Minute
	plantClock  = time.Minute
)

// Examine decides on what was looked at: problems first, each check at least once.
func Examine(f Facts) []Finding {
	var out []Finding
	for _, check := range []struct {
		check Check
		look  func(Facts) []Finding
	}{
		{Ports, ports}, {Latency, latency}, {RecordsCheck, records}, {DiskCheck, disk}, {Sync, syncs}, {Integrity, integrity},
		{Clock, clock}, {Zone, zone}, {Backups, backups}, {Jigs, jigs}, {Accounts, people}, {Certificates, certificate},
		{Address, address}, {Releases, releases}, {PlantCheck, plant}, {NoticesCheck, notices}, {Running, running},
	} {
		found := check.look(f)
		if len(found) == 0 {
			found = []Finding{unreadOf(check.check, f)}
		}
		out = append(out, found...)
	}
	slices.SortStableFunc(out, func(a, b Finding) int { return cmp.Compare(a.Outcome().rank(), b.Outcome().rank()) })
	return out
}

func found1(code Code, args ...string) Finding { return Finding{Code: code, Args: args} }

func one(code Code, args ...string) []Finding { return []Finding{found1(code, args...)} }

func ports(f Facts) (out []Finding) {
	if f.Ports == nil {
		return nil
	}
	for _, p := range f.Ports {
		pid := strconv.Itoa(p.PID)
		switch {
		case p.Holder != "" && p.Ours:
			out = append(out, found1(PortOurs, p.Path, pid))
		case p.Holder != "":
			out = append(out, found1(PortHeld, p.Path, p.Holder, pid))
		case !p.Allowed:
			out = append(out, found1(PortDenied, p.Path, f.User, p.Group))
		default:
			out = append(out, found1(PortFine, p.Path))
		}
	}
	if len(out) == 0 {
		return one(PortNone)
	}
	return out
}

func latency(f Facts) (out []Finding) {
	for _, p := range f.Ports {
		ms := strconv.FormatInt(p.Latency.Milliseconds(), 10)
		switch {
		case p.Latency > slowLatency:
			out = append(out, found1(LatencySlow, p.Path, ms, p.Name))
		case p.Latency > 0:
			out = append(out, found1(LatencyFine, p.Path, ms))
		}
	}
	if len(out) == 0 && len(f.Ports) > 0 {
		return one(LatencyNone)
	}
	return out
}

func records(f Facts) []Finding {
	switch r := f.Records; r.State {
	case RecordsNone:
		return one(RecordsMissing, r.Path)
	case RecordsOlder:
		return one(RecordsOld, r.Path)
	case RecordsNewer:
		return one(RecordsNew, r.Path)
	case RecordsBroken:
		return one(RecordsBad, r.Path, r.Why)
	case RecordsSound:
		return one(RecordsFine, r.Path, strconv.FormatInt(r.Schema, 10))
	}
	return nil
}

func disk(f Facts) (out []Finding) {
	d := f.Disk
	if d == nil {
		return nil
	}
	if d.Network {
		out = append(out, found1(DiskNetwork, d.Folder, d.Kind))
	}
	if !d.Writable {
		out = append(out, found1(DiskBarred, d.Folder, f.User))
	}
	need := uint64(diskNeed)
	if d.Dedicated {
		need /= 2
	}
	free := strconv.FormatUint(d.Free>>20, 10)
	switch {
	case d.Free < need:
		out = append(out, found1(DiskFull, free, strconv.FormatUint(need>>20, 10), d.Folder))
	case d.Free < diskLow:
		out = append(out, found1(DiskLow, free, d.Folder))
	case len(out) == 0:
		out = append(out, found1(DiskFine, free, d.Folder, d.Kind))
	}
	return out
}

func syncs(f Facts) []Finding {
	if len(f.Syncs) == 0 {
		return nil
	}
	all := slices.Sorted(slices.Values(f.Syncs))
	median := all[len(all)/2]
	said := fmt.Sprintf("%.1f", float64(median.Microseconds())/1000)
	switch {
	case median > slowSync:
		return one(SyncSlow, said)
	case median < quickSync:
		return one(SyncQuick, strconv.FormatInt(median.Microseconds(), 10))
	}
	return one(SyncFine, said)
}

func integrity(f Facts) []Finding {
	switch {
	case f.Faults == nil:
		return nil
	case len(*f.Faults) > 0:
		return one(IntegrityBad, strconv.Itoa(len(*f.Faults)), (*f.Faults)[0], f.At)
	}
	return one(IntegrityFine)
}

func clock(f Facts) (out []Finding) {
	if ahead := f.Newest.Sub(f.Now); !f.Newest.IsZero() && ahead > clockSlack {
		out = append(out, found1(ClockBehind, ahead.Round(time.Minute).String()))
	}
	switch {
	case f.Synced == nil:
	case *f.Synced && len(out) == 0:
		return one(ClockFine)
	case !*f.Synced:
		out = append(out, found1(ClockFree))
	}
	return out
}

func zone(f Facts) []Finding {
	switch z := f.Zones; {
	case z == nil:
		return nil
	case z.Plant == "":
		return one(ZoneUnsaid, z.Computer)
	case !z.Same:
		return one(ZoneDiffers, z.Plant, z.Computer)
	default:
		return one(ZoneFine, z.Plant)
	}
}

func backups(f Facts) []Finding {
	switch b := f.Backup; {
	case b == nil:
		return nil
	case b.Made.IsZero():
		return one(BackupNever)
	case f.Now.Sub(b.Made) > backupOld:
		return one(BackupOld, days(f.Now.Sub(b.Made)))
	default:
		return one(BackupFine, days(f.Now.Sub(b.Made)))
	}
}

func days(d time.Duration) string { return strconv.Itoa(int(d / (24 * time.Hour))) }

func jigs(f Facts) (out []Finding) {
	if f.Jigs == nil {
		return nil
	}
	for _, j := range *f.Jigs {
		code := JigDue
		if j.Stops {
			code = JigStops
		}
		out = append(out, Finding{Code: code, Args: []string{j.Serial, f.At}, What: &What{j.Key, j.Args}})
	}
	if len(out) == 0 {
		return one(JigFine)
	}
	return out
}

func people(f Facts) (out []Finding) {
	if f.People == nil {
		return nil
	}
	all := *f.People
	if len(all) == 0 {
		return one(PeopleNone, f.At)
	}
	engineers, deciding := 0, 0
	for _, p := range all {
		if p.Engineer {
			engineers++
		}
		if p.Decides {
			deciding++
		}
		if last := laterOf(p.Since, p.Last); f.Now.Sub(last) > unusedFor {
			out = append(out, found1(PersonUnused, p.Name, days(f.Now.Sub(last))))
		}
	}
	switch {
	case deciding < 2:
		out = append(out, found1(PeopleAlone, f.At))
	case engineers < 2:
		out = append(out, found1(EngineerAlone, f.At))
	}
	if len(out) == 0 {
		return one(PeopleFine, strconv.Itoa(len(all)))
	}
	return out
}

func laterOf(a, b time.Time) time.Time {
	if a.After(b) {
		return a
	}
	return b
}

func certificate(f Facts) []Finding {
	switch c := f.Cert; {
	case c == nil:
		return nil
	case c.None:
		return one(CertNone)
	case c.Why != "":
		return one(CertBroken, c.Why)
	case f.Now.Before(c.After):
		return one(CertEarly, c.After.UTC().Format(time.DateOnly))
	case !f.Now.Before(c.Before):
		return one(CertOver, c.Before.UTC().Format(time.DateOnly))
	case c.Before.Sub(f.Now) < certSoon:
		return one(CertSoon, days(c.Before.Sub(f.Now)))
	default:
		return one(CertFine, days(c.Before.Sub(f.Now)))
	}
}

func address(f Facts) []Finding {
	switch r := f.Reached; {
	case r == nil:
		return nil
	case !r.Answers:
		return one(AddressSilent, r.Address)
	case !r.Ours:
		return one(AddressOther, r.Address, strconv.Itoa(r.Status))
	case r.Local:
		return one(AddressLocal, r.Address)
	default:
		return one(AddressOpen, r.Address)
	}
}

func releases(f Facts) (out []Finding) {
	if f.Release == nil {
		return nil
	}
	for _, r := range *f.Release {
		if r.Why != "" {
			out = append(out, found1(ReleaseBad, r.Code, r.Why, f.At))
		}
	}
	switch {
	case len(*f.Release) == 0:
		return one(ReleaseNone, f.At)
	case len(out) == 0:
		return one(ReleaseFine, strconv.Itoa(len(*f.Release)))
	}
	return out
}

func running(f Facts) []Finding {
	if f.Since.IsZero() {
		return nil
	}
	return one(RunningSince, f.Now.Sub(f.Since).Round(time.Second).String())
}

// plantStops are the findings of what keeps records from the plant until somebody has looked.
var plantStops = map[string]Code{
	"untrusted": PlantUntrusted, "no plant": PlantEmpty, "older plant": PlantOlder, "newer plant": PlantNewer,
	"other past": PlantPast, "missing past": PlantPast, "other name": PlantName, "other word": PlantWord,
}

func plant(f Facts) []Finding {
	p := f.Plant
	if p == nil {
		return nil
	}
	code, stops := plantStops[p.Code]
	switch {
	case p.None:
		return one(PlantNone)
	case p.Code == "denied":
		return one(PlantDenied, p.Member, p.Why)
	case p.Code == "not joined":
		return one(PlantUnjoined, p.Member)
	case stops:
		return one(code, p.Why)
	case p.Code != "" && p.Last.IsZero():
		return one(PlantAway, p.Why)
	case p.Code != "":
		return one(PlantSince, p.Last.UTC().Format("2006-01-02 15:04 UTC"), p.Why)
	}
	return plantReached(f.Now, *p)
}

// plantReached is how things stand with a plant that answers.
func plantReached(now time.Time, p Plant) (out []Finding) {
	rows := strconv.FormatInt(p.Rows, 10)
	if waited := now.Sub(p.Oldest); !p.Oldest.IsZero() && waited > plantLate {
		out = append(out, found1(PlantWaiting, rows, strconv.FormatInt(p.Runs, 10), strconv.Itoa(int(waited.Minutes()))))
	}
	if p.Ahead.Abs() > plantClock {
		out = append(out, found1(PlantClock, strconv.Itoa(int(p.Ahead.Seconds()))))
	}
	if p.Plain {
		out = append(out, found1(PlantPlain))
	}
	if left := p.Server.Sub(now); !p.Server.IsZero() && left < certSoon {
		out = append(out, found1(PlantServer, days(left)))
	}
	if left := p.Own.Sub(now); !p.Own.IsZero() && left < certSoon {
		out = append(out, found1(PlantOwn, days(left)))
	}
	if len(out) == 0 {
		return one(PlantFine, p.Member, rows)
	}
	return out
}

func notices(f Facts) (out []Finding) {
	n := f.Notices
	if n == nil {
		return nil
	}
	taken := strconv.FormatInt(n.Taken, 10)
	switch {
	case n.Wrong != "":
		return one(NoticesKey, n.Path, n.Wrong)
	case n.None:
		return one(NoticesNone)
	case n.Path == "":
		out = append(out, found1(NoticesUnkeyed, strconv.FormatInt(max(n.There, n.Taken), 10)))
	}
	if len(n.Products) > 0 {
		out = append(out, found1(NoticesBehind, strings.Join(n.Products, ", "), taken))
	}
	if n.Trouble != "" {
		out = append(out, found1(NoticesTrouble, n.Trouble, strconv.FormatInt(n.Number, 10)))
	}
	switch {
	case n.Path == "": // nobody listens
	case n.Never:
		out = append(out, found1(NoticesNever))
	case n.Silent > 0:
		out = append(out, found1(NoticesDeaf, strconv.Itoa(int(n.Silent.Hours()))))
	}
	if len(n.Waiting) > 0 {
		out = append(out, found1(NoticesNames, strings.Join(n.Waiting, ", ")))
	}
	if len(out) == 0 {
		return one(NoticesFine, taken)
	}
	return out
}
