package conflict

import (
	"cmp"
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strconv"
	"strings"
	"time"

	"padjig/results/pads"
	"padjig/results/plant/postgres"
	"padjig/results/store"
	"padjig/sequence"
)

// Records are those of a plant, read at one unchanging state.
type Records interface {
	View(ctx context.Context, do func(*sql.Tx) error) error
	// Twice gives runs that read another pad than the run before them under the same serial number.
	Twice(ctx context.Context, a pads.TwiceAsked) (pads.Twice, error)
}

// Show says which conflicts are given.
type Show int

// Those that there are.
const (
	Open Show = iota
	Closed
	Both
)

// usual is how far back units are compared with themselves where no time is said: each that was tested more than once is looked at.
const usual = 31 * 24 * time.Hour

// Asked chooses conflicts.
type Asked struct {
	Since  time.Time // only those of which something was recorded since then; zero for all
	Until  time.Time // only those of which something was recorded before then; zero for all
	Serial string    // of this unit alone; empty for all
	Codes  []Code    // only these; none for all
	Member int       // only those that this station has a part in; 0 for all
	Most   int       // how many at most, 0 for all
	Show   Show      // open ones, unless something else is said
}

// about reports whether a conflict is asked for.
func (a Asked) about(c Conflict) bool {
	return (a.Show == Both || (a.Show == Closed) == c.Closed()) && (len(a.Codes) == 0 || slices.Contains(a.Codes, c.Code)) &&
		(a.Member == 0 || slices.ContainsFunc(c.Known, func(k Known) bool { return k.Member == a.Member })) &&
		(a.Until.IsZero() || slices.ContainsFunc(c.Known, func(k Known) bool { return k.Ended.Before(a.Until) }))
}

// Answer are conflicts: by their codes in the order of [Codes], of each the newest first.
type Answer struct {
	Asked
	Conflicts []Conflict
	Left      int // that there are beside these
	Twice     Twice
}

// Twice is how far it was looked for two units under one serial number.
type Twice struct {
	Asked  bool      // it was looked for
	Since  time.Time // in runs stored since then; zero for all
	Looked int       // runs that were compared with the one before under the same serial number
	More   bool      // there are more than are compared at a time: the newest were
}

// Ask asks the records of a plant for what speaks against each other in them.
func Ask(ctx context.Context, plant Records, a Asked) (Answer, error) {
	answer := Answer{Asked: a}
	changed, err := answer.twice(ctx, plant)
	if err != nil {
		return Answer{}, err
	}
	err = plant.View(ctx, func(tx *sql.Tx) error {
		r := reader{ctx, tx, 0}
		if !a.Since.IsZero() {
			r.since = postgres.RunNumber(0, a.Since, 0)
		}
		var all []Conflict
		for _, ask := range r.asks(a, changed) {
			found, err := ask()
			if err != nil {
				return err
			}
			all = append(all, found...)
		}
		if err := r.notes(all); err != nil {
			return err
		}
		answer.Conflicts = slices.DeleteFunc(all, func(c Conflict) bool { return !a.about(c) })
		return nil
	})
	if err != nil {
		return Answer{}, fmt.Errorf("look for conflicts in the records of the plant: %w", err)
	}
	codes := Codes()
	slices.SortStableFunc(answer.Conflicts, func(a, b Conflict) int {
		return cmp.Or(cmp.Compare(slices.Index(codes, a.Code), slices.Index(codes, b.Code)), b.newest().Compare(a.newest()), cmp.Compare(a.Of, b.Of))
	})
	if a.Most > 0 && len(answer.Conflicts) > a.Most {
		answer.Left = len(answer.Conflicts) - a.Most
		answer.Conflicts = answer.Conflicts[:a.Most]
	}
	return answer, nil
}

// asks are the questions by which those conflicts are found that may be asked for.
func (r reader) asks(a Asked, changed []pads.Otherwise) (list []func() ([]Conflict, error)) {
	wants := func(codes ...Code) bool {
		return len(a.Codes) == 0 || slices.ContainsFunc(codes, func(code Code) bool { return slices.Contains(a.Codes, code) })
	}
	for _, one := range []struct {
		codes []Code
		unit  bool // it is about units
		ask   func() ([]Conflict, error)
	}{
		{[]Code{JigTwice}, false, r.jigs}, {[]Code{RunTwice}, false, r.runsTwice}, {[]Code{LabelTwice}, false, r.labels},
		{[]Code{LotTwice}, false, r.lots}, {[]Code{OtherMeaning}, false, r.meanings},
		{[]Code{Overlap, PassedElsewhere, TwoProducts, AttemptAgain}, true, func() ([]Conflict, error) { return r.units(a.Serial) }},
		{[]Code{TwoUnits}, true, func() ([]Conflict, error) { return r.changed(changed) }},
	} {
		if wants(one.codes...) && (one.unit || a.Serial == "") {
			list = append(list, one.ask)
		}
	}
	return list
}

