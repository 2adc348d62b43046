package results

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/accounts"
	"padjig/results/releases"
)

// proposedB has A in force and B, which lets more through, proposed by Ines.
func proposedB(t *testing.T) (*Store, releases.Proposal) {
	s := openTemp(t)
	people(t, s)
	released(t, s, releaseOf(t, padText("A", "200 ohm")))
	asked, err := s.Releases.Propose(t.Context(), releaseOf(t, padText("B", "2 kohm")))
	require.NoError(t, err)
	return s, asked
}

// A proposal is withdrawn by an engineer, with a reason, while it waits and not after: then
// nobody approves it, nothing else of before waits again, and all of it is on record.
func TestAProposalIsWithdrawn(t *testing.T) {
	s, asked := proposedB(t)
	withdraw := func(by, look, reason string) error {
		_, err := s.Releases.Withdraw(t.Context(), "CP-4", look, by, reason)
		return err
	}
	const why = "customer wants 150 ohm after all"
	for _, by := range []string{"Abel", "Paul", "Nobody", ""} {
		refusedFor(t, withdraw(by, asked.Look(), why), releases.NotEngineer)
	}
	refusedFor(t, withdraw("Ines", "000000000000", why), releases.OtherText)
	refusedFor(t, withdraw("Ines", asked.Look()+"0", why), releases.OtherText)
	refusedFor(t, withdraw("Ines", asked.Look(), "no"), releases.NoReason)
	require.NoError(t, s.Accounts.Decide(t.Context(), accounts.AccountEvent{Name: "Emma", Kind: accounts.AccountLocked, By: "Ines"}))
	refusedFor(t, withdraw("Emma", asked.Look(), why), releases.NotEngineer)

	require.NoError(t, withdraw("Ines", asked.Look(), why))
	refusedFor(t, withdraw("Ines", asked.Look(), why), releases.NothingAsked)
	_, err := s.Releases.Approve(t.Context(), "CP-4", asked.Look(), "Paul")
	refusedFor(t, err, releases.NothingAsked)
	open, err := s.Releases.Open(t.Context(), "CP-4")
	require.NoError(t, err)
	assert.Nil(t, open)
	taken, err := s.Releases.LastWithdrawn(t.Context(), "CP-4")
	require.NoError(t, err)
	assert.Equal(t, []string{"B", "Ines", why}, []string{taken.Label, taken.WithdrawnBy, taken.Why})
	_, err = raw(s).Exec(`UPDATE release_withdrawal SET reason = 'another reason'`)
	assert.ErrorContains(t, err, "append-only")
	found, err := s.Check(t.Context())
	require.NoError(t, err)
	assert.Empty(t, found)

	// proposed again it waits again, as another proposal
	again, err := s.Releases.Propose(t.Context(), releaseOf(t, padText("B", "2 kohm")))
	require.NoError(t, err)
	_, err = s.Releases.Approve(t.Context(), "CP-4", asked.Look(), "Paul")
	refusedFor(t, err, releases.OtherText)
	_, err = s.Releases.Approve(t.Context(), "CP-4", again.Look(), "Paul")
	require.NoError(t, err)
	refusedFor(t, withdraw("Ines", again.Look(), why), releases.NothingAsked)
}

// Rows that somebody writes by hand are refused by the store.
func TestWithdrawalsByHand(t *testing.T) {
	s, asked := proposedB(t)
	tx, err := raw(s).BeginTx(t.Context(), nil)
	require.NoError(t, err)
	defer func() { require.NoError(t, tx.Rollback()) }()
	row := func(proposal int64, by string) error {
		_, err := tx.Exec(`INSERT INTO release_withdrawal (seq, proposal, by, reason, at_us, hash) VALUES (1, ?, ?, 'because I say so', 0, zeroblob(32))`,
			proposal, by)
		return err
	}
	assert.ErrorContains(t, row(asked.Seq, "Paul"), "an engineer withdraws a proposal")
	assert.ErrorContains(t, row(asked.Seq-1, "Ines"), "does not wait for approval")
	require.NoError(t, row(asked.Seq, "Ines"))
	_, err = tx.Exec(`INSERT INTO release_approval (seq, proposal, revision, by, at_us, hash) VALUES (1, ?, ?, 'Paul', 0, zeroblob(32))`,
		asked.Seq, asked.Hash)
	assert.ErrorContains(t, err, "the proposal was withdrawn")
}

// The same text proposed again, from another unit on, is another proposal: who looked at the
// one before has not looked at it.
func TestTheSameTextProposedAgainIsLookedAtAgain(t *testing.T) {
	s, asked := proposedB(t)
	second := releaseOf(t, padText("B", "2 kohm"))
	second.FromSerial = asked.FromSerial[:len(asked.FromSerial)-1] + "0"
	again, err := s.Releases.Propose(t.Context(), second)
	require.NoError(t, err)
	for _, look := range []string{asked.Look(), asked.Hash, asked.Hash[:12]} {
		_, err = s.Releases.Approve(t.Context(), "CP-4", look, "Paul")
		refusedFor(t, err, releases.OtherText)
	}
	_, err = s.Releases.Approve(t.Context(), "CP-4", again.Look(), "Paul")
	require.NoError(t, err)
}
