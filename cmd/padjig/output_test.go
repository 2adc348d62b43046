package main

import (
	"bytes"
	"fmt"
	"io/fs"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"golang.org/x/sys/unix"

	"padjig/cmd/padjig/station"
	"padjig/results"
	"padjig/sequence/product"
)

// written is a command that writes a file where a person says.
type written struct {
	name, end string // the end its file's name must have
	args      []string
	status    int // when it writes
}

// writers are all commands that do, with the file's name still to follow.
func writers(jig string) []written {
	unit, fresh := outputSerials()
	at := []string{"--store", "records.sqlite"}
	test := func(words ...string) []string {
		return append(append(words, at...), "--product", "pad.yaml", "--jig", jig)
	}
	return []written{
		{"test", ".txt", append(test("test"), "--serial", fresh, "--record"), 0},
		{"jig talk", ".txt", []string{"jig", "talk", "--jig", jig, "--record"}, 0},
		{"returns first-press", ".txt", append(test("returns", "first-press", unit), "--operator", "Jon", "--record"), 0},
		{"gauge run", ".txt", append(test("quality", "gauge", "run", "1"), "--operator", "Ann", "--record"), 0},
		{"quality page", ".html", append(at, "quality", "yield", "--simulated", "--html"), 0},
		{"page of no runs", ".html", []string{"quality", "sampling", "--good", "1%", "--html"}, 0},
		{"export as CSV", ".csv", append(at, "quality", "export", "--simulated", "--out"), 0},
		{"export as Parquet", ".parquet", append(at, "quality", "export", "--simulated", "--out"), 0},
		{"returns report", ".html", append(at, "returns", "report", unit, "--to"), 0},
		{"returns report as text", ".txt", append(at, "returns", "report", unit, "--to"), 0},
		{"product import", ".yaml", []string{"product", "import", "board.dts", "--out"}, 0},
	}
}

// outputSerials are a unit that came back and one that was never tested.
func outputSerials() (back, fresh string) {
	p, err := product.Parse("the demo's", demoProduct)
	must(err)
	return p.Serial.Complete(900_001), p.Serial.Complete(900_002)
}

// outputBench is a folder with all that the writers need.
func outputBench(t *testing.T) (dir string, run func(args ...string) (said string, status int)) {
	dir = t.TempDir()
	for from, to := range map[string]string{"products/gcc-20.yaml": "pad.yaml", "devicetree/gcc-20.dts": "board.dts"} {
		text, err := os.ReadFile(filepath.Join("../../testdata", from))
		require.NoError(t, err)
		require.NoError(t, os.WriteFile(filepath.Join(dir, to), text, 0o644))
	}
	run = func(args ...string) (string, int) {
		cmd := exec.Command("padjig", args...)
		cmd.Dir = dir
		said, err := cmd.CombinedOutput()
		if _, exited := err.(*exec.ExitError); !exited {
			require.NoError(t, err)
		}
		return string(said), cmd.ProcessState.ExitCode()
	}
	back, part := outputSerials()
	for _, line := range []string{
		"records simulate --store records.sqlite --product pad.yaml --runs 200",
		"returns intake " + back + " --store records.sqlite --product pad.yaml --complaint other --text smells --condition dirty --no-photo broken --operator Jon",
		"quality gauge plan --store records.sqlite --product pad.yaml --parts " + back + "," + part + " --appraisers Ann,Bob --seed 1 --operator Ines",
	} {
		said, status := run(strings.Fields(line)...)
		require.Zero(t, status, said)
	}
	return dir, run
}

// kept reads what must stay as it is.
func kept(t *testing.T, path string) string {
	t.Helper()
	text, err := os.ReadFile(path)
	require.NoError(t, err)
	return string(text)
}

