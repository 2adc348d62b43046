// Package tables says which tables of a station's records go to a plant, and what has to be done
// with the numbers in each column on the way: they count within one station, and at a plant over all.
//
// The list is tables.txt. A migration of the station's records that adds a table or a
// column is a line there, and a migration of the plant's database; a test names what is missing.
package tables

import (
	_ "embed"
	"fmt"
	"slices"
	"strings"
	"sync"
)

// Contract is the number of the agreement between those that forward and the database of a plant
// on what is written there and how. A migration of the plant after which an older program would write
// something wrong or incomplete raises it in the table forward_contract, and here.
const Contract = 1

//go:embed tables.txt
var text string

// Kind is what the rows of a table are.
type Kind int

const (
	Row  Kind = iota // numbered by the station
	Word             // once for all stations
	Of               // of a row of another table
)

// Use is what a column holds.
type Use int

const (
	Value  Use = iota
	Own        // number of the row
	Ref        // number of a row of the table Column.To
	Number     // of the station, of no row
	Beside     // of a word, does not tell it apart
)

// Column is a column of a table, of the same name on both sides.
type Column struct {
	Name string
	Use  Use
	To   string // table, of a Ref
}

// Table is a table, of the same name on both sides. At the plant a Row has the columns member
// and local besides: whose it is and its number there.
type Table struct {
	Name    string
	Kind    Kind
	Columns []Column
}

// Parent is the table that rows of kind Of belong to.
func (t Table) Parent() string { return t.Columns[0].To }

// Key is the column that rows are found by: the number of the row itself, or of the one that it belongs to.
func (t Table) Key() string { return t.Columns[0].Name }

// Names are those of the columns.
func (t Table) Names() []string {
	names := make([]string, len(t.Columns))
	for i, c := range t.Columns {
		names[i] = c.Name
	}
	return names
}

// Index is where a column is, -1 where there is none.
func (t Table) Index(column string) int {
	return slices.IndexFunc(t.Columns, func(c Column) bool { return c.Name == column })
}

// All gives the tables, words first and what a word names before it. The list is shared: change nothing.
var All = sync.OnceValue(func() []Table {
	all, err := parse(text)
	if err != nil {
		panic(err) // a test would have found it
	}
	return all
})

// Staying are the tables of a station that do not go to a plant, and why.
func Staying() map[string]string {
	const door, here, counted = "who may in at the station", "of the station's own doing", "counted at the plant over all stations"
	return map[string]string{
		"account_event": door, "session": door, "session_end": door, "sign_in": door, "account_lock": door,
		"notice": "it came from the plant", "notice_effect": here, "plant_contact": here,
		"token": door, "token_end": door, "token_use": door,
		"draft": here, "backup": here, "outbox": here, "hand_off": here, "migration": here,
		"cell": counted, "cell_reading": counted, "cell_finding": counted, "run_cell": counted,
		"span": counted, "span_cell": counted, "span_reading": counted, "span_finding": counted,
	}
}

func parse(text string) (all []Table, err error) {
	for line := range strings.Lines(text) {
		line = strings.TrimRight(line, "\n")
		if line == "" || strings.HasPrefix(line, "#") {
			continue
		}
		if rest, more := strings.CutPrefix(line, "  "); more {
			last := &all[len(all)-1]
			last.Columns = append(last.Columns, columns(rest)...)
			continue
		}
		head, rest, _ := strings.Cut(line, ":")
		kind, name, found := strings.Cut(head, " ")
		at := slices.Index([]string{"row", "word", "of"}, kind)
		if at < 0 || !found {
			return nil, fmt.Errorf("tables.txt: %q is neither row, word nor of", line)
		}
		all = append(all, Table{strings.TrimSpace(name), Kind(at), columns(rest)})
	}
	return all, nil
}

func columns(text string) (all []Column) {
	for _, said := range strings.Fields(text) {
		c := Column{Name: said}
		if name, to, found := strings.Cut(said, ">"); found {
			c = Column{name, Ref, to}
		} else if name, found := strings.CutSuffix(said, "#"); found {
			c = Column{name, Own, ""}
		} else if name, found := strings.CutSuffix(said, "~"); found {
			c = Column{name, Number, ""}
		} else if name, found := strings.CutPrefix(said, "+"); found {
			c = Column{name, Beside, ""}
		}
		all = append(all, c)
	}
	return all
}
