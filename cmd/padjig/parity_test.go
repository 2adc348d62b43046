package main

import (
	"bytes"
	"context"
	"crypto/sha256"
	"encoding/csv"
	"encoding/json"
	"flag"
	"fmt"
	"go/ast"
	"go/parser"
	"go/token"
	"html"
	"math"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"regexp"
	"slices"
	"strconv"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/account"
	"padjig/cmd/padjig/command"
	"padjig/cmd/padjig/web"
	"padjig/fixture/quantity"
	"padjig/results"
	"padjig/results/accounts"
	"padjig/results/answers"
	"padjig/results/answers/charts"
	"padjig/results/answers/choice"
	"padjig/results/answers/gauge"
	"padjig/results/answers/overview"
	"padjig/results/answers/plans"
	"padjig/results/answers/probes"
	"padjig/results/answers/units"
	"padjig/results/care"
	"padjig/results/lines"
	"padjig/results/linesim"
	"padjig/results/report"
	"padjig/results/runs"
	"padjig/results/stops"
	"padjig/results/store"
	"padjig/results/studies"
	"padjig/sequence"
	"padjig/sequence/product"
	"padjig/sequence/wording"
)

// One answer to each question: every question is asked on every surface - the
// command's text, --json, --csv and printed page, the station's page in two
// languages, as JSON and as files - and each number is held against the typed
// answer of package answers, to the last digit that the surface prints.

// asking is a question put to every surface.
type asking struct {
	flags []string   // of the command, beside the selection
	query url.Values // of the page, beside the selection
	plain bool       // no runs are chosen
	// ask gives what every surface must show.
	ask func(context.Context, *results.Store, answers.Selection) (expected, error)
	of  func(context.Context, *results.Store, choice.Chosen) (expected, error) // in place of ask, where more of the choice counts
	is  *choice.Of                                                             // what it is usually about; nil: [choice.Runs]
}

// expected is a typed answer, row by row, with the document it is written as: what
// the document says is not believed, only which tables and columns it has.
type expected struct {
	rows map[string][]map[string]any // by table
	said []answers.Sentence
	doc  report.Document
}

func wanted(said []answers.Sentence, doc report.Document) expected {
	return expected{map[string][]map[string]any{}, said, doc}
}

// row adds a row to a table: names and values in turn.
func (w expected) row(table string, pairs ...any) {
	row := map[string]any{}
	for i := 0; i < len(pairs); i += 2 {
		name := pairs[i].(string)
		switch v := pairs[i+1].(type) {
		case answers.Estimate:
			row[name], row[name+"_low"], row[name+"_high"] = v.Value, v.Low, v.High
		case answers.Chance:
			row[name] = float64(v)
		case int:
			row[name] = float64(v)
		default:
			row[name] = v
		}
	}
	w.rows[table] = append(w.rows[table], row)
}

func yieldRows(w expected, table string, rows []answers.YieldRow) {
	for _, r := range rows {
		w.row(table, "units", r.Units, "first_pass", r.First, "final", r.Final, "retests", r.Retests, "cures", r.Cures,
			"relapses", r.Relapses, "runs", r.Runs,
			"reseat", r.Reseat, "incomplete", r.Incomplete, "aborted", r.Aborted)
	}
}

func stopRows(w expected, s answers.Stops) {
	for _, stop := range s.Met {
		w.row("stops", "serial", stop.Unit.Serial, "run", int(stop.Unit.Seq))
	}
}

func lineStopRows(w expected, list []answers.LineStop) {
	for _, stop := range list {
		w.row("line_stops", "stop", int(stop.Number), "jig", stop.Jig, "serial", stop.Unit, "units", stop.Count, "run", int(stop.Met.Run))
	}
}

func distributionRows(w expected, table string, rows []answers.Distribution) {
	for _, d := range rows {
		q := d.Quantiles
		w.row(table, "n", d.N, "mean", d.Mean, "sd", d.SD, "minimum", q.Least, "p5", q.P5, "median", q.Median, "p95",
			q.P95, "maximum", q.Most, "over_range", d.Over)
	}
}

// orNaN is a limit of 0, which is none.
func orNaN(v float64) float64 {
	if v == 0 {
		return math.NaN()
	}
	return v
}