// TestOutputsSpareWhatIsNotTheirs points every command that writes a file at
// files which it did not make: under their name, by links of both kinds, in
// folders and devices. All of it must stay, and the message must say so.
func TestOutputsSpareWhatIsNotTheirs(t *testing.T) {
	t.Parallel()
	dir, run := outputBench(t)
	in := func(name string) string { return filepath.Join(dir, name) }
	require.NoError(t, os.WriteFile(in("notes"), []byte("what the night shift said\n"), 0o644))
	require.NoError(t, os.Mkdir(in("folder"), 0o755))
	victims := []struct {
		name, of string // what is kept
		make     func(path string) error
		says     string
	}{
		{"the store by a symbolic link", "records.sqlite",
			func(path string) error { return os.Symlink("records.sqlite", path) }, "is a store of records"},
		{"the store by a hard link", "records.sqlite",
			func(path string) error { return os.Link(in("records.sqlite"), path) }, "is a store of records"},
		{"the store by two links and a detour", "records.sqlite",
			func(path string) error {
				_ = os.Symlink("../records.sqlite", in("folder/there"))
				return os.Symlink("folder/../folder/there", path)
			}, "is a store of records"},
		{"a product file", "pad.yaml",
			func(path string) error { return os.Symlink("pad.yaml", path) }, "is there already"},
		{"notes", "notes", func(path string) error { return os.Link(in("notes"), path) }, "is there already"},
		{"an empty file", "", func(path string) error { return os.WriteFile(path, nil, 0o644) }, "is there already"},
		{"a folder", "", func(path string) error { return os.Mkdir(path, 0o755) }, "is a folder"},
		{"the jig's port", "", func(path string) error { return os.Symlink("/dev/ptmx", path) }, "is a device"},
		{"a link that leads nowhere", "",
			func(path string) error { return os.Symlink("gone/away", path) }, "is a link that leads nowhere"},
		{"a pipe that nobody reads", "", func(path string) error { return unix.Mkfifo(path, 0o600) }, "nobody reads"},
	}
	jig, _ := startJig(t)
	for _, w := range writers(jig) {
		for _, v := range victims {
			t.Run(w.name+" over "+v.name, func(t *testing.T) {
				path := in("out" + w.end)
				require.NoError(t, v.make(path))
				defer os.Remove(path)
				before, err := os.Lstat(path)
				require.NoError(t, err)
				var want string
				if v.of != "" {
					want = kept(t, in(v.of))
				}
				said, status := run(append(w.args, filepath.Base(path))...)
				assert.Equal(t, statusWrong, status, said)
				assert.Contains(t, said, v.says)
				assert.Contains(t, said, "\n  try: ")
				assert.NotContains(t, said, "remove records.sqlite")
				after, err := os.Lstat(path)
				require.NoError(t, err)
				assert.True(t, os.SameFile(before, after), "what was there is there")
				assert.Equal(t, before.Size(), after.Size())
				if v.of != "" {
					assert.Equal(t, want, kept(t, in(v.of)))
				}
			})
		}
	}
	said, status := run("records", "check", "--store", "records.sqlite")
	assert.Zero(t, status, said)
	assert.Empty(t, leftOver(t, dir))
}

// leftOver are files that somebody began and did not end.
func leftOver(t *testing.T, dir string) (names []string) {
	t.Helper()
	require.NoError(t, filepath.WalkDir(dir, func(path string, d fs.DirEntry, err error) error {
		if strings.HasPrefix(d.Name(), ".") {
			names = append(names, path)
		}
		return err
	}))
	return names
}

// TestOutputsKeepAwayFromTheStore: the store of this very command, and the
// names of the files that live beside a store, also before they are there.
func TestOutputsKeepAwayFromTheStore(t *testing.T) {
	t.Parallel()
	dir, run := outputBench(t)
	jig, _ := startJig(t)
	_, fresh := outputSerials()
	test := []string{"test", "--product", "pad.yaml", "--jig", jig, "--serial", fresh}
	for _, pair := range [][2]string{
		{"new.sqlite", "new.sqlite"}, {"new.sqlite", "./new.sqlite"}, {"./new.sqlite", filepath.Join(dir, "new.sqlite")},
	} {
		said, status := run(append(test, "--store", pair[0], "--record", pair[1])...)
		assert.Equal(t, statusWrong, status, said)
		assert.Contains(t, said, "store of records")
		said, status = run("records", "check", "--store", pair[0])
		assert.Zero(t, status, said)
	}
	for _, w := range writers(jig) {
		for _, beside := range []string{"-wal", "-shm", "-journal", "-lock", "-ballast"} {
			if w.end == ".csv" || w.end == ".parquet" {
				continue // the name has to end in the form
			}
			said, status := run(append(w.args, "later.sqlite"+beside)...)
			assert.Equal(t, statusWrong, status, said)
			assert.Contains(t, said, "name of a file beside a store")
			assert.NoFileExists(t, filepath.Join(dir, "later.sqlite"+beside))
		}
	}
}

