package main

import (
	"bufio"
	"context"
	"database/sql"
	"errors"
	"flag"
	"fmt"
	"image"
	"image/png"
	"maps"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"testing"

	"github.com/creack/pty"
	"github.com/rogpeppe/go-internal/testscript"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/plant/postgres"
	"padjig/results/releases/releasestest"
)

var update = flag.Bool("update", false, "rewrite what scripts and walks expect")

func TestMain(m *testing.M) {
	testscript.Main(ofNobody{m}, map[string]func(){"padjig": mainChecked})
}

// ofNobody runs the tests where the usual records are nobody's. They stay none: a
// test whose command makes some shares them with tests that run beside it.
type ofNobody struct{ tests *testing.M }

func (o ofNobody) Run() int {
	dir, err := os.MkdirTemp("", "padjig-nobody")
	if err := errors.Join(err, os.Setenv("PADJIG_CONFIG", os.DevNull), os.Setenv("XDG_DATA_HOME", dir), os.Setenv(raceOptions, endAtOnce)); err != nil {
		panic(err)
	}
	defer os.RemoveAll(dir)
	status := o.tests.Run()
	if err := endPlant(); err != nil {
		fmt.Println("FAIL: end the server of the plant:", err)
		status = max(status, 1)
	}
	if made, err := os.ReadDir(dir); err != nil || len(made) > 0 {
		fmt.Println("FAIL: a test used the usual records, or lost their place: give its command --store", err)
		return max(status, 1)
	}
	return status
}

// A program with the race detector in it sleeps for a second before it ends, for races that
// a goroutine might still run into. Ours are ended by hundreds, and have ended theirs.
const raceOptions, endAtOnce = "GORACE", "atexit_sleep_ms=0"

// TestScripts runs the program as people do, on simulated jigs in processes of
// their own. The scripts' own commands are simulate, order, place, scans, tidy,
// status, release, spoil, clock, hands and plant.
func TestScripts(t *testing.T) {
	runScripts(t, func(name string) bool { return !onlyAsks[name] })
}

// onlyAsks are the scripts whose every command asks the records one question after another, and meets nobody.
var onlyAsks = map[string]bool{"quality_line": true, "quality_limits": true, "quality_sampling": true, "quality_wrong": true}

// TestScriptsThatOnlyAsk runs those: in one process after the other there is nothing for the race detector.
func TestScriptsThatOnlyAsk(t *testing.T) {
	runScripts(t, func(name string) bool { return onlyAsks[name] })
	for name := range onlyAsks {
		text, err := os.ReadFile("testdata/script/" + name + ".txtar")
		require.NoError(t, err)
		assert.NotRegexp(t, `(?m)^(simulate|order|hands|plant) |&$`, string(text), "%s has somebody beside it", name)
	}
}

func runScripts(t *testing.T, which func(name string) bool) {
	t.Helper()
	all, err := filepath.Glob("testdata/script/*.txtar")
	require.NoError(t, err)
	files := slices.DeleteFunc(all, func(path string) bool { return !which(strings.TrimSuffix(filepath.Base(path), ".txtar")) })
	testscript.Run(t, testscript.Params{
		Files: files,
		Setup: func(env *testscript.Env) error {
			env.Values[jigOfScript{}] = new(simulatedJig)
			env.Setenv("XDG_DATA_HOME", filepath.Join(env.WorkDir, "data"))
			env.Setenv("XDG_RUNTIME_DIR", env.WorkDir)
			env.Setenv("TZ", "UTC")
			env.Setenv("PADJIG_CONFIG", os.DevNull) // not that of this computer
			env.Setenv(raceOptions, endAtOnce)
			products, err := filepath.Abs("../../testdata/products")
			if err != nil {
				return err
			}
			boxes := filepath.Join(filepath.Dir(products), "boxes")
			return errors.Join(os.Symlink(products, filepath.Join(env.WorkDir, "products")),
				os.Symlink(boxes, filepath.Join(env.WorkDir, "boxes")),
				writePhoto(filepath.Join(env.WorkDir, "photo.png")))
		},
		Cmds: map[string]func(*testscript.TestScript, bool, []string){
			"simulate": simulate,
			"order":    order,
			"place":    place,
			"scans":    scans,
			"tidy":     tidy,
			"status":   status,
			"release":  release,
			"spoil":    spoil,
			"clock":    clock,
			"hands":    handsAt,
			"plant":    plantOf,
		},
		UpdateScripts:       *update,
		RequireExplicitExec: true,
		RequireUniqueNames:  true,
	})
}

