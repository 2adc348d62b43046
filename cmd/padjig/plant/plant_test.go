package plant_test

import (
	"bytes"
	"context"
	"encoding/json"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/plant"
	pump "padjig/cmd/padjig/serve/notices"
	"padjig/results"
	"padjig/results/accounts"
	"padjig/results/plant/notice"
	"padjig/results/plant/planttest"
	"padjig/results/plant/postgres"
	"padjig/results/releases/releasestest"
)

var server *planttest.Server

func TestMain(m *testing.M) { planttest.Run(m, &server) }

// at is an office with its database.
type at struct {
	*testing.T
	dir, address, store string
}

func newOffice(t *testing.T) *at {
	t.Helper()
	o := &at{T: t, dir: t.TempDir(), address: server.Made(t)}
	o.store = filepath.Join(o.dir, "office.db")
	return o
}

// try runs padjig plant, with something on its standard input.
func (o *at) try(in string, args ...string) (out string, err error) {
	cmd := plant.Command()
	var both bytes.Buffer
	cmd.SetArgs(args)
	cmd.SetIn(strings.NewReader(in))
	cmd.SetOut(&both)
	cmd.SetErr(&both)
	cmd.SilenceUsage, cmd.SilenceErrors = true, true
	err = cmd.ExecuteContext(context.WithoutCancel(o.Context()))
	return both.String(), err
}

func (o *at) run(in string, args ...string) string {
	o.Helper()
	out, err := o.try(in, args...)
	require.NoError(o, err, out)
	return out
}

func (o *at) file(name string) string { return filepath.Join(o.dir, name) }

func (o *at) publish(more ...string) []string {
	return append([]string{"publish", "--key", o.file("office.key"), "--plant", o.address, "--store", o.store}, more...)
}

func (o *at) with(do func(*results.Store)) {
	o.Helper()
	s, err := results.Open(o.Context(), o.store)
	require.NoError(o, err)
	do(s)
	require.NoError(o, s.Close())
}

func padText(label, most string) string {
	return "product: CP-4\nrevision: " + label + "\ntail: K1 K2 COM\nlines: {direct: K1 K2, common: COM}\n" +
		"keys: {VENT: K1 COM, MIST: K2 COM}\nlimits: {contact resistance: at most " + most + "}\n"
}

