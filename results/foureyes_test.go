package results

import (
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/accounts"
	"padjig/results/care"
	"padjig/results/lines"
	"padjig/results/releases"
	"padjig/results/runs"
	"padjig/results/runs/runstest"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/revise"
)

// refusedFor asserts why a release was refused.
func refusedFor(t *testing.T, err error, code releases.Code) {
	t.Helper()
	refused := new(releases.Refused)
	require.ErrorAs(t, err, &refused)
	assert.Equal(t, code, refused.Code, "%v", refused.Args)
}

// An office that released nothing yet goes by what its stations test by: what loosens that waits for a
// second person there too, and may be approved by one.
func TestAnOfficeLoosensNothingAlone(t *testing.T) {
	for name, tested := range map[string]string{"looser": "200 ohm", "tighter": "20 kohm"} {
		t.Run(name, func(t *testing.T) {
			s := openTemp(t)
			people(t, s)
			before, err := product.Parse("CP-4", []byte(padText("A", tested)))
			require.NoError(t, err)
			asked := releaseOf(t, padText("B", "2 kohm"))
			asked.Elsewhere = before
			done, err := s.Releases.Propose(t.Context(), asked)
			require.NoError(t, err)
			assert.Equal(t, name == "looser", done.Loosens)
			assert.Equal(t, name == "looser", done.Released == 0, "it is in force")
			if done.Loosens {
				_, err = s.Releases.Approve(t.Context(), "CP-4", asked.Hash, "Paul")
				require.NoError(t, err)
			}
			list, err := s.Runs.Releases(t.Context(), "CP-4")
			require.NoError(t, err)
			require.Len(t, list, 1)
			assert.Equal(t, "B", list[0].Label)
		})
	}
}

// A limit that is loosened tenfold, under a label of its own, is not released by one
// person: it is proposed, and in force when a second one has approved it.
func TestALooseningNeedsTwoPeople(t *testing.T) {
	s := openTemp(t)
	people(t, s)
	released(t, s, releaseOf(t, padText("A", "200 ohm")))
	looser := releaseOf(t, padText("B", "2 kohm"))
	asked, err := s.Releases.Propose(t.Context(), looser)
	require.NoError(t, err)
	require.True(t, asked.Loosens)
	assert.Equal(t, []revise.Change{{Class: revise.Looser, Code: revise.ContactMost, Keys: []string{"VENT", "MIST"}, Of: 2, From: "200 ohm", To: "2 kohm"}},
		revise.Loosenings(asked.Changes))
	in := func() string {
		list, err := s.Runs.Releases(t.Context(), "CP-4")
		require.NoError(t, err)
		return list[0].Label
	}
	assert.Equal(t, "A", in(), "nothing is in force yet")
	approve := func(by, hash string) error {
		_, err := s.Releases.Approve(t.Context(), "CP-4", hash, by)
		return err
	}
	for _, by := range []string{"Ines", "ines", "I nes", " INES "} {
		refusedFor(t, approve(by, looser.Hash), releases.Yourself)
	}
	for _, by := range []string{"Abel", "Nobody", "", "paul"} {
		refusedFor(t, approve(by, looser.Hash), releases.NotTheirRole)
	}
	for _, hash := range []string{"", looser.Hash[:11], releaseOf(t, padText("B", "3 kohm")).Hash} {
		refusedFor(t, approve("Paul", hash), releases.OtherText)
	}
	require.NoError(t, approve("Paul", looser.Hash[:12]))
	assert.Equal(t, "B", in())
	refusedFor(t, approve("Emma", looser.Hash), releases.NothingAsked)
	list, err := s.Runs.Releases(t.Context(), "CP-4")
	require.NoError(t, err)
	assert.Equal(t, "Paul", list[0].Approved)
	assert.Equal(t, looser.FromSerial, list[0].FromSerial)
	require.NoError(t, s.Releases.Sound(t.Context(), list[0]))
	tighter, err := s.Releases.Propose(t.Context(), releaseOf(t, padText("C", "100 ohm")))
	require.NoError(t, err)
	assert.False(t, tighter.Loosens)
	assert.Equal(t, "C", in(), "what is tighter one may release")
	back := releaseOf(t, padText("A", "200 ohm"))
	back.Back = true
	asked, err = s.Releases.Propose(t.Context(), back)
	require.NoError(t, err)
	assert.True(t, asked.Loosens, "going back to it lets more through again")
	assert.Equal(t, "C", in())
}

