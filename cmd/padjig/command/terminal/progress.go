package terminal

import (
	"fmt"
	"io"
	"sync"
	"time"

	"padjig/results/report/columns"
)

// Progress is the one line that says how far a long command is: what it does, how much of it
// in percent and in numbers, and how long the rest takes. A terminal has it as a line that
// is written over; elsewhere it is silent, or says a line from time to time where that was
// asked for. Any goroutine may report.
type Progress struct {
	to    Terminal
	plain bool // say lines where nobody looks
	what  string
	noun  string // of the parts, "" where they have none

	mu          sync.Mutex
	pace        pace
	shown, said time.Time
	line        string // on the terminal
}

const (
	betweenDrawings = 100 * time.Millisecond
	betweenLines    = 10 * time.Second
)

// NewProgress is the progress of what is done, such as "exporting", in parts with a noun in
// the plural, such as "runs". With plain it says a line every ten seconds where there is no
// terminal.
func NewProgress(to io.Writer, plain bool, what, noun string) *Progress {
	return &Progress{to: Of(to), plain: plain, what: what, noun: noun}
}

// At shows that so many parts of all are done. It costs next to nothing where nothing is
// drawn anew, so it may be told of every part.
func (p *Progress) At(done, total int64) {
	if total <= 0 {
		return
	}
	p.mu.Lock()
	defer p.mu.Unlock()
	now := time.Now()
	p.pace.reached(now, done, total)
	switch {
	case p.to.Live:
		if p.line != "" && done < total && now.Sub(p.shown) < betweenDrawings {
			return
		}
		p.shown = now
		p.draw(p.text(now, done, total, p.to.Wide-1))
	case p.plain:
		if p.said.IsZero() {
			p.said = now
		}
		if now.Sub(p.said) >= betweenLines {
			p.said = now
			fmt.Fprintln(p.to, p.text(now, done, total, PlainWidth))
		}
	}
}

// Share shows how much is done, from 0 to 1, of what has no parts to count.
func (p *Progress) Share(done float64) {
	const fine = 10_000
	p.At(int64(done*fine), fine)
}

// Clear takes the line away, before anything else is written and at the end.
func (p *Progress) Clear() {
	p.mu.Lock()
	defer p.mu.Unlock()
	if p.line != "" {
		fmt.Fprint(p.to, eraseLine)
		p.line = ""
	}
}

const eraseLine = "\r\x1b[K"

// draw writes the line over the one before, in one write and only where it says something else.
func (p *Progress) draw(line string) {
	if line == p.line {
		return
	}
	fmt.Fprint(p.to, "\r"+line+"\x1b[K")
	p.line = line
}

// text is the line, with as much of it as a width holds: percent always, then how long it
// takes, what is done, how many parts.
func (p *Progress) text(now time.Time, done, total int64, wide int) string {
	line := fmt.Sprintf("%3d %%", 100*done/total)
	left := ""
	if d, known := p.pace.left(now, total); known && done < total {
		left = "  " + Left(d)
	}
	parts := ""
	if p.noun != "" {
		parts = fmt.Sprintf("  %d of %d %s", done, total, p.noun)
	}
	for _, text := range []string{
		p.what + " " + line + parts + left, p.what + " " + line + left, line + left, line,
	} {
		if columns.Width(text) <= wide {
			return text
		}
	}
	return ""
}
