package count_test

import (
	"context"
	"database/sql"
	"errors"
	"flag"
	"fmt"
	"math/rand/v2"
	"slices"
	"sync"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/floor"
	"padjig/results/lines"
	"padjig/results/plant/count"
	"padjig/results/plant/forward"
	"padjig/sequence"
)

// spanSeeds are how many plants TestSpansSayWhatHoursSay goes through.
var spanSeeds = flag.Int("spanseeds", 1, "go through so many plants of spans")

// summed makes the spans of the plant that are missing.
func (p *plant) summed(t *testing.T) (made int) {
	t.Helper()
	for {
		more, err := count.Spans(t.Context(), p.db)
		require.NoError(t, err)
		if !more {
			return made
		}
		made++
	}
}

// brought brings what a station has to the plant.
func (p *plant) brought(t *testing.T, station int) {
	t.Helper()
	for more := true; more; {
		m, err := p.senders[station].Batch(t.Context(), forward.UsualSize)
		require.NoError(t, err)
		more = m.More
	}
}

// answersOf asks everything that sums answer.
func answersOf(ctx context.Context, s *results.Store, f lines.Filter) map[string]string {
	all := map[string]string{}
	say := func(name string, answer any, err error) { all[name] = fmt.Sprintf("%+v %v", answer, err) }
	for _, by := range lines.Dimensions {
		if by == lines.ByStation && !s.OfMany() {
			continue
		}
		y, err := s.Lines.Yields(ctx, f, by)
		say("yields by "+string(by), y, err)
		y, err = s.Lines.Yields(ctx, f, by, lines.ByDay)
		say("yields of days by "+string(by), y, err)
		found, err := s.Lines.Findings(ctx, f, by, "")
		say("findings by "+string(by), found, err)
		one, err := s.Lines.Findings(ctx, f, by, "key open")
		say("one finding by "+string(by), one, err)
		if by != lines.ByDay && by != lines.ByHour { // which would be hours without a name
			sums, limits, err := s.Lines.GroupHistograms(ctx, f, by, "1")
			text := fmt.Sprint(limits)
			for _, group := range slices.Sorted(func(yield func(string) bool) {
				for name := range sums {
					if !yield(name) {
						return
					}
				}
			}) {
				text += fmt.Sprintf(" %s %+v", group, *sums[group])
			}
			say("readings by "+string(by), text, err)
		}
	}
	for _, by := range lines.CauseDimensions {
		c, err := s.Lines.Causes(ctx, f, by)
		say("causes by "+string(by), c, err)
	}
	y, err := s.Lines.Yields(ctx, f)
	say("yields", y, err)
	places, err := s.Lines.Places(ctx, f)
	say("places", places, err)
	sums, err := s.Lines.KeyHistograms(ctx, f)
	say("readings", sums, err)
	tested, err := s.Lines.Tested(ctx, f)
	say("tested", tested, err)
	last, err := s.Lines.LastTested(ctx, f)
	say("last tested", last, err)
	facets, err := s.Lines.Facets(ctx, f.Product, f.Simulated)
	say("facets", facets, err)
	hashes, err := s.Lines.Hashes(ctx, f)
	say("hashes", hashes, err)
	return all
}

// without runs something while a store has no span, and puts them back.
func without(t *testing.T, db *sql.DB, do func()) (spans int) {
	t.Helper()
	exec := func(query string) {
		t.Helper()
		_, err := db.ExecContext(t.Context(), query)
		require.NoError(t, err)
	}
	require.NoError(t, db.QueryRowContext(t.Context(), `SELECT count(*) FROM span`).Scan(&spans))
	exec(`CREATE TABLE set_aside AS SELECT * FROM span`)
	exec(`DELETE FROM span`)
	do()
	exec(`INSERT INTO span SELECT * FROM set_aside`)
	exec(`DROP TABLE set_aside`)
	return spans
}

// Every question is answered alike with days and months summed up and without, on both stores: over ranges that begin and
// end anywhere, in zones of other days, while units are tested again long after and rows come in any order.
func TestSpansSayWhatHoursSay(t *testing.T) {
	for seed := range *spanSeeds {
		t.Run(fmt.Sprint("seed ", seed), func(t *testing.T) { saySame(t, rand.New(rand.NewPCG(uint64(seed), 17))) })
	}
}

