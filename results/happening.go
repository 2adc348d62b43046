package results

import (
	"context"
	"database/sql"
	"fmt"
	"slices"
	"strings"
	"time"
)

// Happening is something that may explain a change in a chart.
type Happening struct {
	AfterRun int64 // it lies between this run and the next
	At       time.Time
	Jig      string // serial number; empty: it is not about one jig
	Kind     string // "lot", "calibration", "replaced", "revision" or "shifts"
	Text     string
}

// Happenings gives what happened around the runs that a filter chooses, in the
// order of the runs.
func (s *Store) Happenings(ctx context.Context, f Filter) ([]Happening, error) {
	var out []Happening
	err := s.view(ctx, func(tx *sql.Tx) error {
		rows, err := yieldRows(ctx, tx, f, nil)
		if err != nil || len(rows) == 0 {
			return err
		}
		span := happened{ctx, tx, f, rows[0].FirstRun, rows[0].LastRun}
		for _, look := range []func() ([]Happening, error){span.lots, span.calibrations, span.replaced, span.revisions, span.shifts} {
			found, err := look()
			if err != nil {
				return err
			}
			out = append(out, found...)
		}
		return nil
	})
	if err != nil {
		return nil, fmt.Errorf("look up what happened in %s: %w", s.path, err)
	}
	out = slices.DeleteFunc(out, func(h Happening) bool {
		return h.Jig != "" && len(f.Jigs) > 0 && !slices.Contains(f.Jigs, h.Jig)
	})
	slices.SortStableFunc(out, func(a, b Happening) int { return int(a.AfterRun - b.AfterRun) })
	return out, nil
}

// happened looks between two runs.
type happened struct {
	ctx         context.Context
	tx          *sql.Tx
	f           Filter
	first, last int64
}

func (h happened) lots() ([]Happening, error) {
	changes, err := collect(h.ctx, h.tx, scanLots, lotColumns+`
		WHERE simulated = ? AND (? = '' OR product = ?) AND after_run <= ? ORDER BY seq`,
		h.f.Simulated, h.f.Product, h.f.Product, h.last)
	if err != nil {
		return nil, err
	}
	var out []Happening
	before := map[[2]string]Lots{}
	for _, c := range changes {
		at := [2]string{c.Jig, c.Product}
		if text := c.Lots.since(before[at]); text != "" && c.AfterRun >= h.first {
			out = append(out, Happening{AfterRun: c.AfterRun, At: c.At, Jig: c.Jig, Kind: "lot", Text: text})
		}
		before[at] = c.Lots
	}
	return out, nil
}

// since says which lots are new against those of before.
func (l Lots) since(before Lots) string {
	var parts []string
	for _, material := range Materials {
		if l[material] != before[material] {
			parts = append(parts, material+" "+l[material])
		}
	}
	return strings.Join(parts, ", ")
}

func (h happened) calibrations() ([]Happening, error) {
	return h.find("calibration", `
		SELECT after_run, saved_us, jig.serial, kind || CASE good WHEN 1 THEN ', good' ELSE ', NOT GOOD' END
		FROM calibration JOIN jig USING (jig) WHERE simulated = ? AND after_run BETWEEN ? AND ? ORDER BY seq`, h.f.Simulated)
}

func (h happened) replaced() ([]Happening, error) {
	return h.find("replaced", `
		SELECT after_run, at_us, jig, part || CASE note WHEN '' THEN '' ELSE ': ' || note END
		FROM wear_event WHERE kind = 'replaced' AND jig IN
		    (SELECT serial FROM jig WHERE jig IN (SELECT jig FROM cell WHERE simulated = ?))
		  AND after_run BETWEEN ? AND ? ORDER BY seq`, h.f.Simulated)
}

func (h happened) revisions() ([]Happening, error) {
	return h.find("revision", `
		SELECT first - 1, started_us, '', code || ' revision ' || label
		FROM (SELECT code, label, min(first_run) AS first FROM cell JOIN revision USING (revision)
		      WHERE cell.simulated = ? AND runs > 0 GROUP BY code, label) JOIN run ON seq = first
		WHERE first BETWEEN ? AND ?`, h.f.Simulated)
}

func (h happened) shifts() ([]Happening, error) {
	return h.find("shifts", `
		SELECT after_run, at_us, '', group_concat(name, ', ') FROM shift
		WHERE ? IN (0, 1) AND after_run BETWEEN ? AND ? GROUP BY plan`, h.f.Simulated)
}

func (h happened) find(kind, query string, first any) ([]Happening, error) {
	return collect(h.ctx, h.tx, func(rows *sql.Rows) (e Happening, err error) {
		var at int64
		err = rows.Scan(&e.AfterRun, &at, &e.Jig, &e.Text)
		e.Kind, e.At = kind, time.UnixMicro(at).UTC()
		return e, err
	}, query, first, h.first, h.last)
}
