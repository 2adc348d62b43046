package lines

import (
	"context"
	"database/sql"
	"slices"
	"time"

	"padjig/results/floor"
	"padjig/results/store"
)

// Event is something that may explain a change in a chart.
type Event struct {
	AfterRun int64 // it lies between this run and the next
	At       time.Time
	Jig      string // serial number; empty: it is not about one jig
	Kind     EventKind
	Text     string
	Args     []string `json:"-"` // of which the text is made, where pages say it in other words
}

// EventKind is what happened.
type EventKind string

// The kinds.
const (
	LotChanged     EventKind = "lot"
	ProductChanged EventKind = "product"
	Calibrated     EventKind = "calibration"
	PartReplaced   EventKind = "replaced"
	RevisionBegan  EventKind = "revision"
	Loosened       EventKind = "loosened"
	ShiftsChanged  EventKind = "shifts"
)

// Events gives what happened around the runs that a filter chooses, in the
// order of the runs: of some kinds, or of all where none is named.
func (s *Records) Events(ctx context.Context, f Filter, kinds ...EventKind) ([]Event, error) {
	var out []Event
	err := s.ask(ctx, "look up what happened", f, nil, func(tx *sql.Tx) error {
		rows, err := yieldRows(ctx, tx, f, nil)
		if err != nil || len(rows) == 0 {
			return err
		}
		span := happened{ctx, tx, f, rows[0].FirstRun, rows[0].LastRun}
		for _, one := range []struct {
			kind EventKind
			look func() ([]Event, error)
		}{{LotChanged, span.lots}, {ProductChanged, span.products}, {Calibrated, span.calibrations}, {PartReplaced, span.replaced},
			{RevisionBegan, span.revisions}, {Loosened, span.loosened}, {ShiftsChanged, span.shifts}} {
			if len(kinds) > 0 && !slices.Contains(kinds, one.kind) {
				continue
			}
			found, err := one.look()
			if err != nil {
				return err
			}
			out = append(out, found...)
		}
		return nil
	})
	if err != nil {
		return nil, err
	}
	out = slices.DeleteFunc(out, func(h Event) bool {
		return h.Jig != "" && len(f.Jigs) > 0 && !slices.Contains(f.Jigs, h.Jig)
	})
	slices.SortStableFunc(out, func(a, b Event) int { return int(a.AfterRun - b.AfterRun) })
	return out, nil
}

// happened looks between two runs.
type happened struct {
	ctx         context.Context
	tx          *sql.Tx
	f           Filter
	first, last int64
}

func (h happened) lots() ([]Event, error) {
	of, names := h.f.ofStations("lot_change")
	changes, err := store.Collect(h.ctx, h.tx, floor.ScanLots, floor.LotColumns+`
		WHERE simulated = ? AND (? = '' OR product = ?) AND after_run <= ?`+of+` ORDER BY after_run, seq`,
		append([]any{h.f.Simulated, h.f.Product, h.f.Product, h.last}, names...)...)
	if err != nil {
		return nil, err
	}
	var out []Event
	before := map[[2]string]floor.Lots{}
	for _, c := range changes {
		at := [2]string{c.Jig, c.Product}
		if text := c.Lots.Since(before[at]); text != "" && c.AfterRun >= h.first {
			e := Event{AfterRun: c.AfterRun, At: c.At, Jig: c.Jig, Kind: LotChanged, Text: text}
			for _, material := range floor.Materials {
				if c.Lots[material] != before[at][material] {
					e.Args = append(e.Args, material, c.Lots[material])
				}
			}
			out = append(out, e)
		}
		before[at] = c.Lots
	}
	return out, nil
}

// products are the changes from one product to another on a jig, whichever of the two is asked for.
func (h happened) products() ([]Event, error) {
	of, names := h.f.ofStations("product_change")
	return store.Collect(h.ctx, h.tx, func(rows *sql.Rows) (e Event, err error) {
		e.Kind = ProductChanged
		return e, rows.Scan(&e.AfterRun, store.Time(&e.At), &e.Jig, &e.Text)
	}, `SELECT after_run, at_us, jig, before || ' > ' || product FROM product_change
	    WHERE simulated = ? AND ? IN ('', before, product) AND after_run BETWEEN ? AND ?`+of+` ORDER BY after_run, seq`,
		append([]any{h.f.Simulated, h.f.Product, h.first, h.last}, names...)...)
}

