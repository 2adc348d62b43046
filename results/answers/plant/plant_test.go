package plant_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"path/filepath"
	"slices"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results"
	"padjig/results/answers"
	"padjig/results/answers/answerstest"
	"padjig/results/answers/plant"
	"padjig/results/answers/upkeep"
	"padjig/results/care"
	"padjig/results/floor"
	"padjig/results/lines"
	"padjig/results/plant/forward"
	"padjig/results/plant/planttest"
	"padjig/results/report"
	"padjig/results/store"
	"padjig/sequence"
)

var server *planttest.Server

func TestMain(m *testing.M) { planttest.Run(m, &server) }

// station is one with a clock that a test sets.
type station struct {
	*results.Store
	t    testing.TB
	name string
	jig  string
	now  time.Time
	away bool // it joined, and nothing ever came of it
}

func newStation(t testing.TB, name, jig string) *station {
	s := &station{t: t, name: name, jig: jig, now: answerstest.Begin}
	with := store.Real()
	with.Now = func() time.Time { return s.now }
	with.Ballast = 1 << 10
	var err error
	s.Store, err = results.OpenWith(t.Context(), filepath.Join(t.TempDir(), name+".sqlite"), with)
	require.NoError(t, err)
	t.Cleanup(func() { assert.NoError(t, s.Close()) })
	return s
}

// test stores a run of now.
func (s *station) test(serial string, change func(*sequence.Run), ohms ...float64) store.ID {
	s.t.Helper()
	if ohms == nil {
		ohms = []float64{60, 70, 80, 90}
	}
	run := answerstest.Run(answerstest.Vents, serial, s.now.Add(-10*time.Second), ohms...)
	run.Jig.Serial = s.jig
	if change != nil {
		change(&run)
	}
	id, err := s.Runs.Save(s.t.Context(), answerstest.Vents, run)
	require.NoError(s.t, err)
	s.now = s.now.Add(time.Minute)
	return id
}

func open(run *sequence.Run) { *run = answerstest.Failed(*run, "key open", 2) }

// verify stores a verification of the jig.
func (s *station) verify(off float64) {
	s.t.Helper()
	r := answerstest.Reading("100R", 100, 100+off)
	r.Good = math.Abs(off) < 0.5
	_, err := s.Care.SaveCalibration(s.t.Context(), sequence.Calibration{Kind: sequence.KindVerify, Simulated: true,
		Jig: sequence.JigName{Serial: s.jig, Model: "simulated jig", Firmware: "1", Adapter: "A-4"}, Operator: "Ines", Performed: s.now,
		Interval: 30 * 24 * time.Hour, Box: "B", BoxSerial: "B-1", Certificate: "C-1", CertificateDue: s.now.AddDate(1, 0, 0), Good: r.Good,
		Reason: map[bool]string{false: "100R reads too much"}[r.Good], Readings: []sequence.CalibrationReading{r}})
	require.NoError(s.t, err)
	s.now = s.now.Add(time.Minute)
}

// ship records where units are.
func (s *station) ship(to string, serials ...string) {
	s.t.Helper()
	require.NoError(s.t, s.Floor.SaveShipment(s.t.Context(), serials, floor.Shipment{Simulated: true, InStock: to == "", Consignee: to, By: "Ann"}))
	s.now = s.now.Add(time.Minute)
}

// check tests a reference unit that reads so much more than it should.
func (s *station) check(unit string, ohms ...float64) {
	s.t.Helper()
	id := s.test(unit, nil, ohms...)
	require.NoError(s.t, s.Care.SaveReferenceCheck(s.t.Context(), care.ReferenceCheck{Run: id, Unit: unit}))
}

// plantOf forwards the records of stations to a plant.
func plantOf(t testing.TB, stations ...*station) *results.Store {
	t.Helper()
	pool := server.Plant(t)
	for _, s := range stations {
		_, err := forward.Join(t.Context(), pool, s.name)
		require.NoError(t, err)
		if s.away {
			continue
		}
		f := &forward.Forwarder{Plant: pool, Records: s.Store, Member: s.name}
		_, err = f.All(t.Context(), func(int64, int64) {})
		require.NoError(t, err)
		f.Close()
	}
	return results.Over(pool, "the plant")
}