// askings has every question of [answers.Questions] by its function.
var askings = map[string][]asking{
	"AskOverview": {{of: func(ctx context.Context, s *results.Store, of choice.Chosen) (expected, error) {
		a, err := overview.AskOverview(ctx, s, overview.OverviewAsked{Selection: of.Selection, Before: of.Before})
		w := wanted(a.Conclusions, report.Overview(a))
		for _, f := range a.Figures {
			w.row("figures", "count", f.X, "share", f.Share, "share_before", f.Was.Share, "p", f.P)
		}
		yieldRows(w, "products", a.Products)
		yieldRows(w, "days", a.Days)
		return w, err
	}}},
	"AskYield": {
		{flags: []string{"--by", "jig"}, query: url.Values{"by": {"jig"}}, ask: askYield(lines.ByJig, 0)},
		{flags: []string{"--by", "jig", "--target", "98.5%"}, query: url.Values{"by": {"jig"}, "target": {"98.5"}}, ask: askYield(lines.ByJig, 0.985)},
		{flags: []string{"--by", "hour"}, query: url.Values{"by": {"hour"}}, ask: askYield(lines.ByHour, 0)},
	},
	"AskCauses": {
		{ask: askCauses("")},
		{flags: []string{"--by", "place"}, query: url.Values{"cause": {"place"}}, ask: askCauses(lines.CauseByPlace)},
	},
	"AskUnits": {
		{ask: askUnits(url.Values{})},
		{flags: []string{"--verdict", "fail"}, query: url.Values{"verdict": {"fail"}}, ask: askUnits(url.Values{"verdict": {"fail"}})},
		{flags: []string{"--is", "key open", "--worst"}, query: url.Values{"is": {"key open"}, "worst": {"1"}},
			ask: askUnits(url.Values{"is": {"key open"}, "worst": {"1"}})},
		{flags: []string{"--measure", "contact", "--key", "7", "--low", "80", "--high", "90.5"},
			query: url.Values{"measure": {"contact"}, "key": {"7"}, "low": {"80"}, "high": {"90.5"}},
			ask:   askUnits(url.Values{"measure": {"contact"}, "key": {"7"}, "low": {"80"}, "high": {"90.5"}})},
		{flags: []string{"--pin", "3", "--on", "J-0042"}, query: url.Values{"pin": {"3"}, "on": {"J-0042"}},
			ask: askUnits(url.Values{"pin": {"3"}, "on": {"J-0042"}})},
	},
	"AskProbes": {{ask: func(ctx context.Context, s *results.Store, of answers.Selection) (expected, error) {
		a, err := probes.AskProbes(ctx, s, probes.ProbesAsked{Selection: of})
		w := wanted(a.Conclusions, report.Probes(a))
		for _, r := range a.Rows {
			w.row("probes", "jig", r.Jig, "channel", r.Channel, "units", r.Units, "doubtful", r.BadUnits, "rate_here", r.Bad, "rate_others", r.Others,
				"rate_elsewhere", r.Elsewhere, "cleared", r.Cleared, "cleared_elsewhere", r.ClearedElse, "loop", r.Median, "first", r.First,
				"last", r.Last, "rise", r.Rise, "p", r.P)
		}
		for _, t := range a.Tails {
			w.row("tail", "channel", t.Channel, "rate_here", t.Bad, "rate_others", t.Others, "p", t.P)
		}
		for _, c := range a.Changes {
			w.row("tip_changes", "runs_before", c.Before, "runs_after", c.After, "loop_before", c.MedianBefore, "loop_after", c.MedianAfter,
				"spread_before", c.SpreadBefore, "spread_after", c.SpreadAfter, "p", c.P)
		}
		return w, err
	}}},
	"AskChart": {
		{flags: []string{"--key", "1"}, query: url.Values{"key": {"1"}}, ask: askChart("")},
		{flags: []string{"--key", "1", "--chart", "i-mr"}, query: url.Values{"key": {"1"}, "chart": {"i-mr"}},
			ask: askChart(charts.IMR)},
		{flags: []string{"--key", "1", "--chart", "ewma"}, query: url.Values{"key": {"1"}, "chart": {"ewma"}},
			ask: askChart(charts.EWMA)},
		{flags: []string{"--key", "1", "--chart", "cusum"}, query: url.Values{"key": {"1"}, "chart": {"cusum"}},
			ask: askChart(charts.Cusum)},
		{flags: []string{"--chart", "p"}, query: url.Values{"measure": {"failed"}}, ask: askChart(charts.P)},
	},
	"AskDistributions": {{ask: func(ctx context.Context, s *results.Store, of answers.Selection) (expected, error) {
		a, err := answers.AskDistributions(ctx, s, answers.DistributionsAsked{Selection: of})
		w := wanted(a.Conclusions, report.Distributions(a))
		distributionRows(w, "distributions", a.Rows)
		for i, d := range a.Rows {
			w.rows["distributions"][i]["guard_band"] = orNaN(d.Guard)
			for _, b := range d.Bins {
				w.row("bins", "from", b.From, "to", b.To, "count", int(b.Count))
			}
		}
		return w, err
	}}},
	"AskCapability": {{ask: func(ctx context.Context, s *results.Store, of answers.Selection) (expected, error) {
		a, err := answers.AskCapability(ctx, s, answers.CapabilityAsked{Selection: of})
		w := wanted(a.Conclusions, report.Capability(a))
		for _, k := range a.Rows {
			w.row("capability", "key", k.Key, "n", k.N, "mean", k.Mean, "sd", k.SD, "normal_p", k.NormalP, "cp", k.Cp,
				"cpk", k.Cpk, "pp", k.Pp, "ppk", k.Ppk,
				"outside", k.Outside, "expected_ppm", k.ExpectedPPM, "no_reading", k.NoReading, "out", k.Out)
			if k.Why == nil {
				w.rows["capability"][len(w.rows["capability"])-1]["within"] = k.Within
			}
		}
		return w, err
	}}},
	"AskCompare": {{flags: []string{"J-0042", "J-0044"}, query: url.Values{"a": {"J-0042"}, "b": {"J-0044"}},
		ask: func(ctx context.Context, s *results.Store, of answers.Selection) (expected, error) {
			a, err := answers.AskCompare(ctx, s, answers.CompareAsked{Selection: of, By: lines.ByJig, A: "J-0042",
				B: "J-0044"})
			w := wanted(a.Conclusions, report.Compared(a))
			for _, side := range a.Sides {
				w.row("yield", "units", side.Units, "first_pass", side.First, "final", side.Final)
			}
			if !math.IsNaN(float64(a.P)) {
				w.row("difference", "difference", a.Difference, "odds_passing", a.Odds, "p", a.P)
			}
			for _, k := range a.Rows {
				w.row("compare", "key", k.Key, "n_a", k.N[0], "n_b", k.N[1], "shift", k.Shift, "larger", k.Larger,
					"rank_p", k.RankP, "shape_p", k.ShapeP, "holm_p", k.HolmP, "bh_p", k.BHP)
			}
			return w, err
		}}},
	"AskLots": {{flags: []string{"--material", "membrane"}, query: url.Values{"material": {"membrane"}},
		ask: func(ctx context.Context, s *results.Store, of answers.Selection) (expected, error) {
			a, err := answers.AskLots(ctx, s, answers.LotsAsked{Selection: of})
			w := wanted(a.Conclusions, report.Lots(a))
			yieldRows(w, "lots", a.Rows)
			distributionRows(w, "readings", a.Readings)
			for _, c := range a.Changes {
				w.row("changes", "after_run", int(c.AfterRun))
			}
			return w, err
		}}},
	"AskShift": {{is: &choice.AShift, flags: []string{"--day", "2026-03-02", "--name", "early"},
		query: url.Values{"day": {"2026-03-02"}, "at": {"early"}},
		ask: func(ctx context.Context, s *results.Store, of answers.Selection) (expected, error) {
			a, err := answers.AskShift(ctx, s, answers.ShiftAsked{Selection: of, Day: "2026-03-02", Name: "early"})
			w := wanted(a.Conclusions, report.Shift(a))
			yieldRows(w, "yield", a.Rows)
			if a.Total.Runs > 0 {
				yieldRows(w, "hours", a.Hours)
				for _, c := range a.Causes.Rows {
					w.row("causes", "units", c.Worst, "of_failed", c.OfFailed)
				}
				lineStopRows(w, a.Stopped)
				stopRows(w, a.Stops)
				for _, p := range a.Probes {
					w.row("probes", "jig", p.Jig, "pin", p.Pin, "reseats", p.Reseats, "units", p.Units)
				}
				for _, o := range a.Overrides {
					w.row("overrides", "serial", o.Serial, "by", o.By, "reason", o.Reason)
				}
				for _, e := range a.Aborted {
					w.row("aborted", "serial", e.Serial, "run", int(e.Seq))
				}
				for _, e := range a.Unfinished {
					w.row("unfinished", "serial", e.Serial, "operator", e.Operator)
				}
				for _, o := range a.Tags {
					w.row("open_tags", "serial", o.Serial, "jig", o.Jig, "attempt", o.Attempt)
				}
			}
			return w, err
		}}},
	"AskStops": {{is: &choice.Stops, ask: func(ctx context.Context, s *results.Store, of answers.Selection) (expected, error) {
		a, err := answers.AskStops(ctx, s, answers.StopsAsked{Selection: of})
		w := wanted(a.Conclusions, report.LineStops(a))
		lineStopRows(w, a.Rows)
		return w, err
	}}},
	"AskLimits": {{flags: []string{"--key", "7", "--at-most", "90", "--guard", "1"},
		query: url.Values{"key": {"7"}, "limit": {"90"}, "guardband": {"1"}},
		ask: func(ctx context.Context, s *results.Store, of answers.Selection) (expected, error) {
			guard := 1.0
			a, err := answers.AskLimits(ctx, s, answers.LimitsAsked{Selection: of,
				Keys: answers.KeyChoice{Labels: []string{"7"}}, Side: answers.OnlyUpper,
				Proposed: &answers.Spec{Lower: math.Inf(-1), Upper: 90}, Guard: &guard})
			w := wanted(a.Conclusions, report.Limits(a))
			for _, k := range a.Tolerances {
				w.row("tolerance", "n", k.N, "mean", k.Mean, "sd", k.SD, "normal_p", k.NormalP, "normal_to",
					k.Normal.High, "free_to", k.Free.High, "limit_to", orNaN(k.Limits[1]))
			}
			for _, o := range a.Outcomes {
				w.row("outcome", "guard", o.Guard, "units", a.Units, "rejected", o.Rejected, "share", o.Share,
					"bad_accepted", o.BadAccepted, "good_rejected", o.GoodRejected)
			}
			for _, c := range a.Changes {
				w.row("changes", "serial", c.Serial, "run", int(c.Run))
			}
			return w, err
		}}},
	"AskSampling": {{plain: true, flags: []string{"--good", "1%", "--bad", "10%", "--lot", "2000", "--sequential"},
		query: url.Values{"good": {"1"}, "bad": {"10"}, "lotsize": {"2000"}, "sequential": {"1"}},
		ask: func(context.Context, *results.Store, answers.Selection) (expected, error) {
			risks := plans.DefaultRisks
			risks.Bad = 0.10
			a, err := plans.AskSampling(plans.SamplingAsked{Risks: risks, Lot: 2000, Sequential: true})
			w := wanted(a.Conclusions, report.Sampling(a))
			w.row("plan", "sample", a.Plan.N, "accept", a.Plan.Accept, "producer_risk", a.Producer, "consumer_risk",
				a.Consumer, "worst_outgoing", a.WorstOutgoing, "worst_at", a.WorstAt)
			for _, p := range a.Curve {
				w.row("curve", "bad_units", p.BadUnits, "bad", p.Bad, "accepted", p.Accepted, "outgoing", p.Outgoing, "tested", p.Tested)
				w.row("sequential_curve", "bad", p.Bad, "accepted", p.SequentialAccepted, "tested_average", p.Average)
			}
			return w, err
		}}},
	"AskRetest": {{plain: true, flags: []string{"--false-reject", "2%", "--false-accept", "10%", "--bad", "5%",
		"--tests", "3"},
		query: url.Values{"falsereject": {"2"}, "falseaccept": {"10"}, "badunits": {"5"}, "tests": {"3"}},
		ask: func(context.Context, *results.Store, answers.Selection) (expected, error) {
			a, err := plans.AskRetest(plans.RetestAsked{Errors: plans.TestErrors{FalseReject: 0.02,
				FalseAccept: 0.1}, Bad: 0.05, Current: plans.RetestPolicy{Tests: 3}})
			w := wanted(a.Conclusions, report.Retest(a))
			for _, p := range a.Rows {
				w.row("policies", "passed", p.Passed, "escapes_ppm", 1e6*p.Escapes, "false_scrap_ppm",
					1e6*p.FalseScrap, "scrap_of_good", p.ScrapOfGood, "tests", p.TestsPerUnit)
			}
			return w, err
		}}},
	"AskGauge": {{plain: true, flags: []string{"1", "--key", "VENT"}, query: url.Values{"study": {"1"}, "key": {"VENT"}},
		ask: func(ctx context.Context, s *results.Store, _ answers.Selection) (expected, error) {
			study, err := s.Studies.Study(ctx, 1)
			if err != nil {
				return expected{}, err
			}
			a, err := gauge.AskGauge(ctx, s, gauge.GaugeAsked{Study: study, Key: "VENT"})
			w := wanted(a.Conclusions, report.GaugeResult(a))
			for _, k := range a.Rows {
				w.row("keys", "key", k.Key, "mean", k.Mean, "repeatability_sd", k.RepeatSD, "gauge_sd", k.GaugeSD,
					"part_sd", k.PartSD, "of_tolerance", k.OfTolerance, "categories", k.Categories)
			}
			for _, c := range a.Shown.Components {
				w.row("components", "sd", c.SD, "variance", c.Variance, "raw", c.Raw, "contribution", c.Contribution,
					"of_tolerance", c.OfTolerance)
			}
			for _, c := range a.Shown.Sources {
				w.row("anova", "df", c.DF, "ss", c.SS, "ms", c.MS, "f", c.F, "p", c.P)
			}
			return w, err
		}}},
	"AskLinearity": {{plain: true, flags: []string{"J-0043", "--simulated"},
		query: url.Values{"ofjig": {"J-0043"}, "simulated": {"1"}},
		ask: func(ctx context.Context, s *results.Store, _ answers.Selection) (expected, error) {
			a, err := gauge.AskLinearity(ctx, s, gauge.LinearityAsked{Jig: "J-0043", Simulated: true})
			w := wanted(a.Conclusions, report.GaugeLinearity(a))
			for _, b := range a.Biases {
				w.row("bias", "range_ohm", b.Range, "certified_ohm", b.Certified, "n", b.N, "bias_ohm", b.Bias,
					"of_value", b.OfValue, "p", b.P)
			}
			for _, l := range a.Lines {
				w.row("linearity", "range_ohm", l.Range, "n", l.N)
			}
			return w, err
		}}},
	"AskStability": {{plain: true, flags: []string{"J-0041", "--unit", "REF-G", "--simulated"},
		query: url.Values{"ofjig": {"J-0041"}, "unit": {"REF-G"}, "simulated": {"1"}},
		ask: func(ctx context.Context, s *results.Store, _ answers.Selection) (expected, error) {
			a, err := gauge.AskStability(ctx, s, gauge.StabilityAsked{Jig: "J-0041", Unit: "REF-G", Simulated: true})
			w := wanted(a.Conclusions, report.GaugeStability(a))
			for _, k := range a.Rows {
				w.row("stability", "key", k.Key, "n", k.N, "mean", k.Mean, "sd", k.SD, "per_day", k.PerDay, "p", k.P,
					"outside", k.Outside)
			}
			return w, err
		}}},
}

