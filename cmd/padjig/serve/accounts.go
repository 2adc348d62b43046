package serve

// padjig station accounts: the first account is made where the records are, at the terminal.

import (
	"cmp"
	"errors"
	"fmt"
	"io"
	"os"
	"slices"
	"strings"

	"github.com/spf13/cobra"
	"golang.org/x/term"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/object"
	"padjig/results"
	"padjig/results/accounts"
)

func newAccounts() *cobra.Command {
	return command.Noun("accounts", "Say who may use the station's pages",
		`  padjig station accounts add Ines --role engineer
  padjig station accounts badge Ines
  padjig station accounts list
  padjig station accounts attempts --failed`,
		newAccountsAdd(), newAccountsBadge(),
		newAccountsDecision("lock", "Lock an account: neither password nor badge opens anything until it is unlocked", accounts.AccountLocked),
		newAccountsDecision("unlock", "Unlock an account: password and badge are as before", accounts.AccountUnlocked),
		newAccountsDecision("close", "Close an account: neither password nor badge opens anything any more", accounts.AccountClosed),
		newAccountsList(), newAccountsAttempts())
}

// accountOptions are the flags of the commands about accounts.
type accountOptions struct {
	store, role, by string
	badge, json     bool
}

func newAccountsAdd() *cobra.Command {
	var o accountOptions
	cmd := &cobra.Command{
		Use:   "add NAME --role ROLE",
		Short: "Make an account, or change its role and password",
		Long: `Makes an account, or gives one that is there another role and password. The
password is asked for twice at a terminal; otherwise it is the first line of
standard input. With --badge there is no password, only a badge, whose code is
printed: make a barcode (Code 128) of it. Nobody can look it up later.

Until there is an engineer with a password anybody may make accounts, as the first
one has to be made. From then on an engineer signs in with a password: at the
terminal, or by --sign-in FILE (with --sign-in - the lines of who signs in come
before the new password). The last engineer with a password stays one.

Roles: operator (tests units), quality (looks at everything, overrides),
returns (the returns desk), engineer (jigs, products, releases; with a password).`,
		Example: `  padjig station accounts add Ines --role engineer
  padjig station accounts add Abel --role operator --badge`,
		Args: command.Exactly(1, "the name of a person"),
		RunE: func(cmd *cobra.Command, args []string) error { return o.add(cmd, strings.TrimSpace(args[0])) },
	}
	cmd.Flags().StringVar(&o.role, "role", "", "`ROLE`: operator, quality, returns or engineer")
	cmd.Flags().BoolVar(&o.badge, "badge", false, "a badge in place of a password")
	o.common(cmd)
	command.Must(cmd.MarkFlagRequired("role"))
	return cmd
}

func (o *accountOptions) common(cmd *cobra.Command) {
	command.OperatorFlag(cmd, &o.by, "`NAME` of whoever decides, for the record")
	command.StoreFlag(cmd, &o.store)
}

func (o *accountOptions) add(cmd *cobra.Command, name string) error {
	if !slices.Contains(account.Roles, account.Role(o.role)) {
		return command.WrongUsef("--role %q: write operator, quality, returns or engineer", o.role)
	}
	if name == "" {
		return command.WrongUsef("the name is empty")
	}
	return o.with(cmd, name, func(s *results.Store) error {
		hash := ""
		if !o.badge {
			password, err := askPassword(cmd)
			if err != nil {
				return err
			}
			if hash, err = account.HashPassword(password); err != nil {
				return command.Fail(command.Wrong, err, "a longer one; a few words are good")
			}
		}
		events := []accounts.AccountEvent{{Name: name, Kind: accounts.AccountRole, Role: o.role, By: o.by}}
		if o.badge {
			return o.giveBadge(cmd, s, name, events...)
		}
		if err := s.Accounts.Decide(cmd.Context(), append(events,
			accounts.AccountEvent{Name: name, Kind: accounts.AccountPassword, Secret: hash, By: o.by})...); err != nil {
			return err
		}
		fmt.Fprintf(cmd.OutOrStdout(), "%s is %s now\n", name, o.role)
		return nil
	})
}

// with opens the records for an engineer, who signs in with a password; until there is one,
// for anybody.
func (o *accountOptions) with(cmd *cobra.Command, name string, do func(*results.Store) error) error {
	store, err := command.OpenStore(cmd.Context(), o.store)
	if err != nil {
		return err
	}
	defer store.Close()
	list, err := store.Accounts.Accounts(cmd.Context())
	if err != nil {
		return command.RecordsFailed(store, err)
	}
	if slices.ContainsFunc(list, accounts.Account.Answers) {
		if err := o.signIn(cmd, store); err != nil {
			return err
		}
	}
	o.by = cmp.Or(o.by, "terminal")
	if err := do(store); err != nil {
		return undecided(store, name, err)
	}
	return nil
}

// undecided says why something was not done about an account.
func undecided(s *results.Store, name string, err error) error {
	if f, ok := errors.AsType[*command.Failure](err); ok {
		return f
	}
	if like, is := errors.AsType[*accounts.LikeAnother](err); is {
		return command.Fail(command.Wrong, like, "that name, or another one")
	}
	if of, is := errors.AsType[*accounts.OfPlantError](err); is {
		return command.Fail(command.Wrong, of, "padjig station accounts at the plant's office, then padjig plant publish there")
	}
	switch {
	case errors.Is(err, accounts.ErrLastEngineer):
		return command.Fail(command.Wrong, fmt.Errorf("%s is %w: nobody could make accounts any more", name, accounts.ErrLastEngineer), "make another engineer first")
	case errors.Is(err, accounts.ErrNoAccount):
		return command.Fail(command.Wrong, fmt.Errorf("there is no account of %s", name), "padjig station accounts list")
	}
	return command.RecordsFailed(s, err)
}