// said are the codes of sentences.
func said(list []answers.Sentence) []string {
	return store.Each(list, func(s answers.Sentence) string { return s.Code })
}

func TestStationsAsTheyStand(t *testing.T) {
	hall, yard, loft := newStation(t, "hall", "J-0001"), newStation(t, "yard", "J-0002"), newStation(t, "loft", "J-0003")
	for i := range 20 {
		hall.test(fmt.Sprintf("H-%03d", i), nil)
		yard.test(fmt.Sprintf("Y-%03d", i), map[bool]func(*sequence.Run){true: open}[i%4 == 0])
	}
	yard.verify(0)
	yard.verify(0.8)
	loft.away = true
	s := plantOf(t, hall, yard, loft)
	now := time.Now()
	zone := time.FixedZone("east", 3600)
	got, err := plant.AskStations(t.Context(), s, plant.StationsAsked{Now: now, Simulated: true, Zone: zone})
	require.NoError(t, err)
	names := store.Each(got.Rows, func(one plant.Station) string { return one.Name })
	assert.Equal(t, []string{"loft", "yard", "hall"}, names, "silent first, then what has something to do")
	assert.Equal(t, []string{"plant.stations", "plant.never"}, said(got.Conclusions))
	assert.Equal(t, []string{"J-0002"}, got.Rows[1].Jigs)
	assert.Equal(t, upkeep.VerifyBad, got.Rows[1].Troubles[0].Code)
	assert.Zero(t, got.Rows[1].Units, "of another day")
	assert.False(t, got.Rows[1].Heard.IsZero())
	assert.WithinDuration(t, now, got.Rows[1].Heard, time.Hour)

	later, err := plant.AskStations(t.Context(), s, plant.StationsAsked{Now: now.Add(2 * time.Hour), Silent: time.Hour, Simulated: true})
	require.NoError(t, err)
	assert.Equal(t, []string{"plant.stations", "plant.silent", "plant.never"}, said(later.Conclusions))
	for _, one := range later.Rows {
		assert.NotZero(t, one.Silent, one.Name)
	}

	today, err := plant.AskStations(t.Context(), s, plant.StationsAsked{Now: answerstest.Begin.Add(time.Hour), Simulated: true, Zone: zone})
	require.NoError(t, err)
	for _, one := range today.Rows {
		switch one.Name {
		case "yard":
			assert.Equal(t, 20, one.Units)
			assert.InDelta(t, 0.75, one.First.Value, 1e-9)
			assert.Less(t, one.First.Low, 0.75)
		case "hall":
			assert.Equal(t, 20, one.Units)
			assert.Equal(t, 1.0, one.First.Value)
		}
	}
	for _, d := range []report.Document{report.PlantStations(got), report.PlantStations(later)} {
		assert.NotContains(t, d.Told()[0], "plant.stations", "it has words")
	}
}

func TestYieldsSideBySide(t *testing.T) {
	hall, yard, loft := newStation(t, "hall", "J-0001"), newStation(t, "yard", "J-0002"), newStation(t, "loft", "J-0003")
	for i := range 60 {
		hall.test(fmt.Sprintf("H-%03d", i), map[bool]func(*sequence.Run){true: open}[i%20 == 0])
		yard.test(fmt.Sprintf("Y-%03d", i), map[bool]func(*sequence.Run){true: open}[i%4 == 0])
	}
	for i := range 3 {
		loft.test(fmt.Sprintf("L-%03d", i), nil)
	}
	// a unit that failed at one station and passes at the other is counted where it was judged first
	hall.now = yard.now.Add(time.Hour)
	hall.test("Y-000", nil)
	s := plantOf(t, hall, yard, loft)
	got, err := plant.AskCompare(t.Context(), s, plant.CompareAsked{Selection: answers.Selection{Filter: lines.Filter{Simulated: true}}})
	require.NoError(t, err)
	require.Len(t, got.Rows, 3)
	by := map[string]plant.Side{}
	for _, r := range got.Rows {
		by[r.Groups[0]] = r
	}
	assert.Equal(t, 60, by["hall"].Units)
	assert.Equal(t, 57, by["hall"].FirstPassed)
	assert.Equal(t, 45, by["yard"].FirstPassed)
	assert.Equal(t, 46, by["yard"].LastPassed)
	assert.True(t, by["loft"].Small)
	assert.False(t, by["loft"].Differs)
	assert.True(t, by["yard"].Differs)
	assert.Less(t, by["yard"].Difference.High, 0.0)
	codes := said(got.Conclusions)
	assert.Contains(t, codes, "plant.compare.less")
	assert.Contains(t, codes, "plant.compare.small")
	for _, r := range got.Rows {
		assert.GreaterOrEqual(t, float64(r.HolmP), float64(r.P), "adjusted for many looks")
	}
	jigs, err := plant.AskCompare(t.Context(), s, plant.CompareAsked{Jigs: true, Selection: answers.Selection{Filter: lines.Filter{Simulated: true}}})
	require.NoError(t, err)
	assert.Equal(t, []string{"hall", "J-0001"}, jigs.Rows[0].Groups)
	_, err = plant.AskCompare(t.Context(), s, plant.CompareAsked{})
	assert.ErrorIs(t, err, lines.ErrNoUnits, "there is no real run")
}