// What a loosening lacks is said: a reason, and the serial number from which it holds.
func TestALooseningSaysWhyAndFromWhere(t *testing.T) {
	s := openTemp(t)
	people(t, s)
	numbered := func(label, closed string) string {
		return padText(label, closed) + "serial: {format: CP-####*, check: luhn}\nreferences: {good: CP-00018}\n"
	}
	released(t, s, releaseOf(t, numbered("A", "200 ohm")))
	looser := releaseOf(t, numbered("B", "300 ohm"))
	for _, reason := range []string{"", "  ", "because", "aaaaaaaaaaaa", "........", "ababababab"} {
		p := looser
		p.Reason = reason
		_, err := s.Releases.Propose(t.Context(), p)
		refusedFor(t, err, releases.NoReason)
	}
	for _, serial := range []string{"", "CP-00019", "GCC-1", "CP-00018"} {
		p := looser
		p.FromSerial = serial
		_, err := s.Releases.Propose(t.Context(), p)
		refusedFor(t, err, releases.NoSerial)
	}
	looser.FromSerial = "CP-01008"
	require.NoError(t, propose(t, s, looser))
	list, err := s.Runs.Releases(t.Context(), "CP-4")
	require.NoError(t, err)
	p, err := list[0].Product()
	require.NoError(t, err)
	for serial, want := range map[string]string{"CP-00992": "A", "CP-01008": "B", "CP-01016": "B"} {
		assert.Equal(t, want, runs.Holding(list, p, serial).Label, serial)
	}
}

// What was compared is what is in force; where nothing was ever released, what was
// tested last, real units before simulated ones.
func TestTheFirstReleaseIsHeldAgainstWhatWasTested(t *testing.T) {
	s := openTemp(t)
	people(t, s)
	rev := revisionOf(t, padText("A", "200 ohm"))
	run := runOfPad(rev)
	_, err := s.Runs.Save(t.Context(), rev, run)
	require.NoError(t, err)
	wide := revisionOf(t, padText("S", "9 kohm"))
	practice := runOfPad(wide)
	practice.Simulated, practice.Serial = true, "000002"
	_, err = s.Runs.Save(t.Context(), wide, practice)
	require.NoError(t, err)
	asked, err := s.Releases.Propose(t.Context(), releaseOf(t, padText("B", "2 kohm")))
	require.NoError(t, err)
	assert.True(t, asked.Loosens)
}

// runOfPad is a pass of the small pad.
func runOfPad(rev runs.Revision) sequence.Run {
	run := runstest.Failed("000001")
	run.Product, run.Revision, run.Hash = rev.Code, rev.Label, rev.Hash
	return run
}

// A proposal holds until something else is proposed or released.
func TestAProposalIsOvertaken(t *testing.T) {
	s := openTemp(t)
	people(t, s)
	released(t, s, releaseOf(t, padText("A", "200 ohm")))
	first := releaseOf(t, padText("B", "300 ohm"))
	_, err := s.Releases.Propose(t.Context(), first)
	require.NoError(t, err)
	changed := releaseOf(t, padText("C", "400 ohm"))
	_, err = s.Releases.Propose(t.Context(), changed)
	require.NoError(t, err)
	_, err = s.Releases.Approve(t.Context(), "CP-4", first.Hash, "Paul")
	refusedFor(t, err, releases.OtherText)
	released(t, s, releaseOf(t, padText("D", "150 ohm")))
	open, err := s.Releases.Open(t.Context(), "CP-4")
	require.NoError(t, err)
	assert.Nil(t, open)
	_, err = s.Releases.Approve(t.Context(), "CP-4", changed.Hash, "Paul")
	refusedFor(t, err, releases.NothingAsked)
	_, err = s.Releases.Propose(t.Context(), first)
	require.NoError(t, err, "it can be proposed anew")
	require.NoError(t, propose(t, s, first))
}

