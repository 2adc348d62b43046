package plant_test

import (
	"context"
	"reflect"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/results"
	"padjig/results/accounts"
	"padjig/results/answers/gauge"
	"padjig/results/care"
	"padjig/results/floor"
	"padjig/results/lines"
	"padjig/results/listing"
	"padjig/results/pads"
	"padjig/results/plant/postgres"
	"padjig/results/returns"
	"padjig/results/runs"
	"padjig/results/stops"
	"padjig/results/studies"
	"padjig/sequence"
	"padjig/sequence/product"
)

// happened is what befell the units of a line besides being tested; it is written down on the station.
type happened struct {
	pad          *product.Product
	fail, pass   runs.Stored
	revision     runs.Revision
	shown, owing string // units with a case, and that is put nowhere
}

func happens(t *testing.T, s *results.Store) (h happened) {
	t.Helper()
	ctx := t.Context()
	ok := func(err error) { t.Helper(); require.NoError(t, err) }
	var err error
	h.pad, err = product.Load("../../testdata/products/gcc-20.yaml")
	ok(err)
	recent, err := s.Runs.Recent(ctx, 500)
	ok(err)
	pattern := func(o sequence.Outcome) runs.Stored {
		i := slices.IndexFunc(recent, func(r runs.Summary) bool { return r.Outcome == o && (o == sequence.Pass || r.Findings > 0) })
		require.GreaterOrEqual(t, i, 0, "no %s", o)
		run, err := s.Runs.Run(ctx, recent[i].ID)
		ok(err)
		return run
	}
	h.fail, h.pass = pattern(sequence.Fail), pattern(sequence.Pass)
	h.revision, err = s.Runs.Revision(ctx, h.pass)
	ok(err)
	save := func(of runs.Stored, serial string, change func(*sequence.Run)) runs.Stored {
		t.Helper()
		run := of.Run
		run.Serial, run.Jig.Serial = serial, "J-0041"
		change(&run)
		id, err := s.Runs.Save(ctx, h.revision, run)
		ok(err)
		saved, err := s.Runs.Run(ctx, id)
		ok(err)
		return saved
	}
	plain := func(*sequence.Run) {}
	test := func(of runs.Stored, serial string) {
		t.Helper()
		run := of.Run
		run.Serial, run.Jig.Serial, run.Attempt = serial, "J-0041", 1
		b, err := s.Runs.Begin(ctx, h.revision, runs.Start{Serial: serial, Jig: run.Jig, Simulated: true, Actuation: run.Actuation, Operator: run.Operator,
			Started: run.Started}, func(runs.History) error { return nil })
		ok(err)
		run.Attempt = b.Attempt
		_, err = b.Save(ctx, run)
		ok(err)
	}
	ok(s.Accounts.SaveOverride(ctx, accounts.Override{What: "attempts used", Serial: h.fail.Serial, Jig: "J-0041", By: "Qiu", Reason: "customer asks for a report"}))
	for _, serial := range []string{"GCC-910000", "GCC-910001", "GCC-910002"} {
		test(h.fail, serial)
	}
	line := stops.Line{Jig: "J-0041", Product: h.pad.Code, Simulated: true}
	held, err := s.Stops.Holding(ctx, line, h.pad, "")
	ok(err)
	require.NotEmpty(t, held)
	_, err = s.Stops.Lift(ctx, held[0].Number, stops.Lifting{By: "Qiu", Reason: stops.Cleaned, Note: "nest"})
	ok(err)
	h.owing = "GCC-910002"
	place, err := s.Fails.AddPlace(ctx, "shelf 3", "Qiu")
	ok(err)
	for i, serial := range []string{"GCC-910000", "GCC-910001"} {
		owed, err := s.Fails.OpenOf(ctx, serial)
		ok(err)
		require.NotEmpty(t, owed)
		if i == 0 {
			_, err = s.Fails.Place(ctx, owed[0].Run, place, "Ines")
		} else {
			_, err = s.Fails.Lift(ctx, owed[0].Run, "Qiu", "scrapped at once")
		}
		ok(err)
	}
	h.shown = h.fail.Serial
	c, err := s.Returns.OpenCase(ctx, h.shown, h.pad.Code, returns.Intake{Received: now, Complaint: "key works sometimes", ComplaintText: "7 needs two or three tries",
		Conditions: []string{"dirty"}, Customer: "Hall 4", Lot: "M-2231", By: "Jon"})
	ok(err)
	ok(s.Returns.SayNoPhoto(ctx, c, returns.NoPhoto{Reason: "the camera is broken", By: "Jon"}))
	for _, p := range []sequence.Purpose{sequence.FirstPress, sequence.ReturnTest} {
		save(h.fail, h.shown, func(r *sequence.Run) { r.Purpose, r.Case = p, c.ID.String() })
	}
	c, err = s.Returns.Case(ctx, c.Number)
	ok(err)
	ok(s.Returns.Diagnosed(ctx, c, returns.Diagnosis{Run: c.Stages[1].Seq, Causes: []byte(`[{"cause":"dirt"}]`)}))
	ok(s.Returns.SaveRework(ctx, returns.Rework{Serial: h.shown, Deed: "contact replaced", Place: returns.Place{Kind: returns.AtKey, Name: "1"}, Lot: "P-7", By: "Ines", Done: now}, h.pad))
	ok(s.Returns.Dispose(ctx, c, returns.Disposition{Code: returns.Confirmed, Disposal: returns.Scrapped, By: "Jon"}))
	study := studies.Study{Across: studies.AcrossOperators, Parts: []string{"GCC-900001", "GCC-900002"}, Appraisers: []string{"Ann", "Bob"}, Repeats: 2, Seed: 5, By: "Qiu"}
	study.Plan, err = gauge.PlanStudy(2, 2, 2, 5)
	ok(err)
	study, err = s.Studies.PlanStudy(ctx, h.revision, study)
	ok(err)
	for at, p := range study.Plan {
		run := save(h.pass, study.Parts[p.Part], func(r *sequence.Run) { r.Operator, r.Purpose = study.Appraisers[p.Appraiser], sequence.GaugeStudy })
		ok(s.Studies.AddReading(ctx, study.Number, at, run.ID))
	}
	save(h.pass, "GCC-920000", plain)
	for range 3 {
		run := save(h.pass, "REF-G", plain)
		ok(s.Care.SaveReferenceCheck(ctx, care.ReferenceCheck{Run: run.ID, Unit: "REF-G"}))
	}
	save(h.pass, "GCC-920001", plain) // a cell keeps as its first or last run one that was set aside: neither is here
	ok(s.Care.SaveWear(ctx, care.WearEvent{Jig: "J-0041", Part: care.ProbeSet, Name: "PS-1", Tip: "crown", Simulated: true, Serves: []int{10}, By: "Qiu"}))
	ok(s.Floor.SaveHandover(ctx, floor.Handover{Shift: "early", Day: "2026-03-02", Simulated: true, By: "Ines", Note: "probe 3 sticks"}))
	ok(s.Floor.SaveProductChange(ctx, floor.ProductChange{Jig: "J-0041", Simulated: true, Before: "GCC-16", Product: h.pad.Code, Given: "GCC-16", By: "Ines"}))
	ok(s.Floor.SaveShipment(ctx, []string{h.pass.Serial}, floor.Shipment{Simulated: true, Consignee: "Hall 4", By: "Jon", At: now}))
	ok(s.Lines.SaveBaseline(ctx, lines.Baseline{Subject: "key 7", Selection: "jig=J-0041", Points: 25, Limits: []byte(`{"CL":80}`), Simulated: true, By: "Qiu", Reason: "a good week"}))
	ok(s.Nest.SawEmpty(ctx, "J-0041", true))
	_, err = s.Care.BeginCommissioning(ctx, fixture.Capabilities{Serial: "J-0041", Model: "reference", Firmware: "2", Simulated: true}, "Qiu")
	ok(err)
	return h
}

