package command

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"net/url"
	"regexp"
	"time"

	"github.com/spf13/cobra"

	"padjig/results"
	question "padjig/results/plant/asked"
	"padjig/results/plant/forward"
	"padjig/results/plant/postgres"
)

// PlantFlag is the flag for the database of the plant.
func PlantFlag(cmd *cobra.Command, into *string) {
	cmd.Flags().StringVar(into, "plant", "", "`ADDRESS` of the plant's database, as PostgreSQL writes\nthem: a URL or key=value words, without the password")
}

// MemberFlag is the flag for the name of a station at the plant.
func MemberFlag(cmd *cobra.Command, into *string) {
	cmd.Flags().StringVar(into, "member", "", "`NAME` of the station at the plant, such as line-2")
}

// PlantWaitFlag is the flag for how long the plant's answer about a unit is waited for.
func PlantWaitFlag(cmd *cobra.Command, into *time.Duration) {
	cmd.Flags().DurationVar(into, "plant-wait", question.UsualWait, "time from the scan that an answer of the plant about a unit is\nwaited for, 0 for never asking")
}

// AskPlant gives what a station asks its plant by, and what ends that; nil where there is no address.
func AskPlant(address, member string, wait time.Duration) (plant *question.Plant, end func(), err error) {
	if wait < 0 {
		return nil, nil, WrongUsef("--plant-wait: %v has passed already: 300ms, or 0 for never asking", wait)
	}
	if address == "" {
		return nil, func() {}, nil
	}
	if err := forward.CheckName(member); err != nil {
		return nil, nil, WrongUsef("--member: %w", err)
	}
	db, err := OpenPlant(address)
	if err != nil {
		return nil, nil, err
	}
	db.SetMaxOpenConns(4) // questions are short, and those behind them wait no longer than for an answer
	db.SetMaxIdleConns(4)
	plant = question.New(question.At(db, member), wait)
	plant.Ask("")                                               // so that the first unit finds a connection
	return plant, func() { plant.Close(); _ = db.Close() }, nil // it was read alone
}

var passwordWord = regexp.MustCompile(`(?i)(^|\s)password\s*=`)

// OpenPlant opens the database of the plant, as --plant names it. Nothing is connected yet.
func OpenPlant(address string) (*sql.DB, error) { return openPlant("--plant", address) }

func openPlant(flag, address string) (*sql.DB, error) {
	example := flag + " postgres://USER@HOST/DATABASE"
	if u, err := url.Parse(address); err == nil && u.User != nil && u.Scheme != "" {
		if _, has := u.User.Password(); has || u.Query().Has("password") {
			return nil, inAFile(flag)
		}
	}
	if passwordWord.MatchString(address) {
		return nil, inAFile(flag)
	}
	db, err := postgres.Open(address)
	if untrusted, is := errors.AsType[*postgres.UntrustedError](err); is {
		return nil, Fail(Wrong, untrusted, untrusted.Remedy)
	}
	if err != nil {
		return nil, Fail(Wrong, errors.New(flag+": this is no address of a PostgreSQL database"), example)
	}
	return db, nil
}

func inAFile(flag string) error {
	return Fail(Wrong, errors.New(flag+": an address stands in lists of programs and in logs, a password in it would too"),
		"the password in the file ~/.pgpass of the one who runs this, which nobody else may read, or in another that PGPASSFILE names")
}

// PlantTrouble is an error of what was asked of the plant, with what to do.
func PlantTrouble(err error) error {
	if stopped, is := errors.AsType[*forward.StoppedError](err); is {
		return Fail(NotRecorded, errors.New(stopped.What), stopped.Remedy)
	}
	if untrusted, is := errors.AsType[*postgres.UntrustedError](err); is {
		return Fail(NotRecorded, err, untrusted.Remedy)
	}
	return Fail(NotRecorded, err, "the address in --plant, and whether the database runs")
}

// atPlant is a value of --store that names a database and no file.
var atPlant = regexp.MustCompile(`(?i)^\s*(postgres(ql)?://|(host|hostaddr|port|dbname|user|service)\s*=)`)

// AtPlant reports whether a value of --store is the address of a plant's database.
func AtPlant(store string) bool { return atPlant.MatchString(store) }

var secrets = regexp.MustCompile(`(?i)(://[^/@\s]*?:)[^/\s]*@|((?:^|[\s?&])password\s*=\s*)('(?:[^'\\]|\\.)*'|[^\s&]+)`)

// Concealed is a value of a flag without the password that an address may have.
func Concealed(value string) string {
	if !AtPlant(value) {
		return value
	}
	return secrets.ReplaceAllStringFunc(value, func(found string) string {
		parts := secrets.FindStringSubmatch(found)
		if parts[1] != "" {
			return parts[1] + "***@"
		}
		return parts[2] + "***"
	})
}

// ReadPlant opens the records of a plant for looking things up, as --plant names it.
func ReadPlant(ctx context.Context, address string) (*results.Store, error) {
	return readPlant(ctx, "--plant", address, "the plant's database")
}

func readPlant(ctx context.Context, flag, address, name string) (*results.Store, error) {
	db, err := openPlant(flag, address)
	if err != nil {
		return nil, err
	}
	if err := SameTables(ctx, db, flag); err != nil {
		return nil, errors.Join(err, db.Close())
	}
	return results.Over(db, name), nil
}

// BesidePlant opens a station's own records, to be looked up beside the plant that --plant names; done closes both.
func BesidePlant(ctx context.Context, address, path string) (db *sql.DB, own *results.Store, done func(), err error) {
	if db, err = OpenPlant(address); err != nil {
		return nil, nil, nil, err
	}
	if own, err = ReadOwnStore(ctx, path); err != nil {
		return nil, nil, nil, errors.Join(err, db.Close())
	}
	return db, own, func() { _, _ = own.Close(), db.Close() }, nil // both were read, or what was written is written
}

// SameTables refuses a plant of another version: what it says would be half of it. Flag is the one that its
// address was said with.
func SameTables(ctx context.Context, db *sql.DB, flag string) error {
	c, err := db.Conn(ctx)
	if untrusted, is := errors.AsType[*postgres.UntrustedError](err); is {
		return Fail(NotRecorded, fmt.Errorf("open the plant's database: %w", err), untrusted.Remedy)
	}
	if err != nil {
		return Fail(NotRecorded, fmt.Errorf("open the plant's database: %w", err), "the address in "+flag+", and whether the database runs")
	}
	defer c.Close()
	version, err := postgres.Version(ctx, c)
	if err != nil {
		return Fail(NotRecorded, fmt.Errorf("version of the plant's database: %w", err), "the address in "+flag+", and whether it may be read")
	}
	switch known, err := postgres.Known(); {
	case err != nil:
		return err
	case version == 0:
		return Fail(Wrong, errors.New(flag+": the database has no tables of a plant"), "the address of one that has, or padjig plant prepare")
	case version < known:
		return Fail(NotRecorded, fmt.Errorf("the plant's database has version %d, this padjig needs %d", version, known), "padjig plant prepare")
	case version > known:
		return Fail(NotRecorded, fmt.Errorf("the plant's database has version %d, this padjig knows %d", version, known), "install the newer padjig here")
	}
	return nil
}

// notAtPlant refuses what is of a station's own records only.
func notAtPlant(path string) error {
	if AtPlant(path) {
		return Fail(Wrong, errors.New("--store: this is asked of a station's own records, not of a plant's"),
			"the same on the station itself, --store with its file")
	}
	return nil
}
