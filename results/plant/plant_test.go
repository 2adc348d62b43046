package plant_test

import (
	"context"
	"database/sql"
	"maps"
	"math"
	"slices"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/charts"
	"padjig/results/answers/gauge"
	"padjig/results/answers/overview"
	"padjig/results/answers/plans"
	"padjig/results/answers/probes"
	"padjig/results/answers/units"
	"padjig/results/lines"
	"padjig/results/plant/planttest"
)

var plantServer *planttest.Server

func TestMain(m *testing.M) { planttest.Run(m, &plantServer) }

// sides are the records of a station and those of a plant that has the same.
type sides struct {
	same
	happened
	station, plant *results.Store
}

// bothSides has a line on a station, with what befell its units, and in a plant.
func bothSides(t *testing.T, runs int, befalls func(*testing.T, *results.Store) happened) *sides {
	t.Helper()
	s, pool := planttest.Records(t, runs, 3), apart(t)
	h := befalls(t, s)
	return &sides{same{numbers: fill(t, pool, "hall-2", s), path: s.Path()}, h, s, results.Over(pool, "plant")}
}

// apart is a plant whose cells have numbers that are by chance none of a station's, nor of a channel.
func apart(t *testing.T) *sql.DB {
	t.Helper()
	pool := plantServer.Plant(t)
	_, err := pool.ExecContext(t.Context(), `ALTER TABLE cell ALTER cell RESTART 1000003`)
	require.NoError(t, err)
	return pool
}

// ask asks both, and holds the answers against each other.
func (s *sides) ask(t *testing.T, what string, question func(context.Context, *results.Store) (any, error)) {
	t.Helper()
	here, err := question(t.Context(), s.station)
	there, plantErr := question(t.Context(), s.plant)
	s.compare(t, what, here, err, there, plantErr)
}

// compare holds answers against each other; errors too, which are what is to be said of no answer.
func (s *sides) compare(t *testing.T, what string, here any, err error, there any, plantErr error) {
	t.Helper()
	if (err == nil) != (plantErr == nil) {
		t.Errorf("%s: station says %v, plant %v", what, err, plantErr)
		return
	}
	if err != nil {
		if strings.ReplaceAll(err.Error(), s.path, "plant") != plantErr.Error() {
			t.Errorf("%s: station says %v, plant %v", what, err, plantErr)
		}
		return
	}
	s.check(t, what, here, there)
}

type asking func(context.Context, *results.Store, answers.Selection) (any, error)

