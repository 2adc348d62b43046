package notices_test

import (
	"crypto/sha256"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/accounts"
	"padjig/results/floor"
	"padjig/results/notices"
	"padjig/results/plant/notice"
	"padjig/results/runs/runstest"
)

var passphrase = "$argon2id$v=19$m=65536,t=3,p=1$c2FsdA$aGFzaA"

func decide(t *testing.T, s *results.Store, name string, events ...accounts.AccountEvent) {
	t.Helper()
	for i := range events {
		events[i].Name, events[i].By = name, "Ines"
	}
	require.NoError(t, s.Accounts.Decide(t.Context(), events...))
}

func role(of string) accounts.AccountEvent {
	return accounts.AccountEvent{Kind: accounts.AccountRole, Role: of}
}

var password = accounts.AccountEvent{Kind: accounts.AccountPassword, Secret: passphrase}

func accountsOf(t *testing.T, s *results.Store) map[string]accounts.Account {
	t.Helper()
	list, err := s.Accounts.Accounts(t.Context())
	require.NoError(t, err)
	all := map[string]accounts.Account{}
	for _, a := range list {
		all[a.Name] = a
	}
	return all
}

func TestAccountsOfThePlant(t *testing.T) {
	t.Parallel()
	p, s := newPlant(t), open(t, "station.db")
	decide(t, s, "Local", role("engineer"), password)
	decide(t, p.office, "Ines", role("engineer"), password)
	decide(t, p.office, "Abel", role("operator"), accounts.AccountEvent{Kind: accounts.AccountBadge, Secret: strings.Repeat("0f", 32)})
	p.publish()
	assert.Nil(t, p.look(s).Trouble)
	all := accountsOf(t, s)
	assert.Len(t, all, 3)
	assert.True(t, all["Ines"].OfPlant)
	assert.False(t, all["Local"].OfPlant)
	assert.Equal(t, passphrase, all["Ines"].Password)
	assert.Equal(t, "operator", all["Abel"].Role)

	// Nobody changes them here; those made here stay here.
	for _, e := range []accounts.AccountEvent{role("engineer"), password, {Kind: accounts.AccountClosed}, {Kind: accounts.AccountUnlocked}} {
		e.Name, e.By = "Abel", "Local"
		of := new(accounts.OfPlantError)
		assert.ErrorAs(t, s.Accounts.Decide(t.Context(), e), &of)
		if e.Kind != accounts.AccountUnlocked {
			assert.ErrorContains(t, s.Accounts.SaveAccountEvent(t.Context(), e), "the plant decides")
		}
	}
	decide(t, s, "Mia", role("operator"))
	sound(t, s)

	// Locked at the plant is locked here, and whoever was signed in is not any more.
	token := sha256.Sum256([]byte("token"))
	require.NoError(t, s.Accounts.StartSession(t.Context(), token, "Abel", "badge"))
	decide(t, p.office, "Abel", accounts.AccountEvent{Kind: accounts.AccountLocked})
	p.publish()
	p.look(s)
	assert.True(t, accountsOf(t, s)["Abel"].Locked)
	open, err := s.Accounts.Session(t.Context(), token)
	require.NoError(t, err)
	assert.Nil(t, open)
	decide(t, p.office, "Abel", accounts.AccountEvent{Kind: accounts.AccountUnlocked})
	decide(t, p.office, "Abel", role("quality"))
	p.publish()
	p.look(s)
	assert.False(t, accountsOf(t, s)["Abel"].Locked)
	assert.Equal(t, "quality", accountsOf(t, s)["Abel"].Role)

	// Closed by the plant the name is free.
	decide(t, p.office, "Abel", accounts.AccountEvent{Kind: accounts.AccountClosed})
	p.publish()
	p.look(s)
	assert.NotContains(t, accountsOf(t, s), "Abel")
	decide(t, s, "Abel", role("returns"))
	assert.False(t, accountsOf(t, s)["Abel"].OfPlant)
	sound(t, s)
}

