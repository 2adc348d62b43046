package serve

// padjig station accounts: the first account is made where the records are, at the terminal.

import (
	"cmp"
	"context"
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
	"padjig/results/releases"
)

func newAccounts() *cobra.Command {
	return command.Group("accounts", "Say who may use the station's pages",
		`  padjig station accounts add Ines --role engineer
  padjig station accounts badge Ines
  padjig station accounts list
  padjig station accounts attempts --failed`,
		newAccountsAdd(), newAccountsBadge(), newAccountsClose(), newAccountsList(), newAccountsAttempts())
}

// accountOptions are the flags of the commands about accounts.
type accountOptions struct {
	store, role, by string
	badge, json     bool
	keeps           bool // the account stays what it is
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
		if err := likeAnother(cmd.Context(), s, name); err != nil {
			return err
		}
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
		err := s.Accounts.SaveAccountEvent(cmd.Context(), accounts.AccountEvent{Name: name, Kind: accounts.AccountRole, Role: o.role, By: o.by})
		if err != nil {
			return err
		}
		if o.badge {
			return o.giveBadge(cmd, s, name)
		}
		fmt.Fprintf(cmd.OutOrStdout(), "%s is %s now\n", name, o.role)
		return s.Accounts.SaveAccountEvent(cmd.Context(), accounts.AccountEvent{Name: name, Kind: accounts.AccountPassword, Secret: hash, By: o.by})
	})
}

// likeAnother refuses a name that is another account's but for case and blanks: nobody
// could tell the two apart, and one person would be two.
func likeAnother(ctx context.Context, s *results.Store, name string) error {
	list, err := s.Accounts.Accounts(ctx)
	for _, a := range list {
		if a.Name != name && releases.SamePerson(a.Name, name) {
			return command.Fail(command.Wrong, fmt.Errorf("there is an account of %s, whose name differs in case or blanks only", a.Name),
				"that name, or another one")
		}
	}
	return err
}

// with opens the records for an engineer, who signs in with a password; until there is one,
// for anybody. What is done about an account must not leave them without an engineer.
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
	if slices.ContainsFunc(list, answerable) {
		if err := o.signIn(cmd, store); err != nil {
			return err
		}
		if keeps := o.role == string(account.Engineer) || o.keeps; !keeps && !slices.ContainsFunc(list, func(a accounts.Account) bool {
			return answerable(a) && a.Name != name
		}) {
			return command.Fail(command.Wrong, fmt.Errorf("%s is the last engineer with a password: nobody could make accounts any more", name),
				"make another engineer first")
		}
	}
	o.by = cmp.Or(o.by, "terminal")
	if err := do(store); err != nil {
		if f, ok := errors.AsType[*command.Failure](err); ok {
			return f
		}
		return command.RecordsFailed(store, err)
	}
	return nil
}

// answerable reports whether an account may decide about others.
func answerable(a accounts.Account) bool {
	return a.Role == string(account.Engineer) && a.Password != ""
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

func (o *accountOptions) giveBadge(cmd *cobra.Command, s *results.Store, name string) error {
	code := account.NewBadge()
	err := s.Accounts.SaveAccountEvent(cmd.Context(), accounts.AccountEvent{
		Name: name, Kind: accounts.AccountBadge, Secret: account.HashBadge(code), By: o.by,
	})
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
			return o.with(cmd, args[0], func(s *results.Store) error {
				if err := known(cmd.Context(), s, args[0]); err != nil {
					return err
				}
				return do(cmd, s, args[0])
			})
		},
	}
	o.common(cmd)
	return cmd
}

func newAccountsBadge() *cobra.Command {
	o := accountOptions{keeps: true}
	return o.about("badge", "Give an account a new badge; the old one is void", `  padjig station accounts badge Ines`,
		func(cmd *cobra.Command, s *results.Store, name string) error {
			return o.giveBadge(cmd, s, name)
		})
}

func newAccountsClose() *cobra.Command {
	var o accountOptions
	return o.about("close", "Close an account: neither password nor badge opens anything any more",
		`  padjig station accounts close Abel`, func(cmd *cobra.Command, s *results.Store, name string) error {
			return s.Accounts.SaveAccountEvent(cmd.Context(), accounts.AccountEvent{Name: name, Kind: accounts.AccountClosed, By: o.by})
		})
}

func known(ctx context.Context, s *results.Store, name string) error {
	list, err := s.Accounts.Accounts(ctx)
	if err != nil {
		return err
	}
	if !slices.ContainsFunc(list, func(a accounts.Account) bool { return a.Name == name }) {
		return command.Fail(command.Wrong, fmt.Errorf("there is no account of %s", name), "padjig station accounts list")
	}
	return nil
}

func newAccountsList() *cobra.Command {
	var o accountOptions
	cmd := &cobra.Command{
		Use:   "list",
		Short: "List the accounts",
		Long: `Lists the accounts, by name.

With --json standard output holds one object: accounts[], each name, role,
password and badge (whether there is one), since (RFC 3339, UTC).`,
		Example: `  padjig station accounts list`,
		Args:    command.OnlyFlags,
		RunE: func(cmd *cobra.Command, _ []string) error {
			s, err := command.ReadStore(cmd.Context(), o.store)
			if err != nil {
				return err
			}
			defer s.Close()
			accounts, err := s.Accounts.Accounts(cmd.Context())
			if err != nil {
				return command.RecordsFailed(s, err)
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
		fmt.Fprintf(to, "%-20s %-9s %s\n", a.Name, a.Role, strings.Join(by, ", "))
	}
	return nil
}
