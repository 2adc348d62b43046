package returns

import (
	"context"
	"database/sql"
	"errors"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence/fields"
	"padjig/sequence/product"
)

// Rework is what somebody did to a unit after it was made.
type Rework struct {
	Serial   string
	Case     int64  // number of the returns case, 0 when it was not for one; set by the store
	AfterRun int64  // number of the newest run at that time; set by the store
	Deed     string // one of Deeds; empty: of before there were codes
	Place    Place
	Lot      string // of the part put in; empty where the deed puts none in
	Note     string
	By       string
	Done     time.Time

	What, Where string // Deed and Place in words, as they are stored; set by the store
}

// Part is what was put in, empty for none.
func (r Rework) Part() string { return partOf(r.Deed) }

// PlaceKind sorts the places of a unit.
type PlaceKind string

// The kinds of place.
const (
	AtUnit      PlaceKind = "unit" // the whole of it
	AtKey       PlaceKind = "key"
	AtLine      PlaceKind = "line"
	AtPin       PlaceKind = "pin"
	AtConnector PlaceKind = "connector"
)

// Place is where something was done to a unit, by its name in the product.
type Place struct {
	Kind PlaceKind
	Name string // none for unit and connector
}

// String is the place as people write it; nothing for the whole unit.
func (p Place) String() string {
	if p.Kind == AtUnit {
		return ""
	}
	return strings.TrimSpace(string(p.Kind) + " " + p.Name)
}

// deed is something that is done to units: what it puts in, and where it can be done.
type deed struct {
	code, part string
	at         []PlaceKind
}

// The deeds of rework, so that they can be counted. The words are ours.
var deeds = []deed{
	{"contact cleaned", "", []PlaceKind{AtKey}},
	{"contact replaced", "contact", []PlaceKind{AtKey}},
	{"dome replaced", "dome", []PlaceKind{AtKey}},
	{"diode replaced", "diode", []PlaceKind{AtKey}},
	{"foreign matter removed", "", []PlaceKind{AtKey, AtUnit}},
	{"track repaired", "", []PlaceKind{AtLine}},
	{"joint resoldered", "", []PlaceKind{AtKey, AtLine, AtPin, AtConnector}},
	{"tail cleaned", "", []PlaceKind{AtPin, AtConnector}},
	{"tail replaced", "tail", []PlaceKind{AtUnit}},
	{"connector replaced", "connector", []PlaceKind{AtConnector}},
	{"membrane replaced", "membrane", []PlaceKind{AtUnit}},
	{"overlay replaced", "overlay", []PlaceKind{AtUnit}},
	{"spacer replaced", "spacer", []PlaceKind{AtUnit}},
	{"board replaced", "board", []PlaceKind{AtUnit}},
	{"dried", "", []PlaceKind{AtUnit}},
	{"other", "", []PlaceKind{AtUnit, AtKey, AtLine, AtPin, AtConnector}},
}

// Deeds are what can be done to a unit.
func Deeds() []string { return store.Each(deeds, func(d deed) string { return d.code }) }

func deedOf(code string) (d deed, known bool) {
	i := slices.IndexFunc(deeds, func(d deed) bool { return d.code == code })
	if i < 0 {
		return d, false
	}
	return deeds[i], true
}

func partOf(code string) string { d, _ := deedOf(code); return d.part }

// ErrRework is returned for a rework that is not in codes, or not of this product.
var ErrRework = errors.New("rework refused")

func noRework(format string, args ...any) error {
	return refused(ErrRework, "", format, args...)
}

// ReadPlace reads a place as people write it: "key 7", "line R3", "pin 3", "connector"; nothing is the whole unit.
func ReadPlace(text string) (Place, error) {
	kind, name, _ := strings.Cut(strings.TrimSpace(text), " ")
	p := Place{PlaceKind(kind), strings.TrimSpace(name)}
	named := p.Kind == AtKey || p.Kind == AtLine || p.Kind == AtPin
	switch {
	case text == "":
		return Place{Kind: AtUnit}, nil
	case p.Kind == AtUnit, p.Kind == AtConnector, named:
		if named == (p.Name != "") {
			return p, nil
		}
	}
	return p, refused(ErrRework, "place", `%q is no place: write it as "key 7", "line R3", "pin 3" or "connector"; without one it is the whole unit`, text)
}

// check refuses a rework that is not in codes, or names what the product does not have.
func (r Rework) check(p *product.Product) error {
	d, known := deedOf(r.Deed)
	switch {
	case !known:
		return noRework("%q is nothing that is done to a unit: write one of %s%s", r.Deed, strings.Join(Deeds(), ", "), fields.Suggest(r.Deed, Deeds()))
	case r.By == "":
		return noRework("nobody did it: say who")
	case r.Deed == "other" && r.Note == "":
		return refused(ErrRework, "note", `"other" needs a note that says what was done`)
	case !slices.Contains(d.at, r.Place.Kind):
		return refused(ErrRework, "where", "%[2]q is done at %[3]s: say where", strings.Join(store.Each(d.at, func(k PlaceKind) string { return string(k) }), ", "), r.Deed,
			strings.Join(store.Each(d.at, func(k PlaceKind) string { return "a " + string(k) }), " or "))
	case d.part != "" && r.Lot == "":
		return refused(ErrRework, "lot", `%q puts a %s in: say its lot, or "unknown"`, r.Deed, d.part)
	case d.part == "" && r.Lot != "":
		return refused(ErrRework, "no lot", "%q puts no part in, so there is no lot of it", r.Deed)
	}
	return r.Place.in(p)
}