// TestOutputsComeWholeOrNotAtAll: what a command made it replaces, nothing is
// left where it fails, and the standard output may be named.
func TestOutputsComeWholeOrNotAtAll(t *testing.T) {
	t.Parallel()
	dir, run := outputBench(t)
	jig, change := startJig(t)
	in := func(name string) string { return filepath.Join(dir, name) }
	require.NoError(t, os.WriteFile(in("usual"), nil, 0o666))
	usual, err := os.Stat(in("usual"))
	require.NoError(t, err)
	replaced := map[string]bool{"jig talk": true, "quality page": true, "page of no runs": true,
		"export as CSV": true, "export as Parquet": true, "returns report": true}
	for _, w := range writers(jig) {
		path := "my" + strings.ReplaceAll(w.name, " ", "-") + w.end
		change()
		said, status := run(append(w.args, path)...)
		require.Equal(t, w.status, status, "%s: %s", w.name, said)
		first := kept(t, in(path))
		assert.NotEmpty(t, first, w.name)
		info, err := os.Stat(in(path))
		require.NoError(t, err)
		assert.Equal(t, usual.Mode(), info.Mode(), "%s: who may read it is up to the user's umask", w.name)
		if !replaced[w.name] {
			continue
		}
		require.NoError(t, os.Symlink(path, in("link-"+path)))
		said, status = run(append(w.args, "link-"+path)...)
		require.Equal(t, w.status, status, "%s again: %s", w.name, said)
		assert.NotEmpty(t, kept(t, in(path)))
		target, err := os.Readlink(in("link-" + path))
		require.NoError(t, err, "the link stays a link")
		assert.Equal(t, path, target)

		require.NoError(t, os.WriteFile(in(path), []byte(first+"a remark of mine\n"), 0o644))
		if strings.HasSuffix(path, ".txt") || strings.HasSuffix(path, ".parquet") {
			said, status = run(append(w.args, path)...)
			assert.Equal(t, statusWrong, status, said)
			assert.Contains(t, kept(t, in(path)), "a remark of mine")
		}
		require.NoError(t, os.Chmod(in(path), 0o444))
		said, status = run(append(w.args, path)...)
		assert.Equal(t, statusWrong, status, "%s: one that is write-protected stays: %s", w.name, said)
	}
	// A page is no report, nor the other way round.
	for _, cross := range [][2]string{{"quality page", "myreturns-report.html"}, {"returns report", "mypage-of-no-runs.html"}} {
		require.NoError(t, os.Chmod(in(cross[1]), 0o644))
		want := kept(t, in(cross[1]))
		for _, w := range writers(jig) {
			if w.name == cross[0] {
				said, status := run(append(w.args, cross[1])...)
				assert.Equal(t, statusWrong, status, said)
				assert.Equal(t, want, kept(t, in(cross[1])))
			}
		}
	}
	// A jig that is not there is recorded nowhere, and an earlier recording stays.
	recorded := kept(t, in("mytest.txt"))
	for _, path := range []string{"mytest.txt", "none.txt"} {
		said, status := run("jig", "talk", "--jig", "./no-jig", "--record", path)
		assert.Equal(t, statusNotMeasured, status, said)
	}
	assert.Equal(t, recorded, kept(t, in("mytest.txt")))
	assert.NoFileExists(t, in("none.txt"))
	for _, w := range []string{"gone/page.html", "pad.yaml/page.html"} {
		said, status := run("quality", "yield", "--store", "records.sqlite", "--simulated", "--html", w)
		assert.Equal(t, statusWrong, status, said)
		assert.Contains(t, said, "--html")
	}
	for _, device := range []string{"/dev/stdout", "/dev/null", "/dev/stderr"} {
		said, status := run("quality", "yield", "--store", "records.sqlite", "--simulated", "--html", device)
		require.Zero(t, status, said)
		assert.Equal(t, device != "/dev/null", strings.Contains(said, "</html>"), device)
	}
	assert.Empty(t, leftOver(t, dir))
}