// twice compares units with themselves, where that is asked for.
func (a *Answer) twice(ctx context.Context, plant Records) ([]pads.Otherwise, error) {
	if len(a.Codes) > 0 && !slices.Contains(a.Codes, TwoUnits) {
		return nil, nil
	}
	asked := pads.TwiceAsked{Serial: a.Serial}
	if a.Twice = (Twice{Asked: true, Since: a.Since}); a.Since.IsZero() && a.Serial == "" {
		newest := a.Until
		if newest.IsZero() {
			newest = time.Now()
		}
		a.Twice.Since = newest.Add(-usual)
	}
	if !a.Twice.Since.IsZero() {
		asked.From = postgres.RunNumber(0, a.Twice.Since, 0)
	}
	if !a.Until.IsZero() {
		asked.To = postgres.RunNumber(0, a.Until, 0)
	}
	found, err := plant.Twice(ctx, asked)
	if err != nil {
		return nil, fmt.Errorf("compare units with themselves in the records of the plant: %w", err)
	}
	a.Twice.Looked, a.Twice.More = found.Looked, found.More
	return found.Otherwise, nil
}

// changed makes a conflict of each unit that reads like two, with the first two runs that do.
func (r reader) changed(list []pads.Otherwise) (all []Conflict, err error) {
	if len(list) == 0 {
		return nil, nil
	}
	var numbers []int64
	for _, c := range list {
		numbers = append(numbers, c.Before, c.Run)
	}
	runs, err := r.known(`WHERE run.seq = ANY(?::bigint[])`, numbers)
	if err != nil {
		return nil, err
	}
	of := map[int64]Known{}
	for _, k := range runs {
		of[k.Run] = k
	}
	reworked, err := r.times(`SELECT serial, at_us FROM rework WHERE serial = ANY(?1::text[])`, store.Each(runs, func(k Known) string { return k.Serial }))
	return OfPads(list, of, reworked), err
}

func (c Conflict) newest() time.Time {
	return slices.MaxFunc(c.Known, func(a, b Known) int { return a.Began.Compare(b.Began) }).Began
}

// reader reads at one state; since is a number of a run.
type reader struct {
	ctx   context.Context
	tx    *sql.Tx
	since int64
}

// knownColumns are read by scanKnown.
const knownColumns = `
	SELECT run.seq, run.id, run.serial, run.member, member.name, code, label, revision.hash, jig.serial, run.simulated,
	       CASE WHEN EXISTS (SELECT 1 FROM reference_check WHERE reference_check.run = run.seq) THEN 'reference' ELSE run.purpose END,
	       run.verdict, run.attempt, run.duration_us, coalesce((SELECT answer FROM asked WHERE asked.start = run.start), '')
	FROM run JOIN revision ON revision.revision = run.revision JOIN jig ON jig.jig = run.jig JOIN member ON member.member = run.member `

func scanKnown(rows *sql.Rows) (k Known, err error) {
	var id []byte
	var took int64
	err = rows.Scan(&k.Run, &id, &k.Serial, &k.Member, &k.Station, &k.Product, &k.Revision, &k.Hash, &k.Jig, &k.Simulated,
		&k.Purpose, &k.Outcome, &k.Attempt, &took, &k.Plant)
	if err == nil && len(id) == len(store.ID{}) {
		k.ID = store.ID(id).String()
	}
	k.Ended = postgres.RunTime(k.Run).UTC()
	k.Began = k.Ended.Add(-store.FromMicro(took))
	return k, err
}

// known reads runs.
func (r reader) known(where string, args ...any) ([]Known, error) {
	return store.Collect(r.ctx, r.tx, scanKnown, knownColumns+where, args...)
}

// together is how many units are looked at at a time.
const together = 500

