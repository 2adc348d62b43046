package results

import (
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/care"
	"padjig/results/floor"
	"padjig/results/lines"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
)

// A lot counts from the run after the changeover on; other materials stay, and
// other jigs and products keep theirs.
func TestRunsHaveTheLotsOfTheirNumber(t *testing.T) {
	s := openTemp(t)
	save := func(serial string) {
		t.Helper()
		_, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed(serial))
		require.NoError(t, err)
	}
	change := func(jig, product string, lots floor.Lots) {
		t.Helper()
		require.NoError(t, s.Floor.SaveLots(t.Context(), floor.LotChange{Jig: jig, Product: product, Lots: lots, By: "Ines"}))
	}
	save("24-000001")
	change("J-0007", "GH-20", floor.Lots{"membrane": "M-1", "board": "B-1"})
	change("J-0008", "GH-20", floor.Lots{"membrane": "M-9"})
	change("J-0007", "OTHER", floor.Lots{"membrane": "M-8"})
	save("24-000002")
	require.NoError(t, s.Floor.SaveLots(t.Context(), floor.LotChange{
		Jig: "J-0007", Product: "GH-20", Simulated: true, Lots: floor.Lots{"membrane": "M-7"}, By: "Ines"}))
	change("J-0007", "GH-20", floor.Lots{"membrane": "M-2"})
	save("24-000003")
	save("24-000004")
	y, err := s.Lines.Yields(t.Context(), lines.Filter{}, lines.ByMembrane, lines.ByBoard)
	require.NoError(t, err)
	got := map[string]int{}
	for _, r := range y.Rows {
		got[fmt.Sprint(r.Groups)] = r.Units
	}
	assert.Equal(t, map[string]int{"[ ]": 1, "[M-1 B-1]": 1, "[M-2 B-1]": 2}, got)
	view, err := store.Collect(t.Context(), raw(s), store.ScanText, `
		SELECT concat_ws(' ', seq, serial, product, jig, material, lot, lot_change) FROM run_lots ORDER BY seq, material`)
	require.NoError(t, err)
	assert.Equal(t, []string{
		"2 24-000002 GH-20 J-0007 board B-1 1", "2 24-000002 GH-20 J-0007 membrane M-1 1",
		"3 24-000003 GH-20 J-0007 board B-1 5", "3 24-000003 GH-20 J-0007 membrane M-2 5",
		"4 24-000004 GH-20 J-0007 board B-1 5", "4 24-000004 GH-20 J-0007 membrane M-2 5"}, view)
	last, err := s.Floor.LotsOf(t.Context(), "J-0007", "GH-20", false)
	require.NoError(t, err)
	assert.Equal(t, floor.Lots{"membrane": "M-2", "board": "B-1"}, last.Lots)
	err = s.Floor.SaveLots(t.Context(), floor.LotChange{Jig: "J-0007", Lots: floor.Lots{"glue": ""}})
	for _, want := range []string{"the product is not named", "whoever scanned it is not named", `"glue" is no material`, "the lot of glue is empty"} {
		assert.ErrorContains(t, err, want)
	}
}

var threeShifts = floor.ShiftPlan{Zone: "Europe/Vienna", By: "Ines", Shifts: []floor.Shift{
	{Name: "early", Begins: 6 * 60, Ends: 14 * 60}, {Name: "late", Begins: 14 * 60, Ends: 22 * 60}, {Name: "night", Begins: 22 * 60, Ends: 6 * 60}}}

// The run of the samples starts at 07:15 UTC, which is 08:15 in Vienna. Runs of
// before a plan keep what held for them.
func TestRunsKeepTheShiftOfTheirTime(t *testing.T) {
	s := openTemp(t)
	for i, plan := range []*floor.ShiftPlan{nil, &threeShifts, {Zone: "Asia/Kolkata", By: "Ines", Shifts: []floor.Shift{{Name: "day", Begins: 8 * 60, Ends: 13 * 60}}}} {
		if plan != nil {
			require.NoError(t, s.Floor.SaveShifts(t.Context(), *plan))
		}
		_, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed(fmt.Sprintf("24-%06d", i)))
		require.NoError(t, err)
	}
	y, err := s.Lines.Yields(t.Context(), lines.Filter{}, lines.ByShift)
	require.NoError(t, err)
	require.Len(t, y.Rows, 3)
	for i, want := range []string{"", "day", "early"} {
		assert.Equal(t, want, y.Rows[i].Groups[0])
		assert.Equal(t, 1, y.Rows[i].Units)
	}
}

