package results

import (
	"fmt"
	"path/filepath"
	"strings"
	"sync"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/accounts"
	"padjig/results/releases"
	"padjig/results/runs"
	"padjig/results/runs/runstest"
	"padjig/sequence/product"
)

// padText is the product file of a small pad of a greenhouse climate controller.
func padText(label, closed string) string {
	return fmt.Sprintf(`product: CP-4
revision: %q
tail: K1 K2 COM
lines: {direct: K1 K2, common: COM}
keys: {VENT: K1 COM, MIST: K2 COM}
limits: {contact resistance: at most %s}
`, label, closed)
}

// releaseOf is the proposal of a text, by Ines, from the first unit on.
func releaseOf(t *testing.T, text string) releases.Proposal {
	t.Helper()
	p, err := product.Parse("pad.yaml", []byte(text))
	require.NoError(t, err)
	return releases.Proposal{Code: p.Code, Label: p.Revision, Hash: p.Hash(), Source: text, By: "Ines", Reason: "agreed with the customer",
		FromSerial: p.Serial.Example()}
}

// propose proposes a text, and has Paul approve it where it lets more through.
func propose(t *testing.T, s *Store, p releases.Proposal) error {
	t.Helper()
	asked, err := s.Releases.Propose(t.Context(), p)
	if err == nil && asked.Loosens {
		_, err = s.Releases.Approve(t.Context(), p.Code, asked.Look(), "Paul")
	}
	return err
}

// people are those who release in these tests.
func people(t *testing.T, s *Store) {
	t.Helper()
	for name, role := range map[string]string{"Ines": "engineer", "Paul": "quality", "Emma": "engineer", "Abel": "operator"} {
		require.NoError(t, s.Accounts.SaveAccountEvent(t.Context(), accounts.AccountEvent{Name: name, Kind: accounts.AccountRole, Role: role, By: "terminal"}))
	}
}

// released stores a proposal that lets nothing more through.
func released(t *testing.T, s *Store, p releases.Proposal) {
	t.Helper()
	p, err := s.Releases.Propose(t.Context(), p)
	require.NoError(t, err)
	require.False(t, p.Loosens)
}

func revisionOf(t *testing.T, text string) runs.Revision {
	t.Helper()
	p, err := product.Parse("pad.yaml", []byte(text))
	require.NoError(t, err)
	return runs.Revision{Code: p.Code, Title: p.Title, Label: p.Revision, Hash: p.Hash(), Definition: p.Canonical()}
}

// The newest release holds; going back is a release of its own.
func TestReleases(t *testing.T) {
	s := openTemp(t)
	a, b := releaseOf(t, padText("A", "200 ohm")), releaseOf(t, padText("B", "300 ohm"))
	back := a
	back.Back = true
	people(t, s)
	for _, r := range []releases.Proposal{a, b, back} {
		require.NoError(t, propose(t, s, r))
	}
	list, err := s.Runs.Releases(t.Context(), "CP-4")
	require.NoError(t, err)
	require.Len(t, list, 3)
	assert.Equal(t, a.Source, list[0].Source)
	assert.True(t, list[0].Back)
	assert.EqualValues(t, 3, list[0].Seq)
	p, err := list[0].Product()
	require.NoError(t, err)
	assert.Equal(t, a.Hash, p.Hash())
	a.Reason = ""
	require.ErrorContains(t, propose(t, s, a), "reason", "a release needs a reason")
}

// A label means one definition, whether it is known from a release or from runs,
// and however it is written; what means the same goes through.
func TestALabelMeansOneDefinition(t *testing.T) {
	for name, know := range map[string]func(*testing.T, *Store){
		"released": func(t *testing.T, s *Store) {
			released(t, s, releaseOf(t, padText("Rev A", "200 ohm")))
		},
		"tested": func(t *testing.T, s *Store) {
			require.NoError(t, s.Runs.Introduce(t.Context(), revisionOf(t, padText("Rev A", "200 ohm"))))
		},
	} {
		t.Run(name, func(t *testing.T) {
			s := openTemp(t)
			people(t, s)
			know(t, s)
			for _, label := range []string{"Rev A", "REV A", "rev a", "RevA", "Rev  A", "rev A "} {
				looser := padText(label, "250 ohm")
				for what, err := range map[string]error{
					"release": propose(t, s, releaseOf(t, looser)),
					"look":    s.Runs.CheckLabel(t.Context(), revisionOf(t, looser)),
					"test":    s.Runs.Introduce(t.Context(), revisionOf(t, looser)),
				} {
					taken := new(runs.LabelTaken)
					require.ErrorAs(t, err, &taken, "%s under %q", what, label)
					assert.Contains(t, err.Error(), "keys MIST VENT limits.closed_ohm[2] from 200 to 250")
					assert.Contains(t, err.Error(), `CP-4 revision "Rev A" is known with another definition`)
				}
				_, err := s.Studies.PlanStudy(t.Context(), revisionOf(t, looser), pairStudy())
				require.ErrorAs(t, err, new(*runs.LabelTaken), "a study makes a revision known too")
			}
			same := "# a remark\n" + strings.Replace(padText("Rev A", "0.2 kohm"), "tail: K1 K2 COM", "tail:   K1 K2 COM   # from the left", 1) + "title: Vents\n"
			require.NoError(t, s.Runs.Introduce(t.Context(), revisionOf(t, same)))
			require.NoError(t, propose(t, s, releaseOf(t, same)))
			require.NoError(t, propose(t, s, releaseOf(t, padText("Rev B", "250 ohm"))))
			require.NoError(t, s.Runs.Introduce(t.Context(), revisionOf(t, padText("Rev C", "250 ohm"))))
			var known int
			require.NoError(t, raw(s).QueryRow(`SELECT count(DISTINCT hash) FROM (SELECT hash, label FROM revision UNION ALL SELECT hash, label FROM release) WHERE label = 'Rev A'`).Scan(&known))
			assert.Equal(t, 1, known)
		})
	}
}