// units looks at those with runs at two stations or as two products, which counting has noted.
func (r reader) units(serial string) (all []Conflict, err error) {
	type doubtful struct {
		serial      string
		first, last int64
	}
	list, err := store.Collect(r.ctx, r.tx, func(rows *sql.Rows) (d doubtful, err error) {
		return d, rows.Scan(&d.serial, &d.first, &d.last)
	}, `
		SELECT serial, min(first_run), max(last_run) FROM unit
		WHERE products + stations > 0 AND last_run >= ?1 AND (?2 = '' OR serial = ?2) GROUP BY serial ORDER BY max(last_run)`, r.since, serial)
	if err != nil {
		return nil, err
	}
	for some := range slices.Chunk(list, together) {
		first, last := some[0].first, some[0].last
		for _, d := range some {
			first, last = min(first, d.first), max(last, d.last)
		}
		serials := store.Each(some, func(d doubtful) string { return d.serial })
		runs, err := r.known(`WHERE run.serial = ANY(?1::text[]) AND run.seq BETWEEN ?2 AND ?3 ORDER BY run.seq`, serials, first, last)
		if err != nil {
			return nil, err
		}
		excused, err := r.excused(serials)
		if err != nil {
			return nil, err
		}
		of := map[string][]Known{}
		for _, k := range runs {
			of[k.Serial] = append(of[k.Serial], k)
		}
		for _, s := range serials {
			all = append(all, OfUnit(of[s], excused[s])...)
		}
	}
	return all, nil
}

// excused are the times of what lets a unit be tested once more.
func (r reader) excused(serials []string) (map[string][]time.Time, error) {
	return r.times(`
		SELECT serial, at_us FROM override WHERE serial = ANY(?1::text[])
		UNION ALL SELECT serial, at_us FROM rework WHERE serial = ANY(?1::text[])
		UNION ALL SELECT serial, at_us FROM return_case WHERE serial = ANY(?1::text[])`, serials)
}

// times are those of units that a question finds.
func (r reader) times(question string, serials []string) (map[string][]time.Time, error) {
	of := map[string][]time.Time{}
	err := store.Visit(r.ctx, r.tx, func(rows *sql.Rows) error {
		var serial string
		var at time.Time
		err := rows.Scan(&serial, store.Time(&at))
		of[serial] = append(of[serial], at)
		return err
	}, question, serials)
	return of, err
}

// jigs looks at those that two stations had in one hour or the one after it.
func (r reader) jigs() (all []Conflict, err error) {
	type doubtful struct{ serial, hour any }
	list, err := store.Collect(r.ctx, r.tx, func(rows *sql.Rows) (d doubtful, err error) { return d, rows.Scan(&d.serial, &d.hour) }, `
		WITH used AS (SELECT DISTINCT jig.serial, hour, member FROM cell JOIN jig USING (jig) WHERE runs > 0 AND last_run >= ?)
		SELECT DISTINCT a.serial, a.hour FROM used AS a JOIN used AS b
		ON a.serial = b.serial AND a.member <> b.member AND b.hour BETWEEN a.hour AND a.hour + 1 ORDER BY 1, 2`, r.since)
	if err != nil {
		return nil, err
	}
	of := map[string][]Known{}
	var order []string
	for _, d := range list {
		// A cell knows the first and the last of its runs, so that only their months are looked into.
		runs, err := r.known(`
			JOIN run_cell ON run_cell.run = run.seq JOIN cell ON cell.cell = run_cell.cell
			WHERE jig.serial = ?1 AND cell.hour BETWEEN ?2 AND ?2 + 1 AND run.seq >= ?3`, d.serial, d.hour, r.since)
		if err != nil {
			return nil, err
		}
		serial := d.serial.(string)
		if of[serial] == nil {
			order = append(order, serial)
		}
		of[serial] = append(of[serial], runs...)
	}
	for _, serial := range order {
		runs := of[serial]
		slices.SortFunc(runs, func(a, b Known) int { return cmp.Compare(a.Run, b.Run) })
		all = append(all, OfJig(slices.CompactFunc(runs, func(a, b Known) bool { return a.Run == b.Run }))...)
	}
	return all, nil
}

// runsTwice looks for ids that two stations brought.
func (r reader) runsTwice() (all []Conflict, err error) {
	ids, err := store.Collect(r.ctx, r.tx, func(rows *sql.Rows) (id []byte, err error) { return id, rows.Scan(&id) },
		`SELECT id FROM run WHERE seq >= ? GROUP BY id HAVING count(*) > 1`, r.since)
	if err != nil || len(ids) == 0 {
		return nil, err
	}
	runs, err := r.known(`WHERE run.id = ANY(?::bytea[]) ORDER BY run.id, run.seq`, ids)
	for some := range groups(runs, func(a, b Known) bool { return a.ID == b.ID }) {
		c := between(RunTwice, some...)
		c.Of = some[0].ID
		c.withRuns(some...)
		all = append(all, c)
	}
	return all, err
}

