// Package releasestest releases revisions in tests as two people would.
package releasestest

import (
	"cmp"
	"context"
	"errors"

	"padjig/results"
	"padjig/results/accounts"
	"padjig/results/releases"
	"padjig/sequence/product"
)

// second approves; the account is there only meanwhile, so that what is tested has those
// that it made.
const second = "Second Person"

// Release has Ines propose a product file, and where it lets more through somebody else
// approve it, from the format's first serial number on.
func Release(ctx context.Context, s *results.Store, text string) error { return From(ctx, s, text, "") }

// From is [Release] from a serial number on.
func From(ctx context.Context, s *results.Store, text, serial string) error {
	p, err := product.Parse("release", []byte(text))
	if err != nil {
		return err
	}
	asked, err := s.Releases.Propose(ctx, releases.Proposal{
		Code: p.Code, Label: p.Revision, Hash: p.Hash(), Source: text, By: "Ines", Reason: "agreed with the customer",
		FromSerial: cmp.Or(serial, p.Serial.Complete(0)),
	})
	if err != nil || !asked.Loosens {
		return err
	}
	event := func(kind accounts.AccountEventKind, role string) error {
		return s.Accounts.SaveAccountEvent(ctx, accounts.AccountEvent{Name: second, Kind: kind, Role: role, By: "test"})
	}
	if err := event(accounts.AccountRole, "quality"); err != nil {
		return err
	}
	_, err = s.Releases.Approve(ctx, p.Code, p.Hash(), second)
	return errors.Join(err, event(accounts.AccountClosed, ""))
}