// plantOf is "plant NAME": an empty database on the server that all tests share, whose address is in the
// environment under that name.
func plantOf(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: plant NAME")
	}
	server, err := startedPlant()
	ts.Check(err)
	db, err := postgres.Open(server.Address("postgres"))
	ts.Check(err)
	defer db.Close()
	name := strings.ToLower("script_" + regexp.MustCompile(`\W`).ReplaceAllString(ts.Name(), "_") + "_" + args[0])
	_, err = db.ExecContext(context.Background(), `CREATE DATABASE "`+name+`"`)
	ts.Check(err)
	ts.Setenv(args[0], server.Address(name))
}

// writePhoto makes a picture that scripts may take for a photo of a unit.
func writePhoto(path string) error {
	picture := image.NewGray(image.Rect(0, 0, 60, 40))
	for i := range picture.Pix {
		picture.Pix[i] = uint8(i)
	}
	f, err := os.Create(path)
	if err != nil {
		return err
	}
	return errors.Join(png.Encode(f, picture), f.Close())
}

// simulate FLAGS... starts a simulated jig and waits until it says that it is
// ready. It ends with the script.
func simulate(ts *testscript.TestScript, neg bool, flags []string) {
	if neg {
		ts.Fatalf("simulate cannot be negated")
	}
	cmd := exec.Command("padjig", append([]string{"jig", "simulate", "--control"}, flags...)...)
	cmd.Dir, cmd.Stderr = ts.Getenv("WORK"), os.Stderr
	input, err := cmd.StdinPipe()
	ts.Check(err)
	output, err := cmd.StdoutPipe()
	ts.Check(err)
	ts.Check(cmd.Start())
	ts.Defer(func() { // the jig ends with its input
		_ = input.Close()
		ts.Check(cmd.Wait())
	})
	lines := bufio.NewScanner(output)
	if !lines.Scan() {
		ts.Fatalf("the simulated jig ended before it was ready")
	}
	ts.Logf("%s", lines.Text())
	*ts.Value(jigOfScript{}).(*simulatedJig) = simulatedJig{Name: "the jig", Input: input, Output: lines}
}

// jigOfScript is the key of the simulated jig that a script has started.
type jigOfScript struct{}

// order WORDS... tells the simulated jig a command of --control.
func order(ts *testscript.TestScript, neg bool, words []string) {
	err := ts.Value(jigOfScript{}).(*simulatedJig).Order(strings.Join(words, " "))
	if neg != (err != nil) {
		ts.Fatalf("order %q: %v", words, err)
	}
}

