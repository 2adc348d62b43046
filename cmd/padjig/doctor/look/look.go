// Package look gathers what package doctor decides on: the one edge of the doctor. It moves
// nothing, opens no port, and writes only the lines by which it measures the disk, to a file that
// it removes. It works beside a running station, without records, and as an ordinary user.
package look

import (
	"context"
	"errors"
	"os"
	"os/user"
	"path/filepath"
	"slices"
	"time"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/doctor"
	"padjig/results"
	"padjig/results/accounts"
	"padjig/results/answers/upkeep"
	"padjig/results/store"
)

// Asked is what is to be looked at.
type Asked struct {
	Store    *results.Store // nil: the records could not be opened
	Path     string         // of the records
	Failed   error          // why the records could not be opened
	At       string         // see [doctor.Facts.At]
	Listen   string         // where the station serves; empty: not to be asked
	Cert     string         // file of its certificate
	Key      string
	Since    time.Time // see [doctor.Facts.Since]
	Computer Computer
	Plant    Plant
}

// patience is how long a look at the file of the records, and at the address, may take.
const (
	filePatience    = 10 * time.Second
	addressPatience = 3 * time.Second
)

// At looks.
func At(ctx context.Context, a Asked) doctor.Facts {
	f := doctor.Facts{Now: time.Now(), User: userName(), At: a.At, Since: a.Since, Unread: map[doctor.Check]string{}}
	f.Ports = a.Computer.ports(&f)
	f.Synced = store.ClockSynced()
	a.disk(&f)
	a.records(ctx, &f)
	a.plant(ctx, &f)
	f.Cert = certificateOf(a.Listen, a.Cert, a.Key)
	f.Reached = reach(ctx, a.Listen, a.Cert != "")
	return f
}

func userName() string {
	if u, err := user.Current(); err == nil {
		return u.Username
	}
	return "this user"
}

// disk looks at what the records lie on, or would.
func (a Asked) disk(f *doctor.Facts) {
	folder := filepath.Dir(a.Path)
	for folder != filepath.Dir(folder) { // not made yet: it will lie on the disk of the one above
		if is, err := os.Stat(folder); err == nil && is.IsDir() {
			break
		}
		folder = filepath.Dir(folder)
	}
	d, err := diskOf(folder)
	if err != nil {
		f.Unread[doctor.DiskCheck] = err.Error()
	} else {
		_, missing := os.Stat(a.Path + "-ballast")
		d.Dedicated = missing == nil
		f.Disk = d
	}
	if d != nil && !d.Writable {
		f.Unread[doctor.Sync] = folder
		return
	}
	if f.Syncs, err = syncsIn(folder); err != nil {
		f.Unread[doctor.Sync] = err.Error()
	}
}

// records asks the records, each question for itself: one that fails hides no other.
func (a Asked) records(ctx context.Context, f *doctor.Facts) {
	f.Records.Path = a.Path
	if a.Store == nil {
		f.Records.State = stateOf(a.Failed)
		if a.Failed != nil {
			f.Records.Why = a.Failed.Error()
		}
		return
	}
	f.Records.State = doctor.RecordsSound
	q := asking{ctx, a.Store, f}
	q.file()
	q.try(doctor.Clock, q.newest)
	q.try(doctor.Zone, q.zones)
	q.try(doctor.Jigs, q.jigs)
	q.try(doctor.Accounts, q.people)
	q.try(doctor.Releases, q.releases)
	q.try(doctor.Backups, q.backup)
}

func stateOf(err error) doctor.RecordsState {
	switch {
	case errors.Is(err, store.ErrNoStore), err == nil:
		return doctor.RecordsNone
	case errors.Is(err, store.ErrOlder):
		return doctor.RecordsOlder
	case errors.Is(err, store.ErrNewer):
		return doctor.RecordsNewer
	}
	return doctor.RecordsBroken
}

// asking asks the records.
type asking struct {
	ctx   context.Context
	store *results.Store
	f     *doctor.Facts
}

func (q asking) try(check doctor.Check, ask func() error) {
	if err := ask(); err != nil {
		q.f.Unread[check] = err.Error()
	}
}

func (q asking) backup() error {
	whole, _, err := q.store.Backups.Newest(q.ctx)
	if err != nil {
		return err
	}
	q.f.Backup = &doctor.Backup{}
	if whole != nil {
		q.f.Backup.Made = whole.At
	}
	return nil
}

func (q asking) file() {
	ctx, cancel := context.WithTimeout(q.ctx, filePatience)
	defer cancel()
	schema, faults, err := q.store.Glance(ctx)
	q.f.Records.Schema = schema
	switch {
	case ctx.Err() != nil:
		q.f.Unread[doctor.Integrity] = "padjig records check" + q.f.At
	case err != nil:
		q.f.Unread[doctor.Integrity] = err.Error()
	default:
		q.f.Faults = &faults
	}
}

func (q asking) newest() error {
	list, err := q.store.Runs.Recent(q.ctx, 1)
	if len(list) > 0 {
		q.f.Newest = list[0].Started
	}
	return err
}

func (q asking) zones() error {
	name, err := q.store.Floor.Zone(q.ctx)
	if err != nil {
		return err
	}
	z := &doctor.Zones{Plant: name, Computer: q.f.Now.Local().Format("MST")}
	if zone, err := time.LoadLocation(name); err == nil && name != "" {
		_, there := q.f.Now.In(zone).Zone()
		_, here := q.f.Now.Local().Zone()
		z.Same = there == here
	}
	q.f.Zones = z
	return nil
}

func (q asking) jigs() error {
	all, err := upkeep.Of(q.ctx, q.store, upkeep.Asked{Now: q.f.Now})
	if err != nil {
		return err
	}
	out := []doctor.Jig{}
	for _, j := range all.Jigs {
		if j.Simulated || len(j.Troubles) == 0 {
			continue
		}
		t := j.Troubles[0]
		out = append(out, doctor.Jig{Serial: j.Jig.Serial, Stops: t.Stops(), Key: "upkeep." + string(t.Code), Args: t.Args})
	}
	q.f.Jigs = &out
	return nil
}

func (q asking) people() error {
	all, err := q.store.Accounts.Accounts(q.ctx)
	if err != nil {
		return err
	}
	seen, err := q.store.SignIns.Last(q.ctx, mostSignIns)
	if err != nil {
		return err
	}
	out := []doctor.Person{}
	for _, a := range all {
		if a.Locked {
			continue
		}
		p := doctor.Person{
			Name: a.Name, Engineer: a.Answers(), Since: a.Since,
			Decides: a.Password != "" && slices.Contains(account.Deciding, account.Role(a.Role)),
		}
		for _, s := range seen {
			if s.Name == a.Name && s.Outcome == accounts.SignedIn && s.At.After(p.Last) {
				p.Last = s.At
			}
		}
		out = append(out, p)
	}
	q.f.People = &out
	return nil
}

// mostSignIns is more than a line has in three months.
const mostSignIns = 50_000

func (q asking) releases() error {
	codes, err := q.store.Releases.Codes(q.ctx)
	if err != nil {
		return err
	}
	out := []doctor.Release{}
	for _, code := range codes {
		list, err := q.store.Runs.Releases(q.ctx, code)
		if err != nil {
			return err
		}
		r := doctor.Release{Code: code}
		if len(list) > 0 {
			_, err = list[0].Product()
			if err == nil {
				err = q.store.Releases.Sound(q.ctx, list[0])
			}
			if err != nil {
				r.Why = err.Error()
			}
		}
		out = append(out, r)
	}
	q.f.Release = &out
	return nil
}