func (o *accountOptions) signIn(cmd *cobra.Command, s *results.Store) error {
	acting, err := command.Prove(cmd, s, o.by, account.Engineers)
	if err != nil {
		return err
	}
	o.by = acting.Name
	return acting.Weak()
}

// askPassword asks at a terminal, twice and without showing it; otherwise it
// takes the first line of standard input.
func askPassword(cmd *cobra.Command) (string, error) {
	in, isFile := cmd.InOrStdin().(*os.File)
	if !isFile || !term.IsTerminal(int(in.Fd())) {
		line, err := command.Line(cmd.InOrStdin())
		if err != nil {
			return "", command.Fail(command.Wrong, fmt.Errorf("read the password: %w", err), "")
		}
		return line, nil
	}
	var twice [2]string
	for i, prompt := range []string{"password: ", "once more: "} {
		fmt.Fprint(cmd.ErrOrStderr(), prompt)
		typed, err := term.ReadPassword(int(in.Fd()))
		fmt.Fprintln(cmd.ErrOrStderr())
		if err != nil {
			return "", command.Fail(command.Wrong, fmt.Errorf("read the password: %w", err), "")
		}
		twice[i] = string(typed)
	}
	if twice[0] != twice[1] {
		return "", command.WrongUsef("the two passwords differ")
	}
	return twice[0], nil
}

func (o *accountOptions) giveBadge(cmd *cobra.Command, s *results.Store, name string, first ...accounts.AccountEvent) error {
	code := account.NewBadge()
	err := s.Accounts.Decide(cmd.Context(), append(first, accounts.AccountEvent{
		Name: name, Kind: accounts.AccountBadge, Secret: account.HashBadge(code), By: o.by,
	})...)
	if err == nil {
		fmt.Fprintf(cmd.OutOrStdout(), "badge of %s: %s\n", name, code)
	}
	return err
}

// about is a command that does something with an account that there is.
func (o *accountOptions) about(use, short, example string,
	do func(*cobra.Command, *results.Store, string) error) *cobra.Command {
	cmd := &cobra.Command{
		Use: use + " NAME", Short: short, Example: example,
		Args: command.Exactly(1, "the name of a person"),
		RunE: func(cmd *cobra.Command, args []string) error {
			return o.with(cmd, args[0], func(s *results.Store) error { return do(cmd, s, args[0]) })
		},
	}
	o.common(cmd)
	return cmd
}

func newAccountsBadge() *cobra.Command {
	var o accountOptions
	return o.about("badge", "Give an account a new badge; the old one is void", `  padjig station accounts badge Ines`,
		func(cmd *cobra.Command, s *results.Store, name string) error { return o.giveBadge(cmd, s, name) })
}

// newAccountsDecision is a command that decides one thing about an account.
func newAccountsDecision(use, short string, kind accounts.AccountEventKind) *cobra.Command {
	var o accountOptions
	return o.about(use, short, "  padjig station accounts "+use+" Abel", func(cmd *cobra.Command, s *results.Store, name string) error {
		return s.Accounts.Decide(cmd.Context(), accounts.AccountEvent{Name: name, Kind: kind, By: o.by})
	})
}

func newAccountsList() *cobra.Command {
	var o accountOptions
	cmd := &cobra.Command{
		Use:   "list",
		Short: "List the accounts",
		Long: `Lists the accounts, by name.

With --json standard output holds one object: accounts[], each name, role,
password and badge (whether there is one), since (RFC 3339, UTC), locked.`,
		Example: `  padjig station accounts list`,
		Args:    command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := command.ReadOwnStore(cmd.Context(), o.store)
			if err != nil {
				return err
			}
			defer s.Close()
			accounts, err := s.Accounts.Accounts(cmd.Context())
			if err != nil {
				return command.RecordsFailed(s, err)
			}
			if len(accounts) == 0 && !o.json {
				fmt.Fprintf(cmd.ErrOrStderr(), "there are no accounts yet: whoever tests says their name, and nobody can sign in\n"+
					"  try: padjig station accounts add NAME --role engineer%s\n", command.StoreArgument(s))
			}
			return showAccounts(cmd.OutOrStdout(), accounts, o.json)
		},
	}
	command.JSONFlag(cmd, &o.json)
	command.StoreFlag(cmd, &o.store)
	return cmd
}

func showAccounts(to io.Writer, accounts []accounts.Account, asJSON bool) error {
	if asJSON {
		return object.Print(to, object.AccountsOf(accounts))
	}
	for _, a := range accounts {
		var by []string
		if a.Password != "" {
			by = append(by, "password")
		}
		if a.Badge != "" {
			by = append(by, "badge")
		}
		if a.Locked {
			by = append(by, "locked")
		}
		fmt.Fprintf(to, "%-20s %-9s %s\n", a.Name, a.Role, strings.Join(by, ", "))
	}
	return nil
}
