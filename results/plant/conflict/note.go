package conflict

import (
	"context"
	"crypto/sha256"
	"database/sql"
	"encoding/hex"
	"encoding/json"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"padjig/results/plant/postgres"
	"padjig/results/store"
)

// Note is what somebody decided about a conflict.
type Note struct {
	Closed bool // false: opened again
	By     string
	Reason string
	At     time.Time // by the clock of the plant
	parts  []string  // that it was made of then
}

// ID names a conflict, the same today and tomorrow: it is a hash over what speaks against what, and between whom.
func (c Conflict) ID() string {
	members := []int{}
	switch c.Code {
	case Overlap, JigTwice:
		members = slices.Sorted(slices.Values([]int{c.Known[0].Member, c.Known[1].Member}))
	case PassedElsewhere, AttemptAgain: // there and back are two
		members = []int{c.Known[0].Member, c.Known[1].Member}
	}
	return short(string(c.Code), c.Of, c.Product, c.Material, strconv.FormatBool(c.Simulated), fmt.Sprint(members))
}

// OfUnit reports whether it is about a unit, whose serial number it is of.
func (c Conflict) OfUnit() bool {
	return slices.Contains([]Code{Overlap, PassedElsewhere, TwoProducts, TwoUnits, AttemptAgain}, c.Code)
}

// State names what a conflict is made of: another one says that something came to it.
func (c Conflict) State() string { return short(c.Parts...) }

// short is of texts that hold no NUL, as no text of the records does.
func short(texts ...string) string {
	sum := sha256.Sum256([]byte(strings.Join(texts, "\x00")))
	return hex.EncodeToString(sum[:6])
}

// Closed reports whether a conflict is closed: the last that was said of it is so, and nothing has come to it since.
func (c Conflict) Closed() bool {
	last := c.last()
	return last != nil && last.Closed && !c.Came()
}

// Came reports whether something came to a conflict that was closed, which opens it again.
func (c Conflict) Came() bool {
	last := c.last()
	return last != nil && last.Closed && slices.ContainsFunc(c.Parts, func(part string) bool { return !slices.Contains(last.parts, part) })
}

func (c Conflict) last() *Note {
	if len(c.Notes) == 0 {
		return nil
	}
	return &c.Notes[len(c.Notes)-1]
}

// notes adds to conflicts what was decided about each.
func (r reader) notes(list []Conflict) error {
	if len(list) == 0 {
		return nil
	}
	of := map[string][]Note{}
	err := store.Visit(r.ctx, r.tx, func(rows *sql.Rows) error {
		var id string
		var n Note
		err := rows.Scan(&id, &n.Closed, &n.By, &n.Reason, store.JSON(&n.parts), store.Time(&n.At))
		of[id] = append(of[id], n)
		return err
	}, `SELECT conflict, closed, by, reason, parts, at_us FROM conflict_note WHERE conflict = ANY(?::text[]) ORDER BY seq`, store.Each(list, Conflict.ID))
	for i, c := range list {
		list[i].Notes = of[c.ID()]
	}
	return err
}

// Decision is what somebody says about a conflict.
type Decision struct {
	ID     string
	Reopen bool   // it is opened again, else closed
	State  string // that it was seen in; empty: whichever it is in
	By     string
	Reason string

	// Where it is looked for; empty for everywhere.
	Code   Code
	Serial string
	Since  time.Time
}

// Why a decision is not taken.
var (
	ErrNone    = errors.New("no records speak against each other so")
	ErrAlready = errors.New("it is so already")
	ErrMoved   = errors.New("something came to it meanwhile")
	ErrMayNot  = errors.New("who asks the database may only read there")
)

// Decide closes a conflict, or opens it again, and gives it as it then is. Nothing else comes of it: what a unit is refused for
// is decided at stations.
func Decide(ctx context.Context, db *sql.DB, plant Records, d Decision) (Conflict, error) {
	asked := Asked{Show: Both, Serial: d.Serial, Since: d.Since}
	if d.Code != "" {
		asked.Codes = []Code{d.Code}
	}
	for again := range 2 {
		answer, err := Ask(ctx, plant, asked)
		if err != nil {
			return Conflict{}, err
		}
		i := slices.IndexFunc(answer.Conflicts, func(c Conflict) bool { return c.ID() == d.ID })
		switch {
		case i < 0:
			return Conflict{}, ErrNone
		case again == 1:
			return answer.Conflicts[i], nil
		}
		c := answer.Conflicts[i]
		switch {
		case c.Closed() != d.Reopen:
			return c, ErrAlready
		case d.State != "" && d.State != c.State():
			return c, ErrMoved
		}
		err = write(ctx, db, d, c.Parts)
		if code := postgres.Code(err); code == postgres.NotPermitted || code == postgres.ReadOnly {
			err = fmt.Errorf("%w: %w", ErrMayNot, err)
		}
		if err != nil {
			return c, fmt.Errorf("write down what came of a conflict: %w", err)
		}
	}
	return Conflict{}, nil
}

func write(ctx context.Context, db *sql.DB, d Decision, parts []string) error {
	list, err := json.Marshal(parts)
	if err != nil {
		return err
	}
	_, err = db.ExecContext(ctx, `INSERT INTO conflict_note (conflict, closed, by, reason, parts) VALUES (?, ?, ?, ?, ?)`,
		d.ID, !d.Reopen, store.Text(d.By), store.Text(d.Reason), string(list))
	return err
}