// Two stations, or a terminal beside the page: of two that approve or propose at once
// one comes first, and what the other saw is refused.
func TestAProposalBesideAnother(t *testing.T) {
	path := filepath.Join(t.TempDir(), "padjig.db")
	one, two := openChecked(t, path, testSeams()), openChecked(t, path, testSeams())
	people(t, one)
	released(t, one, releaseOf(t, padText("A", "200 ohm")))
	looser := releaseOf(t, padText("B", "300 ohm"))
	_, err := one.Releases.Propose(t.Context(), looser)
	require.NoError(t, err)
	failed := make(chan error, 2)
	for _, s := range []*Store{one, two} {
		go func() {
			_, err := s.Releases.Approve(t.Context(), "CP-4", looser.Hash, "Paul")
			failed <- err
		}()
	}
	a, b := <-failed, <-failed
	require.True(t, (a == nil) != (b == nil), "%v, %v", a, b)
	list, err := two.Runs.Releases(t.Context(), "CP-4")
	require.NoError(t, err)
	assert.Len(t, list, 2)
}

// An account that the proposer made, opened again or gave a password to after the
// proposal is no second person.
func TestASecondAccountIsNoSecondPerson(t *testing.T) {
	s := openTemp(t)
	people(t, s)
	released(t, s, releaseOf(t, padText("A", "200 ohm")))
	looser := releaseOf(t, padText("B", "300 ohm"))
	_, err := s.Releases.Propose(t.Context(), looser)
	require.NoError(t, err)
	for name, e := range map[string]accounts.AccountEvent{
		"Ines 2": {Kind: accounts.AccountRole, Role: "quality"}, "Paul": {Kind: accounts.AccountPassword, Secret: "known to Ines"},
		"Emma": {Kind: accounts.AccountBadge, Secret: "in her drawer"},
	} {
		e.Name, e.By = name, "Ines"
		require.NoError(t, s.Accounts.SaveAccountEvent(t.Context(), e))
		_, err := s.Releases.Approve(t.Context(), "CP-4", looser.Hash, name)
		refusedFor(t, err, releases.OwnAccount)
	}
	require.NoError(t, s.Accounts.SaveAccountEvent(t.Context(), accounts.AccountEvent{Name: "Paul", Kind: accounts.AccountClosed, By: "Emma"}))
	_, err = s.Releases.Approve(t.Context(), "CP-4", looser.Hash, "Paul")
	refusedFor(t, err, releases.NotTheirRole)
}

// An account of long before the proposal is no second person either where one made the
// other's, whichever way round; once a third has made it anew it is.
func TestAnAccountOfOnesOwnApprovesNothing(t *testing.T) {
	s := openTemp(t)
	event := func(by, name string, kind accounts.AccountEventKind, role string) {
		require.NoError(t, s.Accounts.SaveAccountEvent(t.Context(), accounts.AccountEvent{Name: name, Kind: kind, Role: role, By: by}))
	}
	event("terminal", "Ines", accounts.AccountRole, "engineer")
	event("i nes", "Paul", accounts.AccountRole, "quality") // as somebody typed it before names were held to accounts
	event("Ines", "Jon", accounts.AccountRole, "engineer")
	event("Jon", "Emma", accounts.AccountRole, "quality")
	require.NoError(t, s.Accounts.SaveAccountEvent(t.Context(), accounts.AccountEvent{Name: "Emma", Kind: accounts.AccountBadge, Secret: "in a drawer", By: "Ines"}))
	released(t, s, releaseOf(t, padText("A", "200 ohm")))
	looser := releaseOf(t, padText("B", "300 ohm"))
	asked, err := s.Releases.Propose(t.Context(), looser)
	require.NoError(t, err)
	for _, name := range []string{"Paul", "Jon", "Emma"} {
		_, err := s.Releases.Approve(t.Context(), "CP-4", looser.Hash, name)
		refusedFor(t, err, releases.OwnAccount)
		_, err = raw(s).Exec(`INSERT INTO release_approval (seq, proposal, revision, by, at_us, hash) VALUES (1, 2, ?, ?, 0, zeroblob(32))`, looser.Hash, name)
		require.ErrorContains(t, err, "a second person of quality or engineer", name)
	}
	may, err := s.Releases.May(t.Context(), asked)
	require.NoError(t, err)
	assert.Empty(t, may)

	// Who made an account cannot approve what that account proposes.
	back := looser
	back.By, back.FromSerial = "Jon", "CP-0300"
	asked, err = s.Releases.Propose(t.Context(), back)
	require.NoError(t, err)
	_, err = s.Releases.Approve(t.Context(), "CP-4", asked.Look(), "Ines")
	refusedFor(t, err, releases.OwnAccount)

	asked, err = s.Releases.Propose(t.Context(), looser)
	require.NoError(t, err)
	event("Jon", "Paul", accounts.AccountClosed, "")
	event("Jon", "Paul", accounts.AccountRole, "quality")
	may, err = s.Releases.May(t.Context(), asked)
	require.NoError(t, err)
	assert.Equal(t, []string{"Paul"}, may)
	require.NoError(t, s.Accounts.Decide(t.Context(), accounts.AccountEvent{Name: "Paul", Kind: accounts.AccountLocked, By: "Jon"}))
	_, err = s.Releases.Approve(t.Context(), "CP-4", asked.Look(), "Paul")
	refusedFor(t, err, releases.NotTheirRole)
	require.NoError(t, s.Accounts.Decide(t.Context(), accounts.AccountEvent{Name: "Paul", Kind: accounts.AccountUnlocked, By: "Jon"}))
	_, err = s.Releases.Approve(t.Context(), "CP-4", asked.Look(), "Paul")
	require.NoError(t, err)
}