// askings has every question of [answers.Questions] by its function.
var askings = map[string][]asking{
	"AskOverview": {func(ctx context.Context, s *results.Store, of answers.Selection) (any, error) {
		return overview.AskOverview(ctx, s, overview.OverviewAsked{Selection: of, Now: now})
	}},
	"AskYield": {yieldBy(), yieldBy(ofOne...), yieldBy(lines.ByHour), yieldBy(lines.ByDay, lines.ByJig)},
	"AskCauses": {causesBy(lines.CauseByFinding), causesBy(lines.CauseByPlace), causesBy(lines.CauseByKey), causesBy(lines.CauseByLine),
		causesBy(lines.CauseByChannel)},
	"AskUnits": {behind(lines.Behind{Low: nan, High: nan}), behind(lines.Behind{Verdict: "fail", Low: nan, High: nan}),
		behind(lines.Behind{By: lines.CauseByFinding, Cause: "key open", Worst: true, Low: nan, High: nan}),
		behind(lines.Behind{By: lines.CauseByLine, Cause: "ROW1", Low: nan, High: nan}),
		behind(lines.Behind{By: lines.CauseByChannel, Cause: "3", Low: nan, High: nan}),
		behind(lines.Behind{Measure: lines.Contact, Key: "7", Low: 80, High: 90.5}),
		behind(lines.Behind{Measure: lines.Closing, Key: "7", Low: nan, High: 2}),
		behind(lines.Behind{Pin: 3, On: "J-0042", Low: nan, High: nan})},
	"AskProbes": {func(ctx context.Context, s *results.Store, of answers.Selection) (any, error) {
		return probes.AskProbes(ctx, s, probes.ProbesAsked{Selection: of})
	}},
	"AskChart": {chart(charts.ChartAsked{Keys: key("1")}), chart(charts.ChartAsked{Kind: charts.P}), chart(charts.ChartAsked{Kind: charts.IMR, Keys: key("1")}),
		chart(charts.ChartAsked{Kind: charts.EWMA, Keys: key("1")}), chart(charts.ChartAsked{Kind: charts.Cusum, Keys: key("1")}),
		chart(charts.ChartAsked{Measure: lines.Machine}), chart(charts.ChartAsked{Measure: lines.Insulation, Keys: key("1")}),
		chart(charts.ChartAsked{Measure: lines.Closing, Keys: key("1")}), chart(charts.ChartAsked{Measure: lines.Loop}), chart(charts.ChartAsked{Measure: lines.StepTime})},
	"AskDistributions": {distributions(""), distributions(lines.Closing), distributions(lines.Opening), distributions(lines.Forward), distributions(lines.Reverse),
		distributions(lines.Insulation), distributions(lines.Loop), distributions(lines.StepTime), distributions(lines.Machine)},
	"AskCapability": {func(ctx context.Context, s *results.Store, of answers.Selection) (any, error) {
		return answers.AskCapability(ctx, s, answers.CapabilityAsked{Selection: of})
	}},
	"AskCompare": {func(ctx context.Context, s *results.Store, of answers.Selection) (any, error) {
		return answers.AskCompare(ctx, s, answers.CompareAsked{Selection: of, By: lines.ByJig, A: "J-0042", B: "J-0044"})
	}, func(ctx context.Context, s *results.Store, of answers.Selection) (any, error) {
		return answers.AskCompare(ctx, s, answers.CompareAsked{Selection: of, By: lines.ByShift, A: "early", B: "late", Across: lines.ByJig})
	}},
	"AskLots": {func(ctx context.Context, s *results.Store, of answers.Selection) (any, error) {
		return answers.AskLots(ctx, s, answers.LotsAsked{Selection: of})
	}},
	"AskShift": {func(ctx context.Context, s *results.Store, of answers.Selection) (any, error) {
		return answers.AskShift(ctx, s, answers.ShiftAsked{Selection: of, Day: "2026-03-02", Name: "early"})
	}},
	"AskStops": {func(ctx context.Context, s *results.Store, of answers.Selection) (any, error) {
		return answers.AskStops(ctx, s, answers.StopsAsked{Selection: of})
	}},
	"AskLimits": {func(ctx context.Context, s *results.Store, of answers.Selection) (any, error) {
		return answers.AskLimits(ctx, s, answers.LimitsAsked{Selection: of, Keys: key("7"), Side: answers.OnlyUpper,
			Proposed: &answers.Spec{Lower: math.Inf(-1), Upper: 90}})
	}},
	"AskSampling": {func(context.Context, *results.Store, answers.Selection) (any, error) {
		return plans.AskSampling(plans.SamplingAsked{Risks: plans.DefaultRisks}) // looks at no records
	}},
	"AskRetest": {func(context.Context, *results.Store, answers.Selection) (any, error) {
		return plans.AskRetest(plans.RetestAsked{Errors: plans.TestErrors{FalseReject: 0.02, FalseAccept: 0.1}, Bad: 0.05, Current: plans.RetestPolicy{Tests: 3}})
	}},
	"AskGauge": {func(ctx context.Context, s *results.Store, _ answers.Selection) (any, error) {
		list, err := s.Studies.Studies(ctx)
		if err != nil || len(list) == 0 {
			return nil, err
		}
		return gauge.AskGauge(ctx, s, gauge.GaugeAsked{Study: list[0], Key: "VENT"})
	}},
	"AskLinearity": {func(ctx context.Context, s *results.Store, _ answers.Selection) (any, error) {
		return gauge.AskLinearity(ctx, s, gauge.LinearityAsked{Jig: "J-0041", Simulated: true})
	}},
	"AskStability": {func(ctx context.Context, s *results.Store, _ answers.Selection) (any, error) {
		return gauge.AskStability(ctx, s, gauge.StabilityAsked{Jig: "J-0041", Unit: "REF-G", Simulated: true})
	}},
}

