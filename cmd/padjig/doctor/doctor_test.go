package doctor_test

import (
	"os"
	"regexp"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/doctor"
	"padjig/results/plant/forward"
	"padjig/sequence/wording"
)

var now = time.Date(2026, 11, 30, 9, 0, 0, 0, time.UTC)

func ago(d time.Duration) time.Time { return now.Add(-d) }

const day = 24 * time.Hour

func port(change func(*doctor.Port)) doctor.Facts {
	p := doctor.Port{Path: "/dev/ttyUSB0", Name: "ttyUSB0", Allowed: true, Group: "dialout"}
	change(&p)
	return doctor.Facts{Ports: []doctor.Port{p}}
}

func onDisk(d doctor.Disk) doctor.Facts { return doctor.Facts{Disk: &d} }

func people(all ...doctor.Person) doctor.Facts { return doctor.Facts{People: &all} }

func took(all ...time.Duration) doctor.Facts { return doctor.Facts{Syncs: all} }

func plant(p doctor.Plant) doctor.Facts { return doctor.Facts{Plant: &p} }

func cert(c doctor.Certificate) doctor.Facts { return doctor.Facts{Cert: &c} }

var ines, paul = doctor.Person{Name: "Ines", Engineer: true, Decides: true, Last: ago(day)}, doctor.Person{Name: "Paul", Engineer: true, Decides: true, Last: ago(day)}

