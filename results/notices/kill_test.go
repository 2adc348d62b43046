package notices_test

import (
	"bufio"
	"context"
	"database/sql"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/notices"
	"padjig/results/plant/board"
	"padjig/results/store"
)

// heardFile names the file with what the process below takes.
const heardFile = "PADJIG_TEST_HEARD"

// beKilled is the program that is killed: it takes what a file says, and stands still at the commit.
func beKilled(path string) error {
	text, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	var said struct {
		Store  string
		Before bool // the commit
		Heard  notices.Heard
	}
	if err := json.Unmarshal(text, &said); err != nil {
		return err
	}
	taking := false
	with := store.Real()
	with.Commit = func(tx *sql.Tx) error {
		if !taking {
			return tx.Commit()
		}
		if !said.Before {
			if err := tx.Commit(); err != nil {
				return err
			}
		}
		fmt.Println("now")
		select {} // until killed
	}
	s, err := results.OpenWith(context.Background(), said.Store, with)
	if err != nil {
		return err
	}
	taker, err := s.Notices.Taker(context.Background(), pinned, stale)
	if err != nil {
		return err
	}
	taking = true
	_, err = taker.Take(context.Background(), said.Heard)
	return err
}

// A program that is killed while it takes notices has taken all of them with what they bring
// about, or nothing; the next one ends alike.
func TestKilledInBetween(t *testing.T) {
	t.Parallel()
	p := newPlant(t)
	p.release("A", "200 ohm")
	p.publish()
	decide(t, p.office, "Ines", role("engineer"), password)
	p.release("B", "100 ohm")
	p.publish()
	list, head, err := board.Read(t.Context(), p.db, 0, 100)
	require.NoError(t, err)
	for _, before := range []bool{true, false} {
		path := emptyAt(t, "station.db")
		text, err := json.Marshal(map[string]any{"Store": path, "Before": before, "Heard": notices.Heard{Notices: list, Head: head}})
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(path+".heard", text, 0o600))
		cmd := exec.CommandContext(t.Context(), os.Args[0])
		cmd.Env = append(os.Environ(), heardFile+"="+path+".heard")
		out, err := cmd.StdoutPipe()
		require.NoError(t, err)
		cmd.Stderr = os.Stderr
		require.NoError(t, cmd.Start())
		lines := bufio.NewScanner(out)
		reached := false
		for !reached && lines.Scan() {
			reached = lines.Text() == "now"
		}
		require.NoError(t, cmd.Process.Kill())
		assert.Error(t, cmd.Wait())
		require.True(t, reached)
		s, err := results.Open(t.Context(), path)
		require.NoError(t, err)
		if before {
			assert.Empty(t, inForce(t, s))
			assert.Empty(t, accountsOf(t, s))
		} else {
			assert.Equal(t, "B", inForce(t, s))
		}
		assert.Nil(t, p.look(s).Trouble)
		assert.Equal(t, "B", inForce(t, s))
		assert.Contains(t, accountsOf(t, s), "Ines")
		sound(t, s)
		require.NoError(t, s.Close())
	}
}