// TestOutputToAFileOfTheShell: /dev/stdout is the file that the shell opened,
// and what it holds stays.
func TestOutputToAFileOfTheShell(t *testing.T) {
	t.Parallel()
	dir, _ := outputBench(t)
	for _, way := range []string{"{ echo before; padjig %s; } > out", "{ echo before; padjig %s; } | cat > out"} {
		line := fmt.Sprintf(way, "quality yield --store records.sqlite --simulated --html /dev/stdout")
		cmd := exec.Command("sh", "-c", line)
		cmd.Dir = dir
		said, err := cmd.CombinedOutput()
		require.NoError(t, err, string(said))
		text := kept(t, filepath.Join(dir, "out"))
		assert.True(t, strings.HasPrefix(text, "before\n"), text)
		assert.Contains(t, text, "</html>")
		assert.NotContains(t, text, "\x00")
	}
}

// TestDemoSparesWhatIsThere: the folder of --dir may be somebody's.
func TestDemoSparesWhatIsThere(t *testing.T) {
	t.Parallel()
	dir, run := outputBench(t)
	text := bytes.Replace(demoProduct, []byte("revision:"), []byte("# checked by Ines\nrevision:"), 1)
	require.NoError(t, os.WriteFile(filepath.Join(dir, "gcc-20.yaml"), text, 0o644))
	said, status := run("demo", "--fast", "--exit", "--dir", ".")
	assert.Equal(t, statusWrong, status, said)
	assert.Contains(t, said, "gcc-20.yaml")
	assert.Equal(t, string(text), kept(t, filepath.Join(dir, "gcc-20.yaml")))

	// Records of real units stay without those of a demonstration, and its accounts.
	require.NoError(t, os.Remove(filepath.Join(dir, "gcc-20.yaml")))
	path := filepath.Join(dir, "records.sqlite")
	store, err := results.Open(t.Context(), path)
	require.NoError(t, err)
	runs, err := store.Runs.Recent(t.Context(), 200)
	require.NoError(t, err)
	stored, err := store.Runs.Run(t.Context(), runs[len(runs)-1].ID) // the oldest is of the demo's revision
	require.NoError(t, err)
	p, err := product.Parse("the demo's", demoProduct)
	require.NoError(t, err)
	stored.Run.Simulated = false
	_, err = store.Runs.Save(t.Context(), station.RevisionOf(p), stored.Run)
	require.NoError(t, err)
	before, err := store.Runs.Recent(t.Context(), 1)
	require.NoError(t, err)
	said, status = run("demo", "--fast", "--exit", "--dir", ".")
	assert.Equal(t, statusWrong, status, said)
	assert.Contains(t, said, "the store holds runs of real jigs")
	assert.Contains(t, said, "try: --dir with another folder")
	after, err := store.Runs.Recent(t.Context(), 1)
	require.NoError(t, err)
	assert.Equal(t, before, after)
	require.NoError(t, store.Close())
}

// startJig starts a simulated jig of its own process and gives its port, and what puts
// another unit in.
func startJig(t *testing.T) (path string, change func()) {
	t.Helper()
	path = filepath.Join(t.TempDir(), "jig")
	tell := startSimulation(t, "--product", crashProduct, "--link", path, "--pace=false", "--latency", "0s")
	return path, func() { tell("unit") }
}