func askYield(by lines.Dimension, target answers.Target) func(context.Context, *results.Store, answers.Selection) (expected, error) {
	return func(ctx context.Context, s *results.Store, of answers.Selection) (expected, error) {
		a, err := answers.AskYield(ctx, s, answers.YieldAsked{Selection: of, By: []lines.Dimension{by}, Target: target})
		w := wanted(a.Conclusions, report.Yield(a))
		yieldRows(w, "yield", a.Rows)
		stopRows(w, a.Stops)
		return w, err
	}
}

func askUnits(behind url.Values) func(context.Context, *results.Store, answers.Selection) (expected, error) {
	return func(ctx context.Context, s *results.Store, of answers.Selection) (expected, error) {
		b, err := units.Parse(behind)
		if err != nil {
			return expected{}, err
		}
		a, err := units.AskUnits(ctx, s, units.UnitsAsked{Selection: of, Behind: b})
		w := wanted(a.Conclusions, report.Units(a))
		for _, u := range a.Rows {
			row := []any{"serial", u.Serial, "run", int(u.Seq), "jig", u.Jig, "cause", u.Fault}
			if b.Measure != "" {
				row = append(row, "value", u.Value)
			}
			w.row("units", row...)
		}
		return w, err
	}
}

func askCauses(by lines.CauseDimension) func(context.Context, *results.Store, answers.Selection) (expected, error) {
	return func(ctx context.Context, s *results.Store, of answers.Selection) (expected, error) {
		a, err := answers.AskCauses(ctx, s, answers.CausesAsked{Selection: of, By: by})
		w := wanted(a.Conclusions, report.Causes(a))
		for _, c := range a.Rows {
			w.row("causes", "cause", c.Name, "units", c.Worst, "of_failed", c.OfFailed, "of_units", c.OfUnits,
				"together", c.SoFar, "findings", c.Units, "with_retests", c.Runs)
		}
		for _, k := range a.Pad {
			w.row("keys", "key", k.Label, "findings", k.Findings, "of_units", k.OfUnits)
		}
		for _, p := range a.Places {
			w.row("places", "place", p.Name, "here", p.Hits, "rate_here", p.Here, "elsewhere", p.OtherHits,
				"rate_elsewhere", p.Elsewhere, "odds", p.Odds, "p", p.P)
		}
		return w, err
	}
}

