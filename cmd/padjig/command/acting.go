package command

import (
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
	"padjig/cmd/padjig/account/signin"
	"padjig/results"
	"padjig/results/accounts"
)

// Who acts. While the records have no accounts, whoever types says by --operator who they
// are. Once there are accounts nobody is believed: a badge or a password says it, and the
// name that is recorded is the account's.

// signInFlag names the file that says who acts, where nobody can be asked.
const signInFlag = "sign-in"

// OperatorFlag adds --operator and --sign-in to a command that records something in
// somebody's name.
func OperatorFlag(cmd *cobra.Command, by *string, usage string) {
	cmd.Flags().StringVar(by, "operator", "", usage)
	Group(cmd.Flags(), OfPerson, "operator")
	SignInFlag(cmd)
}

// OperatorNeeded has a name given, by either of them.
func OperatorNeeded(cmd *cobra.Command) {
	Must(cmd.MarkFlagRequired("operator"))
	cmd.PreRun = func(cmd *cobra.Command, _ []string) { // before what is required is looked for
		if cmd.Flags().Changed(signInFlag) {
			Must(cmd.Flags().SetAnnotation("operator", cobra.BashCompOneRequiredFlag, []string{"false"}))
		}
	}
}

// SaysWho reports whether the command line says who acts, as far as it can be told before
// the records are open.
func SaysWho(cmd *cobra.Command, by string) bool { return by != "" || cmd.Flags().Changed(signInFlag) }

// SignInFlag adds --sign-in alone.
func SignInFlag(cmd *cobra.Command) {
	cmd.Flags().String(signInFlag, "", "`FILE` that says who acts, once there are accounts: the code of "+
		"a badge, or a name and below it the password; - for standard input")
	Group(cmd.Flags(), OfPerson, signInFlag)
}

// Acting is somebody who proved who they are.
type Acting struct {
	Name   string
	Strong bool // by a password
}

// As finds who acts. Without accounts that is whoever the flag says; else by becomes the
// name of the account that was proved, which must have one of the roles.
func As(cmd *cobra.Command, s *results.Store, by *string, who []account.Role) error {
	list, err := s.Accounts.Accounts(cmd.Context())
	switch {
	case err != nil:
		return RecordsFailed(s, err)
	case len(list) == 0:
		return nil
	}
	acting, err := Prove(cmd, s, *by, who)
	if err == nil {
		*by = acting.Name
	}
	return err
}

// Prove has somebody prove who they are; name is whom they say, or empty.
func Prove(cmd *cobra.Command, s *results.Store, name string, who []account.Role) (Acting, error) {
	said, err := asked(cmd, strings.TrimSpace(name))
	if err != nil {
		return Acting{}, err
	}
	desk, err := signin.AtTerminal(cmd.Context(), s)
	if err != nil {
		return Acting{}, RecordsFailed(s, err)
	}
	a, err := said.at(cmd.Context(), desk)
	switch {
	case errors.Is(err, signin.ErrWrong), errors.Is(err, signin.ErrNobody):
		return Acting{}, Fail(Wrong, fmt.Errorf("sign in: %w", err), "the badge or the password of an account; padjig station accounts list"+StoreArgument(s))
	case errors.Is(err, signin.ErrTooMany):
		return Acting{}, Fail(Wrong, fmt.Errorf("sign in: %w", err), "wait a minute, then sign in")
	case err != nil:
		return Acting{}, RecordsFailed(s, err)
	case name != "" && a.Name != strings.TrimSpace(name):
		return Acting{}, Fail(Wrong, fmt.Errorf("--operator says %s, and it is %s who signed in", name, a.Name), "without --operator")
	case !slices.Contains(who, account.Role(a.Role)):
		return Acting{}, Fail(Wrong, fmt.Errorf("%s is %s, and this is for %s", a.Name, a.Role, roles(who)), "somebody whose account may")
	}
	return Acting{a.Name, said.password != ""}, nil
}

