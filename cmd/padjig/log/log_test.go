package log

import (
	"bytes"
	"context"
	"encoding/json"
	"flag"
	"fmt"
	"io"
	"io/fs"
	"log/slog"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"strings"
	"sync"
	"syscall"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// Where nobody opened a log it is silent, and who logs need not ask.
func TestSilentWhereNothingWasOpened(t *testing.T) {
	logger := From(t.Context())
	require.NotNil(t, logger)
	assert.False(t, logger.Enabled(t.Context(), slog.LevelError))
	logger.Error("nobody hears it")

	var out bytes.Buffer
	loud := slog.New(slog.NewTextHandler(&out, nil))
	From(Into(t.Context(), loud)).Info("heard")
	assert.Contains(t, out.String(), "heard")
}

// logged is what a log of a level and a form has of what is logged.
func logged(t *testing.T, o Options, do func(*slog.Logger)) string {
	t.Helper()
	var out bytes.Buffer
	logger, end, err := Open(&out, o)
	require.NoError(t, err)
	do(logger)
	end()
	end() // it does so once
	return out.String()
}

func TestTextIsReadByAPerson(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		out := logged(t, Options{"info", Text}, func(l *slog.Logger) {
			l.Debug("not at this level")
			l.Info("jig there", "lane", 1, "jig", "SIM-0001")
			l.With("lane", 2).Warn("jig lost", "why", "the jig is not there any more")
		})
		at := time.Now().Format("2006-01-02T15:04:05.000Z07:00")
		assert.Equal(t, at+" INFO  jig there lane=1 jig=SIM-0001\n"+
			at+" WARN  jig lost lane=2 why=\"the jig is not there any more\"\n", out)
	})
}

func TestJSONIsAnObjectALine(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		out := logged(t, Options{"debug", JSON}, func(l *slog.Logger) {
			l.Debug("lane changed", "lane", 1, "phase", "running")
			l.Error("page failed", "why", fmt.Errorf("disk\nfull"))
		})
		lines := strings.Split(strings.TrimSpace(out), "\n")
		require.Len(t, lines, 2)
		var one map[string]any
		require.NoError(t, json.Unmarshal([]byte(lines[1]), &one))
		assert.Equal(t, map[string]any{
			"time": time.Now().UTC().Format(time.RFC3339), "level": "ERROR", "event": "page failed", "why": "disk\nfull",
		}, one)
	})
}

// The journal has a time of its own, and takes the priority from the beginning of a line.
func TestLinesOfTheJournal(t *testing.T) {
	var out bytes.Buffer
	l := slog.New(newHandler(&out, slog.LevelDebug, Text, true))
	l.Debug("a")
	l.Info("b", "n", 1)
	l.Warn("c")
	l.Error("d")
	assert.Equal(t, "<7>DEBUG a \n<6>INFO  b n=1\n<4>WARN  c \n<3>ERROR d \n", out.String())
	out.Reset()
	slog.New(newHandler(&out, slog.LevelDebug, JSON, true)).Info("b")
	assert.Equal(t, "<6>{\"level\":\"INFO\",\"event\":\"b\"}\n", out.String())
}

// A stream is the journal's when the variable names it, and not because the variable is there.
func TestTheJournalIsKnownByItsStream(t *testing.T) {
	f, err := os.Create(t.TempDir() + "/stderr")
	require.NoError(t, err)
	defer f.Close()
	info, err := f.Stat()
	require.NoError(t, err)
	of := info.Sys().(*syscall.Stat_t)
	assert.True(t, isJournal(f, fmt.Sprintf("%d:%d", of.Dev, of.Ino)))
	assert.False(t, isJournal(f, fmt.Sprintf("%d:%d", of.Dev, of.Ino+1)), "of another service")
	assert.False(t, isJournal(f, ""))
	assert.False(t, isJournal(new(bytes.Buffer), "1:2"))
	require.NoError(t, f.Close())
	assert.False(t, isJournal(f, fmt.Sprintf("%d:%d", of.Dev, of.Ino)), "nothing is there")
}

