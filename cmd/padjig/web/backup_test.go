package web_test

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web/webtest"
	"padjig/results/backup"
)

// Pages say so from the first backup of the station that failed until one is whole. What somebody at a terminal
// named by mistake is nobody else's matter.
func TestPagesSayThatBackupsFail(t *testing.T) {
	h, _, store := webtest.Door(t)
	page := func() string { return webtest.Fetch(t, h, webtest.Ask{Path: "/jigs", Role: "engineer"}).Body.String() }
	note := func(d backup.Deed) {
		t.Helper()
		d.Folder = "/media/backup"
		require.NoError(t, store.Backups.Note(t.Context(), d))
	}
	head := texts(t)["en"]["backup.head"]
	assert.NotContains(t, page(), head)
	note(backup.Deed{Why: "no such folder"})
	assert.NotContains(t, page(), head)
	note(backup.Deed{Why: "no room", Scheduled: true})
	assert.Contains(t, page(), head)
	assert.Contains(t, page(), "No backup is whole yet")
	note(backup.Deed{Why: "no such folder"})
	assert.Contains(t, page(), head, "a failure of another sort does not hide it")
	note(backup.Deed{Name: "padjig-1", Checked: backup.Quick, Scheduled: true})
	assert.NotContains(t, page(), head)
	note(backup.Deed{Why: "no room", Scheduled: true})
	assert.Contains(t, page(), "the newest backup is of")
}