func askChart(kind charts.ChartKind) func(context.Context, *results.Store, answers.Selection) (expected, error) {
	return func(ctx context.Context, s *results.Store, of answers.Selection) (expected, error) {
		q := charts.ChartAsked{Selection: of, Kind: kind}
		if !kind.Counts() {
			q.Keys.Labels = []string{"1"}
		}
		a, err := charts.AskChart(ctx, s, q)
		if err != nil {
			return expected{}, err
		}
		w := wanted(a.Conclusions, report.Charted(a))
		for _, p := range a.Panels {
			for _, q := range p.Points {
				w.row("points", "point", q.Name, "first_run", int(q.First), "n", q.N, "value", q.Value, "lcl",
					q.Limits.Lower, "cl", q.Limits.Center, "ucl", q.Limits.Upper,
					"signals", strings.Join(q.Signals, " "))
			}
		}
		for _, e := range a.Events {
			w.row("events", "mark", e.Mark, "after_run", int(e.AfterRun))
		}
		return w, nil
	}
}

// Selections, as flags and as an address say them.
var selections = []struct {
	flags []string
	query string
}{
	{nil, ""},
	{[]string{"--revision", "C"}, "revision=C"},
	{[]string{"--revision", "all", "--span", "all"}, "revision=all&span=all"},
	{[]string{"--product", "GCC-20", "--revision", "C", "--jig", "J-0041"}, "product=GCC-20&revision=C&jig=J-0041"},
	{[]string{"--revision", "C", "--jig", "J-0042,J-0044"}, "revision=C&jig=J-0042&jig=J-0044"},
	{[]string{"--revision", "D", "--jig", "J-0043"}, "revision=D&jig=J-0043"},
	{[]string{"--revision", "C", "--lot", "M-2612,M-2613"}, "revision=C&lot=M-2612&lot=M-2613"},
	{[]string{"--revision", "C", "--shift", "early"}, "revision=C&shift=early"},
	{[]string{"--revision", "C", "--tested-by", "Ines"}, "revision=C&operator=Ines"},
	{[]string{"--revision", "C", "--actuation", "mechanical"}, "revision=C&actuation=mechanical"},
	{[]string{"--revision", "C", "--from", "2026-03-02T06:00:00Z", "--to", "2026-03-02T07:00:00Z"},
		"revision=C&from=2026-03-02T06:00:00Z&to=2026-03-02T07:00:00Z"},
	{[]string{"--jig", "J-9999"}, "jig=J-9999"}, // nothing there: no surface has an answer
}

// surfaces is a store with everything that shows it.
type surfaces struct {
	*testing.T
	store *results.Store
	site  http.Handler
}

const parityHost = "station.test:8317"

func surfacesOver(t *testing.T, seed uint64, runs int) surfaces {
	t.Helper()
	with := store.Real()
	now := time.Now
	with.Now = func() time.Time { return now() }
	store, err := results.OpenWith(t.Context(), filepath.Join(t.TempDir(), "line.sqlite"), with)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, store.Close()) })
	p, err := product.Load("../../testdata/products/gcc-20.yaml")
	require.NoError(t, err)
	line := linesim.Line{Product: p, Runs: runs, Seed: seed, Begin: time.Date(2026, 3, 2, 5, 0, 0, 0, time.UTC),
		Zone: "Europe/Vienna"}
	entries, err := line.Entries(t.Context())
	require.NoError(t, err)
	require.NoError(t, store.ImportSimulated(t.Context(), seed, entries, nil))
	surfaces{T: t, store: store}.measured()
	now = func() time.Time { return troubledAt } // what is written down happens while the line works
	surfaces{T: t, store: store}.troubled(p)
	now = time.Now
	require.NoError(t, store.Accounts.SaveAccountEvent(t.Context(), accounts.AccountEvent{Name: "Qiu", Kind: accounts.AccountRole,
		Role: "quality", By: "test"}))
	require.NoError(t, store.Accounts.StartSession(t.Context(), sha256.Sum256([]byte("token")), "Qiu", "password"))
	clock, err := command.PlantClock(t.Context(), store) // as the station takes it
	require.NoError(t, err)
	site, err := web.New(web.Config{Store: store, Hosts: []string{parityHost}, Zone: clock.Zone()})
	require.NoError(t, err)
	return surfaces{t, store, site.Handler()}
}

// vienna is the zone of the line's shifts, and so of every day here.
var vienna = func() *time.Location {
	zone, err := time.LoadLocation("Europe/Vienna")
	if err != nil {
		panic(err)
	}
	return zone
}()

// troubledAt is within the first early shift of a simulated line.
var troubledAt = time.Date(2026, 3, 2, 6, 30, 0, 0, time.UTC)

