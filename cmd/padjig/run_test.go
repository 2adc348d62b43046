package main

import (
	"bytes"
	"context"
	"os"
	"path/filepath"
	"slices"
	"strings"
	"testing"

	"github.com/spf13/cobra"
	"github.com/spf13/pflag"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/object"
	"padjig/cmd/padjig/station"
	"padjig/results/report/columns"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/product"
)

// result is what a run in this process left behind.
type result struct {
	status         int
	stdout, stderr string
}

func runHere(t *testing.T, args ...string) result {
	t.Helper()
	var stdout, stderr bytes.Buffer
	status := runChecked(t.Context(), args, strings.NewReader(""), &stdout, &stderr)
	return result{status, stdout.String(), stderr.String()}
}

const gcc = "../../testdata/products/gcc-20.yaml"

var testArgs = []string{"test", "--product", gcc, "--jig", "none/jig0", "--serial", "GCC-000001-3"}

func TestWrongUseIsSaidWithARemedyAndStatus2(t *testing.T) {
	for name, c := range map[string]struct {
		args []string
		says string
	}{
		"unknown command":     {[]string{"tset"}, `unknown command "tset" for "padjig"`},
		"unknown subcommand":  {[]string{"jig", "lst"}, `unknown command "lst" for "padjig jig"`},
		"unknown flag":        {[]string{"test", "--speed", "9600"}, "unknown flag: --speed"},
		"flags left out":      {[]string{"test", "--product", gcc}, "--jig and --serial are missing"},
		"stray argument":      {[]string{"demo", "now"}, `1 argument given ("now"), expected none`},
		"no file to check":    {[]string{"product", "check"}, "expected one product file or more"},
		"file that is absent": {[]string{"product", "show", "none.yaml"}, "read product file"},
		"no such way":         {append(slices.Clone(testArgs), "--actuation", "foot"), `--actuation "foot"`},
		"neither source":      {[]string{"jig", "talk"}, "one of --jig, --recording is needed"},
		"both sources":        {[]string{"jig", "talk", "--jig", "x", "--recording", "y"}, "--jig and --recording do not go together"},
		"not a recording":     {[]string{"jig", "talk", "--recording", gcc}, "recording line"},
		"wrong fault":         {[]string{"jig", "simulate", "--product", gcc, "--fault", "key 7 broken"}, `fault "key 7 broken"`},
	} {
		t.Run(name, func(t *testing.T) {
			got := runHere(t, c.args...)
			assert.Equal(t, 2, got.status)
			assert.Empty(t, got.stdout)
			lines := strings.Split(strings.TrimSuffix(got.stderr, "\n"), "\n")
			require.Len(t, lines, 2, got.stderr)
			assert.True(t, strings.HasPrefix(lines[0], "padjig: "), got.stderr)
			assert.Contains(t, lines[0], c.says)
			assert.True(t, strings.HasPrefix(lines[1], "  try: "), got.stderr)
		})
	}
}

func TestEveryHelpEndsInExamples(t *testing.T) {
	var walk func(cmd *cobra.Command)
	walk = func(cmd *cobra.Command) {
		if cmd.Name() == "help" || cmd.Name() == "completion" {
			return // cobra's
		}
		t.Run(cmd.CommandPath(), func(t *testing.T) {
			args := append(strings.Fields(cmd.CommandPath())[1:], "--help")
			got := runHere(t, args...)
			assert.Equal(t, 0, got.status)
			assert.Empty(t, got.stderr)
			_, examples, found := strings.Cut(got.stdout, "\nExamples:\n")
			require.True(t, found, got.stdout)
			for line := range strings.Lines(strings.ReplaceAll(examples, " \\\n", " ")) {
				assert.True(t, strings.HasPrefix(line, "  padjig "), "an example, and nothing after the examples: %q", line)
			}
			for line := range strings.Lines(got.stdout) {
				assert.LessOrEqual(t, columns.Width(strings.TrimRight(line, "\n")), 80, line)
			}
		})
		for _, sub := range cmd.Commands() {
			walk(sub)
		}
	}
	walk(newRoot())
}