// What each look is decided to be.
func TestDecisions(t *testing.T) {
	yes, no := true, false
	for name, c := range map[string]struct {
		facts doctor.Facts
		want  string // codes of the check, in order
	}{
		"no port":                 {doctor.Facts{Ports: []doctor.Port{}}, "ports.none"},
		"a port":                  {port(func(*doctor.Port) {}), "ports.fine"},
		"a port of another group": {port(func(p *doctor.Port) { p.Allowed = false }), "ports.denied"},
		"held by a modem manager": {port(func(p *doctor.Port) { p.Holder = "ModemManager" }), "ports.held"},
		"held by the station":     {port(func(p *doctor.Port) { p.Holder, p.Ours = "padjig", true }), "ports.ours"},
		"held, and denied to me":  {port(func(p *doctor.Port) { p.Holder, p.Ours, p.Allowed = "padjig", true, false }), "ports.ours"},

		"as the driver leaves it": {port(func(p *doctor.Port) { p.Latency = 16 * time.Millisecond }), "latency.slow"},
		"just above":              {port(func(p *doctor.Port) { p.Latency = 5 * time.Millisecond }), "latency.slow"},
		"set":                     {port(func(p *doctor.Port) { p.Latency = time.Millisecond }), "latency.fine"},
		"no timer":                {port(func(p *doctor.Port) {}), "latency.none"},

		"no records":       {doctor.Facts{Records: doctor.Records{State: doctor.RecordsNone}}, "records.none"},
		"records of later": {doctor.Facts{Records: doctor.Records{State: doctor.RecordsNewer}}, "records.newer"},
		"of before":        {doctor.Facts{Records: doctor.Records{State: doctor.RecordsOlder}}, "records.older"},
		"damaged":          {doctor.Facts{Records: doctor.Records{State: doctor.RecordsBroken}}, "records.bad"},
		"sound":            {doctor.Facts{Records: doctor.Records{State: doctor.RecordsSound}}, "records.fine"},

		"a network share":       {onDisk(doctor.Disk{Network: true, Writable: true, Free: 1 << 40}), "disk.network"},
		"a folder of another":   {onDisk(doctor.Disk{Free: 1 << 40}), "disk.barred"},
		"share, barred, full":   {onDisk(doctor.Disk{Network: true}), "disk.network disk.barred disk.full"},
		"full":                  {onDisk(doctor.Disk{Writable: true, Free: 100 << 20}), "disk.full"},
		"room is set aside":     {onDisk(doctor.Disk{Writable: true, Free: 100 << 20, Dedicated: true}), "disk.low"},
		"full though set aside": {onDisk(doctor.Disk{Writable: true, Free: 63 << 20, Dedicated: true}), "disk.full"},
		"little":                {onDisk(doctor.Disk{Writable: true, Free: 1 << 30}), "disk.low"},
		"room":                  {onDisk(doctor.Disk{Writable: true, Free: 1 << 40}), "disk.fine"},

		"a slow disk":             {took(200*time.Millisecond, 150*time.Millisecond, time.Millisecond), "sync.slow"},
		"one slow append":         {took(time.Second, 3*time.Millisecond, 2*time.Millisecond), "sync.fine"},
		"a disk that says it has": {took(20*time.Microsecond, 30*time.Microsecond, 25*time.Microsecond), "sync.quick"},

		"no fault": {doctor.Facts{Faults: &[]string{}}, "integrity.fine"},
		"faults":   {doctor.Facts{Faults: &[]string{"row 7 missing from index"}}, "integrity.bad"},

		"kept right":               {doctor.Facts{Synced: &yes, Newest: ago(time.Hour)}, "clock.fine"},
		"free":                     {doctor.Facts{Synced: &no}, "clock.free"},
		"behind the newest run":    {doctor.Facts{Synced: &yes, Newest: now.Add(time.Hour)}, "clock.behind"},
		"behind, and free":         {doctor.Facts{Synced: &no, Newest: now.Add(time.Hour)}, "clock.behind clock.free"},
		"a run is stored just now": {doctor.Facts{Synced: &yes, Newest: now.Add(time.Minute)}, "clock.fine"},
		"behind, nobody tells":     {doctor.Facts{Newest: now.Add(day)}, "clock.behind"},

		"zone of nobody": {doctor.Facts{Zones: &doctor.Zones{Computer: "UTC"}}, "zone.unsaid"},
		"two zones":      {doctor.Facts{Zones: &doctor.Zones{Plant: "Europe/Vienna", Computer: "UTC"}}, "zone.differs"},
		"one zone":       {doctor.Facts{Zones: &doctor.Zones{Plant: "Europe/Vienna", Computer: "CET", Same: true}}, "zone.fine"},

		"no backup":       {doctor.Facts{Backup: &doctor.Backup{}}, "backup.never"},
		"an old one":      {doctor.Facts{Backup: &doctor.Backup{Made: ago(9 * day)}}, "backup.old"},
		"of last night":   {doctor.Facts{Backup: &doctor.Backup{Made: ago(10 * time.Hour)}}, "backup.fine"},
		"jigs":            {doctor.Facts{Jigs: &[]doctor.Jig{}}, "jigs.fine"},
		"a jig stops":     {doctor.Facts{Jigs: &[]doctor.Jig{{Serial: "J-1", Stops: true}, {Serial: "J-2"}}}, "jigs.stops jigs.due"},
		"no account":      {people(), "accounts.none"},
		"one engineer":    {people(ines), "accounts.alone"},
		"and a quality":   {people(ines, doctor.Person{Name: "Q", Decides: true, Last: now}), "accounts.engineer"},
		"and an operator": {people(ines, doctor.Person{Name: "Abel", Last: now}), "accounts.alone"},
		"two engineers":   {people(ines, paul), "accounts.fine"},
		"one has left":    {people(ines, paul, doctor.Person{Name: "Jon", Since: ago(200 * day), Last: ago(91 * day)}), "accounts.unused"},
		"one is new":      {people(ines, paul, doctor.Person{Name: "Jon", Since: ago(day)}), "accounts.fine"},

		"no certificate":          {cert(doctor.Certificate{None: true}), "certificate.none"},
		"one that is no file":     {cert(doctor.Certificate{Why: "no such file"}), "certificate.broken"},
		"over this second":        {cert(doctor.Certificate{After: ago(day), Before: now}), "certificate.over"},
		"of tomorrow":             {cert(doctor.Certificate{After: now.Add(day), Before: now.Add(2 * day)}), "certificate.early"},
		"for a week":              {cert(doctor.Certificate{After: ago(day), Before: now.Add(7 * day)}), "certificate.soon"},
		"for a year":              {cert(doctor.Certificate{After: ago(day), Before: now.Add(365 * day)}), "certificate.fine"},
		"nobody answers":          {doctor.Facts{Reached: &doctor.Reached{}}, "address.silent"},
		"a printer answers":       {doctor.Facts{Reached: &doctor.Reached{Answers: true, Status: 200}}, "address.other"},
		"this computer only":      {doctor.Facts{Reached: &doctor.Reached{Answers: true, Ours: true, Local: true}}, "address.local"},
		"everybody":               {doctor.Facts{Reached: &doctor.Reached{Answers: true, Ours: true}}, "address.open"},
		"nothing in force":        {doctor.Facts{Release: &[]doctor.Release{}}, "releases.none"},
		"one in force":            {doctor.Facts{Release: &[]doctor.Release{{Code: "GCC-20"}}}, "releases.fine"},
		"one that was altered":    {doctor.Facts{Release: &[]doctor.Release{{Code: "GCC-20", Why: "altered"}, {Code: "GCC-9"}}}, "releases.bad"},
		"no plant":                {doctor.Facts{Plant: &doctor.Plant{None: true}}, "plant.none"},
		"a plant":                 {plant(doctor.Plant{Rows: 4, Runs: 1, Oldest: ago(time.Minute), Server: now.Add(60 * day)}), "plant.fine"},
		"it is away":              {plant(doctor.Plant{Code: "away"}), "plant.away"},
		"away since":              {plant(doctor.Plant{Code: "away", Last: ago(time.Hour)}), "plant.since"},
		"its role was taken back": {plant(doctor.Plant{Code: "denied"}), "plant.denied"},
		"nobody is trusted":       {plant(doctor.Plant{Code: "untrusted"}), "plant.untrusted"},
		"not a member":            {plant(doctor.Plant{Code: forward.NotJoined}), "plant.unjoined"},
		"another database":        {plant(doctor.Plant{Code: forward.NoPlant}), "plant.empty"},
		"an older plant":          {plant(doctor.Plant{Code: forward.OlderPlant}), "plant.older"},
		"a newer plant":           {plant(doctor.Plant{Code: forward.NewerPlant}), "plant.newer"},
		"restored":                {plant(doctor.Plant{Code: forward.MissingPast}), "plant.past"},
		"of another past":         {plant(doctor.Plant{Code: forward.OtherPast}), "plant.past"},
		"two names":               {plant(doctor.Plant{Code: forward.OtherName}), "plant.name"},
		"a word that is another":  {plant(doctor.Plant{Code: forward.OtherWord}), "plant.word"},
		"rows wait":               {plant(doctor.Plant{Rows: 400, Runs: 3, Oldest: ago(time.Hour)}), "plant.waiting"},
		"clock ahead, plain":      {plant(doctor.Plant{Ahead: 2 * time.Minute, Plain: true}), "plant.clock plant.plain"},
		"clock behind":            {plant(doctor.Plant{Ahead: -2 * time.Minute}), "plant.clock"},
		"both run out":            {plant(doctor.Plant{Server: now.Add(29 * day), Own: now.Add(day)}), "plant.server plant.own"},

		"no notices":        {doctor.Facts{Notices: &doctor.Notices{None: true}}, "notices.none"},
		"notices, no key":   {doctor.Facts{Notices: &doctor.Notices{There: 3}}, "notices.unkeyed"},
		"a key that is bad": {doctor.Facts{Notices: &doctor.Notices{Path: "p", Wrong: "no such file"}}, "notices.key"},
		"nothing heard":     {doctor.Facts{Notices: &doctor.Notices{Path: "p", Never: true}}, "notices.never"},
		"not for a day":     {doctor.Facts{Notices: &doctor.Notices{Path: "p", Silent: day}}, "notices.deaf"},
		"behind, doubted":   {doctor.Facts{Notices: &doctor.Notices{Path: "p", Products: []string{"GCC-20"}, Trouble: "withheld"}}, "notices.behind notices.trouble"},
		"an account waits":  {doctor.Facts{Notices: &doctor.Notices{Path: "p", Waiting: []string{"Ines"}}}, "notices.names"},
		"all notices":       {doctor.Facts{Notices: &doctor.Notices{Path: "p", Taken: 7}}, "notices.fine"},

		"the station's own page": {doctor.Facts{Since: ago(time.Hour)}, "running.since"},
	} {
		c.facts.Now = now
		check, _, _ := strings.Cut(c.want, ".")
		var got []string
		for _, f := range doctor.Examine(c.facts) {
			if string(f.Check()) == check {
				got = append(got, string(f.Code))
			}
		}
		slices.Sort(got)
		want := strings.Fields(c.want)
		slices.Sort(want)
		assert.Equal(t, want, got, name)
	}
}