// labels looks for two revisions of a product that go by one label, by the first run of each.
func (r reader) labels() (all []Conflict, err error) {
	first, err := store.Collect(r.ctx, r.tx, store.ScanInt, `
		WITH used AS (
			SELECT code, label, hash, min(first_run) AS first FROM cell JOIN revision USING (revision)
			WHERE runs > 0 AND purpose <> ? GROUP BY code, label, hash
		), labelled AS (SELECT *, count(*) OVER (PARTITION BY code, label) AS hashes, max(first) OVER (PARTITION BY code, label) AS newest FROM used)
		SELECT first FROM labelled WHERE hashes > 1 AND newest >= ?`, string(sequence.Engineering), r.since)
	if err != nil || len(first) == 0 {
		return nil, err
	}
	runs, err := r.known(`WHERE run.seq = ANY(?::bigint[])`, first)
	slices.SortFunc(runs, func(a, b Known) int {
		return cmp.Or(strings.Compare(a.Product, b.Product), strings.Compare(a.Revision, b.Revision), cmp.Compare(a.Run, b.Run))
	})
	for some := range groups(runs, func(a, b Known) bool { return a.Product == b.Product && a.Revision == b.Revision }) {
		c := between(LabelTwice, some...)
		c.Of = some[0].Revision
		c.with(store.Each(some, func(k Known) string { return k.Hash })...)
		all = append(all, c)
	}
	return all, err
}

// lots looks for labels of membranes and boards that two stations gave to two products. Both are made for one product;
// domes and what wears off may serve several (common practice, no source).
func (r reader) lots() (all []Conflict, err error) {
	for _, material := range []string{"membrane", "board"} {
		type lot struct {
			label string
			Known
		}
		list, err := store.Collect(r.ctx, r.tx, func(rows *sql.Rows) (l lot, err error) {
			err = rows.Scan(&l.label, &l.Member, &l.Station, &l.Product, &l.Jig, &l.Simulated, store.Time(&l.Began))
			l.Ended = l.Began
			return l, err
		}, strings.ReplaceAll(`
			WITH used AS (SELECT DISTINCT ON (LOT, simulated, product, member) * FROM lot_change
			              WHERE LOT <> '' ORDER BY LOT, simulated, product, member, at_us),
			doubtful AS (SELECT LOT AS lot, simulated FROM used GROUP BY LOT, simulated
			             HAVING count(DISTINCT product) > 1 AND count(DISTINCT member) > 1 AND max(after_run) >= ?)
			SELECT LOT, used.member, member.name, product, jig, used.simulated, at_us
			FROM used JOIN doubtful ON LOT = lot AND doubtful.simulated = used.simulated JOIN member ON member.member = used.member
			ORDER BY LOT, used.simulated, at_us`, "LOT", material), r.since)
		if err != nil {
			return nil, err
		}
		for some := range groups(list, func(a, b lot) bool { return a.label == b.label && a.Simulated == b.Simulated }) {
			c := between(LotTwice, store.Each(some, func(l lot) Known { return l.Known })...)
			c.Of, c.Material = some[0].label, material
			c.with(store.Each(some, func(l lot) string { return l.Product + " at " + strconv.Itoa(l.Member) })...)
			all = append(all, c)
		}
	}
	return all, nil
}

// meanings looks for definitions that are not what their hash says, whenever they came: none is stored since the plant refuses
// them, and one that is there is of before, or was changed by who may do all.
func (r reader) meanings() ([]Conflict, error) {
	return store.Collect(r.ctx, r.tx, func(rows *sql.Rows) (c Conflict, err error) {
		var k Known
		err = rows.Scan(&k.Product, &k.Revision, &k.Hash, &k.Run, &k.Station)
		if k.Run > 0 {
			k.Began = postgres.RunTime(k.Run).UTC()
			k.Ended, k.Member = k.Began, postgres.MemberOf(k.Run)
		}
		return Conflict{Code: OtherMeaning, Of: k.Revision, Product: k.Product, Known: []Known{k}, Parts: []string{k.Hash}}, err
	}, `
		SELECT code, label, hash, coalesce(first, 0), coalesce(member.name, '')
		FROM (SELECT code, label, hash, (SELECT min(first_run) FROM cell WHERE cell.revision = revision.revision AND runs > 0) AS first
		      FROM revision WHERE hash <> encode(sha256(convert_to(definition, 'UTF8')), 'hex')) AS wrong
		LEFT JOIN member ON member.member = (first & 4095) ORDER BY code, label, hash`)
}

// groups are stretches of a list whose members are alike.
func groups[T any](list []T, alike func(a, b T) bool) func(func([]T) bool) {
	return func(take func([]T) bool) {
		for len(list) > 0 {
			n := 1
			for n < len(list) && alike(list[0], list[n]) {
				n++
			}
			if !take(list[:n]) {
				return
			}
			list = list[n:]
		}
	}
}
