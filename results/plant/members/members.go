// Package members is which stations forward their records to the plant's database, and how
// new the newest run of each is.
package members

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"padjig/results/plant/postgres"
)

// Member is a station of the plant.
type Member struct {
	Number int
	Name   string
	Since  time.Time // it was taken in
	Newest time.Time // its newest run was stored, by the station's clock; zero: none yet
	Runs   int64     // it has stored so far
}

// List gives the stations by their names.
func List(ctx context.Context, db *sql.DB) (list []Member, err error) {
	// The runs of a station come in its own order, so that its cursor leads to the newest in one step.
	rows, err := db.QueryContext(ctx, `
		SELECT member.member, name, since_us, coalesce(local, 0),
		       coalesce((SELECT saved_us FROM run WHERE run.member = member.member AND run.local = forwarded.local), 0)
		FROM member LEFT JOIN forwarded ON forwarded.member = member.member AND source = 'run' ORDER BY name`)
	if err != nil {
		return nil, fmt.Errorf("list the stations of the plant: %w", err)
	}
	defer rows.Close()
	for rows.Next() {
		var m Member
		var since, newest int64
		if err := rows.Scan(&m.Number, &m.Name, &since, &m.Runs, &newest); err != nil {
			return nil, fmt.Errorf("list the stations of the plant: %w", err)
		}
		m.Since = time.UnixMicro(since).UTC()
		if newest != 0 {
			m.Newest = time.UnixMicro(newest).UTC()
		}
		list = append(list, m)
	}
	if err := rows.Err(); err != nil {
		return nil, fmt.Errorf("list the stations of the plant: %w", err)
	}
	return list, nil
}

// Names gives what the stations are called, by their numbers.
func Names(ctx context.Context, db *sql.DB) (map[int]string, error) {
	rows, err := db.QueryContext(ctx, `SELECT member, name FROM member`)
	if err != nil {
		return nil, fmt.Errorf("name the stations of the plant: %w", err)
	}
	defer rows.Close()
	names := map[int]string{}
	for rows.Next() {
		var number int
		var name string
		if err := rows.Scan(&number, &name); err != nil {
			return nil, fmt.Errorf("name the stations of the plant: %w", err)
		}
		names[number] = name
	}
	return names, rows.Err()
}

// Of is the number of the station that a run is of.
func Of(run int64) int { return postgres.MemberOf(run) }
