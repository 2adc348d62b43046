package demo

import (
	"fmt"
	"strings"
	"sync"
	"time"

	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/command/simulated"
	"padjig/cmd/padjig/command/terminal"
	"padjig/cmd/padjig/command/testrun"
	"padjig/cmd/padjig/station"
	"padjig/results/runs"
	"padjig/sequence"
	"padjig/sequence/runner"
)

// board is the demo's table: a row for each test as it ends and, on a
// terminal, a line for each jig that shows how far it is.
type board struct {
	terminal.Terminal
	mu    sync.Mutex
	names []string
	doing []string // of each jig
	drawn int
	marks []string // what went wrong with the demo itself
}

// Columns of the table. What was found takes the rest of the line where that
// is wide enough, else lines of its own.
const (
	serialColumn  = 14
	plantedColumn = 32
	verdictColumn = len("INCOMPLETE") + 2
	foundColumn   = serialColumn + plantedColumn + len("  N.NN  ") + verdictColumn
	foundLeast    = 50 // columns, else it goes below
)

func newBoard(t terminal.Terminal, jigs []*simulated.Process) *board {
	b := &board{Terminal: t, doing: make([]string, len(jigs))}
	for _, jig := range jigs {
		b.names = append(b.names, jig.Name)
	}
	fmt.Fprintf(b, "%-*s%-*s%6s  %s\n", serialColumn, "unit", plantedColumn, "planted", "s", "SIMULATED verdict")
	return b
}

// row adds what came of a test.
func (b *board) row(u *demoUnit, test int, differs string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	r := u.runs[test]
	word := strings.ToUpper(string(r.Outcome))
	if differs != "" {
		b.marks = append(b.marks, fmt.Sprintf("unit %s, planted %q: %s", u.serial, u.title(test), differs))
		word += " ← not as planted"
	}
	b.redraw(fmt.Sprintf("%-*s%-*s%6.2f  %s\n", serialColumn, u.serial, plantedColumn, u.title(test),
		time.Duration(r.Duration).Seconds(), b.beside(word, b.foundIn(r))))
}

// foundIn is why a run ended as it did.
func (b *board) foundIn(r runs.Stored) string {
	if text := b.Why(r.Run); text != "" {
		return command.OneLine(text)
	}
	return strings.Join(command.Each(r.Findings, b.Words.Finding), "; ")
}

// beside puts text after a verdict, or below it where the line is too short.
func (b *board) beside(word, text string) string {
	switch {
	case text == "":
		return b.In(word, terminal.Bold)
	case b.Wide-foundColumn < foundLeast:
		return b.In(word, terminal.Bold) + "\n" + strings.Repeat(" ", serialColumn) + b.Wrap(serialColumn, text)
	}
	return b.In(fmt.Sprintf("%-*s", verdictColumn, word), terminal.Bold) + b.Wrap(foundColumn, text)
}

// note puts a line of its own among the units.
func (b *board) note(text string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.redraw(b.Wrap(0, text) + "\n")
}

// say tells what a jig is doing.
func (b *board) say(jig int, doing string) {
	b.mu.Lock()
	defer b.mu.Unlock()
	b.doing[jig] = doing
	b.redraw("")
}

func (b *board) close() {
	b.mu.Lock()
	defer b.mu.Unlock()
	fmt.Fprint(b, b.Up(b.drawn))
	b.drawn = 0
}

// redraw puts text above the lines of the jigs, which are drawn anew.
func (b *board) redraw(text string) {
	up := b.Up(b.drawn)
	b.drawn = 0
	if b.Live {
		for i, name := range b.names {
			text += fmt.Sprintf("  %s  %s\n", name, b.doing[i])
		}
		b.drawn = len(b.names)
	}
	fmt.Fprint(b, up+text)
}

// boardWatcher shows one jig's runs on the board.
type boardWatcher struct {
	board  *board
	place  int
	serial string
}

// Warn says nothing: the jigs of a demonstration are new.
func (w *boardWatcher) Warn(station.Warning) {}

func (w *boardWatcher) Begin(_ *runner.Plan, unit sequence.Unit, _ int) {
	w.serial = unit.Serial
	w.board.say(w.place, w.serial)
}

func (w *boardWatcher) Step(p sequence.Progress) {
	bar := ""
	if p.Total > 0 {
		bar = testrun.Bar(p)
	}
	w.board.say(w.place, fmt.Sprintf("%s  %-12s %s", w.serial, p.Step.Name, bar))
}

func (w *boardWatcher) End(sequence.Run) { w.board.say(w.place, w.serial+"  storing") }
