package view

import (
	"context"
	"database/sql"
	"time"

	"padjig/results/floor"
	"padjig/results/store"
)

// Lots are those that a station uses on a jig for a product.
type Lots struct {
	Member       int
	Station      string
	Jig, Product string
	Simulated    bool
	Now          floor.Lots
	Before       floor.Lots // those before the change, nil where there were none
	By           string
	At           time.Time
	Newest       bool // nothing was changed on that jig for that product there since
}

// LotChanges are changes of lots at all stations, or at one, newest first by the times that they have: each that is in force, and of the
// others n at most.
func (r *Records) LotChanges(ctx context.Context, member, n int) (list []Lots, err error) {
	err = r.db.Ask(ctx, "look up the lots of the stations", func(tx *sql.Tx) error {
		list, err = store.Collect(ctx, tx, func(rows *sql.Rows) (l Lots, err error) {
			var now, before [4]*string
			err = rows.Scan(&l.Member, &l.Station, &l.Jig, &l.Product, &l.Simulated, &now[0], &now[1], &now[2], &now[3],
				&before[0], &before[1], &before[2], &before[3], &l.By, store.Time(&l.At), &l.Newest)
			l.Now, l.Before = lotsOf(now), lotsOf(before)
			return l, err
		}, `
			WITH changes AS (
				SELECT lot_change.*, lag(membrane) OVER w AS membrane_, lag(dome) OVER w AS dome_, lag(board) OVER w AS board_,
				       lag(consumables) OVER w AS consumables_, lead(seq) OVER w IS NULL AS newest
				FROM lot_change WHERE ?1 = 0 OR member = ?1
				WINDOW w AS (PARTITION BY member, jig, product, simulated ORDER BY local)
			), numbered AS (SELECT *, row_number() OVER (ORDER BY at_us DESC, seq DESC) AS place FROM changes)
			SELECT numbered.member, name, jig, product, simulated, membrane, dome, board, consumables, membrane_, dome_, board_, consumables_, by, at_us, newest
			FROM numbered JOIN member ON member.member = numbered.member WHERE newest OR place <= ?2 ORDER BY place`, member, n)
		return err
	})
	return list, err
}

func lotsOf(of [4]*string) (l floor.Lots) {
	for i, lot := range of {
		if lot != nil {
			if l == nil {
				l = floor.Lots{}
			}
			if *lot != "" {
				l[floor.Materials[i]] = *lot
			}
		}
	}
	return l
}

// Plan is when the shifts of a station are.
type Plan struct {
	Member  int
	Station string
	floor.ShiftPlan
}

// Plans are the plans in force of all stations that have one, by the name of the station; of one, where it is named.
func (r *Records) Plans(ctx context.Context, member int) (list []Plan, err error) {
	err = r.db.Ask(ctx, "look up the shifts of the stations", func(tx *sql.Tx) error {
		type newest struct {
			Plan
			number int64
		}
		all, err := store.Collect(ctx, tx, func(rows *sql.Rows) (n newest, err error) {
			return n, rows.Scan(&n.Member, &n.Station, &n.number)
		}, `SELECT member.member, member.name, max(plan) FROM shift JOIN member ON member.member = shift.member
			WHERE ?1 = 0 OR member.member = ?1 GROUP BY member.member, member.name ORDER BY member.name`, member)
		for _, n := range all {
			if err != nil {
				return err
			}
			var of floor.PlanInForce
			of, err = floor.PlanOf(ctx, tx, n.number)
			n.ShiftPlan = of.ShiftPlan
			list = append(list, n.Plan)
		}
		return err
	})
	return list, err
}
