package results

import (
	"crypto/sha256"
	"fmt"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/accounts"
	"padjig/results/tokens"
)

// stationRows puts a row into each table that only stations write.
func stationRows(t *testing.T, s *Store) {
	t.Helper()
	ctx := t.Context()
	require.NoError(t, s.Accounts.SaveAccountEvent(ctx, accounts.AccountEvent{Name: "Ines", Kind: accounts.AccountRole, Role: "engineer", By: "terminal"}))
	require.NoError(t, s.Accounts.StartSession(ctx, sha256.Sum256([]byte("token")), "Ines", "password"))
	require.NoError(t, s.Accounts.EndSession(ctx, 1, ""))
	require.NoError(t, s.SignIns.Add(ctx, accounts.SignIn{Name: "Ines", Address: "127.0.0.1", How: "password", Outcome: accounts.SignedIn}))
	require.NoError(t, s.Accounts.SaveOverride(ctx, accounts.Override{What: "attempts used", Serial: "24-000002", Jig: "J-0007", By: "Ines", Reason: "repaired"}))
	released(t, s, releaseOf(t, padText("A", "200 ohm")))
	require.NoError(t, s.Accounts.SaveAccountEvent(ctx, accounts.AccountEvent{Name: "Paul", Kind: accounts.AccountRole, Role: "quality", By: "terminal"}))
	require.NoError(t, propose(t, s, releaseOf(t, padText("B", "300 ohm"))))
	require.NoError(t, s.Accounts.Decide(ctx, accounts.AccountEvent{Name: "Paul", Kind: accounts.AccountLocked, By: "Ines"},
		accounts.AccountEvent{Name: "Paul", Kind: accounts.AccountUnlocked, By: "Ines"}))
	made := tokens.Token{Name: "MES", Scopes: []tokens.Scope{tokens.Units}, Until: time.Now().Add(time.Hour), By: "Ines"}
	require.NoError(t, s.Tokens.Add(ctx, sha256.Sum256([]byte("bits")), made))
	kept, err := s.Tokens.Of(ctx, sha256.Sum256([]byte("bits")))
	require.NoError(t, err)
	require.NoError(t, s.Tokens.Use(ctx, *kept))
	require.NoError(t, s.Tokens.Revoke(ctx, "MES", "Ines"))
}

// An account is what its events say, one after another.
func TestAccountsAreTheirEvents(t *testing.T) {
	s := openTemp(t)
	for _, e := range []accounts.AccountEvent{
		{Name: "Ines", Kind: accounts.AccountRole, Role: "operator"},
		{Name: "Ines", Kind: accounts.AccountPassword, Secret: "old"},
		{Name: "Ines", Kind: accounts.AccountRole, Role: "engineer"},
		{Name: "Ines", Kind: accounts.AccountPassword, Secret: "new"},
		{Name: "Abel", Kind: accounts.AccountRole, Role: "operator"},
		{Name: "Abel", Kind: accounts.AccountBadge, Secret: "card"},
		{Name: "Gone", Kind: accounts.AccountRole, Role: "quality"},
		{Name: "Gone", Kind: accounts.AccountBadge, Secret: "lost"},
		{Name: "Gone", Kind: accounts.AccountClosed},
		{Name: "Back", Kind: accounts.AccountRole, Role: "returns"},
		{Name: "Back", Kind: accounts.AccountPassword, Secret: "before"},
		{Name: "Back", Kind: accounts.AccountClosed},
		{Name: "Back", Kind: accounts.AccountRole, Role: "operator"},
	} {
		e.By = "terminal"
		require.NoError(t, s.Accounts.SaveAccountEvent(t.Context(), e))
	}
	accounts, err := s.Accounts.Accounts(t.Context())
	require.NoError(t, err)
	var short []string
	for _, a := range accounts {
		short = append(short, strings.Join([]string{a.Name, a.Role, a.Password, a.Badge}, "/"))
	}
	assert.Equal(t, []string{"Abel/operator//card", "Back/operator//", "Ines/engineer/new/"}, short)
}

func TestSessionsEndOnce(t *testing.T) {
	s := openTemp(t)
	hash := sha256.Sum256([]byte("token"))
	require.NoError(t, s.Accounts.StartSession(t.Context(), hash, "Ines", "badge"))
	open, err := s.Accounts.Session(t.Context(), hash)
	require.NoError(t, err)
	require.NotNil(t, open)
	assert.Equal(t, "Ines", open.Name)
	assert.Equal(t, "badge", open.How)
	other, err := s.Accounts.Session(t.Context(), sha256.Sum256([]byte("other")))
	require.NoError(t, err)
	assert.Nil(t, other)
	require.NoError(t, s.Accounts.EndSession(t.Context(), open.Seq, ""))
	require.NoError(t, s.Accounts.EndSession(t.Context(), open.Seq, ""), "twice is once")
	ended, err := s.Accounts.Session(t.Context(), hash)
	require.NoError(t, err)
	assert.Nil(t, ended)
}