// From the office's decision to the station's next unit: the key, the release, the account, the
// step back; and what a station says that was cut off.
func TestFromTheOfficeToAStation(t *testing.T) {
	o := newOffice(t)
	public := o.run("", "key", o.file("office.key"))
	info, err := os.Stat(o.file("office.key"))
	require.NoError(t, err)
	assert.Equal(t, os.FileMode(0o600), info.Mode().Perm())
	private, err := os.ReadFile(o.file("office.key"))
	require.NoError(t, err)
	_, err = o.try("", "key", o.file("office.key"))
	assert.ErrorContains(t, err, "is there already")
	again, err := os.ReadFile(o.file("office.key"))
	require.NoError(t, err)
	assert.Equal(t, private, again, "a key that is there is left as it is")
	keys, err := notice.ReadPublic([]byte(public))
	require.NoError(t, err)
	assert.Contains(t, public, notice.FingerprintOf(keys[0]).String())

	o.with(func(s *results.Store) {
		require.NoError(t, releasestest.Release(t.Context(), s, padText("A", "200 ohm")))
		require.NoError(t, releasestest.Release(t.Context(), s, padText("B", "150 ohm")))
		hash, err := account.HashPassword("tomatoes in a glass house")
		require.NoError(t, err)
		require.NoError(t, s.Accounts.Decide(t.Context(), accounts.AccountEvent{Name: "Ines", Kind: accounts.AccountRole, Role: "engineer", By: "terminal"},
			accounts.AccountEvent{Name: "Ines", Kind: accounts.AccountPassword, Secret: hash, By: "terminal"}))
	})
	out := o.run("", o.publish()...)
	assert.Contains(t, out, "notice 2: release CP-4\nnotice 3: account Ines\n3 notices put up, 3 in all\n")
	assert.Equal(t, public, o.run("", "key", "--show", "--store", o.store))

	station, err := results.Open(t.Context(), o.file("station.db"))
	require.NoError(t, err)
	defer station.Close()
	db, err := postgres.Open(o.address)
	require.NoError(t, err)
	defer db.Close()
	var changed []string
	p := &pump.Pump{Plant: db, Records: station.Notices, Pinned: keys, Stale: time.Hour, Changed: func(products []string) { changed = append(changed, products...) }}
	require.NoError(t, p.First(t.Context()))
	inForce := func() string {
		list, err := station.Runs.Releases(t.Context(), "CP-4")
		require.NoError(t, err)
		return list[0].Label
	}
	assert.Equal(t, "B", inForce())
	assert.Equal(t, []string{"CP-4"}, changed)

	// One step back needs a second person where that lets more through.
	back := []string{"return", "CP-4", "--reason", "units fail that are good", "--key", o.file("office.key"), "--plant", o.address, "--store", o.store}
	_, err = o.try("", back...)
	require.Error(t, err, "who acts is not said")
	signedIn := filepath.Join(o.dir, "ines")
	require.NoError(t, os.WriteFile(signedIn, []byte("Ines\ntomatoes in a glass house\n"), 0o600))
	out = o.run("", append(back, "--sign-in", signedIn)...)
	assert.Contains(t, out, "a second person of quality or engineer")
	require.NoError(t, p.Once(t.Context()))
	assert.Equal(t, "B", inForce())
	o.with(func(s *results.Store) {
		list, err := s.Releases.Proposals(t.Context(), "CP-4")
		require.NoError(t, err)
		require.NoError(t, s.Accounts.SaveAccountEvent(t.Context(), accounts.AccountEvent{Name: "Paul", Kind: accounts.AccountRole, Role: "quality", By: "terminal"}))
		_, err = s.Releases.Approve(t.Context(), "CP-4", list[0].Look(), "Paul")
		require.NoError(t, err)
	})
	out = o.run("", o.publish("--json")...)
	var told struct {
		Schema string
		Issued []struct{ Kind, Subject string }
		Count  int
	}
	require.NoError(t, json.Unmarshal([]byte(out), &told))
	assert.Equal(t, "published-1", told.Schema)
	assert.Equal(t, "return", told.Issued[0].Kind)
	require.NoError(t, p.Once(t.Context()))
	assert.Equal(t, "A", inForce())
	out = o.run("", append(back, "--sign-in", signedIn)...) // from A to B again, which is tighter: one step
	assert.Contains(t, out, ": return CP-4\n1 notice put up, ")
	require.NoError(t, p.Once(t.Context()))
	assert.Equal(t, "B", inForce())

	out = o.run("", "notices", "--store", station.Path())
	assert.Contains(t, out, "in force    release   CP-4")
	assert.Contains(t, out, "the plant has 6 notices, heard ")
	var standing struct {
		Contact struct {
			Taken, Count int
			Over         bool
		}
	}
	require.NoError(t, json.Unmarshal([]byte(o.run("", "notices", "--json", "--store", station.Path())), &standing))
	assert.Equal(t, 6, standing.Contact.Taken)
	assert.Equal(t, 6, standing.Contact.Count)
	assert.False(t, standing.Contact.Over)

	// Dates, and the next key.
	_, err = o.try("", o.publish("--due", "box:RB-7=31.1.2027", "--due", "RB-8", "--due", "tray:T=2027-01-31")...)
	for _, wrong := range []string{"box:RB-7=31.1.2027", `"RB-8": write`, "tray:T"} {
		assert.ErrorContains(t, err, wrong)
	}
	o.run("", "key", o.file("next.key"))
	o.run("", o.publish("--due", "box:RB-7=2027-01-31", "--certificate", "K-2231", "--sign-in", signedIn, "--next-key", o.file("next.key"))...)
	_, err = o.try("", o.publish()...)
	assert.ErrorContains(t, err, "not the one in force")
	require.NoError(t, p.Once(t.Context()))
	date, err := station.Notices.Date(t.Context(), "box", "RB-7")
	require.NoError(t, err)
	assert.Equal(t, "2027-01-31", date.Due)
	st, err := station.Notices.Contact(t.Context())
	require.NoError(t, err)
	assert.EqualValues(t, 8, st.Taken)
	assert.Nil(t, st.Trouble)
}

func TestKeysThatOthersMayRead(t *testing.T) {
	o := newOffice(t)
	o.run("", "key", o.file("office.key"))
	require.NoError(t, os.Chmod(o.file("office.key"), 0o640))
	_, err := o.try("", o.publish()...)
	assert.ErrorContains(t, err, "others on this computer may read it")
	require.NoError(t, os.Chmod(o.file("office.key"), 0o600))
	public := o.run("", "key", o.file("other.key"))
	require.NoError(t, os.WriteFile(o.file("public"), []byte(public), 0o600))
	_, err = o.try("", append(o.publish(), "--key", o.file("public"))...)
	assert.ErrorIs(t, err, notice.ErrNoPrivateKey)
}

// Another office is refused, and says what to do; these records go on when they are told to.
func TestAnotherOffice(t *testing.T) {
	o := newOffice(t)
	o.run("", "key", o.file("office.key"))
	o.run("", o.publish()...)
	first := o.store
	o.with(func(s *results.Store) {
		require.NoError(t, releasestest.Release(t.Context(), s, padText("A", "200 ohm")))
	})
	o.run("", o.publish()...)
	o.store = o.file("second.db")
	o.with(func(s *results.Store) {
		require.NoError(t, releasestest.Release(t.Context(), s, padText("X", "500 ohm")))
	})
	_, err := o.try("", o.publish()...)
	assert.ErrorContains(t, err, "other notices hang there")
	_, err = o.try("", o.publish("--take-over")...)
	assert.Error(t, err, "they began otherwise: nothing can be taken over")
	o.store = first
	assert.Contains(t, o.run("", o.publish()...), "0 notices put up, 2 in all")
}
