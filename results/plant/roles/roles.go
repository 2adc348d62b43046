// Package roles says who may do what in the database of a plant, and makes it so.
//
// There are four. The owner owns the tables: it migrates, makes roles and retires months, and nothing
// else runs as it. A station stores its own rows and no other's, and changes none. A reader reads. An office reads, puts
// notices up - what it decides is believed by signature alone, so that its role decides nothing - and writes down what came of
// conflicts, which hold no station to anything. Stations, readers and offices are
// roles of PostgreSQL's that sign in, each a member of a group whose privileges are [privileges].
//
// That a station stores only its own rows is held by triggers (migrations, own_rows), since COPY does not go
// together with row-level security; that nobody changes records is held by privileges, and for the owner by triggers.
package roles

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"regexp"
	"slices"
	"strconv"
	"strings"

	"github.com/jackc/pgx/v5"

	"padjig/results/plant/forward"
	"padjig/results/plant/postgres"
)

// What a group may do with a table.
const (
	reads  = "SELECT"
	stores = "SELECT, INSERT"                        // a row that is there stays as it is
	moves  = "SELECT, INSERT, UPDATE"                // of its own rows, by row-level security
	begins = "SELECT, UPDATE (first_id, first_hash)" // of its own row
	counts = "SELECT, INSERT, UPDATE, DELETE"
)

// privileges are what a station may do with each table, beyond which a reader reads them all.
// A table that is not here no station may look at; a test holds that each is here.
var privileges = map[string][]string{
	reads:  {"migration", "forward_contract", "retired_month", "notice", "notice_head", "conflict_note"},
	begins: {"member"},
	stores: {
		// words
		"revision", "key", "pin", "step", "jig", "station", "line_split", "fault",
		// records of runs
		"run", "run_step", "run_seat", "run_key", "run_pair", "run_finding", "run_exercise", "run_insulation", "run_pad",
		"run_start", "run_unfinished", "asked", "nest_count", "nest_empty",
		// of jigs and what they are held against
		"calibration", "calibration_reading", "reference_check", "commissioning", "commissioning_step", "wear_event",
		"gauge_study", "gauge_reading", "program",
		// of units
		"return_case", "return_intake", "return_photo", "return_diagnosis", "return_disposition", "return_no_photo",
		"return_unlock", "return_disposal", "rework", "rework_deed", "shipment", "fail_place", "placement", "fails_owe",
		// of the line
		"lot_change", "shift", "baseline", "override", "release", "release_proposal", "release_approval", "release_withdrawal",
		"handover", "stop", "stop_lifting", "stop_beginning", "product_change", "plant_zone",
	},
	moves: {"forwarded", "clock_offset", "heartbeat", "notice_taken"},
	// What is counted can be counted anew from the runs; counting a run changes what others of its unit add.
	counts: {"run_cell", "cell", "cell_reading", "cell_finding", "span", "span_cell", "span_reading", "span_finding", "unit"},
}

// longest is how many bytes of a name PostgreSQL keeps.
const longest = 63

// Plant is a database with its roles. The pool is the owner's.
type Plant struct {
	db   *sql.DB
	name string // of the database, which those of its roles begin with
}

// ErrName is a database whose name no roles can be made from.
var ErrName = errors.New("the database needs another name: without \"_station_\" in it, and of 40 bytes at most")

// On gives the roles of the database that a pool of its owner's is connected to.
func On(ctx context.Context, db *sql.DB) (*Plant, error) {
	p := &Plant{db: db}
	if err := db.QueryRowContext(ctx, `SELECT current_database()`).Scan(&p.name); err != nil {
		return nil, fmt.Errorf("look for the plant's database: %w", err)
	}
	if strings.Contains(p.name, "_station_") || len(p.name) > longest-len("_station_4095") {
		return nil, fmt.Errorf("%w; it is %q", ErrName, p.name)
	}
	return p, nil
}

// The groups there are.
const (
	Station = "station"
	Reader  = "reader"
	Office  = "office"
)

// Group is the name of the role that all of a group are members of.
func (p *Plant) Group(of string) string { return p.name + "_" + of }

// Name is that of the database.
func (p *Plant) Name() string { return p.name }

// quoted writes a name as SQL has names.
func quoted(name string) string { return pgx.Identifier{name}.Sanitize() }

// Prepare makes the groups and gives each its privileges, and takes away what is not theirs. Doing it again changes
// nothing. The tables are up to date; see [postgres.Migrate].
func (p *Plant) Prepare(ctx context.Context) error {
	return p.alone(ctx, "give roles their privileges", func(tx *sql.Tx) error {
		for _, group := range []string{p.Group(Station), p.Group(Reader), p.Group(Office)} {
			if err := role(ctx, tx, group, "NOLOGIN"); err != nil {
				return err
			}
		}
		station, reader, office, database := quoted(p.Group(Station)), quoted(p.Group(Reader)), quoted(p.Group(Office)), quoted(p.name)
		all := station + ", " + reader + ", " + office
		statements := []string{
			`REVOKE ALL ON DATABASE ` + database + ` FROM PUBLIC, ` + all,
			`GRANT CONNECT ON DATABASE ` + database + ` TO ` + all,
			`REVOKE ALL ON SCHEMA public FROM PUBLIC, ` + all,
			`GRANT USAGE ON SCHEMA public TO ` + all,
			`REVOKE ALL ON ALL TABLES IN SCHEMA public FROM PUBLIC, ` + all,
			`GRANT SELECT ON ALL TABLES IN SCHEMA public TO ` + reader + `, ` + office,
			`GRANT INSERT ON notice TO ` + office,
			`GRANT INSERT (conflict, closed, by, reason, parts) ON conflict_note TO ` + office,
			`GRANT INSERT, UPDATE ON notice_head TO ` + office,
			`REVOKE EXECUTE ON FUNCTION month_of(bigint) FROM PUBLIC, ` + all,
			`GRANT EXECUTE ON FUNCTION month_of(bigint) TO ` + station,
		}
		for what, tables := range privileges {
			statements = append(statements, `GRANT `+what+` ON `+strings.Join(tables, ", ")+` TO `+station)
		}
		for _, statement := range statements {
			if _, err := tx.ExecContext(ctx, statement); err != nil {
				return err
			}
		}
		return nil
	})
}

