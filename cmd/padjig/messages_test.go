package main

import (
	"context"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestSlipsGetTheRemedyThatHelps makes the slips of somebody who is new here.
// Each remedy must be one that mends this slip.
func TestSlipsGetTheRemedyThatHelps(t *testing.T) {
	t.Parallel()
	dir := t.TempDir()
	text, err := os.ReadFile(gcc)
	require.NoError(t, err)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "pad.yaml"), text, 0o644))
	require.NoError(t, os.Mkdir(filepath.Join(dir, "folder"), 0o755))
	example := "testdata/products/gcc-20.yaml"
	for _, c := range []struct{ typed, says, try string }{
		{"unti", `unknown command "unti" for "padjig"`, "padjig unit, or padjig --help"},
		{"simulate", `unknown command "simulate" for "padjig"`, "padjig --help"},
		{"jig lst", `unknown command "lst" for "padjig jig"`, "padjig jig list, or padjig jig --help"},
		{"jig simualte --product pad.yaml", `unknown command "simualte"`, "padjig jig simulate, or padjig jig --help"},
		{"product chek pad.yaml", `unknown command "chek" for "padjig product"`, "padjig product check, or padjig product --help"},
		{"quality gauge rn", `unknown command "rn" for "padjig quality gauge"`, "padjig quality gauge run, or "},
		{"station acounts", `unknown command "acounts" for "padjig station"`, "padjig station accounts, or padjig station --help"},
		{"station accounts ad", `unknown command "ad"`, "padjig station accounts add, or padjig station accounts --help"},
		{"help unti", `unknown command "unti" for "padjig"`, "padjig help unit, or padjig --help"},
		{"help jig lst", `unknown command "lst" for "padjig jig"`, "padjig help jig list, or padjig jig --help"},
		{"completion fsh", `unknown command "fsh" for "padjig completion"`, "padjig completion fish, or "},
		{"test --seral GCC-000001-3", "unknown flag: --seral", "--serial, or padjig test --help"},
		{"test --prodcut pad.yaml", "unknown flag: --prodcut", "--product, or padjig test --help"},
		{"test --jigs x", "unknown flag: --jigs", "--jig, or padjig test --help"},
		{"test --press hand", "--press is called --actuation now", "--actuation HOW"},
		{"test --press=hand --serial GCC-000001-3", "--press is called --actuation now", "--actuation HOW"},
		{"station --press hand", "--press is called --actuation now", "--actuation HOW"},
		{"quality gauge run 1 --press hand", "--press is called --actuation now", "--actuation HOW"},
		{"returns intake GCC-000001-3 --by Jon", "--by is called --operator now", "--operator NAME"},
		{"returns photo GCC-000001-3 pad.yaml --by Jon", "--by is called --operator now", "--operator NAME"},
		{"returns first-press GCC-000001-3 --by Jon", "--by is called --operator now", "--operator NAME"},
		{"returns dispose GCC-000001-3 confirmed --by=Jon", "--by is called --operator now", "--operator NAME"},
		{"rework GCC-000001-3 --by Jon", "--by is called --operator now", "--operator NAME"},
		{"jig parts J-0042 --by Jon", "--by is called --operator now", "--operator NAME"},
		{"station accounts add Ann --by Jon", "--by is called --operator now", "--operator NAME"},
		{"test --by Jon", "--by is called --operator now", "--operator NAME"},
		{"quality lots --by Jon", "--by is called --operator now", "--operator NAME"},
		{"quality shift --by Jon", "--by is called --operator now", "--operator NAME"},
		{"quality chart --freeze --by Jon", "--by is called --operator now", "--operator NAME"},
		{"quality gauge plan --by Jon", "--by is called --operator now", "--operator NAME"},
		{"quality gauge plan --operators Ann,Bob", "--operators is called --appraisers now", "--appraisers NAMES"},
		{"quality yield --operator Jon", "--operator is called --tested-by now", "--tested-by NAME"},
		{"quality lots --operator Jon", "runs are chosen with --tested-by", "padjig quality lots --help"},
		{"quality shift --day 2026-03-02 --name early --operator Jon", "runs are chosen with --tested-by", "padjig quality shift --help"},
		{"quality chart --key 7 --operator Jon", "runs are chosen with --tested-by", "padjig quality chart --help"},
		{"quality chart --key 7 --reading make", "--reading is called --measure now", "--measure MEASURE"},
		{"quality capability --reading make", "--reading is called --measure now", "--measure MEASURE"},
		{"product show pad.yaml --by Jon", "unknown flag: --by", "padjig product show --help"},
		{"returns gentle GCC-000001-3 --by Jon", `unknown command "gentle" for "padjig returns"`, "padjig returns first-press, or padjig returns --help"},
		{"returns gentle", `unknown command "gentle" for "padjig returns"`, "padjig returns first-press, or padjig returns --help"},
		{"help returns gentle", `unknown command "gentle" for "padjig returns"`, "padjig help returns first-press, or padjig returns --help"},
		{"test GCC-000001-3 --product pad.yaml --jig ./no", `1 argument given ("GCC-000001-3"), expected none, only flags`,
			"padjig test --help"},
		{"jig simulate pad.yaml", `1 argument given ("pad.yaml")`, "padjig jig simulate --help"},
		{"product show pad.yaml pad.yaml", `2 arguments given ("pad.yaml", "pad.yaml"), expected one product file`, "padjig product show --help"},
		{"unit", "no argument given, expected the serial number of a unit", "padjig unit --help"},
		{"test --product --jig ./no --serial GCC-000001-3", `--product was given "--jig"`, "--product FILE"},

		{"product show gone.yaml", "gone.yaml: there is no such file", "a path from this folder"},
		{"product show gone.yaml", "gone.yaml: there is no such file", example},
		{"product show gone.yaml", "gone.yaml: there is no such file", "padjig product check FILE"},
		{"test --product folder --jig ./no --serial GCC-000001-3", "folder: it is a folder", "a file in it"},
		{"product check gone.yaml pad.yaml", "1 of 2 files could not be read", example},
		{"product check folder", "1 of 1 file could not be read", "a file in it"},
		{"unit GCC-000001-3 --store gone.sqlite", "no store here", "--store with the path of the records"},
		{"unit GCC-000001-3 --store folder", "it is a folder", "--store with the path of the records"},
		{"unit GCC-000001-3 --store pad.yaml", "it is no SQLite file", "--store with the path of the records"},
		{"unit GCC-000001-3 --store gone/records.sqlite", "there is no folder", "--store with the path of the records"},
		{"quality yield --store folder", "it is a folder", "--store with the path of the records"},
		{"jig simulate --product pad.yaml --link gone/jig0", "there is no such file or folder", "mkdir -p gone"},
		{"jig simulate --product pad.yaml --link folder", "it stays", "another --link"},
		{"jig simulate --product pad.yaml --fault 'key 77 open'", "did you mean 7?", "docs/faults.md"},

		{"station --product pad.yaml --jig ./no --store s --listen 8399", "--listen 8399: write HOST:PORT", "--listen 127.0.0.1:8399"},
		{"station --product pad.yaml --jig ./no --store s --listen :8399", "without TLS", "--listen 127.0.0.1:8399"},
		{"station --product pad.yaml --jig ./no --store s --listen localhost", "write HOST:PORT", "--listen localhost:8317"},
		{"station --product pad.yaml --jig ./no --store s --listen ::1", "write HOST:PORT", "--listen [::1]:8317"},
		{"station --product pad.yaml --jig ./no --store s --listen http://127.0.0.1:8399/", "write HOST:PORT", "--listen 127.0.0.1:8399"},
		{"station --product pad.yaml --jig ./no --store s --listen 127.0.0.1:99999", "is no port", "127.0.0.1:8317"},
		{"station --product pad.yaml --jig ./no --store s --listen 127.0.0.1:", "write HOST:PORT", "127.0.0.1:8317"},
		{"station --product pad.yaml --jig ./no --store s --listen 10.1.2.3:8399", "without TLS", "--listen 127.0.0.1:8399"},
		{"demo --station --listen 8399", "--listen 8399: write HOST:PORT", "--listen 127.0.0.1:8399"},
		{"demo --dir pad.yaml", "pad.yaml", "--dir with"},
	} {
		t.Run(c.typed, func(t *testing.T) {
			said, try, status := slip(t, dir, typedWords(c.typed)...)
			assert.Equal(t, statusWrong, status, said)
			assert.Contains(t, said, c.says)
			assert.Contains(t, try, c.try)
			assert.NotContains(t, said, "; ;")
			assert.NotContains(t, said, "\t")
		})
	}
	t.Run("no jig at the path", func(t *testing.T) {
		said, try, status := slip(t, dir, "test", "--product", "pad.yaml", "--jig", "./jig0", "--serial", "GCC-000001-3", "--store", "s")
		assert.Equal(t, statusNotMeasured, status, said)
		assert.Contains(t, try, "padjig jig list")
		assert.Contains(t, try, "padjig jig simulate")
	})
}