// handsAt is "hands N [tty] PROGRAM ARGS...": a program that must end with that exit status, while somebody does at the
// simulated jig what it asks a person for. What it prints is in the files out and err.
func handsAt(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 3 {
		ts.Fatalf("usage: hands N [tty] PROGRAM ARGS...")
	}
	status, said := args[0], strings.Repeat("yes\n", 9)
	atTerminal := args[1] == "tty"
	if atTerminal {
		args = args[1:]
	}
	cmd := exec.Command(args[1], args[2:]...)
	cmd.Dir = ts.Getenv("WORK")
	for _, name := range []string{"XDG_DATA_HOME", "XDG_RUNTIME_DIR", "TZ", "PADJIG_CONFIG"} {
		cmd.Env = append(cmd.Environ(), name+"="+ts.Getenv(name))
	}
	var out, err strings.Builder
	cmd.Stdout, cmd.Stdin = &out, strings.NewReader(said) // a pipe, which is nobody
	if atTerminal {
		near, far, opened := pty.Open()
		ts.Check(opened)
		defer near.Close()
		defer far.Close()
		_, typed := near.WriteString(said)
		ts.Check(typed)
		cmd.Stdin = far
	}
	asks, fails := cmd.StderrPipe()
	ts.Check(fails)
	ts.Check(cmd.Start())
	for lines := bufio.NewScanner(asks); lines.Scan(); {
		fmt.Fprintln(&err, lines.Text())
		for asked, does := range map[string]string{
			"take everything out": "empty", "the shorting plug": "plug", "reference box": "box boxes/rb-1.yaml", "put a good": "unit",
			"keep it open": "open", "> Close the lid.": "close", "Press the emergency": "stop", "Release the emergency": "release",
		} {
			if strings.HasPrefix(lines.Text(), "  > ") && strings.Contains(lines.Text(), asked) {
				order(ts, false, strings.Fields(does))
			}
		}
	}
	fails = cmd.Wait()
	ts.Check(errors.Join(os.WriteFile(ts.MkAbs("out"), []byte(out.String()), 0o644), os.WriteFile(ts.MkAbs("err"), []byte(err.String()), 0o644)))
	if got := fmt.Sprint(cmd.ProcessState.ExitCode()); got != status {
		ts.Fatalf("exit status %s (%v), expected %s\n%s%s", got, fails, status, out.String(), err.String())
	}
}

// place SERIAL [STORE] does with a unit that failed what an operator does: its tag goes on
// it, it goes into the fail place, and the two codes are scanned.
func place(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) == 0 || len(args) > 2 {
		ts.Fatalf("usage: place SERIAL [STORE]")
	}
	flags := []string{"unit", "place", "--operator", "Jon", "PJF00000P", tagCode(ts, args)}
	if len(args) > 1 {
		flags = append(flags, "--store", args[1])
	}
	ts.Check(ts.Exec("padjig", flags...))
}

// scans SERIAL FILE writes down what a scanner types for a unit that failed.
func scans(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: scans SERIAL FILE")
	}
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte("PJF00000P\n"+tagCode(ts, args[:1])+"\n"), 0o644))
}

// tagCode is the code on the tag of a unit's newest run.
func tagCode(ts *testscript.TestScript, args []string) string {
	flags := []string{"unit", "tag", args[0]}
	if len(args) > 1 {
		flags = append(flags, "--store", args[1])
	}
	ts.Check(ts.Exec("padjig", flags...))
	return regexp.MustCompile(`PJT0\d+P`).FindString(ts.ReadFile("stdout"))
}

// status N PROGRAM ARGS... runs a program that must end with that exit status.
func status(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) < 2 {
		ts.Fatalf("usage: status N PROGRAM ARGS...")
	}
	got := "0"
	err := ts.Exec(args[1], args[2:]...)
	if ended, ran := errors.AsType[*exec.ExitError](err); ran {
		got = fmt.Sprint(ended.ExitCode())
	} else {
		ts.Check(err)
	}
	if got != args[0] {
		ts.Fatalf("exit status %s, expected %s\n%s%s", got, args[0], ts.ReadFile("stdout"), ts.ReadFile("stderr"))
	}
}

// release FILE releases a product file in the script's records, as two people at the station's page do.
func release(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 1 {
		ts.Fatalf("usage: release FILE")
	}
	text := ts.ReadFile(args[0])
	store, err := results.Open(context.Background(), recordsOfScript(ts))
	ts.Check(err)
	ts.Check(errors.Join(releasestest.Release(context.Background(), store, text), store.Close()))
}

