package fails

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"

	"padjig/results/store"
)

// Place is where units that failed are put. Number 0 is the one that every line has.
type Place struct {
	Number int64
	Name   string
}

// UsualPlace is the name of the place that every line has.
const UsualPlace = "fail place"

// longestName is what stands below a printed code, and mostPlaces what its digits hold.
const (
	longestName = 40
	mostPlaces  = 9999
)

func (p Place) stored() any {
	if p.Number == 0 {
		return nil
	}
	return p.Number
}

// Places lists the fail places, the one that every line has first.
func (s *Records) Places(ctx context.Context) ([]Place, error) {
	named, err := store.List(ctx, s.db, "list the fail places", scanPlace, `SELECT seq, name FROM fail_place ORDER BY seq`)
	return append([]Place{{0, UsualPlace}}, named...), err
}

func scanPlace(rows *sql.Rows) (p Place, err error) { return p, rows.Scan(&p.Number, &p.Name) }

// AddPlace names one more place, and gives it its number.
func (s *Records) AddPlace(ctx context.Context, name, by string) (Place, error) {
	name = strings.TrimSpace(name)
	places, err := s.Places(ctx)
	if err != nil {
		return Place{}, err
	}
	taken := slices.ContainsFunc(places, func(p Place) bool { return strings.EqualFold(p.Name, name) })
	for _, c := range []struct {
		wrong bool
		say   string
	}{
		{name == "", "it has no name"}, {len([]rune(name)) > longestName, fmt.Sprintf("its name is longer than %d letters", longestName)},
		{by == "", "whoever names it is not named"}, {taken, fmt.Sprintf("%q is there already", name)},
		{len(places) > mostPlaces, fmt.Sprintf("there are %d already", len(places))},
	} {
		if c.wrong {
			return Place{}, fmt.Errorf("name a fail place: %w: %s", store.ErrRefused, c.say)
		}
	}
	number, err := s.db.Append(ctx, func(*sql.Tx) ([]store.Entry, error) {
		e := store.Entry{Table: "fail_place"}
		e.Set("name", name)
		e.Set("by", by)
		e.Set("at_us", s.db.Now())
		return []store.Entry{e}, nil
	})
	if err != nil {
		return Place{}, fmt.Errorf("name a fail place in %s: %w", s.db.Path(), store.Remedy(err))
	}
	return Place{number, name}, nil
}
