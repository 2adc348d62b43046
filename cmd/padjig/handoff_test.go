package main

import (
	"fmt"
	"path/filepath"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/runs/runstest"
)

// How receivers stand is said by the clock of the plant, with what to do; what a person
// decides takes effect, stays in the records with who and why, and cannot be said of what it is not about.
func TestHandOffCommands(t *testing.T) {
	path := filepath.Join(t.TempDir(), "records.sqlite")
	store, err := results.Open(t.Context(), path)
	require.NoError(t, err)
	defer store.Close()
	require.NoError(t, store.Floor.SaveZone(t.Context(), "Pacific/Kiritimati"))
	padjig := func(args ...string) result {
		return runHere(t, append([]string{"records", "hand-off"}, append(args, "--store", path)...)...)
	}
	assert.Contains(t, padjig("list").stdout, "nothing was ever handed on")
	assert.Contains(t, padjig("list", "--json").stdout, `"receivers": []`)

	_, err = store.HandOff.Begin(t.Context(), "mes")
	require.NoError(t, err)
	for i := range 3 {
		_, err := store.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed(fmt.Sprintf("24-%06d", i)))
		require.NoError(t, err)
	}
	require.NoError(t, store.HandOff.Failing(t.Context(), "mes", 1, "connection refused", time.Now().Add(time.Minute)))
	assert.Regexp(t, `(?s)^mes: has all to event 0 since [-0-9]+ [:0-9]+ \+14; 3 events behind, the oldest stored [-0-9]+ [:0-9]+ \+14; no station is sending
  failed with event 1 [-0-9]+ [:0-9]+ \+14: connection refused; next try [-0-9]+ [:0-9]+ \+14
$`, padjig("list").stdout)
	release, _, err := store.HandOff.Alone("mes")
	require.NoError(t, err)
	got := padjig("list", "--json").stdout
	assert.Contains(t, got, `"sending": true`)
	assert.Contains(t, got, `"refused": false`)
	release()
	require.NoError(t, store.HandOff.Refused(t.Context(), "mes", 1, "HTTP 422"))
	assert.Contains(t, padjig("list").stdout, "padjig records hand-off set-aside mes 1 --store "+path+"\n")

	by := []string{"--reason", "entered by hand", "--operator", "Ines"}
	for want, args := range map[string][]string{
		"not the event that this receiver refused":  {"set-aside", "mes", "2"},
		"no such receiver: erp":                     {"again", "erp"},
		"no such receiver":                          {"set-aside", "erp", "1"},
		"this receiver is not that far":             {"again", "mes", "--from", "3"},
		"this receiver is not that far: it is to":   {"again", "mes", "--from", "0"},
		"neither the number of an event nor the id": {"again", "mes", "--from", "24-000001"},
		"there is no run 00000000-0000-7000-8000":   {"again", "mes", "--from", "00000000-0000-7000-8000-000000000000"},
		"write a time of the plant":                 {"again", "mes", "--since", "yesterday"},
		"no run was stored since then":              {"again", "mes", "--since", "2999-01-01 00:00"},
	} {
		got := padjig(append(args, by...)...)
		assert.Equal(t, statusWrong, got.status, args)
		assert.Contains(t, got.stderr, want)
	}
	assert.Equal(t, statusWrong, padjig("set-aside", "mes", "1", "--operator", "Ines").status, "no reason")
	assert.Equal(t, statusWrong, padjig("set-aside", "mes", "1", "--reason", " ", "--operator", "Ines").status)
	assert.Equal(t, statusWrong, padjig("set-aside", "mes", "1", "--reason", "so").status, "nobody")
	assert.Contains(t, padjig("event", "4").stderr, "there is no event 4")

	assert.Zero(t, padjig(append([]string{"set-aside", "mes", "1"}, by...)...).status)
	assert.Contains(t, padjig("list", "--json").stdout, `"set_aside": 1`)
	runs, err := store.Runs.Unit(t.Context(), "24-000000")
	require.NoError(t, err)
	assert.Equal(t, "recorded: mes gets all from event 1 on\n", padjig(append([]string{"again", "mes", "--from", runs[0].ID.String()}, by...)...).stdout)
	assert.Equal(t, "recorded: mes gets all from event 1 on\n", padjig(append([]string{"again", "mes", "--since", "2020-01-01 00:00"}, by...)...).stdout)
	assert.Contains(t, padjig("event", "2").stdout, `"unit":"24-000001"`)
	assert.Equal(t, padjig("event", "2").stdout, padjig("event", "2").stdout)
}