// in refuses a place that the product does not have, with the nearest one it has.
func (place Place) in(p *product.Product) error {
	var known []string
	switch place.Kind {
	case AtKey:
		known = store.Each(p.Keys, func(k product.Key) string { return k.Label })
	case AtLine:
		known = store.Each(p.Lines, func(l product.Line) string { return l.Name })
	case AtPin:
		for i := range p.Tail {
			known = append(known, strconv.Itoa(i+1))
		}
	default:
		return nil
	}
	if slices.Contains(known, place.Name) {
		return nil
	}
	near := fields.Suggest(place.Name, known)
	code := noPlace
	if len(near.Nearest()) > 0 {
		code = noPlaceNear
	}
	return refused(ErrRework, code, "%[1]s has no %[2]s %[3]q%[4]s; it has %[5]s", p.Code, place.Kind, place.Name, near, strings.Join(known, ", "),
		strings.Join(near.Nearest(), ", "))
}

// SaveRework records what was done to a unit, a product of this definition. While
// the unit has an open returns case it is done for that; one that lies in a jig is
// not reworked.
func (s *Records) SaveRework(ctx context.Context, r Rework, p *product.Product) error {
	err := r.check(p)
	if err == nil {
		var history runs.History
		if history, err = s.runs.History(ctx, r.Serial); err == nil && history.InHand != nil {
			err = refused(ErrRework, "lies in", "unit %s lies in jig %s and is being tested", r.Serial, history.InHand.Jig.Serial)
		}
	}
	if err == nil {
		_, err = s.db.Append(ctx, func(tx *sql.Tx) ([]store.Entry, error) { return s.reworked(ctx, tx, r) })
	}
	if err != nil {
		return fmt.Errorf("save the rework of unit %q in %s: %w", r.Serial, s.db.Path(), store.Remedy(err))
	}
	return nil
}

func (s *Records) reworked(ctx context.Context, tx *sql.Tx, r Rework) ([]store.Entry, error) {
	newest, err := runs.NewestSeq(ctx, tx)
	if err != nil {
		return nil, err
	}
	var of, next int64
	if _, err := store.RowOf(ctx, tx, openCaseQuery, []any{r.Serial}, &of); err != nil {
		return nil, err
	}
	if err := tx.QueryRowContext(ctx, `SELECT coalesce(max(seq), 0) + 1 FROM rework`).Scan(&next); err != nil {
		return nil, err
	}
	coded := store.Entry{Table: "rework_deed"}
	coded.Set("rework", next)
	coded.Set("deed", r.Deed)
	coded.Set("kind", string(r.Place.Kind))
	coded.Set("place", r.Place.Name)
	coded.Set("part", r.Part())
	coded.Set("lot", r.Lot)
	e := store.Entry{Table: "rework"}
	e.Set("serial", r.Serial)
	if of > 0 {
		e.Set("return_case", of)
	} else {
		e.Set("return_case", nil)
	}
	e.Set("after_run", newest)
	e.Set("what", r.Deed)
	e.Set("place", r.Place.String())
	e.Set("note", r.Note)
	e.Set("by", r.By)
	e.Set("done_us", r.Done)
	e.Set("at_us", s.db.Now())
	return []store.Entry{coded, e}, nil
}

// Reworks gives what was done to a unit, oldest first.
func (s *Records) Reworks(ctx context.Context, serial string) (list []Rework, err error) {
	err = s.db.Ask(ctx, fmt.Sprintf("look up the rework of unit %q", serial), func(tx *sql.Tx) error {
		list, err = reworksIn(ctx, tx, serial)
		return err
	})
	return list, err
}

func reworksIn(ctx context.Context, tx *sql.Tx, serial string) ([]Rework, error) {
	return store.Collect(ctx, tx, scanRework, reworkColumns+`WHERE serial = ? ORDER BY rework.after_run, rework.seq`, serial)
}

const reworkColumns = `
	SELECT serial, coalesce(return_case, 0), after_run, what, rework.place, note, by, done_us,
	       coalesce(deed, ''), coalesce(kind, ''), coalesce(rework_deed.place, ''), coalesce(lot, '')
	FROM rework LEFT JOIN rework_deed ON rework_deed.rework = rework.seq `

func scanRework(rows *sql.Rows) (r Rework, err error) {
	return r, rows.Scan(&r.Serial, &r.Case, &r.AfterRun, &r.What, &r.Where, &r.Note, &r.By, store.Time(&r.Done),
		&r.Deed, &r.Place.Kind, &r.Place.Name, &r.Lot)
}

// ReworkNumbered gives the rework of a number; nil for none.
func (s *Records) ReworkNumbered(ctx context.Context, number int64) (*Rework, error) {
	return store.First(ctx, s.db, "look up a rework", scanRework, reworkColumns+`WHERE rework.seq = ?`, number)
}

// ProductOf gives what a unit is by its newest run; [ErrNotFound] when it has none
// whose definition is in the records.
func (s *Records) ProductOf(ctx context.Context, serial string) (*product.Product, error) {
	made, err := s.runs.Unit(ctx, serial)
	switch {
	case err != nil:
		return nil, err
	case len(made) == 0:
		return nil, store.ErrNotFound
	}
	return s.runs.Product(ctx, made[len(made)-1])
}