func saySame(t *testing.T, rng *rand.Rand) {
	p := newPlant(t, 2)
	p.at = time.Date(2026, 3, 20, 5, 0, 0, 0, time.UTC) // clocks change within
	begin := p.at
	file, err := sql.Open("sqlite3", "file:"+p.union.Path()+"?mode=rw")
	require.NoError(t, err)
	defer file.Close()
	compared := [2]int{}
	for round := range 6 {
		var events []event
		for range 14 {
			e := anyEvent(2, 5, true).Example(rng.IntN(1 << 30))
			e.hours = []int{0, 0, 1, 7, 26, 90, 300}[rng.IntN(7)]
			if rng.IntN(3) > 0 { // else the products are mixed
				e.revision, e.purpose, e.checked = anyEvent(2, 5, true).Example(1).revision, "", false
			}
			events = append(events, e)
		}
		p.made = 0 // the units of before come again
		_, err := p.happen(t.Context(), events)
		require.NoError(t, err)
		if round == 3 { // days begin otherwise from here on
			plan := floor.ShiftPlan{Zone: "Asia/Kolkata", By: "Ines", Reason: "moved", Shifts: []floor.Shift{{Name: "day", Begins: 360, Ends: 1200}}}
			for _, s := range []*results.Store{p.union, p.stations[0]} {
				require.NoError(t, load(t.Context(), s, []results.Entry{{At: p.at, Shifts: &plan}}))
			}
		}
		for _, station := range rng.Perm(2)[:1+rng.IntN(2)] {
			p.brought(t, station)
			if rng.IntN(2) == 0 {
				p.summed(t)
			}
		}
		p.summed(t)
		p.brought(t, rng.IntN(2)) // late, of days that are summed up
		p.sound(t)
		wrong, err := p.union.Check(t.Context())
		require.NoError(t, err)
		require.Empty(t, wrong)
		for i, store := range []*results.Store{p.union, results.Over(p.db, "plant")} {
			db := []*sql.DB{file, p.db}[i]
			var filters []lines.Filter
			for _, zone := range []string{"Europe/Vienna", "UTC", "Asia/Kolkata", "America/St_Johns"} {
				f := lines.Filter{Simulated: true}
				if f.Zone, err = time.LoadLocation(zone); err != nil {
					require.NoError(t, err)
				}
				if span := p.at.Sub(begin); rng.IntN(4) > 0 {
					f.From = begin.Add(time.Duration(rng.Int64N(int64(span))))
					f.To = f.From.Add(time.Duration(rng.Int64N(int64(span))) + 1)
				}
				if rng.IntN(2) == 0 {
					f.Product = "GH-20"
				}
				if rng.IntN(3) == 0 {
					f.Jigs = []string{"J-0-0", "J-1-1"}
				}
				if rng.IntN(3) == 0 {
					f.Shifts = []string{"early", "day"}
				}
				filters = append(filters, f)
			}
			with := make([]map[string]string, len(filters))
			for n, f := range filters {
				with[n] = answersOf(t.Context(), store, f)
			}
			compared[i] += without(t, db, func() {
				for n, f := range filters {
					assert.Equal(t, answersOf(t.Context(), store, f), with[n], "%s", f)
				}
			})
		}
	}
	assert.Positive(t, compared[0], "spans of a station")
	assert.Positive(t, compared[1], "spans of a plant")
}

// Two stations bring runs of days that others sum up at the same moment. Nobody waits for ever, and what is summed up
// in the end is what the hours say.
func TestSpansWhileRunsCome(t *testing.T) {
	p := newPlant(t, 2)
	rng := rand.New(rand.NewPCG(5, 17))
	var events []event
	for range 120 {
		e := anyEvent(2, 12, true).Example(rng.IntN(1 << 30))
		e.hours = []int{0, 3, 9}[rng.IntN(3)]
		events = append(events, e)
	}
	_, err := p.happen(t.Context(), events)
	require.NoError(t, err)
	var stations, all sync.WaitGroup
	failed := make([]error, 4)
	for n, f := range p.senders {
		stations.Go(func() {
			for more := true; more && failed[n] == nil; {
				m, err := f.Batch(t.Context(), 50)
				more, failed[n] = m.More, err
			}
		})
	}
	over := make(chan struct{})
	for n := range 2 {
		all.Go(func() {
			for failed[2+n] == nil {
				select {
				case <-over:
					return
				default:
					_, failed[2+n] = count.Spans(t.Context(), p.db)
				}
			}
		})
	}
	stations.Wait()
	close(over)
	all.Wait()
	require.NoError(t, errors.Join(failed...))
	p.sound(t)
	p.summed(t)
	p.sound(t)
}

