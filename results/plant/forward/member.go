package forward

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"regexp"

	"padjig/results/plant/postgres"
	"padjig/results/plant/tables"
	"padjig/results/store"
)

// StoppedError is a reason for which nothing is forwarded until a person has seen to it. The records stay
// where they are, and testing goes on.
type StoppedError struct {
	Code   string // of Stopped
	What   string
	Remedy string
}

func (e *StoppedError) Error() string { return e.What + "; " + e.Remedy }

// Codes of a [StoppedError].
const (
	NoPlant     = "no plant"     // the database has no tables
	OlderPlant  = "older plant"  // its tables are older than this program
	NewerPlant  = "newer plant"  // they are newer, and this program would not fill them rightly
	NotJoined   = "not joined"   // there is no station of this name
	OtherPast   = "other past"   // the station's records are not those that came before
	OtherName   = "other name"   // they came under another name
	MissingPast = "missing past" // the station has fewer than came before
	OtherWord   = "other word"   // what a row names means something else at the plant, or is not what it is called
)

var nameForm = regexp.MustCompile(`^[A-Za-z0-9]([A-Za-z0-9._-]{0,61}[A-Za-z0-9])?$`)

// CheckName refuses what cannot be the name of a station at a plant.
func CheckName(name string) error {
	if !nameForm.MatchString(name) {
		return fmt.Errorf("station name %q: write up to 63 letters, digits, dots, dashes and underscores, such as line-2", name)
	}
	return nil
}

// Join gives a station of a name its number at the plant. Done again it gives the same number.
func Join(ctx context.Context, plant *sql.DB, name string) (member int, err error) {
	if err := CheckName(name); err != nil {
		return 0, err
	}
	c, err := plant.Conn(ctx)
	if err != nil {
		return 0, fmt.Errorf("join the plant: %w", err)
	}
	defer c.Close()
	if err := sameVersions(ctx, c); err != nil {
		return 0, err
	}
	tx, err := c.BeginTx(ctx, nil)
	if err != nil {
		return 0, fmt.Errorf("join the plant: %w", err)
	}
	defer tx.Rollback()
	if _, err := tx.ExecContext(ctx, `SELECT pg_advisory_xact_lock(hashtext('padjig join'))`); err != nil { // a lock of the table would wait for all who forward
		return 0, fmt.Errorf("join the plant: %w", err)
	}
	_, err = tx.ExecContext(ctx, `INSERT INTO member (member, name, since_us)
		VALUES ((SELECT coalesce(max(member), 0) + 1 FROM member), ?, (extract(epoch FROM clock_timestamp()) * 1000000)::bigint)
		ON CONFLICT (name) DO NOTHING`, name)
	if err == nil {
		err = tx.QueryRowContext(ctx, `SELECT member FROM member WHERE name = ?`, name).Scan(&member)
	}
	if err == nil {
		_, err = tx.ExecContext(ctx, `INSERT INTO forwarded (member, source, local) VALUES (?, 'run', 0) ON CONFLICT DO NOTHING`, member)
	}
	if err == nil {
		err = tx.Commit()
	}
	if err != nil {
		return 0, fmt.Errorf("join the plant as %s: %w", name, err)
	}
	return member, nil
}

// sameVersions refuses a plant that this program would not fill rightly.
func sameVersions(ctx context.Context, c *sql.Conn) error {
	known, err := postgres.Known()
	if err != nil {
		return err
	}
	version, err := postgres.Version(ctx, c)
	if err != nil {
		return fmt.Errorf("version of the plant's database: %w", err)
	}
	if version == 0 {
		return &StoppedError{NoPlant, "the database has no tables of a plant", "make them: padjig plant prepare"}
	}
	if version < known {
		return &StoppedError{OlderPlant, fmt.Sprintf("the plant's database has version %d, this padjig needs %d", version, known),
			"bring the plant up to date first: padjig plant prepare"}
	}
	var contract int
	if err := c.QueryRowContext(ctx, `SELECT max(contract) FROM forward_contract`).Scan(&contract); err != nil {
		return fmt.Errorf("version of the plant's database: %w", err)
	}
	if contract != tables.Contract {
		return &StoppedError{NewerPlant, fmt.Sprintf("the plant's database has version %d, with more in it than this padjig, which knows %d, can fill",
			version, known), "install the newer padjig at this station"}
	}
	return nil
}

// memberOf finds a station by its name, and which its first run was: nothing where none came yet.
func memberOf(ctx context.Context, c *sql.Conn, name string) (member int, first firstRun, err error) {
	err = c.QueryRowContext(ctx, `SELECT member, first_id, first_hash FROM member WHERE name = ?`, name).Scan(&member, &first.id, &first.hash)
	if errors.Is(err, sql.ErrNoRows) {
		return 0, first, &StoppedError{NotJoined, fmt.Sprintf("the plant knows no station %q", name), "add it: padjig plant member add " + name}
	}
	return member, first, err
}

// firstRun tells a station's records from all others.
type firstRun struct{ id, hash []byte }

// places are how far a station's rows came: the number of each table's newest row there and here.
type places struct {
	local  cursors
	number map[string]int64
}

func placesOf(ctx context.Context, q querier, member int, lock string) (places, error) {
	p := places{cursors{}, map[string]int64{}}
	err := store.Visit(ctx, q, func(r *sql.Rows) error {
		var source string
		var local, number int64
		err := r.Scan(&source, &local, &number)
		p.local[source], p.number[source] = local, number
		return err
	}, `SELECT source, local, number FROM forwarded WHERE member = ? ORDER BY source `+lock, member)
	return p, err
}