func TestDueOverAllStations(t *testing.T) {
	hall, yard := newStation(t, "hall", "J-0001"), newStation(t, "yard", "J-0002")
	hall.test("H-1", nil)
	hall.verify(0)
	yard.test("Y-1", nil)
	yard.verify(0)
	yard.verify(0.9)
	s := plantOf(t, hall, yard)
	now := hall.now.Add(40 * 24 * time.Hour)
	got, err := plant.AskDue(t.Context(), s, upkeep.Asked{Now: now})
	require.NoError(t, err)
	require.Len(t, got.Jigs, 2)
	assert.Equal(t, []string{"yard", "hall"}, got.Stations)
	for i, station := range []*station{yard, hall} {
		own, err := upkeep.OfJig(t.Context(), station.Store, upkeep.Asked{Now: now}, station.jig, true)
		require.NoError(t, err)
		assert.Equal(t, own.Troubles, got.Jigs[i].Troubles, "it is what padjig jig due says at the station")
	}
	assert.Equal(t, "station", report.PlantDue(got).Tables[0].Columns[0].Name)
}

func TestUnitsInDoubtOverAllStations(t *testing.T) {
	hall, yard := newStation(t, "hall", "J-0001"), newStation(t, "yard", "J-0002")
	hall.verify(0)
	yard.verify(0)
	for _, serial := range []string{"H-1", "H-2", "H-3", "H-4"} {
		hall.test(serial, nil)
	}
	hall.verify(0.8) // all four are in doubt
	hall.ship("Greenhouses of Graz", "H-1", "H-2")
	yard.now = hall.now.Add(time.Hour)
	yard.ship0("H-2") // came back into stock at the other station
	yard.test("H-3", nil)
	yard.verify(0)
	s := plantOf(t, hall, yard)
	got, err := plant.AskSuspects(t.Context(), s, plant.SuspectsAsked{Simulated: true, Cleared: true})
	require.NoError(t, err)
	assert.Equal(t, 1, got.Jigs)
	require.Len(t, got.Rows, 4)
	assert.Equal(t, "H-1", got.Rows[0].Serial, "shipped ones first")
	assert.Equal(t, "Greenhouses of Graz", got.Rows[0].Shipment.Consignee)
	assert.True(t, got.Rows[0].Left())
	assert.Equal(t, "H-3", got.Rows[3].Serial, "it passed at the other station, on a jig that was good")
	require.NotNil(t, got.Rows[3].Cleared)
	for _, u := range got.Rows {
		assert.Equal(t, "hall", u.Station)
		if u.Serial == "H-2" {
			assert.False(t, u.Left(), "what the other station recorded last counts")
		}
	}
	assert.Equal(t, []string{"plant.suspects", "plant.suspects.shipped"}, said(got.Conclusions))
	without, err := plant.AskSuspects(t.Context(), s, plant.SuspectsAsked{Simulated: true})
	require.NoError(t, err)
	assert.Len(t, without.Rows, 3)
	none, err := plant.AskSuspects(t.Context(), s, plant.SuspectsAsked{})
	require.NoError(t, err)
	assert.Equal(t, []string{"plant.suspects.nojig"}, said(none.Conclusions))
}