// at is one side while it is asked.
type at struct {
	*results.Store
	ctx      context.Context
	run, row func(local int64) int64
	happened
}

// stored is a run as this side has it.
func (a at) stored(of runs.Stored) (runs.Stored, error) { return a.Runs.Run(a.ctx, of.ID) }

func one[A any](a A, err error) (any, error) { return a, err }

func both[A, B any](a A, b B, err error) (any, error) { return []any{a, b}, err }

// ofLine asks something of a filter.
func ofLine[A any](ask func(*lines.Records, context.Context, lines.Filter) (A, error)) func(at) (any, error) {
	return func(a at) (any, error) { return one(ask(a.Lines, a.ctx, lines.Filter{Simulated: true})) }
}

// ofJig asks something of a simulated jig.
func ofJig[R, A any](room func(at) *R, ask func(*R, context.Context, string, bool) (A, error)) func(at) (any, error) {
	return func(a at) (any, error) { return one(ask(room(a), a.ctx, "J-0041", true)) }
}

func careOf(a at) *care.Records   { return a.Care }
func floorOf(a at) *floor.Records { return a.Floor }

// reads has every reading method of every room that a plant has the rows of, by room and name.
var reads = map[string]func(at) (any, error){
	"Runs.History":  func(a at) (any, error) { return one(a.Runs.History(a.ctx, a.shown)) },
	"Runs.Recent":   func(a at) (any, error) { return one(a.Runs.Recent(a.ctx, 60)) },
	"Runs.Unit":     func(a at) (any, error) { return one(a.Runs.Unit(a.ctx, a.shown)) },
	"Runs.Starts":   func(a at) (any, error) { return one(a.Runs.Starts(a.ctx, "GCC-910001")) },
	"Runs.Run":      func(a at) (any, error) { return one(a.stored(a.fail)) },
	"Runs.Revision": func(a at) (any, error) { return one(a.Runs.Revision(a.ctx, a.fail)) },
	"Runs.Product": func(a at) (any, error) {
		p, err := a.Runs.Product(a.ctx, a.fail)
		if err != nil {
			return nil, err
		}
		return string(p.Canonical()), nil
	},
	"Runs.Numbered":   func(a at) (any, error) { return one(a.Runs.Numbered(a.ctx, []int64{a.run(3), a.run(a.fail.Seq)})) },
	"Runs.Recompute":  func(a at) (any, error) { return both(a.Runs.Recompute(a.ctx, a.run(1), a.run(9))) },
	"Runs.Releases":   func(a at) (any, error) { return one(a.Runs.Releases(a.ctx, a.pad.Code)) },
	"Runs.Tested":     func(a at) (any, error) { return one(a.Runs.Tested(a.ctx, a.fail.Serial, a.fail.Hash)) },
	"Runs.CheckLabel": func(a at) (any, error) { return nil, a.Runs.CheckLabel(a.ctx, a.revision) },

	"Nest.Of": func(a at) (any, error) { return one(a.Nest.Of(a.ctx, "J-0041", true)) },

	"Releases.Proposals":     func(a at) (any, error) { return one(a.Releases.Proposals(a.ctx, a.pad.Code)) },
	"Releases.Open":          func(a at) (any, error) { return one(a.Releases.Open(a.ctx, a.pad.Code)) },
	"Releases.Codes":         func(a at) (any, error) { return one(a.Releases.Codes(a.ctx)) },
	"Releases.LastWithdrawn": func(a at) (any, error) { return one(a.Releases.LastWithdrawn(a.ctx, a.pad.Code)) },
	"Releases.Against":       func(a at) (any, error) { return one(a.Releases.Against(a.ctx, a.pad.Code)) },
	"Releases.FirstTested": func(a at) (any, error) {
		return one(a.Releases.FirstTested(a.ctx, runs.Release{Code: a.pad.Code, Label: a.revision.Label, Hash: a.revision.Hash, AfterRun: a.run(9)}))
	},
	"Releases.Sound": func(a at) (any, error) {
		return nil, a.Releases.Sound(a.ctx, runs.Release{Code: a.pad.Code, Source: string(a.revision.Definition)})
	},

	"Floor.Clock": func(a at) (any, error) {
		c, err := a.Floor.Clock(a.ctx)
		return c.Zone().String(), err
	},
	"Floor.Zone":              func(a at) (any, error) { return one(a.Floor.Zone(a.ctx)) },
	"Floor.Handovers":         func(a at) (any, error) { return one(a.Floor.Handovers(a.ctx, "early", "2026-03-02", true)) },
	"Floor.LotsOf":            func(a at) (any, error) { return one(a.Floor.LotsOf(a.ctx, "J-0041", a.pad.Code, true)) },
	"Floor.LotHistory":        func(a at) (any, error) { return one(a.Floor.LotHistory(a.ctx, "J-0041", a.pad.Code, true, 9)) },
	"Floor.LotNames":          func(a at) (any, error) { return one(a.Floor.LotNames(a.ctx)) },
	"Floor.LastProductChange": ofJig(floorOf, (*floor.Records).LastProductChange),
	"Floor.Shifts":            func(a at) (any, error) { return one(a.Floor.Shifts(a.ctx)) },

	"Lines.FrozenLimits": func(a at) (any, error) { return one(a.Lines.FrozenLimits(a.ctx, "key 7", true)) },
	"Lines.Hashes":       ofLine((*lines.Records).Hashes),
	"Lines.Units": func(a at) (any, error) {
		list, all, more, err := a.Lines.Units(a.ctx, lines.Filter{Simulated: true}, lines.Behind{First: a.run(20), Last: a.run(90), Low: nan, High: nan}, 50)
		return []any{list, all, more}, err
	},
	"Lines.Causes": func(a at) (any, error) {
		return one(a.Lines.Causes(a.ctx, lines.Filter{Simulated: true}, lines.CauseByPlace))
	},
	"Lines.Places": ofLine((*lines.Records).Places),
	"Lines.Findings": func(a at) (any, error) {
		return one(a.Lines.Findings(a.ctx, lines.Filter{Simulated: true}, lines.ByJig, ""))
	},
	"Lines.Events": func(a at) (any, error) { return one(a.Lines.Events(a.ctx, lines.Filter{Simulated: true})) },
	"Lines.Export": func(a at) (any, error) {
		var rows []lines.ExportRow
		var told []int64
		err := a.Lines.Export(a.ctx, lines.Filter{Simulated: true, Jigs: []string{"J-0042"}}, func(r lines.ExportRow) error {
			rows = append(rows, r)
			return nil
		}, func(done, of int64) { told = append(told, done, of) })
		return []any{rows, told}, err
	},
	"Lines.Facets": func(a at) (any, error) {
		f, err := a.Lines.Facets(a.ctx, a.pad.Code, true)
		f.Stations = nil // of a plant alone
		return f, err
	},
	"Lines.OpenUnits": ofLine((*lines.Records).OpenUnits),
	"Lines.Subjects": func(a at) (any, error) {
		return one(a.Lines.Subjects(a.ctx, lines.Filter{Simulated: true, Revisions: []string{"C"}}, lines.StepTime))
	},
	"Lines.Pad":    ofLine((*lines.Records).Pad),
	"Lines.Probes": func(a at) (any, error) { return one(a.Lines.Probes(a.ctx, lines.Filter{Simulated: true}, 300)) },
	"Lines.Readings": func(a at) (any, error) {
		return one(a.Lines.Readings(a.ctx, lines.Filter{Simulated: true, Revisions: []string{"C"}}, lines.Contact, nil, 50))
	},
	"Lines.KeyHistograms": func(a at) (any, error) {
		return one(a.Lines.KeyHistograms(a.ctx, lines.Filter{Simulated: true, Revisions: []string{"C"}}))
	},
	"Lines.GroupHistograms": func(a at) (any, error) {
		return both(a.Lines.GroupHistograms(a.ctx, lines.Filter{Simulated: true, Revisions: []string{"C"}}, lines.ByJig, "7"))
	},
	"Lines.Tested":     ofLine((*lines.Records).Tested),
	"Lines.LastTested": ofLine((*lines.Records).LastTested),
	"Lines.Chosen": func(a at) (any, error) {
		return one(a.Lines.Chosen(a.ctx, lines.Filter{Simulated: true}, []int64{a.run(4), a.run(400)}))
	},
	"Lines.Overrides":           ofLine((*lines.Records).Overrides),
	"Lines.AbortedAfterFinding": ofLine((*lines.Records).AbortedAfterFinding),
	"Lines.Unfinished":          ofLine((*lines.Records).Unfinished),
	"Lines.Reseats":             ofLine((*lines.Records).Reseats),
	"Lines.Yields": func(a at) (any, error) {
		return one(a.Lines.Yields(a.ctx, lines.Filter{Simulated: true}, lines.ByLot, lines.ByHour))
	},
	"Lines.Cells":     func(a at) (any, error) { return one(a.Lines.Cells(a.ctx, lines.Filter{Simulated: true}, lines.ByDay)) },
	"Lines.LastUnits": func(a at) (any, error) { return one(a.Lines.LastUnits(a.ctx, lines.Filter{Simulated: true}, 80)) },

	"Studies.Studies": func(a at) (any, error) { return one(a.Studies.Studies(a.ctx)) },
	"Studies.Study":   func(a at) (any, error) { return one(a.Studies.Study(a.ctx, a.row(1))) },
	"Studies.StudyValues": func(a at) (any, error) {
		study, err := a.Studies.Study(a.ctx, a.row(1))
		if err != nil {
			return nil, err
		}
		return one(a.Studies.StudyValues(a.ctx, study, lines.Contact))
	},
	"Studies.ReferenceValues": func(a at) (any, error) {
		return one(a.Studies.ReferenceValues(a.ctx, "J-0041", "REF-G", true, lines.Contact))
	},
	"Studies.KeyLimits": func(a at) (any, error) { return one(a.Studies.KeyLimits(a.ctx, a.fail.Hash, lines.Contact)) },

	"Care.LastAdapter":     func(a at) (any, error) { return both(a.Care.LastAdapter(a.ctx, a.pad.Code, "J-0041", "", true)) },
	"Care.Calibrations":    ofJig(careOf, (*care.Records).Calibrations),
	"Care.LastGood":        func(a at) (any, error) { return one(a.Care.LastGood(a.ctx, "J-0041", sequence.KindVerify, true)) },
	"Care.Commissionings":  ofJig(careOf, (*care.Records).Commissionings),
	"Care.CommissionState": func(a at) (any, error) { return one(a.Care.CommissionState(a.ctx, a.fail.Jig, true)) },
	"Care.Earlier": func(a at) (any, error) {
		run, err := a.stored(a.fail)
		if err != nil {
			return nil, err
		}
		return one(a.Care.Earlier(a.ctx, run, nil))
	},
	"Care.Jigs":        func(a at) (any, error) { return one(a.Care.Jigs(a.ctx)) },
	"Care.TestedSince": func(a at) (any, error) { return one(a.Care.TestedSince(a.ctx, "J-0041", true, a.run(50))) },
	"Care.ProbeSets":   func(a at) (any, error) { return one(a.Care.ProbeSets(a.ctx, true)) },
	"Care.Reference":   func(a at) (any, error) { return one(a.Care.Reference(a.ctx, "J-0041", "REF-G", true)) },
	"Care.Baseline":    func(a at) (any, error) { return one(a.Care.Baseline(a.ctx, "J-0041", "REF-G", true)) },
	"Care.LastChecks":  func(a at) (any, error) { return one(a.Care.LastChecks(a.ctx, now.AddDate(1, 0, 0), true)) },
	"Care.NewestCheck": func(a at) (any, error) { return one(a.Care.NewestCheck(a.ctx, "REF-G")) },
	"Care.Verified":    ofJig(careOf, (*care.Records).Verified),
	"Care.SelfTests":   ofJig(careOf, (*care.Records).SelfTests),
	"Care.DueState":    func(a at) (any, error) { return one(a.Care.DueState(a.ctx, "J-0041", true, now)) },
	"Care.DueAt":       func(a at) (any, error) { return one(a.Care.DueAt(a.ctx, "J-0041", true, a.run(60), now)) },
	"Care.Steady": func(a at) (any, error) {
		return one(a.Care.Steady(a.ctx, true, []care.Stretch{{Jig: "J-0041", From: a.run(5), To: a.run(500)}, {Jig: "J-0042", From: a.run(1), To: a.run(100)}}))
	},
	"Care.Suspects":     ofJig(careOf, (*care.Records).Suspects),
	"Care.LimitedParts": ofJig(careOf, (*care.Records).LimitedParts),
	"Care.WornParts":    ofJig(careOf, (*care.Records).WornParts),
	"Care.Wear":         ofJig(careOf, (*care.Records).Wear),

	"Returns.Case":       func(a at) (any, error) { return one(a.Returns.Case(a.ctx, a.row(1))) },
	"Returns.CaseOf":     func(a at) (any, error) { return one(a.Returns.CaseOf(a.ctx, a.shown)) },
	"Returns.OpenCaseOf": func(a at) (any, error) { return one(a.Returns.OpenCaseOf(a.ctx, a.shown)) },
	"Returns.CaseRuns": func(a at) (any, error) {
		c, err := a.Returns.Case(a.ctx, a.row(1))
		if err != nil {
			return nil, err
		}
		return one(a.Returns.CaseRuns(a.ctx, c))
	},
	"Returns.Alike": func(a at) (any, error) {
		c, err := a.Returns.Case(a.ctx, a.row(1))
		if err != nil {
			return nil, err
		}
		return one(a.Returns.Alike(a.ctx, c, a.fail.Findings[0], nil))
	},
	"Returns.Reworks":        func(a at) (any, error) { return one(a.Returns.Reworks(a.ctx, a.shown)) },
	"Returns.ReworkNumbered": func(a at) (any, error) { return one(a.Returns.ReworkNumbered(a.ctx, a.row(1))) },
	"Returns.ProductOf": func(a at) (any, error) {
		p, err := a.Returns.ProductOf(a.ctx, a.shown)
		if err != nil {
			return nil, err
		}
		return string(p.Canonical()), nil
	},
	"Returns.Find":    func(a at) (any, error) { return one(a.Returns.Find(a.ctx, returns.Search{Words: "TWO or", Most: 9})) },
	"Returns.Shipped": func(a at) (any, error) { return one(a.Returns.Shipped(a.ctx, a.pass.Serial, true, a.run(a.pass.Seq))) },

	"Fails.On":       func(a at) (any, error) { return one(a.Fails.On(a.ctx, "J-0041", true)) },
	"Fails.Open":     func(a at) (any, error) { return one(a.Fails.Open(a.ctx, true)) },
	"Fails.OpenOf":   func(a at) (any, error) { return one(a.Fails.OpenOf(a.ctx, a.owing)) },
	"Fails.Of":       func(a at) (any, error) { return one(a.Fails.Of(a.ctx, "GCC-910000")) },
	"Fails.Numbered": func(a at) (any, error) { return one(a.Fails.Numbered(a.ctx, a.row(1))) },
	"Fails.Latest":   func(a at) (any, error) { return one(a.Fails.Latest(a.ctx, 9)) },
	"Fails.Tag":      func(a at) (any, error) { return one(a.Fails.Tag(a.ctx, a.fail.ID)) },
	"Fails.Places":   func(a at) (any, error) { return one(a.Fails.Places(a.ctx)) },

	"Pads.Before": func(a at) (any, error) {
		run, err := a.stored(a.pass)
		if err != nil {
			return nil, err
		}
		return one(a.Pads.Before(a.ctx, run))
	},
	"Pads.Returned": func(a at) (any, error) {
		left, err := a.stored(a.pass)
		if err != nil {
			return nil, err
		}
		return one(a.Pads.Returned(a.ctx, left, left))
	},

	"Pads.Search": func(a at) (any, error) {
		run, err := a.stored(a.pass)
		if err != nil {
			return nil, err
		}
		return one(a.Pads.Search(a.ctx, pads.SearchAsked{Run: run}, func(int) {}))
	},

	"Stops.List": func(a at) (any, error) { return one(a.Stops.List(a.ctx, true)) },
	"Stops.Stop": func(a at) (any, error) { return one(a.Stops.Stop(a.ctx, a.row(1))) },
	"Stops.Holding": func(a at) (any, error) {
		return one(a.Stops.Holding(a.ctx, stops.Line{Jig: "J-0041", Product: a.pad.Code, Simulated: true}, a.pad, ""))
	},

	"Units.Find": func(a at) (any, error) {
		many, more, err := a.Units.Find(a.ctx, "gcc", 20)
		if err != nil {
			return nil, err
		}
		few, fewer, err := a.Units.Find(a.ctx, strings.ToLower(a.shown[2:]), 20)
		return []any{many, more, few, fewer}, err
	},

	"Listing.Page": func(a at) (any, error) {
		return both(a.Listing.Page(a.ctx, listing.Filter{After: a.pass.ID, Verdict: "fail"}, 20))
	},
	"Listing.Hash": func(a at) (any, error) { return one(a.Listing.Hash(a.ctx, a.run(7))) },
	"Listing.Since": func(a at) (any, error) {
		var all []listing.Run
		last, err := a.Listing.Since(a.ctx, a.run(590), func(r listing.Run) { all = append(all, r) })
		return []any{all, last}, err
	},
}