// Clocks went forward in Vienna on 2026-03-29: that night's shift is an hour short.
func TestShiftOverAChangeOfClocks(t *testing.T) {
	for day, want := range map[string]time.Duration{"2026-03-27": 8 * time.Hour, "2026-03-28": 7 * time.Hour, "2026-10-24": 9 * time.Hour} {
		from, to, ok, err := threeShifts.When("night", day)
		require.NoError(t, err)
		require.True(t, ok)
		assert.Equal(t, want, to.Sub(from), day)
	}
	_, _, ok, err := threeShifts.When("noon", "2026-03-27")
	require.NoError(t, err)
	assert.False(t, ok)
	_, _, _, err = threeShifts.When("night", "soon")
	assert.ErrorContains(t, err, `"soon" is no day`)
}

func TestShiftPlansThatCannotBe(t *testing.T) {
	wrong := floor.ShiftPlan{Zone: "Nowhere", Shifts: []floor.Shift{{Name: "a", Begins: 360, Ends: 840}, {Name: "a", Begins: 800, Ends: 900}}}.Mistakes()
	assert.Equal(t, []string{`time zone "Nowhere" is not known: write one such as Europe/Vienna`, "nobody is named who set the shifts",
		`two shifts are called "a"`, `shifts "a 06:00-14:00" and "a 13:20-15:00" overlap`}, wrong)
	assert.Empty(t, threeShifts.Mistakes())
	for _, s := range threeShifts.Shifts {
		back, err := floor.ParseShift(s.String())
		require.NoError(t, err)
		assert.Equal(t, s, back)
	}
}

// A shift is on its days, a night shift on that on which it begins, and where clocks change
// each minute lies in just one shift, the one whose times hold it.
func TestShiftsOfTheWeek(t *testing.T) {
	s := openTemp(t)
	var shifts []floor.Shift
	for _, text := range []string{"early 06:00-14:00 mon-fri", "late 14:00-22:00 mon-fri", "night 22:00-02:30 sun-thu", "dawn 02:30-06:00 mon-fri", "week end 08:00-16:00 sat,sun"} {
		one, err := floor.ParseShift(text)
		require.NoError(t, err)
		back, err := floor.ParseShift(one.String())
		require.NoError(t, err)
		assert.Equal(t, one, back, text)
		shifts = append(shifts, one)
	}
	assert.Equal(t, "night 22:00-02:30 mon-thu,sun", shifts[2].String())
	_, err := floor.ParseShift("early 06:00-14:00 often")
	require.ErrorContains(t, err, `"often" are no days such as mon-fri or sat,sun`)
	_, err = floor.ParseShift("early 6-14")
	require.ErrorContains(t, err, `"6" is no time of day such as 06:00`)
	_, err = floor.ParseShift("early")
	require.ErrorContains(t, err, "write its name and its hours")
	plan := floor.ShiftPlan{Zone: "Europe/Vienna", By: "Ines", Reason: "five days", Shifts: shifts}
	require.NoError(t, s.Floor.SaveShifts(t.Context(), plan))
	kept, err := s.Floor.Shifts(t.Context())
	require.NoError(t, err)
	assert.Equal(t, shifts, kept.Shifts)
	zone, err := time.LoadLocation(plan.Zone)
	require.NoError(t, err)
	_, _, on, err := kept.When("early", "2026-03-28")
	require.NoError(t, err)
	assert.False(t, on, "a Saturday")
	for _, start := range []time.Time{time.Date(2026, 3, 28, 0, 0, 0, 0, zone), time.Date(2026, 10, 24, 0, 0, 0, 0, zone)} {
		for minute := range 3 * 24 * 60 { // over the Sunday on which clocks change
			at, found := start.Add(time.Duration(minute)*time.Minute), 0
			for _, shift := range kept.Shifts {
				day, in := shift.Began(at.In(zone))
				if !in {
					continue
				}
				found++
				from, to, on, err := kept.When(shift.Name, day.Format("2006-01-02"))
				require.NoError(t, err)
				require.True(t, on && !at.Before(from) && at.Before(to), "%v is in %s", at, shift)
			}
			require.LessOrEqual(t, found, 1, "%v", at)
			if day := at.In(zone).Weekday(); day == time.Monday {
				require.Equal(t, 1, found, "%v", at)
			}
		}
	}
	bad := floor.ShiftPlan{Zone: "Europe/Vienna", By: "Ines", Shifts: []floor.Shift{{Name: "night", Begins: 22 * 60, Ends: 7 * 60, Days: floor.OnDays(6)}, {Name: "early", Begins: 6 * 60, Ends: 14 * 60, Days: floor.OnDays(0)}}}
	assert.Equal(t, []string{`shifts "night 22:00-07:00 sun" and "early 06:00-14:00 mon" overlap`}, bad.Mistakes(), "over midnight from Sunday to Monday")
	bad.Shifts[0].Days = floor.OnDays(0)
	assert.Empty(t, bad.Mistakes())
}

