package releases

import (
	"context"
	"database/sql"
	"fmt"

	"padjig/results/store"
)

// Withdraw takes the open proposal of a product back: its proposer does, or another
// engineer, before it is approved. They say what they looked at, see [Proposal.Look]. An
// older proposal does not wait again because of it.
func (s *Records) Withdraw(ctx context.Context, code, look, by, reason string) (Proposal, error) {
	var p Proposal
	err := s.db.Save(ctx, fmt.Sprintf("save that a proposal of %s was withdrawn", code), func(tx *sql.Tx) error {
		var err error
		if p, err = lookedAt(ctx, tx, code, look); err != nil {
			return err
		}
		if !Sensible(reason) {
			return refuse(NoReason, fmt.Sprint(ShortestReason))
		}
		role, err := roleOf(ctx, tx, by)
		if err != nil {
			return err
		}
		if role != "engineer" {
			return refuse(NotEngineer, by)
		}
		p.Withdrawn = Withdrawn{by, reason, s.db.Now()}
		e := store.Entry{Table: "release_withdrawal"}
		e.Set("proposal", p.Seq)
		e.Set("by", by)
		e.Set("reason", reason)
		e.Set("at_us", p.WithdrawnAt)
		_, err = e.Insert(ctx, tx)
		return err
	})
	return p, err
}

// LastWithdrawn gives the newest proposal of a product where it was withdrawn, nil where it
// was not.
func (s *Records) LastWithdrawn(ctx context.Context, code string) (*Proposal, error) {
	list, err := s.Proposals(ctx, code)
	if err != nil || len(list) == 0 || list[0].WithdrawnBy == "" {
		return nil, err
	}
	return &list[0], nil
}
