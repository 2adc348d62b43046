package main

import (
	"os"
	"regexp"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Every long flag has a variable of its own: a command and a flag may spell another command with its flag.
func TestEveryFlagHasAVariableOfItsOwn(t *testing.T) {
	whose := map[string]string{}
	letters := regexp.MustCompile(`[^A-Z0-9]+`)
	var walk func(cmd *cobra.Command)
	walk = func(cmd *cobra.Command) {
		cmd.LocalNonPersistentFlags().VisitAll(func(f *pflag.Flag) {
			flag := cmd.CommandPath() + " --" + f.Name
			name := letters.ReplaceAllString(regexp.MustCompile(`[a-z]`).ReplaceAllStringFunc(flag, upper), "_")
			assert.Empty(t, whose[name], "%s and %s", flag, whose[name])
			whose[name] = flag
		})
		for _, c := range cmd.Commands() {
			walk(c)
		}
	}
	walk(newRoot())
	assert.Equal(t, "padjig station --listen", whose["PADJIG_STATION_LISTEN"])
}

func upper(letter string) string { return string(letter[0] - 'a' + 'A') }

// The page of settings names the flags of padjig station as they are, and its example is one.
func TestSettingsPageIsTrue(t *testing.T) {
	page, err := os.ReadFile(root + "/docs/settings.md")
	require.NoError(t, err)
	example := regexp.MustCompile("(?s)```yaml\n(.*?)```").FindSubmatch(page)
	require.NotNil(t, example)
	path := t.TempDir() + "/padjig.yaml"
	require.NoError(t, os.WriteFile(path, example[1], 0o644))
	p := runHere(t, "settings", "--config", path)
	assert.Equal(t, 0, p.status, p.stderr)
	assert.Contains(t, p.stdout, "--listen")
}