// troubled has a line stop itself twice, once lifted, a unit be reseated too often, and a
// shift with everything that it is to be told of.
func (s surfaces) troubled(p *product.Product) {
	s.Helper()
	ctx := s.Context()
	recent, err := s.store.Runs.Recent(ctx, 4000)
	require.NoError(s, err)
	pattern := func(o sequence.Outcome) runs.Stored {
		i := slices.IndexFunc(recent, func(one runs.Summary) bool {
			return one.Outcome == o && one.Purpose == sequence.Production && (o == sequence.Pass || one.Findings > 0 || o == sequence.Reseat)
		})
		require.GreaterOrEqual(s, i, 0, "no %s", o)
		run, err := s.store.Runs.Run(ctx, recent[i].ID)
		require.NoError(s, err)
		return run
	}
	fail, reseat := pattern(sequence.Fail), pattern(sequence.Pass)
	reseat.Outcome, reseat.Why = sequence.Reseat, sequence.Fact(sequence.SeatDoubtful, "pin 3")
	reseat.Seats = slices.Clone(reseat.Seats)
	reseat.Seats[2].Good = false
	aborted := fail
	aborted.Outcome, aborted.Why, aborted.Reason = sequence.Aborted, sequence.Fact(sequence.LidOpened), "the lid was opened"
	begin := func(of runs.Stored, serial string) (*runs.Begun, sequence.Run) {
		of.Jig.Serial, of.Serial, of.Started, of.Attempt = "J-0041", serial, troubledAt, 1
		revision, err := s.store.Runs.Revision(ctx, of)
		require.NoError(s, err)
		b, err := s.store.Runs.Begin(ctx, revision, runs.Start{Serial: serial, Jig: of.Jig, Simulated: true, Actuation: of.Actuation,
			Operator: of.Operator, Started: of.Started}, func(runs.History) error { return nil })
		require.NoError(s, err)
		of.Attempt = b.Attempt
		return b, of.Run
	}
	test := func(of runs.Stored, serial string) {
		b, run := begin(of, serial)
		sequence.Plain().Spell(&run)
		_, err := b.Save(ctx, run)
		require.NoError(s, err)
	}
	standing := func(unit string) stops.Stop {
		list, err := s.store.Stops.Holding(ctx, stops.Line{Jig: "J-0041", Product: p.Code, Simulated: true}, p, unit)
		require.NoError(s, err)
		require.NotEmpty(s, list)
		return list[len(list)-1]
	}
	for n := range 3 {
		test(fail, fmt.Sprintf("GCC-91000%d", n))
	}
	_, err = s.store.Stops.Lift(ctx, standing("").Number, stops.Lifting{By: "Qiu", Reason: stops.Cleaned, Note: "nest"})
	require.NoError(s, err)
	for n := range 3 {
		test(reseat, fmt.Sprintf("GCC-92000%d", n))
	}
	test(reseat, "GCC-920002")
	standing("GCC-920002")
	test(aborted, "GCC-930001")
	unfinished, _ := begin(fail, "GCC-930002")
	unfinished.LetGo()
	again, run := begin(reseat, "GCC-930002") // which closes the one before
	_, err = again.Save(ctx, run)
	require.NoError(s, err)
	require.NoError(s, s.store.Accounts.SaveOverride(ctx, accounts.Override{What: "attempts used", Serial: "GCC-910001", Jig: "J-0041",
		By: "Qiu", Reason: "customer asks for a report"}))
	shift, err := answers.AskShift(ctx, s.store, answers.ShiftAsked{
		Selection: answers.Selection{Filter: lines.Filter{Simulated: true}}, Day: "2026-03-02", Name: "early"})
	require.NoError(s, err)
	for _, n := range []int{len(shift.Stopped) - 2, len(shift.Overrides), len(shift.Aborted), len(shift.Unfinished), len(shift.Probes)} {
		require.Positive(s, n, "%+v", shift.Trouble)
	}
	assert.Nil(s, shift.Stopped[0].Lifted, "those that hold come first")
	assert.NotNil(s, shift.Stopped[2].Lifted)
}

// measured stores a gauge study, a unit whose tag is still open, and a reference unit that
// was tested often.
func (s surfaces) measured() {
	s.Helper()
	ctx := s.Context()
	recent, err := s.store.Runs.Recent(ctx, 50)
	require.NoError(s, err)
	i := slices.IndexFunc(recent, func(one runs.Summary) bool { return one.Outcome == sequence.Pass })
	pattern, err := s.store.Runs.Run(ctx, recent[i].ID)
	require.NoError(s, err)
	revision, err := s.store.Runs.Revision(ctx, pattern)
	require.NoError(s, err)
	save := func(change func(*sequence.Run), value func(key int) float64) store.ID {
		run := pattern.Run
		run.Keys = slices.Clone(run.Keys)
		for k := range run.Keys {
			read := *run.Keys[k].Closed
			read.Value = quantity.Ohm(value(k))
			run.Keys[k].Closed = &read
		}
		change(&run)
		id, err := s.store.Runs.Save(ctx, revision, run)
		require.NoError(s, err)
		return id
	}
	for _, name := range []string{"PS-1", "PS-2"} { // the second takes the first one's place
		require.NoError(s, s.store.Care.SaveWear(ctx, care.WearEvent{Jig: "J-0041", Part: care.ProbeSet, Name: name, Tip: "crown", Simulated: true,
			Serves: []int{10}, By: "Qiu"}))
	}
	study := studies.Study{Across: studies.AcrossOperators,
		Parts:      []string{"GCC-900001", "GCC-900002", "GCC-900003", "GCC-900004"},
		Appraisers: []string{"Ann", "Bob"}, Repeats: 3, Seed: 5, By: "Qiu"}
	study.Plan, err = gauge.PlanStudy(4, 2, 3, 5)
	require.NoError(s, err)
	study, err = s.store.Studies.PlanStudy(ctx, revision, study)
	require.NoError(s, err)
	for place, at := range study.Plan {
		id := save(func(r *sequence.Run) {
			r.Serial, r.Operator, r.Purpose = study.Parts[at.Part], study.Appraisers[at.Appraiser], sequence.GaugeStudy
		}, func(k int) float64 {
			return 80 + 10*float64(at.Part) + float64(at.Appraiser) + 0.2*float64(at.Repeat*at.Part%3) + float64(k)/7
		})
		require.NoError(s, s.store.Studies.AddReading(ctx, study.Number, place, id))
	}
	save(func(r *sequence.Run) { // failed in the shift that is asked for, and was never placed
		r.Serial, r.Outcome, r.Started = "GCC-900005", sequence.Fail, time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC)
		key := &r.Keys[0]
		key.Verdict = sequence.KeyFail
		r.Findings = []sequence.Finding{{What: "key high", Key: key.Key, Lines: key.Lines[:], Place: "key " + key.Key, Unit: "ohm"}}
	}, func(int) float64 { return 640 })
	for n := range 9 {
		id := save(func(r *sequence.Run) {
			r.Serial, r.Jig.Serial, r.Started = "REF-G", "J-0041", r.Started.Add(time.Duration(n)*time.Hour)
		}, func(k int) float64 { return 70 + float64(n*(k+3)%5)/10 + float64(n)/20 })
		require.NoError(s, s.store.Care.SaveReferenceCheck(ctx, care.ReferenceCheck{Run: id, Unit: "REF-G"}))
	}
}

func (s surfaces) command(args ...string) (string, int) {
	var out, complaints bytes.Buffer
	status := run(s.Context(), args, strings.NewReader(""), &out, &complaints)
	return out.String() + complaints.String(), status
}

// badge is a file that signs somebody of quality in at the terminal.
func (s surfaces) badge(name string) string {
	s.Helper()
	code := account.NewBadge()
	for _, e := range []accounts.AccountEvent{{Kind: accounts.AccountRole, Role: "quality"}, {Kind: accounts.AccountBadge, Secret: account.HashBadge(code)}} {
		e.Name, e.By = name, "test"
		require.NoError(s, s.store.Accounts.SaveAccountEvent(s.Context(), e))
	}
	file := filepath.Join(s.TempDir(), "badge")
	require.NoError(s, os.WriteFile(file, []byte(code+"\n"), 0o600))
	return file
}

func (s surfaces) get(lang, accept, address string) string {
	s.Helper()
	q := httptest.NewRequest("GET", "http://"+parityHost+address, nil)
	q.Header.Set("Accept", accept)
	q.Header.Set("Accept-Language", lang)
	q.AddCookie(&http.Cookie{Name: "padjig", Value: "token"})
	w := httptest.NewRecorder()
	s.site.ServeHTTP(w, q)
	require.Equal(s, http.StatusOK, w.Code, "%s: %s", address, w.Body)
	return w.Body.String()
}

