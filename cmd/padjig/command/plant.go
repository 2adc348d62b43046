package command

import (
	"database/sql"
	"errors"
	"net/url"
	"regexp"

	"github.com/spf13/cobra"

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

var passwordWord = regexp.MustCompile(`(?i)(^|\s)password\s*=`)

// OpenPlant opens the database of the plant. Nothing is connected yet.
func OpenPlant(address string) (*sql.DB, error) {
	const example = "--plant postgres://USER@HOST/DATABASE"
	if u, err := url.Parse(address); err == nil && u.User != nil && u.Scheme != "" {
		if _, has := u.User.Password(); has || u.Query().Has("password") {
			return nil, inAFile()
		}
	}
	if passwordWord.MatchString(address) {
		return nil, inAFile()
	}
	db, err := postgres.Open(address)
	if untrusted, is := errors.AsType[*postgres.UntrustedError](err); is {
		return nil, Fail(Wrong, untrusted, untrusted.Remedy)
	}
	if err != nil {
		return nil, Fail(Wrong, errors.New("--plant: this is no address of a PostgreSQL database"), example)
	}
	return db, nil
}

func inAFile() error {
	return Fail(Wrong, errors.New("--plant: an address stands in lists of programs and in logs, a password in it would too"),
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