// Where nothing was looked at each check says so, and nothing is called fine.
func TestNothingLookedAtIsNothingFine(t *testing.T) {
	found := doctor.Examine(doctor.Facts{Now: now, Unread: map[doctor.Check]string{doctor.Sync: "/srv is read-only"}})
	assert.Len(t, found, 17)
	for _, f := range found {
		assert.Equal(t, doctor.Blind, f.Outcome(), f.Code)
	}
	assert.Equal(t, doctor.Blind, doctor.Worst(found))
}

// What matters most comes first.
func TestProblemsComeFirst(t *testing.T) {
	found := doctor.Examine(doctor.Facts{
		Now: now, Ports: []doctor.Port{}, Records: doctor.Records{State: doctor.RecordsSound}, Faults: &[]string{"page 3"}, People: &[]doctor.Person{ines, paul},
	})
	var outcomes []string
	for _, f := range found {
		outcomes = append(outcomes, string(f.Outcome()))
	}
	assert.Equal(t, "wrong", outcomes[0])
	assert.Equal(t, []string{"wrong", "to do", "not looked at", "fine"}, slices.Compact(outcomes))
	assert.Equal(t, doctor.Wrong, doctor.Worst(found))
}

// texts are all the words of findings, with those they stand on.
func texts(t *testing.T) wording.Catalogue {
	t.Helper()
	all := wording.Facts()
	require.NoError(t, all.Add(doctor.Texts()))
	return all
}