// Who is known at an address signed in there; to have tried is not enough.
func TestSignInLog(t *testing.T) {
	s := openTemp(t)
	log := s.SignIns
	for _, e := range []accounts.SignIn{
		{Name: "Ines", Address: "192.0.2.7", How: "password", Outcome: accounts.SignInWrong},
		{Name: "Abel", Address: "192.0.2.7", How: "badge", Outcome: accounts.SignedIn},
		{Address: "192.0.2.9", How: "badge", Outcome: accounts.SignInWrong},
	} {
		require.NoError(t, log.Add(t.Context(), e))
	}
	for who, want := range map[[2]string]bool{
		{"Ines", "192.0.2.7"}: false, {"Abel", "192.0.2.7"}: true, {"Abel", "192.0.2.9"}: false, {"", "192.0.2.9"}: false,
	} {
		known, err := log.Known(t.Context(), who[0], who[1])
		require.NoError(t, err)
		assert.Equal(t, want, known, who)
	}
	list, err := log.Last(t.Context(), 2)
	require.NoError(t, err)
	require.Len(t, list, 2)
	assert.Equal(t, "192.0.2.9", list[0].Address)
	assert.Equal(t, "Abel", list[1].Name)
	assert.Error(t, log.Add(t.Context(), accounts.SignIn{How: "badge", Outcome: accounts.SignedIn}), "nobody cannot be in")
	assert.Error(t, log.Add(t.Context(), accounts.SignIn{Name: "Ines", How: "password", Outcome: "guessed: cucumber"}))
}

// What is decided about accounts is done whole or not at all, and leaves somebody who can
// decide; whoever lost a way in is out at once.
func TestDecisionsAboutAccounts(t *testing.T) {
	s := openTemp(t)
	decide := func(kind accounts.AccountEventKind, name, role, secret string) error {
		return s.Accounts.Decide(t.Context(), accounts.AccountEvent{Name: name, Kind: kind, Role: role, Secret: secret, By: "Ines"})
	}
	one := func() accounts.Account {
		list, err := s.Accounts.Accounts(t.Context())
		require.NoError(t, err)
		return list[0]
	}
	require.ErrorIs(t, decide(accounts.AccountPassword, "Ines", "", "hash"), accounts.ErrNoAccount)
	require.NoError(t, decide(accounts.AccountRole, "Ines", "engineer", ""))
	require.NoError(t, decide(accounts.AccountPassword, "Ines", "", "hash"))
	require.ErrorContains(t, decide(accounts.AccountRole, "I NES", "quality", ""), "there is an account of Ines")
	require.ErrorIs(t, decide(accounts.AccountRole, "Ines", "quality", ""), accounts.ErrLastEngineer)
	require.ErrorIs(t, decide(accounts.AccountClosed, "Ines", "", ""), accounts.ErrLastEngineer)
	require.ErrorIs(t, decide(accounts.AccountLocked, "Ines", "", ""), accounts.ErrLastEngineer)
	assert.False(t, one().Locked, "nothing of it was done")
	require.NoError(t, decide(accounts.AccountRole, "Jon", "engineer", ""), "he has no password: Ines stays the last")
	require.ErrorIs(t, decide(accounts.AccountLocked, "Ines", "", ""), accounts.ErrLastEngineer)
	require.NoError(t, decide(accounts.AccountPassword, "Jon", "", "hash"))

	token := sha256.Sum256([]byte("of Ines"))
	require.NoError(t, s.Accounts.StartSession(t.Context(), token, "Ines", "password"))
	require.NoError(t, decide(accounts.AccountLocked, "Ines", "", ""))
	assert.True(t, one().Locked)
	open, err := s.Accounts.Session(t.Context(), token)
	require.NoError(t, err)
	assert.Nil(t, open, "she is out at once")
	require.ErrorIs(t, decide(accounts.AccountClosed, "Jon", "", ""), accounts.ErrLastEngineer, "one who is locked decides nothing")
	require.NoError(t, decide(accounts.AccountUnlocked, "Ines", "", ""))
	assert.Equal(t, "hash", one().Password, "nothing else changed")

	said, err := s.Accounts.Decided(t.Context(), 3)
	require.NoError(t, err)
	assert.Equal(t, accounts.AccountUnlocked, said[0].Kind)
	assert.Equal(t, "Ines", said[0].By)
	assert.Empty(t, said[0].Secret)
}