// ofOne are the dimensions that one station's records have.
var ofOne = slices.DeleteFunc(slices.Clone(lines.Dimensions), func(d lines.Dimension) bool { return d == lines.ByStation })

var (
	nan = math.NaN()
	now = time.Date(2026, 3, 9, 12, 0, 0, 0, time.UTC)
)

func key(label string) answers.KeyChoice { return answers.KeyChoice{Labels: []string{label}} }

func yieldBy(by ...lines.Dimension) asking {
	return func(ctx context.Context, s *results.Store, of answers.Selection) (any, error) {
		return answers.AskYield(ctx, s, answers.YieldAsked{Selection: of, By: by})
	}
}

func causesBy(by lines.CauseDimension) asking {
	return func(ctx context.Context, s *results.Store, of answers.Selection) (any, error) {
		return answers.AskCauses(ctx, s, answers.CausesAsked{Selection: of, By: by})
	}
}

func behind(b lines.Behind) asking {
	return func(ctx context.Context, s *results.Store, of answers.Selection) (any, error) {
		return units.AskUnits(ctx, s, units.UnitsAsked{Selection: of, Behind: b})
	}
}

func chart(a charts.ChartAsked) asking {
	return func(ctx context.Context, s *results.Store, of answers.Selection) (any, error) {
		a := a
		a.Selection = of
		return charts.AskChart(ctx, s, a)
	}
}

func distributions(m lines.Measure) asking {
	return func(ctx context.Context, s *results.Store, of answers.Selection) (any, error) {
		return answers.AskDistributions(ctx, s, answers.DistributionsAsked{Selection: of, Measure: m})
	}
}

// Every question about the line has one answer, whichever store is asked.
func TestEveryQuestionOnBothStores(t *testing.T) {
	s := bothSides(t, 1000, happens)
	all := lines.Filter{Simulated: true}
	filters := map[string]func(*lines.Filter){
		"all":  func(*lines.Filter) {},
		"real": func(f *lines.Filter) { f.Simulated = false },
		"one": func(f *lines.Filter) {
			f.Product, f.Revisions, f.Jigs = "GCC-20", []string{"C"}, []string{"J-0042", "J-0044"}
		},
		"shift": func(f *lines.Filter) {
			f.Shifts, f.Operators, f.Revisions = []string{"early"}, []string{"Ines"}, []string{"C"}
		},
		"lots": func(f *lines.Filter) { f.Lots, f.Revisions = []string{"M-2612", "M-2613"}, []string{"C"} },
		"hours": func(f *lines.Filter) {
			f.From, f.To, f.Actuation = now.AddDate(0, 0, -7), now.AddDate(0, 0, -6), "mechanical"
		},
		"nothing": func(f *lines.Filter) { f.Jigs = []string{"J-9999"} },
	}
	for _, q := range answers.Questions {
		if len(askings[q.Ask]) == 0 {
			t.Errorf("%s is asked of neither store: it needs a line in askings", q.Ask)
		}
		for i, ask := range askings[q.Ask] {
			for n, name := range slices.Sorted(maps.Keys(filters)) {
				if n > 0 && n != 1+(i+len(q.Ask))%(len(filters)-1) {
					continue // all of it, and in turn one of the others
				}
				of := answers.Selection{Filter: all}
				filters[name](&of.Filter)
				s.ask(t, q.Ask+" "+string(rune('0'+i))+" of "+name, func(ctx context.Context, store *results.Store) (any, error) { return ask(ctx, store, of) })
			}
		}
	}
}
