package look

import (
	"bytes"
	"context"
	"errors"
	"os"
	"slices"
	"time"

	"padjig/cmd/padjig/doctor"
	"padjig/results/plant/forward"
	"padjig/results/plant/notice"
	"padjig/results/plant/postgres"
)

// Plant is where the records go, and who is believed there, as the station is told.
type Plant struct {
	Address string // of its database; empty: they go nowhere
	Member  string
	Keys    string           // file of its keys
	Last    func() time.Time // when something came there last, zero where it is not known; nil: nobody knows
}

// plantPatience is how long a plant that is silent may take.
const plantPatience = 5 * time.Second

// plant asks the plant, and then the records what they have of it.
func (a Asked) plant(ctx context.Context, f *doctor.Facts) {
	there := int64(0)
	switch {
	case a.Plant.Address == "":
		f.Plant = &doctor.Plant{None: true}
	case a.Store != nil:
		f.Plant, there = a.askPlant(ctx)
	}
	if a.Store != nil {
		asking{ctx, a.Store, f}.try(doctor.NoticesCheck, func() (err error) {
			f.Notices, err = a.notices(ctx, f.Now, there)
			return err
		})
	}
}

func (a Asked) askPlant(ctx context.Context) (p *doctor.Plant, notices int64) {
	p = &doctor.Plant{Member: a.Plant.Member}
	if a.Plant.Last != nil {
		p.Last = a.Plant.Last()
	}
	ctx, cancel := context.WithTimeout(ctx, plantPatience)
	defer cancel()
	var st forward.Found
	db, err := postgres.Open(a.Plant.Address)
	if err == nil {
		defer db.Close()
		st, err = forward.Look(ctx, db, a.Store, a.Plant.Member)
	}
	if err != nil {
		p.Code, p.Why = trouble(err)
		return p, 0
	}
	p.Runs, p.Rows, p.Oldest, p.Ahead = st.Runs, st.Rows, st.Oldest, st.Ahead
	p.Plain, p.Server, p.Own = st.Shown.Plain, st.Shown.Server, st.Shown.Own
	return p, st.Notices
}

// trouble says by a code what keeps the plant from taking records.
func trouble(err error) (code, why string) {
	if stop, is := errors.AsType[*forward.StoppedError](err); is {
		return stop.Code, stop.What
	}
	if no, is := errors.AsType[*postgres.UntrustedError](err); is {
		return "untrusted", no.Error()
	}
	if postgres.Denied(err) {
		return "denied", err.Error()
	}
	return "away", err.Error()
}

// notices are what the records have of the plant's, where so many hang there.
func (a Asked) notices(ctx context.Context, now time.Time, there int64) (*doctor.Notices, error) {
	n := &doctor.Notices{Path: a.Plant.Keys, There: there}
	contact, err := a.Store.Notices.Contact(ctx)
	if err != nil {
		return nil, err
	}
	if n.None = contact == nil && there == 0 && n.Path == ""; n.None {
		return n, nil
	}
	if n.Path != "" {
		if n.Wrong, err = a.keys(ctx); err != nil || n.Wrong != "" {
			return n, err
		}
	}
	if contact == nil { // it has a key, and never looked
		n.Never = true
		return n, nil
	}
	n.Taken, n.Waiting, n.Never = contact.Taken, contact.Waiting, contact.Heard.IsZero()
	if silent, over := contact.Silent(now); over {
		n.Silent = silent
	}
	if contact.Trouble != nil {
		n.Trouble, n.Number = string(contact.Trouble.Code), contact.Trouble.Number
	}
	if contact.Head != nil {
		for product, number := range contact.Head.Products {
			if number > contact.Taken {
				n.Products = append(n.Products, product)
			}
		}
		slices.Sort(n.Products)
	}
	return n, nil
}

// keys says what is wrong with the file of the plant's keys, by itself and against the first notice; empty for nothing.
func (a Asked) keys(ctx context.Context) (wrong string, err error) {
	text, err := os.ReadFile(a.Plant.Keys)
	if err != nil {
		return err.Error(), nil
	}
	pinned, err := notice.ReadPublic(text)
	if err != nil {
		return err.Error(), nil
	}
	first, err := a.Store.Notices.List(ctx, 0, 1)
	if err != nil || len(first) == 0 {
		return "", err
	}
	body, err := first[0].AsKey()
	if err != nil {
		return "", err
	}
	key, err := body.Public()
	if err == nil && !bytes.Equal(key, pinned[0]) {
		wrong = string(notice.WrongKey) + ": " + notice.FingerprintOf(key).String()
	}
	return wrong, err
}