// numbered is a table of a surface: its rows under the names of its columns, or
// as they are printed.
type numbered = []map[string]any

var parityLines = flag.Int("paritylines", 1, "simulated lines that every question is asked of; 3 is the full number")

// TestEveryAnswerIsOne asks everything everywhere: of a few selections by default,
// of all of them where every line is asked for.
func TestEveryAnswerIsOne(t *testing.T) {
	lines := []uint64{3, 7, 11}
	all := *parityLines >= len(lines)
	for i, seed := range lines[:min(*parityLines, len(lines))] {
		runs := 1500
		if i == 0 {
			runs = 4500 // more units on a jig than are read by default, or that default is not held
		}
		s := surfacesOver(t, seed, runs)
		for _, q := range answers.Questions {
			for n, a := range askings[q.Ask] {
				for c, chosen := range selections {
					// Each store sees every question; the first one with every
					// selection, the others with some of them in turn.
					few := !all && c > 0 && c != 1+n
					if few || i > 0 && c%4 != (i+n)%4 || n > 0 && c%3 != n%3 || a.plain && c > 0 {
						continue
					}
					t.Run(fmt.Sprintf("%d/%s %s/%s", seed, q.Ask, strings.Join(a.flags, " "), chosen.query),
						func(t *testing.T) {
							s.T = t
							s.parity(q, a, chosen.flags, chosen.query)
						})
				}
			}
		}
	}
}

// withoutTimes are flags less those of times.
func withoutTimes(flags []string) (out []string) {
	for i := 0; i < len(flags); i += 2 {
		if !slices.Contains([]string{"--from", "--to", "--span", "--shift"}, flags[i]) {
			out = append(out, flags[i:i+2]...)
		}
	}
	return out
}

func (s surfaces) parity(q answers.Question, a asking, flags []string, query string) {
	chosen, err := url.ParseQuery(query)
	require.NoError(s, err)
	if a.is != nil && a.is.OwnTimes { // pages keep the times of the others and set them aside; the terminal takes none
		flags = withoutTimes(flags)
	}
	args := append(append([]string{"quality"}, strings.Fields(q.Command)...), a.flags...)
	args = append(args, "--store", s.store.Path())
	if !a.plain {
		args = append(append(args, "--simulated"), flags...)
		chosen.Set("simulated", "1")
	} else if strings.Contains("sampling retest", q.Command) {
		args = args[:len(args)-2] // these look at no records
	}
	said, err := choice.Parse(chosen, vienna)
	require.NoError(s, err)
	usual := choice.Runs
	if a.is != nil {
		usual = *a.is
	}
	of, err := choice.Choose(s.Context(), s.store, said, usual, time.Now())
	require.NoError(s, err)
	for name, values := range a.query {
		chosen[name] = values
	}
	address := "/quality" + q.Page + "?" + chosen.Encode()
	if a.of == nil {
		a.of = func(ctx context.Context, store *results.Store, of choice.Chosen) (expected, error) {
			return a.ask(ctx, store, of.Selection)
		}
	}
	w, err := a.of(s.Context(), s.store, of)
	if err != nil {
		s.refused(err, args, address)
		return
	}
	require.NotEmpty(s, w.said, "an answer concludes something")
	s.onTerminal(w, args)
	s.onPage(w, address)
}

// refused expects that no surface has an answer where there is none.
func (s surfaces) refused(err error, args []string, address string) {
	out, status := s.command(append(args, "--json")...)
	assert.NotEqual(s, 0, status, "%v, but the command says %s", err, out)
	var view struct{ Figures []any }
	require.NoError(s, json.Unmarshal([]byte(s.get("en", "application/json", address)), &view))
	assert.Empty(s, view.Figures, "%v, but the page shows figures", err)
}

func (s surfaces) onTerminal(w expected, args []string) {
	printed := filepath.Join(s.TempDir(), "page.html")
	out, status := s.command(append(args, "--json", "--html", printed)...)
	require.Equal(s, 0, status, out)
	var doc struct {
		Tables     map[string]numbered
		Conclusion []string
	}
	require.NoError(s, json.Unmarshal([]byte(out), &doc))
	for name, rows := range w.rows {
		exact(s, "--json "+name, rows, doc.Tables[name])
	}
	for i, said := range w.said {
		if assert.Greater(s, len(doc.Conclusion), i, "--json concludes") {
			assert.Equal(s, report.Told(wording.Words{}, said), doc.Conclusion[i])
		}
	}
	out, status = s.command(append(args, "--csv")...)
	require.Equal(s, 0, status, out)
	files := csvTables(s.T, out)
	for name, rows := range w.rows {
		if len(rows) > 0 {
			exact(s, "--csv "+name, rows, files[headNamed(w.doc, name)])
		}
	}
	text, status := s.command(args...)
	require.Equal(s, 0, status, text)
	page, err := os.ReadFile(printed)
	require.NoError(s, err)
	for where, all := range map[string]string{"text": text,
		"print": html.UnescapeString(anyTag.ReplaceAllString(string(page), " "))} {
		for _, said := range w.said {
			assert.Contains(s, squeezed(all), squeezed(report.Told(wording.Words{}, said)), where)
		}
	}
	for _, t := range w.doc.Tables {
		if rows := w.rows[t.Name]; len(rows) > 0 && !t.Quiet {
			read := rows
			if t.Most > 0 {
				read = rows[:min(len(rows), t.Most)]
			}
			within(s, "text "+t.Name, t, read, textRows(text), true)
			within(s, "print "+t.Name, t, rows, htmlRows(string(page)), false)
		}
	}
}

func (s surfaces) onPage(w expected, address string) {
	var view struct {
		Notes   []struct{ Text string }
		Looks   []struct{ Text string } `json:"attention"`
		Figures []struct {
			Says  []struct{ Text string }
			Table *struct {
				Name string
				Rows numbered
			}
			CSV string
		}
	}
	require.NoError(s, json.Unmarshal([]byte(s.get("en", "application/json", address)), &view))
	tables, files := map[string]numbered{}, map[string]string{}
	said := ""
	for _, n := range append(view.Notes, view.Looks...) {
		said += n.Text + "\n"
	}
	for _, f := range view.Figures {
		for _, n := range f.Says {
			said += n.Text + "\n"
		}
		if f.Table != nil {
			tables[f.Table.Name], files[f.Table.Name] = f.Table.Rows, f.CSV
		}
	}
	for _, sentence := range w.said {
		assert.Contains(s, said, report.Say(wording.Words{}, sentence), address)
	}
	english, german := s.get("en", "text/html", address), s.get("de", "text/html", address)
	germanText := squeezed(html.UnescapeString(anyTag.ReplaceAllString(german, " ")))
	for _, sentence := range w.said {
		assert.Contains(s, germanText, squeezed(report.Say(wording.Facts().In("de"), sentence)), address)
	}
	for name, rows := range w.rows {
		if len(rows) == 0 {
			continue
		}
		exact(s, "page as JSON "+name, rows, tables[name])
		file := csvTables(s.T, s.get("en", "text/html", files[name]))
		exact(s, "page as file "+name, rows, file[headNamed(w.doc, name)])
		i := slices.IndexFunc(w.doc.Tables, func(t report.Table) bool { return t.Name == name })
		require.GreaterOrEqual(s, i, 0, name)
		within(s, "page "+name, w.doc.Tables[i], rows, htmlRows(english), false)
		within(s, "German page "+name, w.doc.Tables[i], rows, htmlRows(strings.ReplaceAll(german, ",", ".")), false)
	}
}

