package command

import (
	"bytes"
	"io"
	"os"
	"path/filepath"
	"runtime"
	"strings"
	"testing"

	"github.com/creack/pty"
	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"padjig/cmd/padjig/account"
	"padjig/results"
	"padjig/results/accounts"
)

// people are Ines, an engineer with a password, and Abel, an operator with a badge.
func people(t *testing.T) (s *results.Store, badge string) {
	t.Helper()
	s, err := results.Open(t.Context(), filepath.Join(t.TempDir(), "padjig.db"))
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, s.Close()) })
	hash, err := account.HashPassword("tomatoes at noon")
	require.NoError(t, err)
	badge = account.NewBadge()
	for _, e := range []accounts.AccountEvent{
		{Name: "Ines", Kind: accounts.AccountRole, Role: "engineer"}, {Name: "Ines", Kind: accounts.AccountPassword, Secret: hash},
		{Name: "Abel", Kind: accounts.AccountRole, Role: "operator"}, {Name: "Abel", Kind: accounts.AccountBadge, Secret: account.HashBadge(badge)},
	} {
		e.By = "test"
		require.NoError(t, s.Accounts.SaveAccountEvent(t.Context(), e))
	}
	return s, badge
}

// at is a command whose input is this.
func at(t *testing.T, in io.Reader, args ...string) (*cobra.Command, *bytes.Buffer) {
	t.Helper()
	var by string
	cmd := &cobra.Command{}
	OperatorFlag(cmd, &by, "`NAME`")
	require.NoError(t, cmd.ParseFlags(args))
	said := new(bytes.Buffer)
	cmd.SetIn(in)
	cmd.SetErr(said)
	cmd.SetContext(t.Context())
	return cmd, said
}

// At a terminal a badge or a password is asked for, and nothing of it is shown.
func TestWhoActsIsAskedForWithoutAnEcho(t *testing.T) {
	s, badge := people(t)
	for name, c := range map[string]struct {
		operator string
		typed    []string
		want     Acting
		prompts  []string
	}{
		"badge":           {"", []string{badge}, Acting{"Abel", false}, []string{"badge or name: "}},
		"name, password":  {"", []string{"Ines", "tomatoes at noon"}, Acting{"Ines", true}, []string{"badge or name: ", "password of Ines: "}},
		"named, password": {"Ines", []string{"tomatoes at noon"}, Acting{"Ines", true}, []string{"badge or password of Ines: "}},
	} {
		t.Run(name, func(t *testing.T) {
			keyboard, screen, err := pty.Open()
			require.NoError(t, err)
			defer keyboard.Close()
			defer screen.Close()
			cmd, _ := at(t, screen)
			prompts, out := io.Pipe()
			cmd.SetErr(out)
			done := make(chan error, 1)
			var got Acting
			go func() {
				var err error
				got, err = Prove(cmd, s, c.operator, account.Roles)
				done <- err
			}()
			for i, line := range c.typed {
				assert.Equal(t, c.prompts[i], read(t, prompts, len(c.prompts[i])))
				for echoes(t, screen) { // it is asked for, and the echo goes in a moment
					runtime.Gosched()
				}
				_, err := io.WriteString(keyboard, line+"\n")
				require.NoError(t, err)
				assert.Equal(t, "\n", read(t, prompts, 1))
			}
			require.NoError(t, <-done)
			assert.Equal(t, c.want, got)
			_, err = io.WriteString(screen, "end")
			require.NoError(t, err)
			shown := make([]byte, 256)
			n, err := keyboard.Read(shown)
			require.NoError(t, err)
			for _, line := range c.typed {
				assert.NotContains(t, string(shown[:n]), line)
			}
		})
	}
}

func read(t *testing.T, from io.Reader, n int) string {
	t.Helper()
	text := make([]byte, n)
	_, err := io.ReadFull(from, text)
	require.NoError(t, err)
	return string(text)
}

func echoes(t *testing.T, screen *os.File) bool {
	t.Helper()
	now, err := unix.IoctlGetTermios(int(screen.Fd()), unix.TCGETS)
	require.NoError(t, err)
	return now.Lflag&unix.ECHO != 0
}

// A proof from standard input leaves what follows to whoever reads on.
func TestAProofLeavesTheRest(t *testing.T) {
	s, _ := people(t)
	in := strings.NewReader("Ines\r\ntomatoes at noon\nthe new password\n")
	cmd, _ := at(t, in, "--sign-in", "-")
	got, err := Prove(cmd, s, "", account.Roles)
	require.NoError(t, err)
	assert.Equal(t, Acting{"Ines", true}, got)
	rest, err := Line(in)
	require.NoError(t, err)
	assert.Equal(t, "the new password", rest)
	_, err = Line(strings.NewReader(strings.Repeat("x", 5000)))
	require.Error(t, err)
}

// Where nobody can be asked nobody is believed, whatever --operator says.
func TestNobodyIsBelieved(t *testing.T) {
	s, _ := people(t)
	cmd, _ := at(t, strings.NewReader(""))
	by := "Ines"
	require.ErrorContains(t, As(cmd, s, &by, account.Roles), "say who acts")
	require.ErrorContains(t, Acting{"Abel", false}.Weak(), "this needs a password")
}