// Nothing that is logged makes a line of its own, or a priority: a name may have anything in it.
func TestNoLineIsMadeUp(t *testing.T) {
	for _, form := range Formats {
		for _, system := range []bool{false, true} {
			var out bytes.Buffer
			l := slog.New(newHandler(&out, slog.LevelDebug, form, system))
			l.Info("sign-in refused", "name", "Ines\n<0>ERROR station on fire\r\n\u2028x", "Ines\n<0>", "key too")
			assert.Equal(t, 1, strings.Count(out.String(), "\n"), out.String())
			assert.NotContains(t, out.String(), "\r")
		}
	}
}

func TestWhatALogCannotBe(t *testing.T) {
	for _, o := range []Options{{"loud", Text}, {"info", "xml"}, {"", Text}, {"info", ""}, {"INFO", Text}, {"info+2", Text}} {
		_, _, err := Open(io.Discard, o)
		assert.Error(t, err, "%v", o)
	}
	_, _, err := Open(io.Discard, Options{"loud", Text})
	assert.EqualError(t, err, `--log-level "loud": write debug, info, warn or error`)
}

// stuck is a stream that takes nothing until it is let go.
type stuck struct {
	free chan struct{}
	mu   sync.Mutex
	out  bytes.Buffer
}

func (s *stuck) Write(b []byte) (int, error) {
	<-s.free
	s.mu.Lock()
	defer s.mu.Unlock()
	return s.out.Write(b)
}

// A stream that takes nothing holds nobody up: what there is no room for is dropped, and counted
// when there is room again, at the place where it is missing.
func TestAStuckStreamHoldsNobody(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		to := &stuck{free: make(chan struct{})}
		logger, end, err := Open(to, Options{"info", Text})
		require.NoError(t, err)
		began, long := time.Now(), strings.Repeat("x", 1000)
		logger.Info("first")
		synctest.Wait() // it is being written
		for n := range 3000 {
			logger.Info("run stored", "n", n, "long", long)
		}
		assert.Zero(t, time.Since(began), "somebody waited")
		close(to.free)
		synctest.Wait()
		logger.Info("later")
		end()
		text := to.out.String()
		lines := strings.Split(strings.TrimSpace(text), "\n")
		kept := strings.Count(text, "run stored")
		assert.Less(t, kept, 1+mostWaiting/1000)
		assert.Greater(t, kept, mostWaiting/1100)
		require.Len(t, lines, kept+3)
		assert.Contains(t, lines[kept+1], fmt.Sprintf("WARN  log lines lost lines=%d", 3000-kept))
		assert.Contains(t, lines[kept+2], "later")
	})
}

// The program ends though nobody takes its last lines.
func TestTheEndDoesNotWaitForAStuckStream(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		to := &stuck{free: make(chan struct{})}
		logger, end, err := Open(to, Options{"info", Text})
		require.NoError(t, err)
		logger.Info("last")
		began := time.Now()
		end()
		assert.Equal(t, endPatience, time.Since(began))
		logger.Info("after the end")
		close(to.free)
		synctest.Wait()
		assert.NotContains(t, to.out.String(), "after the end")
	})
}

// A pipe whose reader is gone ends the log and nothing else, whether full or not.
func TestAPipeThatNobodyReads(t *testing.T) {
	r, w, err := os.Pipe()
	require.NoError(t, err)
	logger, end, err := Open(w, Options{"info", Text})
	require.NoError(t, err)
	for range 3000 { // more than a pipe holds
		logger.Info("run stored", "long", strings.Repeat("x", 100))
	}
	require.NoError(t, r.Close())
	logger.Info("to nobody")
	end()
	require.NoError(t, w.Close())
}