// elsewhere are the methods that write, or ask what stays on a station: doors, drafts, photos, what is in hand.
var elsewhere = strings.Fields(`Runs.Alone Runs.Batch Runs.Hold Runs.Introduce Runs.Save Runs.Begin Nest.SawEmpty
	Releases.Approve Releases.May Releases.KeepDraft Releases.DropDraft Releases.Drafts Releases.Products Releases.Propose Releases.Return Releases.Withdraw
	Floor.SaveZone Floor.SaveHandover Floor.SaveLots Floor.SaveProductChange Floor.SaveShifts Floor.SaveShipment Lines.SaveBaseline
	Studies.PlanStudy Studies.AddReading Studies.KeepReading Care.SaveCalibration Care.BeginCommissioning Care.AddCommissionStep Care.SaveWear
	Care.Settle Care.SaveReferenceCheck Returns.OpenCase Returns.CorrectIntake Returns.Diagnosed Returns.Dispose Returns.AddPhoto Returns.PhotoFile
	Returns.CheckPhotos Returns.SaveRework Returns.SayNoPhoto Returns.Unlock Fails.Place Fails.Lift Fails.AddPlace Stops.Lift Units.Lately Listing.Tried
	Pads.Twice`) // the last: of many stations alone

// Every reading method of every room says the same of a station's records and of a plant's.
func TestEveryRoomOnBothStores(t *testing.T) {
	s := bothSides(t, 600, happens)
	station := at{s.station, t.Context(), func(n int64) int64 { return n }, func(n int64) int64 { return n }, s.happened}
	plant := at{s.plant, t.Context(), func(n int64) int64 { return s.runs[n] }, func(n int64) int64 { return postgres.RowNumber(s.member, n) }, s.happened}
	rooms := reflect.ValueOf(s.station).Elem()
	for i := range rooms.NumField() {
		room := rooms.Type().Field(i)
		if !room.IsExported() || slices.Contains([]string{"Accounts", "SignIns", "Backups", "HandOff", "Tokens", "Notices", "Plant"}, room.Name) {
			continue // of one station's door, its backups, those it hands on to and what it was told, or of a plant alone
		}
		for m := range room.Type.NumMethod() {
			name := room.Name + "." + room.Type.Method(m).Name
			read := reads[name]
			if slices.Contains(elsewhere, name) {
				assert.Nil(t, read, name)
				continue
			}
			if !assert.NotNil(t, read, "%s is asked of neither store: it needs a line in reads", name) {
				continue
			}
			here, err := read(station)
			there, plantErr := read(plant)
			s.compare(t, name, here, err, there, plantErr)
		}
	}
}