// Lots that somebody else changed meanwhile are not written over unseen.
func TestLotsChangedMeanwhile(t *testing.T) {
	s := openTemp(t)
	none, one := int64(0), int64(1)
	change := floor.LotChange{Jig: "J-0007", Product: "GH-20", Lots: floor.Lots{"dome": "D-1"}, By: "Ines", Onto: &none}
	require.NoError(t, s.Floor.SaveLots(t.Context(), change))
	require.ErrorIs(t, s.Floor.SaveLots(t.Context(), change), floor.ErrLotsChanged)
	change.Onto, change.Lots = &one, floor.Lots{"dome": "D-2"}
	require.NoError(t, s.Floor.SaveLots(t.Context(), change))
	list, err := s.Floor.LotHistory(t.Context(), "J-0007", "GH-20", false, 10)
	require.NoError(t, err)
	require.Len(t, list, 2)
	assert.Equal(t, "D-2", list[0].Lots["dome"])
}

// A unit stays open until it passes; a pass that is followed by a fail opens it again.
func TestOpenUnits(t *testing.T) {
	s := openTemp(t)
	for _, run := range []sequence.Run{runstest.Failed("24-000001"), runstest.Failed("24-000002"), runstest.Passed("24-000003"), runstest.Passed("24-000002"), runstest.Failed("24-000003")} {
		_, err := s.Runs.Save(t.Context(), runstest.Climate(), run)
		require.NoError(t, err)
	}
	open, err := s.Lines.OpenUnits(t.Context(), lines.Filter{})
	require.NoError(t, err)
	require.Len(t, open, 2, "24-000003 passed at its first run, and failed since")
	for i, serial := range []string{"24-000001", "24-000003"} {
		assert.Equal(t, serial, open[i].Serial)
		assert.Equal(t, "key open: key 1 (R1-C1)", open[i].Cause)
		assert.Equal(t, i+1, open[i].Runs)
	}
	y, err := s.Lines.Yields(t.Context(), lines.Filter{})
	require.NoError(t, err)
	assert.Equal(t, lines.Counts{Units: 3, FirstPassed: 1, LastPassed: 1, Retests: 2, Cures: 1, Relapses: 1, Runs: 5}, y.Total)
}

// Two processes share a store: neither may take the other's readings for unchanged.
func TestTwoStoresCountIntoOneCell(t *testing.T) {
	a := openTemp(t)
	b, err := OpenWith(t.Context(), a.Path(), testSeams())
	require.NoError(t, err)
	defer b.Close()
	rng := rand.New(rand.NewPCG(1, 1))
	for i := range 40 {
		s := []*Store{a, b}[rng.IntN(2)]
		id, err := s.Runs.Save(t.Context(), runstest.Climate(), runstest.Passed(fmt.Sprintf("24-%06d", i)))
		require.NoError(t, err)
		if rng.IntN(4) == 0 {
			require.NoError(t, s.Care.SaveReferenceCheck(t.Context(), care.ReferenceCheck{Run: id, Unit: "24"}))
		}
	} // the check when it closes compares every sum
}

func TestImportIsForSimulatedRunsOnly(t *testing.T) {
	entry := func(run sequence.Run) <-chan Entry {
		entries := make(chan Entry, 1)
		rev := runstest.Climate()
		entries <- Entry{At: time.Unix(1_800_000_000, 0), Run: &run, Revision: &rev}
		close(entries)
		return entries
	}
	s := openTemp(t)
	real, simulated := runstest.Passed("24-000001"), runstest.Passed("24-000002")
	simulated.Simulated = true
	assert.ErrorIs(t, s.ImportSimulated(t.Context(), 1, entry(real), nil), store.ErrRefused)
	require.NoError(t, s.ImportSimulated(t.Context(), 1, entry(simulated), nil))
	_, err := s.Runs.Save(t.Context(), runstest.Climate(), real)
	require.NoError(t, err)
	assert.ErrorIs(t, s.ImportSimulated(t.Context(), 1, entry(simulated), nil), ErrRealRuns)
}
