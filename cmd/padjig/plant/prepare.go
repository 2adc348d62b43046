package plant

// padjig plant prepare: tables and roles of the plant's database.

import (
	"context"
	"database/sql"
	"errors"
	"fmt"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/object"
	"padjig/results/plant/postgres"
	"padjig/results/plant/roles"
)

func newPrepare() *cobra.Command {
	var plant string
	var asJSON bool
	cmd := &cobra.Command{
		Use:   "prepare --plant ADDRESS",
		Short: "Make the tables and roles of a plant, or bring them up to date",
		Long: `Makes the tables of a plant in an empty database, or brings those of an older padjig
up to date, and gives the roles of stations and readers what they may do, and no
more. Done again it changes nothing. It is done as the owner of the database, before
any station has the newer padjig; one program at a time does it, the others wait, and
one that is cut short leaves nothing.`,
		Example: `  padjig plant prepare --plant "host=/run/postgresql dbname=plant user=plant_owner"
  padjig plant prepare \
    --plant "host=db.example dbname=plant sslmode=verify-full sslrootcert=ca.crt"`,
		Args: command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			db, err := command.OpenPlant(plant)
			if err != nil {
				return err
			}
			defer db.Close()
			progress := command.Progress(cmd, "preparing", "")
			progress.Share(0)
			prepared, err := prepare(cmd.Context(), db, progress.Share)
			progress.Clear()
			if err != nil {
				return operationFailed(err)
			}
			if asJSON {
				return object.Print(cmd.OutOrStdout(), prepared)
			}
			fmt.Fprintf(cmd.OutOrStdout(), "the plant's database %s is at version %d; its roles are %s and %s\n",
				prepared.Database, prepared.Version, prepared.Station, prepared.Reader)
			return nil
		},
	}
	plantFlag(cmd, &plant)
	command.JSONFlag(cmd, &asJSON)
	command.ProgressFlag(cmd)
	return cmd
}

func plantFlag(cmd *cobra.Command, plant *string) {
	command.PlantFlag(cmd, plant)
	command.Group(cmd.Flags(), command.OfPlant, "plant")
	command.Needs(cmd, "plant")
}

func prepare(ctx context.Context, db *sql.DB, share func(float64)) (o object.PlantPrepared, err error) {
	p, err := roles.On(ctx, db)
	if err != nil {
		return o, err
	}
	version, err := postgres.Migrate(ctx, db)
	if err != nil {
		return o, err
	}
	share(0.8)
	if err := p.Prepare(ctx); err != nil {
		return o, err
	}
	return object.PlantPrepared{Database: p.Name(), Version: version, Station: p.Group(roles.Station), Reader: p.Group(roles.Reader)}, nil
}

// operationFailed adds what to do to an error of what the owner does.
func operationFailed(err error) error {
	switch {
	case errors.Is(err, roles.ErrName):
		return command.Fail(command.Wrong, err, `CREATE DATABASE plant ENCODING 'UTF8' TEMPLATE template0`)
	case postgres.Code(err) == postgres.NotPermitted:
		return command.Fail(command.Wrong, err, "as the owner of the database, who may make roles; docs/plant.md says how")
	}
	return command.PlantTrouble(err)
}