// exact holds values against those of a surface for programs.
func exact(s surfaces, where string, rows, got numbered) {
	s.Helper()
	if !assert.Equal(s, len(rows), len(got), "%s: rows", where) {
		return
	}
	for i, row := range rows {
		for column, v := range row {
			shown, there := got[i][column]
			if !assert.True(s, there, "%s: no column %s", where, column) {
				return
			}
			if f, is := v.(float64); is && (math.IsNaN(f) || math.IsInf(f, 0)) {
				v = nil
			}
			if shown == "" {
				shown = nil
			}
			if v == "" {
				v = nil
			}
			if text, is := shown.(string); is {
				if f, err := strconv.ParseFloat(text, 64); err == nil && v != text {
					shown = f
				}
			}
			if !assert.Equal(s, v, shown, "%s: row %d, %s", where, i+1, column) {
				return
			}
		}
	}
}

// within looks for every row among printed ones: one that has each of its
// numbers, to the last digit that is printed. A terminal leaves minor columns out.
func within(s surfaces, where string, t report.Table, rows numbered, printed [][]figure, narrow bool) {
	s.Helper()
	at := 0 // rows come in order: look on from the one found last
	for i, row := range rows {
		want := map[string]float64{}
		for _, c := range t.Columns {
			v, isNumber := row[c.Name].(float64)
			if !isNumber || math.IsNaN(v) || math.IsInf(v, 0) || narrow && c.Minor {
				continue
			}
			if c.Unit == "%" {
				v *= 100
			}
			want[c.Name] = v
		}
		found := false
		for n := range printed {
			if one := (at + n) % len(printed); showsAll(printed[one], want) {
				found, at = true, one+1
				break
			}
		}
		if !assert.True(s, found, "%s: no row shows row %d: %v", where, i+1, row) {
			return
		}
	}
}

func showsAll(row []figure, want map[string]float64) bool {
	for _, v := range want {
		if !slices.ContainsFunc(row, func(n figure) bool { return n.is(v) }) {
			return false
		}
	}
	return true
}

// figure is a printed number and half of what its last digit stands for.
type figure struct {
	value, half float64
	below       bool // "< 0.0001"
}

func (n figure) is(v float64) bool {
	if n.below {
		return v < n.value
	}
	return math.Abs(n.value-v) <= n.half*(1+1e-6)+1e-12*math.Abs(v)
}

func figureOf(word string) (figure, bool) {
	word = strings.ReplaceAll(strings.ReplaceAll(word, "−", "-"), "\u202f", "")
	word, below := strings.CutPrefix(word, "<")
	v, err := strconv.ParseFloat(word, 64)
	_, behind, _ := strings.Cut(word, ".")
	return figure{v, 0.5 * math.Pow(10, -float64(len(behind))), below}, err == nil
}

var (
	anyTag    = regexp.MustCompile(`<[^>]*>`)
	anyRow    = regexp.MustCompile(`(?s)<tr>(.*?)</tr>`)
	anyNumber = regexp.MustCompile(`(?:< )?[−-]?[0-9][0-9.\x{202f}]*`)
)

func squeezed(text string) string { return strings.Join(strings.Fields(text), " ") }

func numbersOf(text string) (out []figure) {
	for _, word := range anyNumber.FindAllString(text, -1) {
		if n, is := figureOf(strings.TrimRight(strings.ReplaceAll(word, "< ", "<"), ".")); is {
			out = append(out, n)
		}
	}
	return out
}

// htmlRows are the rows of all tables of a page.
func htmlRows(page string) (out [][]figure) {
	for _, m := range anyRow.FindAllStringSubmatch(page, -1) {
		out = append(out, numbersOf(html.UnescapeString(anyTag.ReplaceAllString(m[1], " | "))))
	}
	return out
}

// textRows are the lines of a terminal, and its paragraphs: a table that does
// not fit is a list.
func textRows(text string) (out [][]figure) {
	for line := range strings.Lines(text) {
		out = append(out, numbersOf(line))
	}
	for paragraph := range strings.SplitSeq(text, "\n\n") {
		out = append(out, numbersOf(paragraph))
	}
	return out
}

// csvTables are tables one after the other, by their first lines.
func csvTables(t *testing.T, text string) map[string]numbered {
	t.Helper()
	out := map[string]numbered{}
	for part := range strings.SplitSeq(text, "\r\n\r\n") {
		all, err := csv.NewReader(strings.NewReader(part)).ReadAll()
		require.NoError(t, err)
		if len(all) == 0 {
			continue
		}
		rows := numbered{}
		for _, line := range all[1:] {
			row := map[string]any{}
			for i, name := range all[0] {
				row[name] = line[i]
			}
			rows = append(rows, row)
		}
		out[strings.Join(all[0], ",")] = rows
	}
	return out
}

// headOf is the first line of a table as a file.
func headNamed(d report.Document, name string) string {
	for _, t := range d.Tables {
		if t.Name == name {
			var names []string
			for _, c := range t.Spread().Columns {
				names = append(names, c.Name)
			}
			return strings.Join(names, ",")
		}
	}
	return ""
}

