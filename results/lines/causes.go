package lines

import (
	"cmp"
	"context"
	"database/sql"
	"slices"
	"strconv"
	"strings"

	"padjig/results/store"
)

// CauseDimension is what causes are told apart by.
type CauseDimension string

// The ways to tell causes apart.
const (
	CauseByFinding CauseDimension = "finding" // what was found
	CauseByPlace   CauseDimension = "place"   // what was found, and where
	CauseByKey     CauseDimension = "key"
	CauseByLine    CauseDimension = "line"
	CauseByChannel CauseDimension = "channel" // of the jig, which is the tail pin
)

// CauseBys lists the ways to tell causes apart.
var CauseDimensions = []CauseDimension{CauseByFinding, CauseByPlace, CauseByKey, CauseByLine, CauseByChannel}

// Cause is how often something came up, told apart as was asked.
type Cause struct {
	Name  string
	Worst int // units that failed first with this as the worst finding
	Units int // findings of this at first judged runs
	Runs  int // findings of this at all runs, retests among them
}

// Causes is the answer of [Records.Causes].
type Causes struct {
	Rows   []Cause // most units first
	Units  int     // judged for the first time among the runs chosen
	Failed int     // of them: the first judged run is a fail
	Mixed  Mixture
}

// Causes counts findings among the runs that a filter chooses. A finding about
// two lines counts for both; one about no key counts for no key.
func (s *Records) Causes(ctx context.Context, f Filter, by CauseDimension) (Causes, error) {
	var out Causes
	err := s.ask(ctx, "count causes", f, nil, func(tx *sql.Tx) error {
		faults, err := faultsOf(ctx, tx, f)
		if err != nil {
			return err
		}
		var total []Yield
		total, out.Mixed, err = yieldsAndMixture(ctx, tx, f, nil)
		for _, t := range total {
			out.Units, out.Failed = out.Units+t.Units, out.Failed+t.Units-t.FirstPassed
		}
		out.Rows = fold(faults, by)
		return err
	})
	return out, err
}

// faultCount is how often a finding came up at one place.
type faultCount struct {
	what, location, key, jig string
	lines                    []string
	pins                     []int
	Cause
}

func faultsOf(ctx context.Context, tx *sql.Tx, f Filter) ([]faultCount, error) {
	from, err := f.summed(ctx, tx, foundIn)
	if err != nil {
		return nil, err
	}
	return store.Collect(ctx, tx, scanFaultCount, `
		WITH chosen AS (
			SELECT fault, jig.serial AS jig, sum(found_worst) AS worst, sum(found_units) AS units, sum(found_runs) AS runs`+from.text+`
			GROUP BY fault, jig.serial)
		SELECT what, location, key, lines, pins, chosen.jig, worst, units, runs FROM chosen JOIN fault USING (fault)`, from.args...)
}

func scanFaultCount(rows *sql.Rows) (c faultCount, err error) {
	return c, rows.Scan(&c.what, &c.location, &c.key, store.JSON(&c.lines), store.JSON(&c.pins), &c.jig, &c.Worst, &c.Units, &c.Runs)
}

func (c faultCount) names(by CauseDimension) []string {
	switch by {
	case CauseByPlace:
		return []string{c.what + ": " + c.location}
	case CauseByKey:
		return filled([]string{c.key})
	case CauseByLine:
		return filled(c.lines)
	case CauseByChannel:
		return filled(store.Each(c.pins, func(pin int) string { return strconv.Itoa(pin) }))
	}
	return []string{c.what}
}

func fold(faults []faultCount, by CauseDimension) []Cause {
	rows := map[string]*Cause{}
	for _, fault := range faults {
		for _, name := range fault.names(by) {
			row := rows[name]
			if row == nil {
				row = &Cause{Name: name}
				rows[name] = row
			}
			row.Worst, row.Units, row.Runs = row.Worst+fault.Worst, row.Units+fault.Units, row.Runs+fault.Runs
		}
	}
	list := []Cause{}
	for _, row := range rows {
		list = append(list, *row)
	}
	slices.SortFunc(list, func(a, b Cause) int {
		return cmp.Or(b.Worst-a.Worst, b.Units-a.Units, b.Runs-a.Runs, strings.Compare(a.Name, b.Name))
	})
	return list
}