// Who logs at once never mixes lines.
func TestLinesAreWhole(t *testing.T) {
	out := logged(t, Options{"info", JSON}, func(l *slog.Logger) {
		var all sync.WaitGroup
		for who := range 8 {
			all.Go(func() {
				with := l.With("who", who)
				for n := range 50 {
					with.InfoContext(context.Background(), "x", "n", n)
				}
			})
		}
		all.Wait()
	})
	lines := strings.Split(strings.TrimSpace(out), "\n")
	assert.Len(t, lines, 400)
	for _, line := range lines {
		assert.True(t, json.Valid([]byte(line)), line)
	}
}

// The process goes on when the reader of its standard error is gone, as a pager that was left:
// the system's default would end it, and what it holds in its jigs, at the next line.
func TestTheProcessOutlivesItsReader(t *testing.T) {
	if os.Getenv("LOGS_TO_NOBODY") != "" {
		logger, end, err := Open(os.Stderr, Options{"info", Text})
		require.NoError(t, err)
		for range 10 {
			logger.Info("to nobody")
		}
		end()
		fmt.Println("it goes on")
		os.Exit(0)
	}
	r, w, err := os.Pipe()
	require.NoError(t, err)
	require.NoError(t, r.Close())
	child := exec.CommandContext(t.Context(), os.Args[0], "-test.run=TestTheProcessOutlivesItsReader")
	child.Env, child.Stderr = append(os.Environ(), "LOGS_TO_NOBODY=1"), w
	out, err := child.Output()
	require.NoError(t, err)
	assert.Contains(t, string(out), "it goes on")
	require.NoError(t, w.Close())
}

// docs/logs.md has the events, row by row; -update writes them anew.
func TestThePageHasEveryEvent(t *testing.T) {
	const name = "../../../docs/logs.md"
	page, err := os.ReadFile(name)
	require.NoError(t, err)
	above, _, found := strings.Cut(string(page), "|---|---|---|---|\n")
	require.True(t, found)
	want := above + "|---|---|---|---|\n"
	for _, e := range Events() {
		want += fmt.Sprintf("| `%s` | %s | %s | %s |\n", e.Name, strings.ToLower(e.Level.String()), e.Of, e.When)
	}
	if *update {
		require.NoError(t, os.WriteFile(name, []byte(want), 0o644))
	}
	assert.Equal(t, want, string(page), "go test ./cmd/padjig/log -run EveryEvent -update")
}

var update = flag.Bool("update", false, "write the rows of docs/logs.md anew")

// Whatever the program logs is an event that has a row: the name of each call is one of the
// constants here, and each constant is in the list.
func TestWhatIsLoggedIsAnEvent(t *testing.T) {
	listed := map[string]bool{}
	for _, e := range Events() {
		listed[e.Name] = true
		assert.NotEmpty(t, e.When, e.Name)
	}
	source, err := os.ReadFile("events.go")
	require.NoError(t, err)
	declared := regexp.MustCompile(`(?m)^\t(\w+) += "([^"]+)"$`).FindAllStringSubmatch(string(source), -1)
	assert.Len(t, declared, len(listed))
	for _, d := range declared {
		assert.True(t, listed[d[2]], d[1])
	}
	calls := 0
	call := regexp.MustCompile(`\.(?:Debug|Info|Warn|Error)(?:\(|Context\([^,]+, )([\w."]+)`)
	require.NoError(t, filepath.WalkDir("..", func(path string, d fs.DirEntry, err error) error {
		if err != nil || !strings.HasSuffix(path, ".go") || strings.HasSuffix(path, "_test.go") {
			return err
		}
		text, err := os.ReadFile(path)
		if !strings.Contains(string(text), `"padjig/cmd/padjig/log"`) {
			return err
		}
		for _, m := range call.FindAllStringSubmatch(string(text), -1) {
			calls++
			assert.Regexp(t, `^log\.[A-Z]\w+$`, m[1], "%s logs what has no name in log.Events: %s", path, m[0])
		}
		return err
	}))
	assert.Greater(t, calls, 8, "the walk found them")
}