func roles(who []account.Role) string {
	return strings.Join(Each(who, func(r account.Role) string { return string(r) }), ", ")
}

// Weak refuses somebody who came by a badge, for what needs a password.
func (a Acting) Weak() error {
	if a.Strong {
		return nil
	}
	return Fail(Wrong, errors.New("this needs a password: a badge can be picked up"), "sign in with name and password")
}

// proof is what somebody says to prove who they are.
type proof struct{ name, badge, password string }

func (p proof) at(ctx context.Context, desk *signin.Desk) (*accounts.Account, error) {
	if p.badge != "" {
		return desk.Badge(ctx, p.badge, signin.Terminal())
	}
	return desk.Password(ctx, p.name, p.password, signin.Terminal())
}

// asked takes the proof from --sign-in, or asks for it at a terminal without showing it.
func asked(cmd *cobra.Command, name string) (proof, error) {
	if from, _ := cmd.Flags().GetString(signInFlag); from != "" {
		return proofIn(cmd, from)
	}
	in, isFile := cmd.InOrStdin().(*os.File)
	if !isFile || !term.IsTerminal(int(in.Fd())) {
		return proof{}, Fail(Wrong, errors.New("the records have accounts: say who acts"),
			"at a terminal, or --sign-in FILE with the code of a badge, or with a name and below it the password")
	}
	ask := func(prompt string) (string, error) {
		fmt.Fprint(cmd.ErrOrStderr(), prompt)
		typed, err := term.ReadPassword(int(in.Fd()))
		fmt.Fprintln(cmd.ErrOrStderr())
		return strings.TrimRight(string(typed), "\r\n"), err
	}
	first := "badge or name: "
	if name != "" {
		first = "badge or password of " + name + ": "
	}
	typed, err := ask(first)
	if err != nil {
		return proof{}, Fail(Wrong, fmt.Errorf("read who acts: %w", err), "")
	}
	switch typed = strings.TrimSpace(typed); {
	case account.IsBadge(typed):
		return proof{badge: typed}, nil
	case name != "":
		return proof{name: name, password: typed}, nil
	}
	password, err := ask("password of " + typed + ": ")
	if err != nil {
		return proof{}, Fail(Wrong, fmt.Errorf("read the password: %w", err), "")
	}
	return proof{name: typed, password: password}, nil
}

// proofIn reads a proof: one line with the code of a badge, or a name and on the next
// line a password.
func proofIn(cmd *cobra.Command, path string) (proof, error) {
	from := cmd.InOrStdin()
	if path != "-" {
		f, err := os.Open(path)
		if err != nil {
			return proof{}, Fail(Wrong, fmt.Errorf("--sign-in: %w", err), "a file that this user may read, and nobody else")
		}
		defer f.Close()
		from = f
	}
	first, err := Line(from)
	if err != nil {
		return proof{}, Fail(Wrong, fmt.Errorf("--sign-in %s: %w", path, err), "")
	}
	if first = strings.TrimSpace(first); account.IsBadge(first) {
		return proof{badge: first}, nil
	}
	password, err := Line(from)
	if err != nil || password == "" {
		return proof{}, Fail(Wrong, fmt.Errorf("--sign-in %s: neither the code of a badge nor a name with a password below it", path), "")
	}
	return proof{name: first, password: password}, nil
}

// longestLine is more than any name or password has.
const longestLine = 1024

// Line reads a line and not a byte more: what follows is somebody else's to read.
func Line(from io.Reader) (string, error) {
	var line []byte
	one := make([]byte, 1)
	for len(line) < longestLine {
		n, err := from.Read(one)
		if n == 1 && one[0] != '\n' {
			line = append(line, one[0])
			continue
		}
		if n == 1 || errors.Is(err, io.EOF) {
			return strings.TrimRight(string(line), "\r"), nil
		}
		if err != nil {
			return "", err
		}
	}
	return "", errors.New("the line is too long")
}