// spoil SQL... changes the script's records behind the program's back, and puts
// their guards back as whoever hides a change would.
func spoil(ts *testscript.TestScript, neg bool, statements []string) {
	if neg {
		ts.Fatalf("spoil cannot be negated")
	}
	db, err := sql.Open("sqlite3", recordsOfScript(ts))
	ts.Check(err)
	guards := map[string]string{}
	rows, err := db.Query(`SELECT name, sql FROM sqlite_schema WHERE type = 'trigger' AND tbl_name = 'release'`)
	ts.Check(err)
	for rows.Next() {
		var name, text string
		ts.Check(rows.Scan(&name, &text))
		guards[name] = text
	}
	ts.Check(rows.Err())
	for name := range guards {
		statements = append([]string{"DROP TRIGGER " + name}, statements...)
	}
	for _, statement := range slices.Concat(statements, slices.Collect(maps.Values(guards))) {
		_, err := db.Exec(statement)
		ts.Check(err)
	}
	ts.Check(db.Close())
}

func recordsOfScript(ts *testscript.TestScript) string {
	folder := filepath.Join(ts.Getenv("XDG_DATA_HOME"), "padjig")
	ts.Check(os.MkdirAll(folder, 0o755))
	return filepath.Join(folder, "records.sqlite")
}

// tidy stdout|stderr FILE writes what the last command printed to FILE, with
// what differs from run to run taken out, ready for cmp.
func tidy(ts *testscript.TestScript, neg bool, args []string) {
	if neg || len(args) != 2 {
		ts.Fatalf("usage: tidy stdout|stderr FILE")
	}
	text := tidied(ts.ReadFile(args[0]), ts.Getenv("WORK"))
	ts.Check(os.WriteFile(ts.MkAbs(args[1]), []byte(text), 0o666))
}

var passing = []struct {
	pattern *regexp.Regexp
	stand   string
}{
	{regexp.MustCompile(`[0-9a-f]{8}-[0-9a-f]{4}-7[0-9a-f]{3}-[0-9a-f]{4}-[0-9a-f]{12}`), "RUN"},
	{regexp.MustCompile(`\d{4}-\d\d-\d\d \d\d:\d\d:\d\d UTC`), "DATE TIME UTC"},
	{regexp.MustCompile(`\bat \d\d:\d\d:\d\d\b`), "at CLOCK"},
	{regexp.MustCompile(`PJT0\d{39}P`), "TAG"},
	{regexp.MustCompile(`\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d(\.\d+)?Z`), "TIME"},
	{regexp.MustCompile(`\b\d+\.\d\d s\b`), "N.NN s"},
	{regexp.MustCompile(`\d{4}-\d\d-\d\d \d\d:\d\d UTC`), "DATE HH:MM UTC"},
	{regexp.MustCompile(`\d{4}-\d\d-\d\d`), "DATE"},
	{regexp.MustCompile(`"(seconds|ohm|u_ohm|v|u_v|ms|transitions|value|u)": [0-9.e-]+`), `"$1": N`},
	{regexp.MustCompile(`[0-9.]+ ± [0-9.]+ [kM]?ohm, k = 2`), "N ohm, k = 2"},
	{regexp.MustCompile(`(closed with|rest by) [0-9.]+ [kM]?ohm`), "$1 N ohm"},
	{regexp.MustCompile(`(, |from |to )[0-9.]+( ± [0-9.]+)? [kM]?(ohm [(]|ohm, limit|ohm, k = 2, limit)`), `${1}N $3`},
	{regexp.MustCompile(`( to \w+: )[0-9.]+ [kMG]?ohm`), "${1}N ohm"},
	{regexp.MustCompile(`\bover [0-9.]+ [kMG]?ohm`), "over N ohm"},
	{regexp.MustCompile(`closed: \d+ of`), "closed: N of"},
	{regexp.MustCompile(`ohm \((.{1,6})\)( to|$)`), `ohm (KEY)$2`},
	{regexp.MustCompile(`(?m)^ *\d+\.\d{6} (host|jig ) [0-9a-f]{4} #\d+ *`), "AT $1 SESSION #TAG "},
	{regexp.MustCompile(`up \d+(\.\d+)?[a-zµ]*s?`), "up UPTIME"},
}

// tidied replaces what differs from run to run: ids, times, the work folder.
func tidied(text, work string) string {
	text = strings.ReplaceAll(text, work, "WORK")
	for _, p := range passing {
		text = p.pattern.ReplaceAllString(text, p.stand)
	}
	return text
}