// The longest helps have each of their flags under a heading.
func TestFlagsOfLongHelpsStandInGroups(t *testing.T) {
	for _, path := range [][]string{{"station"}, {"test"}} {
		cmd, _, err := newRoot().Find(path)
		require.NoError(t, err)
		cmd.LocalFlags().VisitAll(func(f *pflag.Flag) {
			if !f.Hidden && f.Name != "help" {
				assert.NotEmpty(t, command.GroupOf(f), "%s --%s: command.Group", cmd.CommandPath(), f.Name)
			}
		})
	}
}

// noObject are the commands whose answer is not one object of --json, by the reason.
var noObject = map[string]string{
	// What they print is a file, or the traffic of a line, in a form of its own.
	"product import": "a product file", "product released": "a product file", "returns report": "a document", "unit tag": "a tag to print",
	"quality export": "rows as CSV or Parquet", "jig talk": "traffic, a line a frame", "unit places": "a sheet of codes",
	// They stay until they are ended.
	"station": "it serves pages until it is ended", "plant serve": "it serves pages until it is ended", "jig simulate": "it is a jig until it is ended", "demo": "a person looks on",
	// They record one thing that was said to them; whether they did is the exit status.
	"allow": "records a decision", "rework": "records what was done", "unit lift": "records a decision", "jig start": "records a decision",
	"jig zero": "its readings: padjig jig history --json", "jig verify": "its readings: padjig jig history --json",
	"product propose": "records a proposal", "product approve": "records a decision", "product withdraw": "records a decision",
	"records shipped": "records a shipment", "returns dispose": "records the end of a case", "returns photo": "keeps photos",
	"returns unlock": "records a decision", "station accounts add": "records an account", "station accounts badge": "prints a badge once",
	"station accounts close": "records it", "station accounts lock": "records it", "station accounts unlock": "records it",
	"plant forward":          "brings what is there; padjig plant check --json says what came",
	"records hand-off again": "records a decision", "records hand-off set-aside": "records a decision",
	"station tokens add": "prints a token once", "station tokens revoke": "records it",
	// They print JSON of another form than ours, or an event to the byte; or write pages of the manual.
	"records publish": "a message of a standard", "product schema": "a JSON Schema", "records hand-off event": "the bytes that are sent",
	"manual": "files of the package",
	// Nothing in the way, and not made yet.
	"product trial": "sentences", "product proposed": "sentences", "records simulate": "what was planted",
}

// A program can take what a command answers: each has --json, or a reason why not.
func TestEveryCommandAnswersPrograms(t *testing.T) {
	found := map[string]bool{}
	var walk func(cmd *cobra.Command)
	walk = func(cmd *cobra.Command) {
		path := strings.TrimPrefix(cmd.CommandPath(), "padjig ")
		if cmd.Name() == "help" || path == "completion" {
			return // of the library
		}
		if !cmd.HasSubCommands() || len(strings.Fields(cmd.Use)) > 1 {
			found[path] = true
			flag := cmd.Flags().Lookup("json")
			_, excused := noObject[path]
			shown := flag != nil && !flag.Hidden
			assert.NotEqual(t, shown, excused, "%s: it has --json, or stands in noObject with the reason", path)
			if shown {
				assert.True(t, slices.ContainsFunc(object.Kinds(), func(k object.Kind) bool {
					return slices.Contains(strings.Split(k.Of, ", "), "padjig "+path) || strings.HasPrefix(k.Of, "padjig quality,") && strings.HasPrefix(path, "quality ")
				}) || path == "product show", "%s: a schema in docs/schema says what it prints", path) // a definition is its own canonical form
			}
		}
		for _, sub := range cmd.Commands() {
			walk(sub)
		}
	}
	walk(newRoot())
	for path := range noObject {
		assert.True(t, found[path], "%s: there is no such command", path)
	}
}

func TestExitStatusesAreInTheRootHelp(t *testing.T) {
	got := runHere(t, "--help")
	for _, line := range []string{"  0  pass", "  1  fail", "  2  wrong use", "  3  could not measure", "  4  could not record"} {
		assert.Contains(t, got.stdout, line)
	}
}