// A clock that was set back moves nothing: what counts is the order of the records.
func TestAClockSetBackApprovesNothing(t *testing.T) {
	seams := testSeams()
	now := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	seams.Now = func() time.Time { return now }
	s := openChecked(t, filepath.Join(t.TempDir(), "padjig.db"), seams)
	people(t, s)
	released(t, s, releaseOf(t, padText("A", "200 ohm")))
	looser := releaseOf(t, padText("B", "300 ohm"))
	_, err := s.Releases.Propose(t.Context(), looser)
	require.NoError(t, err)
	now = now.AddDate(-1, 0, 0)
	require.NoError(t, s.Accounts.SaveAccountEvent(t.Context(), accounts.AccountEvent{Name: "Ines 2", Kind: accounts.AccountRole, Role: "quality", By: "Ines"}))
	_, err = s.Releases.Approve(t.Context(), "CP-4", looser.Hash, "Ines 2")
	refusedFor(t, err, releases.OwnAccount)
	released(t, s, releaseOf(t, padText("C", "150 ohm")))
	_, err = s.Releases.Approve(t.Context(), "CP-4", looser.Hash, "Paul")
	refusedFor(t, err, releases.NothingAsked)
}

// Rows that somebody writes by hand are held by the store itself, and where its triggers
// were taken away by whoever reads them.
func TestTheStoreHoldsFourEyes(t *testing.T) {
	s, err := Open(t.Context(), filepath.Join(t.TempDir(), "padjig.db"))
	require.NoError(t, err)
	defer s.Close()
	people(t, s)
	released(t, s, releaseOf(t, padText("A", "200 ohm")))
	looser := releaseOf(t, padText("B", "2 kohm"))
	_, err = s.Releases.Propose(t.Context(), looser)
	require.NoError(t, err)
	exec := func(query string, args ...any) error {
		_, err := raw(s).Exec(query, args...)
		return err
	}
	const row = `INSERT INTO release (seq, code, label, hash, kind, source, by, reason, after_run, at_us, proposal)
		SELECT 2, code, label, revision, kind, source, %s, reason, 0, 0, %s FROM release_proposal WHERE seq = 2`
	const twice = "padjig: the release was not proposed, or not approved by a second person"
	replace := func(by, proposal string) string {
		return strings.Replace(strings.Replace(row, "%s", by, 1), "%s", proposal, 1)
	}
	for _, query := range []string{replace("by", "seq"), replace("by", "NULL"), replace("'Paul'", "seq"), replace("by", "1")} {
		require.ErrorContains(t, exec(query), twice, query)
	}
	const approval = `INSERT INTO release_approval (seq, proposal, revision, by, at_us, hash) VALUES (1, 2, ?, ?, 0, zeroblob(32))`
	for _, by := range []string{"Ines", "INES", "i n e s", "Abel", "paul", "Nobody"} {
		require.ErrorContains(t, exec(approval, looser.Hash, by), "a second person of quality or engineer", by)
	}
	require.ErrorContains(t, exec(approval, strings.Repeat("b", 64), "Paul"), "a second person")
	// A proposal that says of itself that it loosens nothing gets past the triggers, and not past its reader.
	require.NoError(t, exec(`INSERT INTO release_proposal (seq, code, label, revision, kind, source, by, reason, from_serial, base, against,
			loosens, changes, trial, after_run, after_account, at_us, hash)
		SELECT 3, code, label, revision, kind, source, by, reason, '', base, against, 0, '[]', trial, 0, 0, 0, zeroblob(32)
		FROM release_proposal WHERE seq = 2`))
	require.ErrorContains(t, exec(`INSERT INTO release_proposal (seq, code, label, revision, kind, source, by, reason, from_serial, base, against,
			loosens, changes, trial, after_run, after_account, at_us, hash)
		SELECT 4, code, label, revision, kind, source, by, reason, '', base, '', 0, '[]', trial, 0, 0, 0, zeroblob(32)
		FROM release_proposal WHERE seq = 2`), "padjig: the proposal is compared with what is not in force")
	require.NoError(t, exec(strings.Replace(replace("by", "seq"), "WHERE seq = 2", "WHERE seq = 3", 1)))
	list, err := s.Runs.Releases(t.Context(), "CP-4")
	require.NoError(t, err)
	require.Equal(t, "B", list[0].Label)
	require.ErrorIs(t, s.Releases.Sound(t.Context(), list[0]), runs.ErrReleaseAltered)
	wrong, err := s.Check(t.Context())
	require.NoError(t, err)
	assert.Contains(t, strings.Join(wrong, "\n"), "release 2 of CP-4: not as it was released: it lets more through, and no second person approved it")
}