// PlaceOnJig is how often the same thing was found at the same place on one jig
// and on all others.
type PlaceOnJig struct {
	Name, Jig             string // what and where; serial number
	Hits, Units           int    // findings at first judged runs on the jig, and units judged on it
	OtherHits, OtherUnits int    // the same on all other jigs
}

// Places gives for each finding and place how often it came up on each jig, also where it did
// not, and elsewhere, most hits first.
func (s *Records) Places(ctx context.Context, f Filter) ([]PlaceOnJig, error) {
	var out []PlaceOnJig
	err := s.ask(ctx, "compare places on jigs", f, nil, func(tx *sql.Tx) error {
		faults, err := faultsOf(ctx, tx, f)
		if err != nil {
			return err
		}
		jigs, err := yieldRows(ctx, tx, f, []Dimension{ByJig})
		out = places(faults, jigs)
		return err
	})
	return out, err
}

func places(faults []faultCount, jigs []Yield) []PlaceOnJig {
	all := 0
	for _, jig := range jigs {
		all += jig.Units
	}
	type place struct{ name, jig string }
	hits, total := map[place]int{}, map[string]int{}
	for _, fault := range faults {
		name := fault.names(CauseByPlace)[0]
		hits[place{name, fault.jig}] += fault.Units
		total[name] += fault.Units
	}
	var out []PlaceOnJig
	for name, found := range total {
		for _, jig := range jigs {
			n, of := hits[place{name, jig.Groups[0]}], jig.Units
			out = append(out, PlaceOnJig{Name: name, Jig: jig.Groups[0], Hits: n, Units: of, OtherHits: found - n, OtherUnits: all - of})
		}
	}
	slices.SortFunc(out, func(a, b PlaceOnJig) int {
		return cmp.Or(b.Hits-a.Hits, strings.Compare(a.Name, b.Name), strings.Compare(a.Jig, b.Jig))
	})
	return out
}

// FindingCount is how many findings there were in one group.
type FindingCount struct {
	Group    string
	Units    int // judged for the first time
	Findings int // at their first judged runs
}

// Findings counts findings at first judged runs, told apart by one thing; an
// empty what takes all kinds of finding.
func (s *Records) Findings(ctx context.Context, f Filter, by Dimension, what string) ([]FindingCount, error) {
	var out []FindingCount
	err := s.ask(ctx, "count findings", f, []Dimension{by}, func(tx *sql.Tx) error {
		rows, err := yieldRows(ctx, tx, f, []Dimension{by})
		if err != nil {
			return err
		}
		from, err := f.summed(ctx, tx, foundIn, by)
		if err != nil {
			return err
		}
		counts, err := store.Collect(ctx, tx, func(rows *sql.Rows) (c FindingCount, err error) {
			return c, rows.Scan(&c.Group, &c.Findings)
		}, `SELECT `+byColumns[by]+`, sum(found_units)`+from.text+
			` AND (? = '' OR fault IN (SELECT fault FROM fault WHERE what = ?)) GROUP BY 1`, append(from.args, what, what)...)
		if err != nil {
			return err
		}
		found := map[string]int{}
		for _, c := range counts {
			if clockForms[by] != "" {
				if c.Group, _, err = by.clocked(c.Group, f.zone()); err != nil {
					return err
				}
			}
			found[c.Group] += c.Findings
		}
		for _, r := range rows {
			if r.Units > 0 {
				out = append(out, FindingCount{r.Groups[0], r.Units, found[r.Groups[0]]})
			}
		}
		return nil
	})
	return out, err
}