// The store itself refuses it, whatever the program asks for.
func TestTheStoreHoldsLabelsByTriggers(t *testing.T) {
	s := openTemp(t)
	a := releaseOf(t, padText("A", "200 ohm"))
	released(t, s, a)
	other := strings.Repeat("b", 64)
	var proposed string // a trigger that has another test
	require.NoError(t, raw(s).QueryRow(`SELECT sql FROM sqlite_schema WHERE name = 'release_of_proposal'`).Scan(&proposed))
	_, err := raw(s).Exec(`DROP TRIGGER release_of_proposal`)
	require.NoError(t, err)
	_, err = raw(s).Exec(`INSERT INTO release (seq, code, label, hash, kind, source, by, reason, after_run, at_us)
		SELECT 2, code, ' a', ?, kind, source, by, reason, after_run, at_us FROM release`, other)
	require.ErrorContains(t, err, "padjig: the revision label is known with another definition")
	_, err = raw(s).Exec(`INSERT INTO revision (hash, code, title, label, definition) VALUES (?, 'CP-4', '', 'A', '{}')`, other)
	require.ErrorContains(t, err, "padjig: the revision label is known with another definition")
	_, err = raw(s).Exec(`INSERT INTO revision (hash, code, title, label, definition) VALUES (?, 'CP-5', '', 'A', '{}')`, runstest.Defined(`{}`).Hash)
	require.NoError(t, err, "of another product it may be")
	_, err = raw(s).Exec(proposed)
	require.NoError(t, err)
}

// Of two that ask at once one comes first, and the other is told.
func TestTwoDefinitionsUnderOneLabelAtOnce(t *testing.T) {
	path := filepath.Join(t.TempDir(), "padjig.db")
	one, two := openChecked(t, path, testSeams()), openChecked(t, path, testSeams())
	for label, ask := range map[string]func(*Store, string) error{
		"A": func(s *Store, text string) error {
			_, err := s.Releases.Propose(t.Context(), releaseOf(t, text))
			return err
		},
		"B": func(s *Store, text string) error { return s.Runs.Introduce(t.Context(), revisionOf(t, text)) },
	} {
		failed := make([]error, 2)
		var group sync.WaitGroup
		for i, s := range []*Store{one, two} {
			group.Go(func() { failed[i] = ask(s, padText(label, fmt.Sprintf("%d ohm", 200+i))) })
		}
		group.Wait()
		require.True(t, (failed[0] == nil) != (failed[1] == nil), "%v", failed)
		for _, err := range failed {
			if err != nil {
				require.ErrorAs(t, err, new(*runs.LabelTaken))
			}
		}
	}
}

// A release that somebody changed in the file is not taken for what was released.
func TestAnAlteredReleaseIsNoticed(t *testing.T) {
	for name, change := range map[string]string{
		"text":  `UPDATE release SET source = replace(source, '200 ohm', '900 ohm')`,
		"hash":  `UPDATE release SET hash = replace(hash, substr(hash, 1, 4), 'beef')`,
		"label": `UPDATE release SET label = 'B'`,
		"code":  `UPDATE release SET source = replace(source, 'CP-4', 'CP-5')`,
		"junk":  `UPDATE release SET source = 'nothing'`,
	} {
		t.Run(name, func(t *testing.T) {
			s, err := Open(t.Context(), filepath.Join(t.TempDir(), "padjig.db"))
			require.NoError(t, err)
			defer s.Close()
			released(t, s, releaseOf(t, padText("A", "200 ohm")))
			_, err = raw(s).Exec(`DROP TRIGGER release_no_update`)
			require.NoError(t, err)
			_, err = raw(s).Exec(change)
			require.NoError(t, err)
			list, err := s.Runs.Releases(t.Context(), "CP-4")
			require.NoError(t, err)
			_, err = list[0].Product()
			require.ErrorIs(t, err, runs.ErrReleaseAltered)
			assert.ErrorContains(t, err, "release 1 of CP-4")
		})
	}
	s := openTemp(t)
	wrong := releaseOf(t, padText("A", "200 ohm"))
	wrong.Source = padText("A", "900 ohm")
	require.ErrorIs(t, propose(t, s, wrong), runs.ErrReleaseAltered, "nor is it stored")
}

// A release whose file has a field in the words of before holds on: it is read as it was
// meant, by the hash it has, and one can go back to it. A new one is refused.
func TestReleasesInTheWordsOfBeforeHold(t *testing.T) {
	s := openTemp(t)
	now := strings.Replace(padText("A", "200 ohm"), "MIST: K2 COM", "MIST: {lines: K2 COM, actuator number: 8}", 1)
	before := strings.Replace(now, "actuator number: 8", "actuator: 7", 1)
	require.NotEqual(t, now, before)
	a := releaseOf(t, now)
	a.Source = before
	require.ErrorContains(t, propose(t, s, a), `write "actuator number: 8"`)
	a.Back = true
	released(t, s, a)
	list, err := s.Runs.Releases(t.Context(), a.Code)
	require.NoError(t, err)
	p, err := list[0].Product()
	require.NoError(t, err)
	assert.Equal(t, 7, p.Keys[p.Key("MIST")].Actuator)
	require.NoError(t, s.Runs.Introduce(t.Context(), revisionOf(t, now)), "the file in the words of now is that release")
	released(t, s, a) // going back to it once more
	wrong, err := s.Check(t.Context())
	require.NoError(t, err)
	assert.Empty(t, wrong)
}