func TestRecordsThatCannotBeWrittenGiveStatus4(t *testing.T) {
	store := filepath.Join(t.TempDir(), "notes.txt")
	require.NoError(t, os.WriteFile(store, []byte("not a database, and long enough to be looked at as one\n"), 0o644))
	got := runHere(t, append(slices.Clone(testArgs), "--store", store)...)
	assert.Equal(t, 4, got.status)
	assert.Empty(t, got.stdout)
	assert.Contains(t, got.stderr, "not a padjig store")
	text, err := os.ReadFile(store)
	require.NoError(t, err)
	assert.Contains(t, string(text), "not a database", "the file stays as it is")
}

// TestNoVerdictWithoutARecord has the store refuse a run: whatever came of the
// unit, nobody may hear of it.
func TestNoVerdictWithoutARecord(t *testing.T) {
	p, err := product.Load(gcc)
	require.NoError(t, err)
	store, err := openStore(t.Context(), filepath.Join(t.TempDir(), "records.sqlite"))
	require.NoError(t, err)
	defer store.Close()
	for _, outcome := range []sequence.Outcome{sequence.Pass, sequence.Fail} {
		run := sequence.Run{
			Serial: "GCC-000001-3", Product: p.Code, Revision: p.Revision, Hash: "of another product",
			Attempt: 1, Outcome: outcome,
		}
		begun, err := store.Runs.Begin(t.Context(), station.RevisionOf(p), runs.Start{Serial: run.Serial}, func(runs.History) error { return nil })
		require.NoError(t, err)
		_, err = recordsOf(store).Record(t.Context(), begun, run)
		var stderr bytes.Buffer
		assert.Equal(t, 4, complain(&stderr, nil, err))
		assert.NotRegexp(t, `PASS|FAIL`, stderr.String())
		assert.Contains(t, stderr.String(), "  try: treat the unit as untested")
	}
}

// The file is moved away while a unit is tested: its run is stored where nobody
// will look, and nobody may hear of a verdict.
func TestNoVerdictWhenTheRecordsWereMoved(t *testing.T) {
	p, err := product.Load(gcc)
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), "records.sqlite")
	store, err := openStore(t.Context(), path)
	require.NoError(t, err)
	defer store.Close()
	job := station.Job{Product: p, Serial: "GCC-000001-3"}
	begun, err := store.Runs.Begin(t.Context(), station.RevisionOf(p), runs.Start{Serial: job.Serial}, func(runs.History) error { return nil })
	require.NoError(t, err)
	require.NoError(t, os.Rename(path, path+".away"))
	_, err = recordsOf(store).Record(t.Context(), begun, sequence.Run{
		Serial: job.Serial, Product: p.Code, Revision: p.Revision, Hash: p.Hash(), Attempt: 1, Outcome: sequence.Incomplete,
	})
	var stderr bytes.Buffer
	assert.Equal(t, 4, complain(&stderr, nil, err))
	assert.Equal(t, station.RecordsMoved, station.RefusalOf(err).Code)
	assert.Contains(t, stderr.String(), "the records file was moved, deleted or replaced")
	assert.Equal(t, 4, complain(&stderr, nil, recordsOf(store).Test(t.Context(), job, station.Hooks{})), "nor is another unit begun")
}

func TestInterruptedBeforeAnythingMoved(t *testing.T) {
	ctx, cancel := context.WithCancel(t.Context())
	cancel()
	var stdout, stderr bytes.Buffer
	port, err := openPseudo("")
	require.NoError(t, err)
	defer port.Close()
	args := []string{"jig", "talk", "--jig", port.Path()}
	assert.Equal(t, 3, run(ctx, args, strings.NewReader(""), &stdout, &stderr))
	assert.Empty(t, stdout.String())
	assert.Equal(t, "padjig: stopped before anything moved\n", stderr.String())
}

func TestDemoProductIsTheOneInTestdata(t *testing.T) {
	want, err := os.ReadFile(gcc)
	require.NoError(t, err)
	assert.Equal(t, string(want), string(demoProduct), "copy testdata/products/gcc-20.yaml to cmd/padjig/demo")
}
