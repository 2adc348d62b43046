package main

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/runs"
	"padjig/sequence"
)

func TestWrapKeepsNumbersWithTheirUnits(t *testing.T) {
	narrow := terminal{wide: 16}
	assert.Equal(t, "key 7 reads\n  640 ohm, limit\n  200 ohm", narrow.wrap(2, "key 7 reads 640 ohm, limit 200 ohm"))
	assert.Equal(t, "one two", narrow.wrap(2, "  one \n two "))
	for _, text := range []string{"", "a", strings.Repeat("word ", 40)} {
		for line := range strings.Lines(narrow.wrap(2, text)) {
			assert.LessOrEqual(t, len(strings.TrimRight(line, "\n")), 16, text)
		}
	}
}

func TestPseudoPortLeavesWhatIsNotItsOwn(t *testing.T) {
	dir := t.TempDir()
	path := filepath.Join(dir, "jig0")

	require.NoError(t, os.WriteFile(path, []byte("mine"), 0o644))
	_, err := openPseudo(path)
	require.ErrorContains(t, err, "there is something that is no link, and it stays")
	kept, err := os.ReadFile(path)
	require.NoError(t, err)
	assert.Equal(t, "mine", string(kept))
	require.NoError(t, os.Remove(path))

	for _, elsewhere := range []string{"/gone/records.sqlite", "records.sqlite", "/dev/null"} {
		require.NoError(t, os.Symlink(elsewhere, path), "a link that somebody made")
		_, err = openPseudo(path)
		require.ErrorContains(t, err, "is a link to "+elsewhere+", and it stays")
		require.NoError(t, os.Remove(path))
	}

	gone, err := openPseudo("")
	require.NoError(t, err)
	require.NoError(t, os.Symlink(filepath.Join(filepath.Dir(gone.path()), "987654"), path), "left over from a jig that was killed")
	require.NoError(t, gone.Close())
	first, err := openPseudo(path)
	require.NoError(t, err)
	second, err := openPseudo(path)
	require.NoError(t, err)
	require.NoError(t, first.Close(), "its link is another's by now")
	target, err := os.Readlink(path)
	require.NoError(t, err)
	assert.Equal(t, second.far.Name(), target)
	require.NoError(t, second.Close())
	assert.NoFileExists(t, path)
}

func TestPseudoPortPassesEveryByte(t *testing.T) {
	port, err := openPseudo("")
	require.NoError(t, err)
	defer port.Close()
	client, err := os.OpenFile(port.path(), os.O_RDWR, 0)
	require.NoError(t, err)
	defer client.Close()
	var every []byte
	for b := range 256 {
		every = append(every, byte(b))
	}
	for _, way := range []struct{ from, to *os.File }{{client, port.File}, {port.File, client}} {
		_, err = way.from.Write(every)
		require.NoError(t, err)
		got := make([]byte, len(every))
		for n := 0; n < len(got); {
			m, err := way.to.Read(got[n:])
			require.NoError(t, err)
			n += m
		}
		assert.Equal(t, every, got)
	}
}

// TestDemoNoticesWhatIsNotAsPlanted: a demo that cannot fail shows nothing.
func TestDemoNoticesWhatIsNotAsPlanted(t *testing.T) {
	wanted := fails("key open", "7", "R3", "C1")
	open := sequence.Finding{What: "key open", Key: "7", Lines: []string{"C1", "R3"}}
	ran := func(outcome sequence.Outcome, findings ...sequence.Finding) runs.Stored {
		return runs.Stored{Run: sequence.Run{Outcome: outcome, Findings: findings}}
	}
	assert.Empty(t, wanted.differs(ran(sequence.Fail, open)))

	elsewhere, other, swapped := open, open, open
	elsewhere.Key = "8"
	other.What = "key high"
	swapped.Lines = []string{"C1", "R2"}
	for name, got := range map[string]runs.Stored{
		"passed":           ran(sequence.Pass),
		"reseat":           ran(sequence.Reseat),
		"nothing found":    ran(sequence.Fail),
		"another key":      ran(sequence.Fail, elsewhere),
		"another fault":    ran(sequence.Fail, other),
		"another line":     ran(sequence.Fail, swapped),
		"one fault beside": ran(sequence.Fail, open, other),
	} {
		assert.NotEmpty(t, wanted.differs(got), name)
	}
	assert.NotEmpty(t, passes.differs(ran(sequence.Fail, open)))
}