// Accounts are those of the newest decision, whoever made it and however it came: another process decided, a decision was taken
// back and another took its number, and what is given out may be changed by whoever has it.
func TestAccountsAreNeverThoseOfBefore(t *testing.T) {
	ctx, s := t.Context(), openTemp(t)
	other, err := Open(ctx, s.Path())
	require.NoError(t, err)
	t.Cleanup(func() { require.NoError(t, other.Close()) })
	roles := func(s *Store) map[string]string {
		list, err := s.Accounts.Accounts(ctx)
		require.NoError(t, err)
		out := map[string]string{}
		for i, a := range list {
			out[a.Name] = a.Role
			if a.Locked {
				out[a.Name] = "locked"
			}
			list[i] = accounts.Account{Name: "spoiled"}
		}
		return out
	}
	decide := func(s *Store, events ...accounts.AccountEvent) error {
		for i := range events {
			events[i].By = "Ines"
		}
		return s.Accounts.Decide(ctx, events...)
	}
	assert.Empty(t, roles(s))
	require.NoError(t, decide(s, accounts.AccountEvent{Name: "Ines", Kind: accounts.AccountRole, Role: "engineer"},
		accounts.AccountEvent{Name: "Ines", Kind: accounts.AccountPassword, Secret: "hash"}))
	for range 2 {
		assert.Equal(t, map[string]string{"Ines": "engineer"}, roles(s))
		assert.Equal(t, map[string]string{"Ines": "engineer"}, roles(other))
	}
	require.NoError(t, decide(other, accounts.AccountEvent{Name: "Paul", Kind: accounts.AccountRole, Role: "quality"}))
	assert.Equal(t, map[string]string{"Ines": "engineer", "Paul": "quality"}, roles(s), "another process decided")
	require.ErrorIs(t, decide(s, accounts.AccountEvent{Name: "Ines", Kind: accounts.AccountRole, Role: "operator"}), accounts.ErrLastEngineer)
	assert.Equal(t, map[string]string{"Ines": "engineer", "Paul": "quality"}, roles(s), "what was taken back is nothing")
	require.NoError(t, decide(other, accounts.AccountEvent{Name: "Paul", Kind: accounts.AccountRole, Role: "returns"}))
	assert.Equal(t, map[string]string{"Ines": "engineer", "Paul": "returns"}, roles(s), "under the number of what was taken back")
	require.NoError(t, decide(other, accounts.AccountEvent{Name: "Paul", Kind: accounts.AccountLocked}))
	assert.Equal(t, map[string]string{"Ines": "engineer", "Paul": "locked"}, roles(s))
	require.NoError(t, decide(s, accounts.AccountEvent{Name: "Paul", Kind: accounts.AccountUnlocked}))
	assert.Equal(t, map[string]string{"Ines": "engineer", "Paul": "returns"}, roles(other))
	require.NoError(t, decide(s, accounts.AccountEvent{Name: "Paul", Kind: accounts.AccountClosed}))
	assert.Equal(t, map[string]string{"Ines": "engineer"}, roles(other))
}

// BenchmarkAccounts compares looking accounts up as a request does with putting them together from 1,500 rows, in turn.
func BenchmarkAccounts(b *testing.B) {
	s := openTemp(b)
	for n := range 300 {
		for _, kind := range []accounts.AccountEventKind{accounts.AccountRole, accounts.AccountPassword, accounts.AccountBadge, accounts.AccountPassword, accounts.AccountBadge} {
			e := accounts.AccountEvent{Name: fmt.Sprint("person ", n), Kind: kind, By: "Ines"}
			if e.Secret = "secret"; kind == accounts.AccountRole {
				e.Role, e.Secret = "operator", ""
			}
			require.NoError(b, s.Accounts.SaveAccountEvent(b.Context(), e))
		}
	}
	var kept, anew []time.Duration
	for b.Loop() {
		kept = append(kept, timed(b, func() error { return second(s.Accounts.Accounts(b.Context())) }))
		fresh := accounts.On(s.db)
		anew = append(anew, timed(b, func() error { return second(fresh.Accounts(b.Context())) }))
	}
	b.ReportMetric(0, "ns/op") // would count both
	b.ReportMetric(micros(quantile(anew, 0.5)), "anew-p50-us")
	b.ReportMetric(micros(quantile(kept, 0.5)), "kept-p50-us")
	b.ReportMetric(micros(quantile(kept, 0.5))/micros(quantile(anew, 0.5)), "ratio-p50")
}