// A name that an account made here has is not taken from it: the plant's waits, with all that is
// decided about it, until that one is closed.
func TestANameThatIsUsed(t *testing.T) {
	t.Parallel()
	p, s := newPlant(t), open(t, "station.db")
	decide(t, s, "i nes", role("operator"))
	decide(t, p.office, "Ines", role("engineer"), password)
	p.publish()
	done := p.look(s)
	assert.Nil(t, done.Trouble)
	assert.Equal(t, notices.Waits, done.Notices[1].Outcome)
	decide(t, p.office, "Ines", accounts.AccountEvent{Kind: accounts.AccountRole, Role: "engineer"}, password)
	decide(t, p.office, "Abel", role("operator"))
	p.publish()
	p.look(s)
	st, err := s.Notices.Contact(t.Context())
	require.NoError(t, err)
	assert.Equal(t, []string{"Ines"}, st.Waiting)
	assert.NotContains(t, accountsOf(t, s), "Ines")
	assert.Contains(t, accountsOf(t, s), "Abel", "others do not wait")
	decide(t, s, "i nes", accounts.AccountEvent{Kind: accounts.AccountClosed})
	p.look(s)
	assert.Equal(t, "engineer", accountsOf(t, s)["Ines"].Role)
	st, err = s.Notices.Contact(t.Context())
	require.NoError(t, err)
	assert.Empty(t, st.Waiting)
	sound(t, s)
}

func TestLotsOfThePlant(t *testing.T) {
	t.Parallel()
	p, s := newPlant(t), open(t, "station.db")
	run := runstest.Passed("24-000001")
	_, err := s.Runs.Save(t.Context(), runstest.Climate(), run)
	require.NoError(t, err)
	for _, jig := range []string{run.Jig.Serial, "J-9"} {
		require.NoError(t, p.office.Floor.SaveLots(t.Context(), floor.LotChange{Jig: jig, Product: "GCC", Lots: floor.Lots{"dome": "D-77"}, By: "Ines"}))
	}
	p.publish()
	done := p.look(s)
	require.Len(t, done.Notices, 3)
	assert.Equal(t, []notices.Outcome{notices.InForce, notices.NotHere}, []notices.Outcome{done.Notices[1].Outcome, done.Notices[2].Outcome})
	lots, err := s.Floor.LotsOf(t.Context(), run.Jig.Serial, "GCC", false)
	require.NoError(t, err)
	assert.Equal(t, floor.Lots{"dome": "D-77"}, lots.Lots)
	none, err := s.Floor.LotsOf(t.Context(), "J-9", "GCC", false)
	require.NoError(t, err)
	assert.Nil(t, none)
	sound(t, s)
}

func TestDatesOfThePlant(t *testing.T) {
	t.Parallel()
	p, s := newPlant(t), open(t, "station.db")
	date := func(name, of, due string) notices.Dated {
		return notices.Dated{Name: name, DatesBody: notice.DatesBody{Of: of, Due: due, Certificate: "C-1", By: "Ines"}}
	}
	begin := time.Now().UTC().Truncate(24 * time.Hour)
	day := func(n int) string { return begin.AddDate(0, 0, n).Format(time.DateOnly) } // none before the plant signs what hangs there: it is later then
	p.publish(notices.Further{Dates: []notices.Dated{date("J-1", "jig", day(60)), date("CP-REF", "unit", day(64)), date("CP-REF", "box", "2020-01-01")}})
	assert.Nil(t, p.look(s).Trouble)
	for n, want := range map[int][2][]notices.Code{
		30: {},
		60: {nil, {notices.DateSoon, notices.DateSoon}},
		61: {{notices.DateOver}, {notices.DateSoon}},
		65: {{notices.DateOver, notices.DateOver}, nil},
	} {
		blocks, warns := said(t, s, begin.AddDate(0, 0, n))
		var dated []notices.Code
		for _, w := range warns {
			if w != notices.NotHeard {
				dated = append(dated, w)
			}
		}
		assert.Equal(t, want, [2][]notices.Code{blocks, dated}, "day %d", n)
	}
	b, err := s.Notices.Date(t.Context(), "box", "CP-REF")
	require.NoError(t, err)
	assert.Equal(t, "2020-01-01", b.Due)
	p.publish(notices.Further{Dates: []notices.Dated{date("J-1", "jig", day(400))}})
	p.look(s)
	blocks, _ := said(t, s, begin.AddDate(0, 0, 61))
	assert.Empty(t, blocks, "the newest holds")
}
