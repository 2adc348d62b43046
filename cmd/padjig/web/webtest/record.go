package webtest

import (
	"log/slog"
	"strings"
	"sync"
)

// record is what lanes and pages logged, at every level.
type record struct {
	mu   sync.Mutex
	text strings.Builder
}

func (r *record) Write(line []byte) (int, error) {
	r.mu.Lock()
	defer r.mu.Unlock()
	return r.text.Write(line)
}

func (r *record) logger() *slog.Logger {
	return slog.New(slog.NewJSONHandler(r, &slog.HandlerOptions{Level: slog.LevelDebug}))
}

// Logged are the lines that lanes and pages logged since it was asked before, each a JSON object.
func (h *House) Logged() []string {
	h.log.mu.Lock()
	defer h.log.mu.Unlock()
	defer h.log.text.Reset()
	text := strings.TrimSpace(h.log.text.String())
	if text == "" {
		return nil
	}
	return strings.Split(text, "\n")
}
