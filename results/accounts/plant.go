package accounts

import (
	"context"
	"database/sql"
	"fmt"
	"time"
)

// OfPlantError is of a decision at a station about an account that the plant decides about.
type OfPlantError struct{ Name string }

func (e *OfPlantError) Error() string {
	return fmt.Sprintf("the account of %s is the plant's: it is changed at the plant's office", e.Name)
}

// notice is the number of the plant's notice that something came with.
type notice int64

// decidedHere is what came with none.
const decidedHere notice = 0

func (n notice) column() any {
	if n == decidedHere {
		return nil
	}
	return int64(n)
}

// Take carries out what the plant decided about one account, in the transaction that keeps its notice.
// Where an account of this name, or of one that nobody can tell from it, was made here and is
// open, nothing is done: *[LikeAnother] names it.
//
// Unlike a decision here it may leave no engineer with a password.
func Take(ctx context.Context, tx *sql.Tx, number int64, at time.Time, events ...AccountEvent) error {
	there, err := accountsIn(ctx, tx)
	if err != nil {
		return err
	}
	for _, e := range events {
		for _, a := range there {
			if SamePerson(a.Name, e.Name) && (a.Name != e.Name || !a.OfPlant) {
				return &LikeAnother{a.Name}
			}
		}
	}
	for _, e := range events {
		if err := write(ctx, tx, e, at, notice(number)); err != nil {
			return err
		}
	}
	return nil
}
