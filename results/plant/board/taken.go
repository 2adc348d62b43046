package board

import (
	"context"
	"database/sql"
	"fmt"
	"time"

	"padjig/results/plant/notice"
	"padjig/results/store"
)

// Taken is how far a station took the notices, by its own word.
type Taken struct {
	Member  int
	Station string
	Number  int64     // of the last that it took
	Told    time.Time // when it said so, by the clock of the plant; zero: it never said anything
	Trouble notice.Code
	About   int64 // number of the notice or head that the trouble is of
}

// Took says how far a station took the notices, and what it does not believe: nil for nothing. One of a name
// that the plant does not know says nothing.
func Took(ctx context.Context, db *sql.DB, station string, number int64, trouble *notice.Mistake) error {
	if trouble == nil {
		trouble = &notice.Mistake{}
	}
	_, err := db.ExecContext(ctx, `
		INSERT INTO notice_taken (member, number, trouble, about, told_us)
		SELECT member, ?1::bigint, ?2::text, ?3::bigint, (extract(epoch FROM clock_timestamp()) * 1000000)::bigint FROM member WHERE name = ?4
		ON CONFLICT (member) DO UPDATE SET number = excluded.number, trouble = excluded.trouble, about = excluded.about, told_us = excluded.told_us`,
		number, string(trouble.Code), trouble.Number, station)
	if err != nil {
		return fmt.Errorf("say which notices were taken: %w", err)
	}
	return nil
}

// Stations are all stations of the plant with how far each took the notices, by name.
func Stations(ctx context.Context, db *sql.DB) ([]Taken, error) {
	list, err := store.Collect(ctx, db, func(rows *sql.Rows) (t Taken, err error) {
		var told *int64
		err = rows.Scan(&t.Member, &t.Station, &t.Number, &t.Trouble, &t.About, &told)
		if told != nil {
			t.Told = time.UnixMicro(*told).UTC()
		}
		return t, err
	}, `
		SELECT member, name, coalesce(number, 0), coalesce(trouble, ''), coalesce(about, 0), told_us
		FROM member LEFT JOIN notice_taken USING (member) ORDER BY name`)
	if err != nil {
		return nil, fmt.Errorf("look up which notices the stations took: %w", err)
	}
	return list, nil
}
