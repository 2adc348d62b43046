package main

import (
	"os/exec"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/manual"
)

// Every command that is shown has its manual page, with all its flags; and where there is a formatter of such pages it
// finds nothing to complain of.
func TestEveryCommandHasAManualPage(t *testing.T) {
	t.Parallel()
	root := newRoot()
	pages := map[string]string{}
	for _, p := range manual.Pages(root) {
		pages[p.Name] = string(p.Text)
	}
	var visit func(*cobra.Command)
	visit = func(cmd *cobra.Command) {
		page, there := pages[strings.ReplaceAll(cmd.CommandPath(), " ", "-")]
		if assert.True(t, there, cmd.CommandPath()) {
			for line := range strings.SplitSeq(cmd.LocalFlags().FlagUsages(), "\n") {
				if flag := strings.Fields(line); len(flag) > 0 && strings.HasPrefix(flag[0], "--") {
					assert.Contains(t, page, ".B "+strings.ReplaceAll(flag[0], "-", `\-`), cmd.CommandPath())
				}
			}
		}
		for _, sub := range cmd.Commands() {
			if sub.IsAvailableCommand() && sub.Name() != "help" {
				visit(sub)
			}
		}
	}
	visit(root)
	groff, err := exec.LookPath("groff")
	if err != nil {
		t.Log("no groff: how the pages are set was not looked at")
		return
	}
	for name, page := range pages {
		if strings.Count(name, "-") > 1 {
			continue
		}
		check := exec.CommandContext(t.Context(), groff, "-man", "-ww", "-z", "-Tutf8")
		check.Stdin = strings.NewReader(page)
		said, err := check.CombinedOutput()
		require.NoError(t, err, name)
		assert.Empty(t, string(said), name)
	}
}
