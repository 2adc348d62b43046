package returns

import (
	"context"
	"database/sql"
	"fmt"

	"padjig/results/accounts"
	"padjig/results/store"
)

// SayNoPhoto records why a case has no photo: no stage is made before there is
// one, or this.
func (s *Records) SayNoPhoto(ctx context.Context, c Case, n NoPhoto) error {
	err := n.check()
	if err == nil {
		_, err = s.db.Append(ctx, func(*sql.Tx) ([]store.Entry, error) {
			e := store.Entry{Table: "return_no_photo"}
			e.Set("return_case", c.Number)
			e.Set("reason", n.Reason)
			e.Set("by", n.By)
			e.Set("at_us", s.db.Now())
			return []store.Entry{e}, nil
		})
	}
	return s.ofCase(c, "say why there is no photo", err)
}

func (n NoPhoto) check() error {
	if n.Reason == "" || n.By == "" {
		return fmt.Errorf("%w: why there can be no photo, and who says so", ErrWords)
	}
	return nil
}

// VisibleDamage is what an override of the damage of a returned unit is about.
const VisibleDamage = "visible damage"

// Unlock records that a damaged unit is tested all the same: an engineer's
// decision, which the caller knows to be one. It holds for the damage seen so far.
func (s *Records) Unlock(ctx context.Context, c Case, by, reason string) error {
	_, err := s.db.Append(ctx, func(tx *sql.Tx) ([]store.Entry, error) {
		now, err := caseIn(ctx, tx, c.Number)
		switch {
		case err != nil:
			return nil, err
		case reason == "" || by == "":
			return nil, fmt.Errorf("%w: why it is tested although damaged, and who says so", ErrWords)
		case now.Closed():
			return nil, refused(ErrStage, "closed", "case %d was closed as %q", c.Number, now.Disposition().Code)
		case !now.Locked():
			return nil, refused(ErrStage, "not damaged", "no damage keeps case %d from being tested", c.Number)
		}
		override, err := accounts.Overriding(ctx, tx, s.db.Now(), accounts.Override{What: VisibleDamage, Serial: c.Serial, By: by, Reason: reason})
		e := store.Entry{Table: "return_unlock"}
		e.Set("return_case", c.Number)
		e.Set("intake", now.Intake().Seq)
		e.Set("override", override)
		return []store.Entry{e}, err
	})
	return s.ofCase(c, "decide about the damage", err)
}
