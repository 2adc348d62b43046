package serve

// padjig station tokens: which programs may read from a station over the network.

import (
	"errors"
	"fmt"
	"io"
	"strings"
	"time"

	"github.com/spf13/cobra"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/object"
	"padjig/results"
	"padjig/results/floor"
	"padjig/results/tokens"
)

func newTokens() *cobra.Command {
	return command.Noun("tokens", "Say which programs may read from the station",
		`  padjig station tokens add "MES of hall 2" --until 2027-06-30 --scope units,yields
  padjig station tokens list
  padjig station tokens revoke "MES of hall 2"`,
		newTokensAdd(), newTokensRevoke(), newTokensList())
}

// tokenOptions are the flags of the commands about tokens.
type tokenOptions struct {
	accountOptions
	until  string
	scopes []string
}

func newTokensAdd() *cobra.Command {
	var o tokenOptions
	cmd := &cobra.Command{
		Use:   "add NAME --until DAY --scope SCOPES",
		Short: "Make a token for a program that reads, and print it once",
		Long: `Makes a token with which a program reads from the station (docs/api.md): it is
sent as "Authorization: Bearer TOKEN" and nowhere else. It is printed once, and
nobody can look it up later: the records keep only its SHA-256. NAME says whose
it is. A token changes nothing at the station, whatever it opens.

Scopes: units (units and runs), yields (yields, jigs, products in force),
metrics (how the station is doing). Once there is an engineer with a password,
an engineer signs in, as for padjig station accounts.`,
		Example: `  padjig station tokens add "MES of hall 2" --until 2027-06-30 --scope units,yields
  padjig station tokens add monitoring --until 2027-06-30 --scope metrics`,
		Args: command.Exactly(1, "the name of a program"),
		RunE: func(cmd *cobra.Command, args []string) error { return o.add(cmd, strings.TrimSpace(args[0])) },
	}
	cmd.Flags().StringVar(&o.until, "until", "", "last `DAY` on which it opens, such as 2027-06-30")
	cmd.Flags().StringSliceVar(&o.scopes, "scope", nil, "`SCOPES` that it opens: units, yields, metrics")
	o.common(cmd)
	command.Must(cmd.MarkFlagRequired("until"))
	command.Must(cmd.MarkFlagRequired("scope"))
	return cmd
}

func (o *tokenOptions) add(cmd *cobra.Command, name string) error {
	scopes, err := tokens.ParseScopes(o.scopes)
	if name == "" {
		err = errors.Join(err, errors.New("the name is empty"))
	}
	day, wrong := time.Parse(time.DateOnly, o.until)
	if wrong != nil {
		err = errors.Join(err, fmt.Errorf("--until %q: write a day such as 2027-06-30", o.until))
	}
	if err != nil {
		return command.WrongUse(err)
	}
	return o.with(cmd, name, func(s *results.Store) error {
		clock, err := command.PlantClock(cmd.Context(), s)
		if err != nil {
			return err
		}
		until := time.Date(day.Year(), day.Month(), day.Day()+1, 0, 0, 0, 0, clock.Zone())
		if !time.Now().Before(until) {
			return command.WrongUsef("--until %s: that day is over", o.until)
		}
		text, hash := account.NewToken()
		err = s.Tokens.Add(cmd.Context(), hash, tokens.Token{Name: name, Scopes: scopes, Until: until, By: o.by})
		if errors.Is(err, tokens.ErrTaken) {
			return command.Fail(command.Wrong, fmt.Errorf("%s: %w that still opens", name, tokens.ErrTaken),
				"another name, or padjig station tokens revoke first"+command.StoreArgument(s))
		}
		if err == nil {
			fmt.Fprintln(cmd.OutOrStdout(), text)
			fmt.Fprintf(cmd.ErrOrStderr(), "the token of %s, shown this once\n", name)
		}
		return err
	})
}

func newTokensRevoke() *cobra.Command {
	var o accountOptions
	cmd := o.about("revoke", "Revoke a token: it opens nothing any more", `  padjig station tokens revoke "MES of hall 2"`,
		func(cmd *cobra.Command, s *results.Store, name string) error {
			err := s.Tokens.Revoke(cmd.Context(), name, o.by)
			if errors.Is(err, tokens.ErrNoToken) {
				return command.Fail(command.Wrong, fmt.Errorf("there is no token of %s that still opens", name), "padjig station tokens list")
			}
			return err
		})
	cmd.Args = command.Exactly(1, "the name of a program")
	return cmd
}

func newTokensList() *cobra.Command {
	var o accountOptions
	cmd := &cobra.Command{
		Use:   "list",
		Short: "List the tokens, and on which day each was last used",
		Long: `Lists every token there ever was, oldest first: what it opens, until when, and
on which day of UTC it was last used.

With --json standard output holds one object: tokens[], each name, scopes[],
until and made (RFC 3339, UTC), by, used (a day; empty: never), good (it opens
now), revoked_by and revoked (both empty where nobody did).`,
		Example: `  padjig station tokens list`,
		Args:    command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := command.ReadOwnStore(cmd.Context(), o.store)
			if err != nil {
				return err
			}
			defer s.Close()
			list, err := s.Tokens.List(cmd.Context())
			if err != nil {
				return command.RecordsFailed(s, err)
			}
			clock, err := command.PlantClock(cmd.Context(), s)
			if err != nil {
				return err
			}
			return showTokens(cmd.OutOrStdout(), clock, list, o.json)
		},
	}
	command.JSONFlag(cmd, &o.json)
	command.StoreFlag(cmd, &o.store)
	return cmd
}

func showTokens(to io.Writer, clock floor.Clock, list []tokens.Token, asJSON bool) error {
	now := time.Now()
	if asJSON {
		return object.Print(to, object.TokensOf(list, now))
	}
	for _, t := range list {
		stands := "until " + clock.Exact(t.Until)
		switch {
		case t.EndedBy != "":
			stands = "revoked by " + t.EndedBy
		case !t.Good(now):
			stands = "ran out"
		}
		used := "never used"
		if t.Used != "" {
			used = "used " + t.Used
		}
		fmt.Fprintf(to, "%-20s %-22s %s, %s\n", t.Name, object.TokenOf(t, now).Opens(), stands, used)
	}
	return nil
}