// alone does something in one transaction, as the only one that migrates or changes roles.
func (p *Plant) alone(ctx context.Context, what string, do func(*sql.Tx) error) error {
	tx, err := p.db.BeginTx(ctx, nil)
	if err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	defer func() { _ = tx.Rollback() }() // after Commit it does nothing
	if err := postgres.Alone(ctx, tx); err != nil {
		return err
	}
	if err := do(tx); err != nil {
		return fmt.Errorf("%s: %w", what, err)
	}
	return tx.Commit()
}

// role makes a role where there is none. Roles are of the whole server, and another database's program may
// make the same one at this moment.
func role(ctx context.Context, tx *sql.Tx, name, how string) error {
	_, err := tx.ExecContext(ctx, `DO $do$ BEGIN
		CREATE ROLE `+quoted(name)+` `+how+`;
	EXCEPTION WHEN duplicate_object OR unique_violation THEN NULL; END $do$`)
	return err
}

// Login is a role that signs in.
type Login struct {
	Role   string
	Member int // of a station, 0 for others
}

// What is wrong with the name of a reader or an office.
var ErrReaderName = errors.New("the name of a reader or an office is of small letters and digits, 20 at most")

var readerForm = regexp.MustCompile(`^[a-z][a-z0-9]{0,19}$`)

// AddStation has a station of this name join the plant (see [forward.Join]) and makes the role that it signs in by. One that joined before
// keeps its number and role. verifier, as [Verifier] makes it, is its password from then on; "" leaves
// it as it is: none at first, with which a certificate alone lets it in.
func (p *Plant) AddStation(ctx context.Context, name, verifier string) (l Login, err error) {
	if l.Member, err = forward.Join(ctx, p.db, name); err != nil {
		return l, err
	}
	l.Role = p.Group(Station) + "_" + strconv.Itoa(l.Member)
	return l, p.alone(ctx, "add station "+name, func(tx *sql.Tx) error {
		if err := p.login(ctx, tx, l.Role, p.Group(Station), verifier); err != nil {
			return err
		}
		_, err := tx.ExecContext(ctx, `UPDATE member SET login = ? WHERE member = ?`, l.Role, l.Member)
		return err
	})
}

// AddReader makes a role that reads, and nothing else.
func (p *Plant) AddReader(ctx context.Context, name, verifier string) (Login, error) {
	return p.named(ctx, Reader, name, verifier)
}

// AddOffice makes a role that reads, and puts notices up.
func (p *Plant) AddOffice(ctx context.Context, name, verifier string) (Login, error) {
	return p.named(ctx, Office, name, verifier)
}

// named makes a role of a group whose members have names of their own.
func (p *Plant) named(ctx context.Context, group, name, verifier string) (l Login, err error) {
	if !readerForm.MatchString(name) {
		return l, fmt.Errorf("%w; this is %q", ErrReaderName, name)
	}
	l.Role = p.Group(group) + "_" + name
	if len(l.Role) > longest {
		return l, fmt.Errorf("%w, with that of the database before it %d bytes at most", ErrReaderName, longest)
	}
	return l, p.alone(ctx, "add "+group+" "+name, func(tx *sql.Tx) error {
		return p.login(ctx, tx, l.Role, p.Group(group), verifier)
	})
}

// Bounds of what one role may hold on to. It may set its own of the times; they stop what went wrong, not who means harm.
var bounds = map[string][]string{
	Station: {`idle_in_transaction_session_timeout = '2min'`, `lock_timeout = '30s'`},
	Reader:  {`idle_in_transaction_session_timeout = '1min'`, `statement_timeout = '2min'`, `default_transaction_read_only = on`},
	Office:  {`idle_in_transaction_session_timeout = '1min'`, `statement_timeout = '2min'`, `lock_timeout = '30s'`},
}

// connections is how many a role may have at a time.
var connections = map[string]int{Station: 8, Reader: 40, Office: 40}

func (p *Plant) login(ctx context.Context, tx *sql.Tx, name, group, verifier string) error {
	if err := role(ctx, tx, name, "LOGIN"); err != nil {
		return err
	}
	kind := strings.TrimPrefix(group, p.name+"_")
	statements := []string{
		`GRANT ` + quoted(group) + ` TO ` + quoted(name),
		`ALTER ROLE ` + quoted(name) + ` CONNECTION LIMIT ` + strconv.Itoa(connections[kind]),
	}
	for _, bound := range bounds[kind] {
		statements = append(statements, `ALTER ROLE `+quoted(name)+` IN DATABASE `+quoted(p.name)+` SET `+bound)
	}
	if verifier != "" {
		if !strings.HasPrefix(verifier, scheme+"$") || strings.ContainsAny(verifier, `'\`) {
			return errors.New("what is given as a password is no sum of one")
		}
		statements = append(statements, `ALTER ROLE `+quoted(name)+` PASSWORD '`+verifier+`'`)
	}
	for _, statement := range statements {
		if _, err := tx.ExecContext(ctx, statement); err != nil {
			return err
		}
	}
	return nil
}

// Tables are those that a station may do something with, sorted.
func Tables() (all []string) {
	for _, tables := range privileges {
		all = append(all, tables...)
	}
	slices.Sort(all)
	return all
}