// Whoever stops a command knows why it ended.
func TestStoppedIsSaidInOneWord(t *testing.T) {
	ctx, stop := context.WithCancel(t.Context())
	stop()
	var stdout, stderr strings.Builder
	store := filepath.Join(t.TempDir(), "records.sqlite")
	status := run(ctx, []string{"records", "simulate", "--product", gcc, "--store", store}, strings.NewReader(""), &stdout, &stderr)
	assert.Equal(t, statusNotMeasured, status)
	assert.Equal(t, "padjig: stopped\n", stderr.String())
}

// slip types a command in a folder and gives what was said, and what to try.
func slip(t *testing.T, dir string, args ...string) (said, try string, status int) {
	t.Helper()
	ctx, cancel := context.WithTimeout(t.Context(), time.Minute) // one that is followed after all
	defer cancel()
	cmd := exec.CommandContext(ctx, "padjig", args...)
	cmd.Dir = dir
	output, err := cmd.CombinedOutput()
	if _, exited := err.(*exec.ExitError); !exited {
		require.NoError(t, err)
	}
	said, try, found := strings.Cut(string(output), "\n  try: ")
	assert.True(t, found, said)
	return said, try, cmd.ProcessState.ExitCode()
}

// typedWords splits a line as a shell does, with single quotes alone.
func typedWords(line string) (words []string) {
	for i, part := range strings.Split(line, "'") {
		if i%2 == 1 {
			words = append(words, part)
			continue
		}
		words = append(words, strings.Fields(part)...)
	}
	return words
}