// A release that lets more through is an event of the line, between the runs where it came.
func TestALooseningIsAnEvent(t *testing.T) {
	s := openTemp(t)
	people(t, s)
	a, b := revisionOf(t, padText("A", "200 ohm")), revisionOf(t, padText("B", "300 ohm"))
	released(t, s, releaseOf(t, padText("A", "200 ohm")))
	_, err := s.Runs.Save(t.Context(), a, runOfPad(a))
	require.NoError(t, err)
	require.NoError(t, propose(t, s, releaseOf(t, padText("B", "300 ohm"))))
	later := runOfPad(b)
	later.Serial = "000002"
	_, err = s.Runs.Save(t.Context(), b, later)
	require.NoError(t, err)
	for product, want := range map[string]int{"": 1, "CP-4": 1, "CP-5": 0} {
		events, err := s.Lines.Events(t.Context(), lines.Filter{Product: product})
		require.NoError(t, err)
		found := 0
		for _, e := range events {
			if e.Kind == "loosened" {
				found++
				assert.EqualValues(t, 1, e.AfterRun)
				assert.Equal(t, "CP-4 revision B, from unit 000001", e.Text)
			}
		}
		assert.Equal(t, want, found, product)
	}
}

// No row makes a pass of an engineering run, nor a check of a reference unit, whoever
// writes it.
func TestTheStoreHoldsEngineeringRunsApart(t *testing.T) {
	s := openTemp(t)
	run := runstest.Failed("24-000001")
	run.Purpose = sequence.Engineering
	id, err := s.Runs.Save(t.Context(), runstest.Climate(), run)
	require.NoError(t, err)
	var cols []string
	for _, c := range columns(t, raw(s), "run") {
		if c != "verdict" {
			cols = append(cols, c)
		}
	}
	copied := func(change map[string]string) error {
		var values []string
		for _, c := range cols {
			if v, is := change[c]; is {
				c = v
			}
			values = append(values, c)
		}
		_, err := raw(s).Exec(`INSERT INTO run (` + strings.Join(cols, ", ") + `) SELECT ` + strings.Join(values, ", ") + ` FROM run WHERE seq = 1`)
		return err
	}
	later := func(outcome, purpose string) map[string]string {
		return map[string]string{"seq": "2", "id": "X'01A2270946FB76CCBFAE1F4BA4BAD0DF'", "outcome": outcome, "purpose": purpose, "start": "NULL"}
	}
	for _, row := range []map[string]string{later("'pass'", "'engineering'"), later("'nothing found'", "''"), later("'nothing found'", "'engineering'")} {
		require.ErrorContains(t, copied(row), "padjig: an engineering run is no pass", "%v", row) // the last one has findings
	}
	require.ErrorContains(t, s.Care.SaveReferenceCheck(t.Context(), care.ReferenceCheck{Run: id, Unit: "24-000001", Bad: true}),
		"an engineering run is no check of a reference unit")
	h, err := s.Runs.History(t.Context(), "24-000001")
	require.NoError(t, err)
	assert.Empty(t, h.Products)
}
