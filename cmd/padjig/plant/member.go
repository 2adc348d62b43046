package plant

// padjig plant member add, padjig plant reader add: who may sign in at the plant.

import (
	"context"
	"errors"
	"fmt"
	"os"
	"strings"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/object"
	"padjig/results/plant/forward"
	"padjig/results/plant/roles"
)

func newMember() *cobra.Command {
	return command.Noun("member", "The stations of a plant", `  padjig plant member add line-2 --plant "host=/run/postgresql dbname=plant user=plant_owner"`,
		addsLogin(&cobra.Command{
			Use:   "add NAME --plant ADDRESS",
			Short: "Add a station, and make the role that it signs in by",
			Long: `Gives a station of a name its number at the plant, under which its records come there,
and makes the role of the database that it signs in by. That role stores the records
of this station and of no other, and changes none. Done again it changes nothing but
the password, where one is given. Whose records come under a name is settled by the
first of them: two stations of one name, and one under two, are refused.

Without a password the role is let in by its certificate alone, whose common name is
that of the role; docs/plant.md says how to make one.`,
			Example: `  padjig plant member add line-2 --plant "host=/run/postgresql dbname=plant user=plant_owner"
  padjig plant member add line-3 --plant postgres://plant_owner@/plant --password-file line-3.password`,
			Args: command.Exactly(1, "the name of a station"),
		}, func(ctx context.Context, p *roles.Plant, name, verifier string) (roles.Login, error) {
			if err := forward.CheckName(name); err != nil {
				return roles.Login{}, command.WrongUse(err)
			}
			return p.AddStation(ctx, name, verifier)
		}))
}

func newReader() *cobra.Command {
	return command.Noun("reader", "Those who read the records of a plant", `  padjig plant reader add quality --plant "host=/run/postgresql dbname=plant user=plant_owner"`,
		addsLogin(&cobra.Command{
			Use:   "add NAME --plant ADDRESS",
			Short: "Make a role that reads the records of a plant",
			Long: `Makes a role of the database that reads all records of the plant and changes nothing,
for people who evaluate them, for reports, and for replicas. Its name is that of the
database, _reader_ and NAME, which is of small letters and digits.`,
			Example: `  padjig plant reader add quality --plant "host=/run/postgresql dbname=plant user=plant_owner"
  padjig plant reader add board --plant postgres://plant_owner@/plant --password-file board.password`,
			Args: command.Exactly(1, "the name of a reader"),
		}, func(ctx context.Context, p *roles.Plant, name, verifier string) (roles.Login, error) {
			l, err := p.AddReader(ctx, name, verifier)
			if errors.Is(err, roles.ErrReaderName) {
				err = command.WrongUse(err)
			}
			return l, err
		}))
}

// addsLogin completes a command that makes a role.
func addsLogin(cmd *cobra.Command, add func(ctx context.Context, p *roles.Plant, name, verifier string) (roles.Login, error)) *cobra.Command {
	var plant, password string
	var asJSON bool
	cmd.RunE = func(cmd *cobra.Command, args []string) error {
		verifier, err := verifierIn(password)
		if err != nil {
			return err
		}
		db, err := command.OpenPlant(plant)
		if err != nil {
			return err
		}
		defer db.Close()
		p, err := roles.On(cmd.Context(), db)
		if err != nil {
			return operationFailed(err)
		}
		l, err := add(cmd.Context(), p, args[0], verifier)
		if err != nil {
			return operationFailed(err)
		}
		if asJSON {
			return object.Print(cmd.OutOrStdout(), object.PlantLogin{Name: args[0], Role: l.Role, Number: l.Member, Password: verifier != ""})
		}
		out := cmd.OutOrStdout()
		if l.Member != 0 {
			fmt.Fprintf(out, "station %s has number %d at the plant\n", args[0], l.Member)
		}
		fmt.Fprintf(out, "it signs in as %s", l.Role)
		if verifier != "" {
			fmt.Fprint(out, ", with the password that was given")
		}
		fmt.Fprintln(out)
		return nil
	}
	f := cmd.Flags()
	f.StringVar(&password, "password-file", "", "`FILE` with a password for the role: one line of 20 characters or more")
	plantFlag(cmd, &plant)
	command.Group(f, command.OfPlant, "password-file")
	command.JSONFlag(cmd, &asJSON)
	return cmd
}

// verifierIn gives what the server is to keep of the password in a file, "" for no file.
func verifierIn(path string) (string, error) {
	if path == "" {
		return "", nil
	}
	text, err := os.ReadFile(path)
	if err != nil {
		return "", command.Fail(command.Wrong, fmt.Errorf("read the password: %w", err), "openssl rand -base64 24 >"+path)
	}
	verifier, err := roles.Verifier(strings.TrimRight(string(text), "\r\n"))
	if err != nil {
		return "", command.Fail(command.Wrong, fmt.Errorf("%s: %w", path, err), "openssl rand -base64 24 >"+path)
	}
	return verifier, nil
}