// ship0 has a unit come into stock that this station has never tested: it tests it first.
func (s *station) ship0(serial string) {
	s.test(serial, func(r *sequence.Run) { *r = answerstest.Ended(*r, sequence.Aborted) })
	s.ship("", serial)
}

func TestALifeOverStations(t *testing.T) {
	hall, yard := newStation(t, "hall", "J-0001"), newStation(t, "yard", "J-0002")
	hall.test("U-1", open)
	yard.now = hall.now.Add(time.Hour)
	yard.test("U-1", nil)
	yard.ship("Greenhouses of Graz", "U-1")
	hall.now = yard.now.Add(time.Hour)
	hall.test("U-2", nil)
	hall.test("U-1", open)
	s := plantOf(t, yard, hall) // in whichever order they forward
	got, err := plant.AskLife(t.Context(), s, "U-1")
	require.NoError(t, err)
	var is []string
	for _, e := range got.Events {
		is = append(is, e.Station+" "+e.Kind+" "+e.What)
	}
	assert.Equal(t, []string{"hall tested fail", "yard tested pass", "yard shipped Greenhouses of Graz", "hall tested fail"}, is)
	assert.Equal(t, []string{"hall", "yard"}, got.Stations)
	nobody, err := plant.AskLife(t.Context(), s, "U-9")
	require.NoError(t, err)
	assert.Empty(t, nobody.Events)
	assert.NotContains(t, report.PlantLife(got).Told()[0], "plant.life")
}

// A jig that reads 3 % more than the others, and one that moves, are found by their reference
// units; before anything is planted nobody is accused.
func TestReferenceUnitsBetweenStations(t *testing.T) {
	rng := rand.New(rand.NewPCG(3, 0))
	checks := func(shift, drift float64) *results.Store {
		stations := []*station{newStation(t, "hall", "J-0001"), newStation(t, "yard", "J-0002"), newStation(t, "loft", "J-0003"), newStation(t, "shed", "J-0004")}
		for day := range 10 {
			for i, s := range stations {
				s.now = answerstest.Begin.Add(time.Duration(day)*3*24*time.Hour + time.Duration(i)*time.Hour)
				gain := 1 + 0.01*float64(day)/10 // the unit wears
				if i == 1 {
					gain *= 1 + shift + drift*float64(day)/10
				}
				ohms := []float64{150, 170, 190, 210}
				for k := range ohms {
					ohms[k] *= gain * math.Exp(0.004*rng.NormFloat64())
				}
				s.check("REF-1", ohms...)
			}
		}
		stations[0].check("REF-2", 100, 100, 100, 100)
		return plantOf(t, stations...)
	}
	ask := func(s *results.Store) plant.Drift {
		d, err := plant.AskDrift(t.Context(), s, plant.DriftAsked{Simulated: true})
		require.NoError(t, err)
		require.Len(t, d.Rows, 4)
		assert.Equal(t, []string{"REF-2"}, d.Alone)
		return d
	}
	d := ask(checks(0, 0))
	assert.Contains(t, said(d.Conclusions), "plant.drift.alike")
	assert.InDelta(t, 0.01*30/30, d.Units[0].Changes, 0.004, "what the unit itself wears")

	d = ask(checks(0.03, 0))
	yard := d.Rows[0]
	assert.Equal(t, "yard", yard.Station)
	assert.True(t, yard.Biased)
	assert.Greater(t, yard.En, 1.0)
	assert.True(t, yard.Bias.Low < 0.03 && 0.03 < yard.Bias.High, "its size: %v", yard.Bias)
	assert.False(t, slices.ContainsFunc(d.Rows[1:], func(r plant.Reader) bool { return r.Biased || r.Moving }), "nobody else")
	assert.Contains(t, said(d.Conclusions), "plant.drift.reads")

	d = ask(checks(0, 0.04))
	at := slices.IndexFunc(d.Rows, func(r plant.Reader) bool { return r.Station == "yard" })
	assert.True(t, d.Rows[at].Moving)
	assert.True(t, d.Rows[at].Moves.Low < 0.04 && 0.04 < d.Rows[at].Moves.High, "its size: %v", d.Rows[at].Moves)
	text := report.PlantDrift(d).Told()
	for _, line := range text {
		assert.NotContains(t, line, "plant.drift")
	}
}
