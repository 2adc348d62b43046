// Package log is the program's one log: a *slog.Logger that a command opens on standard error
// and everybody finds in the context. Where nothing was opened it is silent, so that whoever
// logs need not ask. Only edges log: what reckons, judges or speaks with a jig never does.
//
// An event is a short name that stays ([Events] has them all, with what each says); what
// happened in it stands in attributes. No attribute is a secret: passwords, codes of badges,
// tokens, what was typed into a field that may hold one.
package log

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"log/slog"
	"os"
	"os/signal"
	"slices"
	"strings"
	"sync"
	"syscall"
)

type key struct{}

// Into is the context with a logger in it.
func Into(ctx context.Context, logger *slog.Logger) context.Context {
	return context.WithValue(ctx, key{}, logger)
}

// From is the logger of a context, a silent one where none was put.
func From(ctx context.Context) *slog.Logger {
	if logger, is := ctx.Value(key{}).(*slog.Logger); is {
		return logger
	}
	return slog.New(slog.DiscardHandler)
}

// The forms of a line.
const (
	Text = "text" // readable by a person
	JSON = "json" // one object a line
)

// Options say what is logged, and how; they are flags of the commands that run long.
type Options struct{ Level, Format string }

// Levels and Formats are what flags may say.
var (
	Levels  = []string{"debug", "info", "warn", "error"}
	Formats = []string{Text, JSON}
)

// Open is a logger that writes to a stream, and how to end it: what is still to be written then
// is waited for, but not for long. A line never waits for whoever reads the stream, and that
// nobody reads it any more ends nothing but the log.
func Open(to io.Writer, o Options) (logger *slog.Logger, end func(), err error) {
	var level slog.Level
	if err := level.UnmarshalText([]byte(o.Level)); err != nil || !slices.Contains(Levels, o.Level) {
		return nil, nil, fmt.Errorf("--log-level %q: write %s", o.Level, oneOf(Levels))
	}
	if !slices.Contains(Formats, o.Format) {
		return nil, nil, fmt.Errorf("--log-format %q: write %s", o.Format, oneOf(Formats))
	}
	system := isJournal(to, os.Getenv("JOURNAL_STREAM"))
	lines := patient(to, func(n uint64) []byte {
		var line bytes.Buffer
		slog.New(newHandler(&line, slog.LevelWarn, o.Format, system)).Warn(LinesLost, "lines", n)
		return line.Bytes()
	})
	return slog.New(newHandler(lines, level, o.Format, system)), sync.OnceFunc(withoutPipe(to, lines.end)), nil
}

// withoutPipe keeps the process alive when the reader of its standard error is gone: the system
// would end it at the next line (signal(7), SIGPIPE).
func withoutPipe(to io.Writer, end func()) func() {
	if _, is := to.(*os.File); !is {
		return end
	}
	gone := make(chan os.Signal, 1)
	signal.Notify(gone, syscall.SIGPIPE)
	return func() { end(); signal.Stop(gone) }
}

func oneOf(words []string) string {
	last := len(words) - 1
	return strings.Join(words[:last], ", ") + " or " + words[last]
}