// Whoever adds a question adds all its surfaces: its function is listed, it is
// asked here, it has a command and a page; and there is no command and no page
// without a question.
func TestEveryQuestionHasItsSurfaces(t *testing.T) {
	var listed, commands, pages []string
	for _, q := range answers.Questions {
		listed, commands, pages = append(listed, q.Ask), append(commands, q.Command), append(pages, "/quality"+q.Page)
		assert.NotEmpty(t, askings[q.Ask], "%s is asked on no surface: give it a line in askings", q.Ask)
		cmd, _, err := newRoot().Find(append([]string{"quality"}, strings.Fields(q.Command)...))
		assert.NoError(t, err)
		assert.Equal(t, "padjig quality "+q.Command, cmd.CommandPath(), "%s has no command", q.Ask)
	}
	var written, ofPlant []string
	files, err := filepath.Glob("../../results/answers/*.go")
	require.NoError(t, err)
	below, err := filepath.Glob("../../results/answers/*/*.go")
	require.NoError(t, err)
	files = append(files, below...)
	for _, file := range files {
		parsed, err := parser.ParseFile(token.NewFileSet(), file, nil, 0)
		require.NoError(t, err)
		for _, d := range parsed.Decls {
			if f, is := d.(*ast.FuncDecl); is && f.Recv == nil && strings.HasPrefix(f.Name.Name, "Ask") {
				if filepath.Base(filepath.Dir(file)) == "plant" { // what is asked of many stations has commands and pages of its own
					ofPlant = append(ofPlant, strings.ToLower(strings.TrimPrefix(f.Name.Name, "Ask")))
					continue
				}
				written = append(written, f.Name.Name)
			}
		}
	}
	require.NotEmpty(t, ofPlant)
	for _, name := range ofPlant {
		path := []string{"plant", name}
		if name == "identity" {
			path = []string{"unit", "identify"} // asked of a station as well
		}
		cmd, _, err := newRoot().Find(path)
		assert.NoError(t, err)
		assert.Equal(t, "padjig "+strings.Join(path, " "), cmd.CommandPath(), "%s has no command", name)
	}
	assert.ElementsMatch(t, written, listed, "functions Ask... of package answers, and its list of questions")

	apart := []string{"export", "gauge plan", "gauge run", "gauge list"} // they do not answer
	for _, cmd := range newQuality().Commands() {
		names := []string{cmd.Name()}
		for _, sub := range cmd.Commands() {
			names = append(names, cmd.Name()+" "+sub.Name())
		}
		if cmd.HasSubCommands() {
			names = names[1:]
		}
		for _, name := range names {
			assert.True(t, slices.Contains(commands, name) || slices.Contains(apart, name),
				"padjig quality %s answers no question of package answers", name)
		}
	}

	s := surfacesOver(t, 3, 300)
	nav := regexp.MustCompile(`(?s)<nav class="sections.*?</nav>`).FindString(s.get("en", "text/html", "/quality"))
	var linked []string
	for _, m := range regexp.MustCompile(`<a href="(/quality[^"?]*)`).FindAllStringSubmatch(nav, -1) {
		linked = append(linked, m[1])
	}
	slices.Sort(pages)
	assert.ElementsMatch(t, slices.Compact(pages), linked, "pages of questions, and the pages there are")
}

func (s surfaces) freezeOnPage(query string) {
	s.Helper()
	token := regexp.MustCompile(`name="token" value="([^"]+)"`).FindStringSubmatch(s.get("en", "text/html",
		"/quality/charts?"+query))
	require.NotNil(s, token, "the page offers to freeze")
	form := url.Values{"query": {query}, "reason": {"verified on Monday"}, "token": {token[1]}}
	q := httptest.NewRequest("POST", "http://"+parityHost+"/quality/freeze", strings.NewReader(form.Encode()))
	q.Header.Set("Content-Type", "application/x-www-form-urlencoded")
	q.Header.Set("Accept", "application/json")
	q.AddCookie(&http.Cookie{Name: "padjig", Value: "token"})
	w := httptest.NewRecorder()
	s.site.ServeHTTP(w, q)
	require.Equal(s, http.StatusOK, w.Code, w.Body)
}

// Limits that are frozen on the page hold on the terminal, and the other way
// round; and they hold for their own chart alone.
func TestFrozenLimitsBelongToOneChart(t *testing.T) {
	s := surfacesOver(t, 3, 4500)
	chart := func(flags ...string) string {
		out, status := s.command(append([]string{"quality", "chart", "--store", s.store.Path(), "--simulated",
			"--revision", "C"}, flags...)...)
		require.Equal(t, 0, status, out)
		return squeezed(out)
	}
	page := func(query string) string {
		return squeezed(html.UnescapeString(anyTag.ReplaceAllString(s.get("en", "text/html",
			"/quality/charts?simulated=1&revision=C&"+query), " ")))
	}
	const byQiu, byAnn = "Limits frozen by Qiu", "Limits frozen by Ann Lee"

	s.freezeOnPage("simulated=1&revision=C&jig=J-0043&key=1")
	assert.Contains(t, page("jig=J-0043&key=1"), byQiu)
	assert.Contains(t, chart("--jig", "J-0043", "--key", "1"), byQiu, "the terminal finds the page's")
	for name, other := range map[string]struct {
		flags []string
		query string
	}{
		"another jig": {[]string{"--jig", "J-0041", "--key", "1"}, "jig=J-0041&key=1"},
		"all jigs":    {[]string{"--key", "1"}, "key=1"},
		"two jigs":    {[]string{"--jig", "J-0043,J-0041", "--key", "1"}, "jig=J-0043&jig=J-0041&key=1"},
		"another key": {[]string{"--jig", "J-0043", "--key", "2"}, "jig=J-0043&key=2"},
		"another chart": {[]string{"--jig", "J-0043", "--key", "1", "--chart", "i-mr"},
			"jig=J-0043&key=1&chart=i-mr"},
		"another chart and jig": {[]string{"--jig", "J-0041", "--key", "1", "--chart", "i-mr"},
			"jig=J-0041&key=1&chart=i-mr"},
		"ranges": {[]string{"--jig", "J-0043", "--key", "1", "--chart", "xbar-r"},
			"jig=J-0043&key=1&chart=xbar-r"},
		"another subgroup": {[]string{"--jig", "J-0043", "--key", "1", "--subgroup", "4"},
			"jig=J-0043&key=1&size=4"},
		"subgroups by time": {[]string{"--jig", "J-0043", "--key", "1", "--subgroup", "hour"},
			"jig=J-0043&key=1&group=hour"},
		"another reading": {[]string{"--jig", "J-0043", "--key", "1", "--measure", "closing"},
			"jig=J-0043&key=1&measure=closing"},
		"pressed in one way alone": {[]string{"--jig", "J-0043", "--key", "1", "--actuation", "mechanical"},
			"jig=J-0043&key=1&actuation=mechanical"},
	} {
		t.Run(name, func(t *testing.T) {
			assert.NotContains(t, chart(other.flags...), "frozen by")
			assert.NotContains(t, page(other.query), "frozen by")
		})
	}

	out, status := s.command("quality", "chart", "--store", s.store.Path(), "--simulated", "--revision", "D", "--jig",
		"J-0043", "--key", "1")
	require.Equal(t, 0, status, out)
	assert.NotContains(t, out, "frozen by", "another definition of the product")

	// Single values have limits of their own, which an EWMA and a cumulative sum share.
	ann := s.badge("Ann Lee")
	assert.Contains(t, chart("--jig", "J-0041", "--key", "7", "--chart", "i-mr", "--freeze", "--sign-in", ann,
		"--reason", "calm"), byAnn)
	for _, kind := range []string{"i-mr", "ewma", "cusum"} {
		assert.Contains(t, page("jig=J-0041&key=7&chart="+kind), byAnn, "the page finds the terminal's")
	}
	assert.NotContains(t, page("jig=J-0041&key=7"), "frozen by")

	// Too few subgroups are frozen nowhere, and nothing is written.
	out, status = s.command("quality", "chart", "--store", s.store.Path(), "--simulated", "--revision", "C", "--jig",
		"J-0042", "--key", "3", "--last", "60",
		"--freeze", "--sign-in", ann, "--reason", "calm")
	assert.Equal(t, statusWrong, status, out)
	assert.Contains(t, out, "12 subgroups are too few to freeze limits: at least 20 are needed")
	assert.NotContains(t, s.get("en", "text/html", "/quality/charts?simulated=1&revision=C&jig=J-0042&key=3&last=60"),
		`action="/quality/freeze"`)
	assert.NotContains(t, chart("--jig", "J-0042", "--key", "3"), "frozen by")
}