func (h happened) calibrations() ([]Event, error) {
	return h.find(Calibrated, "calibration", `
		SELECT after_run, saved_us, jig.serial, kind || CASE good WHEN 1 THEN ', good' ELSE ', NOT GOOD' END, kind, CASE good WHEN 1 THEN 'good' ELSE 'bad' END
		FROM calibration JOIN jig USING (jig) WHERE simulated = ? AND after_run BETWEEN ? AND ?`, ` ORDER BY after_run, seq`, h.f.Simulated)
}

func (h happened) replaced() ([]Event, error) {
	return h.find(PartReplaced, "worn", `
		SELECT after_run, at_us, jig, part || CASE said WHEN '' THEN '' ELSE ': ' || said END, NULL, NULL
		FROM (SELECT *, concat_ws(', ', nullif(name, ''), 'lot ' || nullif(lot, ''), nullif(note, '')) AS said FROM wear_event) AS worn
		WHERE kind = 'replaced' AND coalesce(simulated, ?1) = ?1 AND jig IN
		    (SELECT serial FROM jig WHERE jig IN (SELECT jig FROM cell WHERE simulated = ?1))
		  AND after_run BETWEEN ?2 AND ?3`, ` ORDER BY after_run, seq`, h.f.Simulated)
}

// revisions began where the first run of them was, which may have several definitions.
func (h happened) revisions() ([]Event, error) {
	of, names := h.f.ofStations("cell")
	return h.find(RevisionBegan, "", `
		SELECT first - 1, started_us, '', code || ' revision ' || label, code, label
		FROM (SELECT code, label, min(first) AS first
		      FROM (SELECT cell.revision, min(first_run) AS first FROM cell WHERE cell.simulated = ?`+of+` AND runs > 0 GROUP BY cell.revision) AS each
		      JOIN revision USING (revision)
		      GROUP BY code, label) AS began JOIN run ON seq = first
		WHERE first BETWEEN ? AND ?`, ` ORDER BY first`, append([]any{h.f.Simulated}, names...)...)
}

// loosened are the releases that let more through than what was in force before.
func (h happened) loosened() ([]Event, error) {
	of, names := h.f.ofStations("release")
	return store.Collect(h.ctx, h.tx, func(rows *sql.Rows) (e Event, err error) {
		e.Kind = Loosened
		e.Args = make([]string, 3)
		return e, rows.Scan(&e.AfterRun, store.Time(&e.At), &e.Text, &e.Args[0], &e.Args[1], &e.Args[2])
	}, `SELECT release.after_run, release.at_us, release.code || ' revision ' || release.label || ', from unit ' || coalesce(asked.from_serial, release.from_serial),
	      release.code, release.label, coalesce(asked.from_serial, release.from_serial)
	    FROM release LEFT JOIN release_proposal AS asked ON asked.seq = release.proposal
	    WHERE (loosens = 1 OR release.approved <> '') AND (? = '' OR release.code = ?) AND release.after_run BETWEEN ? AND ?`+of+` ORDER BY release.after_run, release.seq`,
		append([]any{h.f.Product, h.f.Product, h.first, h.last}, names...)...)
}

func (h happened) shifts() ([]Event, error) {
	return h.find(ShiftsChanged, "shift", `
		SELECT min(after_run), min(at_us), '', string_agg(name, ', ' ORDER BY shift), NULL, NULL FROM shift
		WHERE ? IN (0, 1) AND after_run BETWEEN ? AND ?`, ` GROUP BY plan ORDER BY min(after_run), plan`, h.f.Simulated)
}

// find asks for events; where a table is named, for those of the stations that a filter chooses.
func (h happened) find(kind EventKind, table, query, order string, before ...any) ([]Event, error) {
	args := append(before, h.first, h.last)
	if table != "" {
		of, names := h.f.ofStations(table)
		query, args = query+of, append(args, names...)
	}
	return store.Collect(h.ctx, h.tx, func(rows *sql.Rows) (e Event, err error) {
		var one, other *string
		e.Kind = kind
		if err = rows.Scan(&e.AfterRun, store.Time(&e.At), &e.Jig, &e.Text, &one, &other); one != nil && other != nil {
			e.Args = []string{*one, *other}
		}
		return e, err
	}, query+order, args...)
}
