package signin

import (
	"encoding/base64"
	"fmt"
	"path/filepath"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/crypto/argon2"

	"padjig/cmd/padjig/account"
	"padjig/results"
	"padjig/results/accounts"
	"padjig/results/store"
)

// Each command at a terminal is a process of its own, and a row of them is one row of
// guesses: those that were recorded count, no more are looked at than on the pages, and
// they come back with time. A badge is looked at however many guesses there were.
func TestGuessesAtTheTerminal(t *testing.T) {
	s, err := results.OpenWith(t.Context(), filepath.Join(t.TempDir(), "padjig.db"), store.Real())
	require.NoError(t, err)
	defer s.Close()
	salt, text := []byte("salt of the test"), base64.RawStdEncoding.EncodeToString
	hash := fmt.Sprintf("$argon2id$v=%d$m=64,t=1,p=1$%s$%s", argon2.Version, text(salt),
		text(argon2.IDKey([]byte("tomatoes at noon"), salt, 1, 64, 1, 32)))
	badge := account.NewBadge()
	for _, e := range []accounts.AccountEvent{
		{Kind: accounts.AccountRole, Role: "engineer"}, {Kind: accounts.AccountPassword, Secret: hash},
		{Kind: accounts.AccountBadge, Secret: account.HashBadge(badge)},
	} {
		e.Name, e.By = "Ines", "test"
		require.NoError(t, s.Accounts.SaveAccountEvent(t.Context(), e))
	}
	synctest.Test(t, func(t *testing.T) {
		guess := func(password string) error {
			desk, err := AtTerminal(t.Context(), s)
			require.NoError(t, err)
			_, err = desk.Password(t.Context(), "Ines", password, Terminal())
			return err
		}
		for range GuessesAtAccount {
			require.ErrorIs(t, guess("cucumber"), ErrWrong)
		}
		require.ErrorIs(t, guess("tomatoes at noon"), ErrTooMany, "the right one is not looked at either")
		desk, err := AtTerminal(t.Context(), s)
		require.NoError(t, err)
		a, err := desk.Badge(t.Context(), badge, Terminal())
		require.NoError(t, err)
		assert.Equal(t, "Ines", a.Name)
		_, err = desk.Badge(t.Context(), account.NewBadge(), Terminal())
		require.ErrorIs(t, err, ErrNobody)
		time.Sleep(allowanceTime)
		require.NoError(t, guess("tomatoes at noon"), "never locked out for good")
		require.ErrorIs(t, guess("cucumber"), ErrWrong)
		list, err := s.SignIns.Last(t.Context(), 3)
		require.NoError(t, err)
		assert.Equal(t, []string{"terminal", "terminal"}, []string{list[0].Address, list[1].Address})
	})
}
