package log

import (
	"bytes"
	"context"
	"fmt"
	"io"
	"log/slog"
	"sync"
)

// handler writes a record as one line. In the journal it begins with the line's priority
// (sd-daemon(3)) and has no time, since the journal has one.
type handler struct {
	to     io.Writer
	level  slog.Level
	format string
	system bool // the journal reads it
	one    *sync.Mutex
	out    *bytes.Buffer
	fields slog.Handler // writes to out
}

func newHandler(to io.Writer, level slog.Level, format string, system bool) *handler {
	h := &handler{to: to, level: level, format: format, system: system, one: new(sync.Mutex), out: new(bytes.Buffer)}
	o := &slog.HandlerOptions{Level: level, ReplaceAttr: h.replace}
	if format == JSON {
		h.fields = slog.NewJSONHandler(h.out, o)
	} else {
		h.fields = slog.NewTextHandler(h.out, o)
	}
	return h
}

// replace leaves out what stands before the attributes in another form, and the time that the
// journal has.
func (h *handler) replace(groups []string, a slog.Attr) slog.Attr {
	switch {
	case len(groups) > 0:
	case a.Key == slog.TimeKey && h.system,
		h.format == Text && (a.Key == slog.TimeKey || a.Key == slog.LevelKey || a.Key == slog.MessageKey):
		return slog.Attr{}
	case a.Key == slog.TimeKey && a.Value.Kind() == slog.KindTime:
		a.Value = slog.TimeValue(a.Value.Time().UTC())
	case a.Key == slog.MessageKey:
		a.Key = "event"
	}
	return a
}

func (h *handler) Enabled(_ context.Context, level slog.Level) bool { return level >= h.level }

func (h *handler) Handle(ctx context.Context, r slog.Record) error {
	_, err := h.to.Write(h.line(ctx, r))
	return err
}

func (h *handler) line(ctx context.Context, r slog.Record) []byte {
	h.one.Lock()
	defer h.one.Unlock()
	h.out.Reset()
	if h.system {
		fmt.Fprintf(h.out, "<%d>", priority(r.Level))
	}
	if h.format == Text {
		if !h.system {
			h.out.WriteString(r.Time.Format("2006-01-02T15:04:05.000Z07:00 "))
		}
		fmt.Fprintf(h.out, "%-5s %s ", r.Level, r.Message)
	}
	var attrs []slog.Attr
	r.Attrs(func(a slog.Attr) bool { attrs = append(attrs, a); return true })
	slog.New(h.fields).LogAttrs(ctx, r.Level, r.Message, attrs...)
	return bytes.Clone(h.out.Bytes())
}

func (h *handler) WithAttrs(attrs []slog.Attr) slog.Handler {
	with := *h
	with.fields = h.fields.WithAttrs(attrs)
	return &with
}

func (h *handler) WithGroup(name string) slog.Handler {
	with := *h
	with.fields = h.fields.WithGroup(name)
	return &with
}

// priority is that of syslog(3).
func priority(level slog.Level) int {
	switch {
	case level >= slog.LevelError:
		return 3
	case level >= slog.LevelWarn:
		return 4
	case level >= slog.LevelInfo:
		return 6
	}
	return 7
}
