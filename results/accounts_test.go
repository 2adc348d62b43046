package results

import (
	"crypto/sha256"
	"fmt"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/sequence/product"
)

// stationRows puts a row into each table that only stations write.
func stationRows(t *testing.T, s *Store) {
	t.Helper()
	ctx := t.Context()
	require.NoError(t, s.SaveAccountEvent(ctx, AccountEvent{Name: "Ines", Kind: AccountRole, Role: "engineer", By: "terminal"}))
	require.NoError(t, s.StartSession(ctx, sha256.Sum256([]byte("token")), "Ines", "password"))
	require.NoError(t, s.EndSession(ctx, 1))
	require.NoError(t, s.SaveOverride(ctx, Override{What: "attempts used", Serial: "24-000002", Jig: "J-0007", By: "Ines", Reason: "repaired"}))
	require.NoError(t, s.SaveRelease(ctx, releaseOf(t, "A", 200)))
}

// releaseOf is a release of a small panel whose contacts may have so many ohms.
func releaseOf(t *testing.T, label string, closed int) Release {
	t.Helper()
	source := fmt.Sprintf(`product: CP-4
title: Greenhouse door panel, 4 keys
revision: %s
tail: R1 R2 C1 C2
matrix:
  rows: R1 R2
  columns: C1 C2
  keys: |
    1 2
    3 4
limits: {closed: at most %d ohm}
`, label, closed)
	p, err := product.Parse("cp-4.yaml", []byte(source))
	require.NoError(t, err)
	return Release{Code: p.Code, Label: p.Revision, Hash: p.Hash(), Source: source, By: "Ines", Reason: "because"}
}

// An account is what its events say, one after another.
func TestAccountsAreTheirEvents(t *testing.T) {
	s := openTemp(t)
	for _, e := range []AccountEvent{
		{Name: "Ines", Kind: AccountRole, Role: "operator"},
		{Name: "Ines", Kind: AccountPassword, Secret: "old"},
		{Name: "Ines", Kind: AccountRole, Role: "engineer"},
		{Name: "Ines", Kind: AccountPassword, Secret: "new"},
		{Name: "Abel", Kind: AccountRole, Role: "operator"},
		{Name: "Abel", Kind: AccountBadge, Secret: "card"},
		{Name: "Gone", Kind: AccountRole, Role: "quality"},
		{Name: "Gone", Kind: AccountBadge, Secret: "lost"},
		{Name: "Gone", Kind: AccountClosed},
		{Name: "Back", Kind: AccountRole, Role: "returns"},
		{Name: "Back", Kind: AccountPassword, Secret: "before"},
		{Name: "Back", Kind: AccountClosed},
		{Name: "Back", Kind: AccountRole, Role: "operator"},
	} {
		e.By = "terminal"
		require.NoError(t, s.SaveAccountEvent(t.Context(), e))
	}
	accounts, err := s.Accounts(t.Context())
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
	require.NoError(t, s.StartSession(t.Context(), hash, "Ines", "badge"))
	open, err := s.Session(t.Context(), hash)
	require.NoError(t, err)
	require.NotNil(t, open)
	assert.Equal(t, "Ines", open.Name)
	assert.Equal(t, "badge", open.How)
	other, err := s.Session(t.Context(), sha256.Sum256([]byte("other")))
	require.NoError(t, err)
	assert.Nil(t, other)
	require.NoError(t, s.EndSession(t.Context(), open.Seq))
	require.NoError(t, s.EndSession(t.Context(), open.Seq), "twice is once")
	ended, err := s.Session(t.Context(), hash)
	require.NoError(t, err)
	assert.Nil(t, ended)
}

// The newest release holds; going back is a release of its own.
func TestReleases(t *testing.T) {
	s := openTemp(t)
	first, second := releaseOf(t, "A", 200), releaseOf(t, "B", 150)
	again := first
	again.Back = true
	for _, r := range []Release{first, second, again} {
		require.NoError(t, s.SaveRelease(t.Context(), r))
	}
	list, err := s.Releases(t.Context(), "CP-4")
	require.NoError(t, err)
	require.Len(t, list, 3)
	assert.Equal(t, first.Source, list[0].Source)
	assert.True(t, list[0].Back)
	assert.EqualValues(t, 3, list[0].Seq)
	require.ErrorContains(t, s.SaveRelease(t.Context(), Release{Code: "CP-4", Hash: strings.Repeat("a", 64), Source: "x", By: "Ines"}),
		"reason", "a release needs a reason")
}