// What changes in a day that is summed up takes it out, or brings it along where only the end of a unit did, and what is
// rolled back has done neither.
func TestSpansGoWithWhatTheySumUp(t *testing.T) {
	p := newPlant(t, 1)
	history, err := p.happen(t.Context(), []event{
		{unit: "a", outcome: sequence.Fail, attempt: 1, ohm: 1, revision: anyEvent(1, 1, true).Example(0).revision},
		{unit: "b", outcome: sequence.Pass, attempt: 1, ohm: 2, revision: anyEvent(1, 1, true).Example(0).revision},
		{unit: "c", outcome: sequence.Pass, attempt: 1, ohm: 2, hours: 30, revision: anyEvent(1, 1, true).Example(0).revision},
	})
	require.NoError(t, err)
	p.brought(t, 0)
	assert.Equal(t, 3, p.summed(t), "two days and the month")
	spans := func() (all int) {
		require.NoError(t, p.db.QueryRowContext(t.Context(), `SELECT count(*) FROM span`).Scan(&all))
		return all
	}
	lastPassed := func() (n int) {
		require.NoError(t, p.db.QueryRowContext(t.Context(), `SELECT sum(last_passed) FROM span JOIN span_cell USING (span) WHERE level = 2 AND detail = 0`).Scan(&n))
		return n
	}
	require.Equal(t, 6, spans())
	require.Equal(t, 2, lastPassed())
	for name, script := range map[string]string{
		"counts": `UPDATE cell SET runs = runs + 1`, "nothing": `UPDATE cell SET runs = runs`, "hour": `UPDATE cell SET hour = hour - 700`,
		"readings": `UPDATE cell_reading SET packed = packed`, "no readings": `DELETE FROM cell_reading`, "findings": `UPDATE cell_finding SET runs = 7`,
		"no findings": `DELETE FROM cell_finding`, "cells": `DELETE FROM cell_reading; DELETE FROM cell_finding; DELETE FROM cell`,
	} {
		tx, err := p.db.BeginTx(t.Context(), nil)
		require.NoError(t, err)
		for _, statement := range []string{script} {
			_, err = tx.ExecContext(t.Context(), statement)
			require.NoError(t, err, name)
		}
		var left int
		require.NoError(t, tx.QueryRowContext(t.Context(), `SELECT count(*) FROM span WHERE level = 2`).Scan(&left))
		assert.Zero(t, left, name)
		require.NoError(t, tx.Rollback())
		assert.Equal(t, 6, spans(), name)
	}
	p.made--
	_, err = p.happen(t.Context(), []event{{unit: "a", outcome: sequence.Pass, attempt: 2, hours: 900, revision: anyEvent(1, 1, true).Example(0).revision}})
	require.NoError(t, err)
	p.brought(t, 0)
	assert.Equal(t, 6, spans(), "the unit was tested again, weeks later")
	assert.Equal(t, 3, lastPassed())
	p.sound(t)
	assert.NotEmpty(t, history)

	for want, script := range map[string]string{
		`the counts of span \d+ are not those of its cells`:   `UPDATE span_cell SET cures = cures + 1`,
		`the findings of span \d+ are not those of its cells`: `DELETE FROM span_finding`,
		`the readings of span \d+ are not those of its cells`: `DELETE FROM span_reading`,
	} {
		tx, err := p.db.BeginTx(t.Context(), nil)
		require.NoError(t, err)
		_, err = tx.ExecContext(t.Context(), script)
		require.NoError(t, err)
		found, err := count.Check(t.Context(), inside{tx}, func(float64) {})
		require.NoError(t, err)
		assert.Regexp(t, want, found)
		require.NoError(t, tx.Rollback())
	}
}