// codes are those that the package's source declares, so that none is forgotten.
func codes(t *testing.T) (out []doctor.Code) {
	t.Helper()
	source, err := os.ReadFile("doctor.go")
	require.NoError(t, err)
	for _, m := range regexp.MustCompile(`Code = "([a-z]+\.[a-z]+)"`).FindAllStringSubmatch(string(source), -1) {
		out = append(out, doctor.Code(m[1]))
	}
	require.Greater(t, len(out), 40)
	return out
}

// Every finding has words in every language, and everything that is wrong or to do a remedy;
// what is fine has none.
func TestEveryFindingHasWordsAndARemedy(t *testing.T) {
	all := texts(t)
	for _, lang := range []string{"en", "de"} {
		assert.Empty(t, all.Lacking(lang), lang)
		w := all.In(lang)
		for _, code := range codes(t) {
			f := doctor.Finding{Code: code, Args: []string{"7", "7", "7"}}
			assert.NotContains(t, f.Say(w), "⟦", code)
			assert.NotContains(t, f.Say(w), "{", code)
			remedy := f.Remedy(w)
			assert.NotContains(t, remedy, "{", code)
			switch f.Outcome() {
			case doctor.Wrong, doctor.ToDo:
				assert.NotEmpty(t, remedy, "%s in %s", code, lang)
			case doctor.Fine:
				assert.Empty(t, remedy, code)
			}
			assert.NotContains(t, w.Say("doctor.check."+string(f.Check())), "⟦")
		}
		for _, f := range doctor.Examine(doctor.Facts{Now: now}) {
			assert.NotContains(t, f.Say(w), "⟦", f.Code)
		}
	}
}

// docs/doctor.md has a row for each finding, with what it means and what to do.
func TestThePageHasEveryFinding(t *testing.T) {
	page, err := os.ReadFile("../../../docs/doctor.md")
	require.NoError(t, err)
	for _, code := range codes(t) {
		assert.Contains(t, string(page), "| `"+string(code)+"` | "+string(doctor.Finding{Code: code}.Outcome())+" |")
	}
}
