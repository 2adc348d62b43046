package plant_test

import (
	"fmt"
	"math"
	"math/rand/v2"
	"os"
	"path/filepath"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/results"
	"padjig/results/answers/answerstest"
	"padjig/results/answers/plant"
	"padjig/results/care"
	"padjig/results/pads"
	"padjig/results/plant/count"
	"padjig/results/plant/forward"
	"padjig/results/plant/retention"
	"padjig/results/report"
	"padjig/results/runs"
	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/samepad"
)

// many defines a keypad of twenty-four keys.
func many(label string, first int) runs.Revision {
	var keys []answerstest.Key
	for k := range 24 {
		keys = append(keys, answerstest.Key{Label: fmt.Sprint("K", (first+k)%24), Lines: []string{fmt.Sprint("R", k/6), fmt.Sprint("C", k%6)}})
	}
	return answerstest.Pad("CC-24", label, keys...)
}

var (
	revA = many("A", 0)
	revB = many("B", 7) // the same keys in another order
)

// presser reads pads on stations whose jigs read differently, key by key.
type presser struct {
	*rand.Rand
	bias map[*station][]float64
}

func (p *presser) pad() []float64 {
	pad := make([]float64, 24)
	for k := range pad {
		pad[k] = math.Log(60*(1+0.2*float64(k%4))) + 0.1*p.NormFloat64()
	}
	return pad
}

// read is a run over a pad at a station.
func (p *presser) read(s *station, rev runs.Revision, serial string, pad []float64) sequence.Run {
	if p.bias[s] == nil {
		bias := make([]float64, 24)
		for k := range bias {
			bias[k] = 0.1 * (2*p.Float64() - 1)
		}
		p.bias[s] = bias
	}
	run := answerstest.Run(rev, serial, s.now.Add(-10*time.Second))
	run.Jig.Serial = s.jig
	for k := range pad {
		at := k
		if rev.Hash == revB.Hash {
			at = (k + 7) % 24
		}
		ohm := math.Exp(pad[at] + p.bias[s][at] + 0.006*p.NormFloat64())
		run.Keys = append(run.Keys, sequence.KeyResult{Key: fmt.Sprint("K", at), Lines: [2]string{fmt.Sprint("R", k/6), fmt.Sprint("C", k%6)},
			Verdict: sequence.KeyPass, Closed: &fixture.Resistance{Value: quantity.Ohm(ohm), U: 0.02}})
	}
	return run
}

func (p *presser) test(t testing.TB, s *station, rev runs.Revision, serial string, pad []float64, change func(*sequence.Run)) runs.Stored {
	t.Helper()
	run := p.read(s, rev, serial, pad)
	if change != nil {
		change(&run)
	}
	id, err := s.Runs.Save(t.Context(), rev, run)
	require.NoError(t, err)
	s.now = s.now.Add(time.Minute)
	stored, err := s.Runs.Run(t.Context(), id)
	require.NoError(t, err)
	return stored
}

func ask(t *testing.T, s *results.Store, a plant.IdentityAsked) plant.Identity {
	t.Helper()
	got, err := plant.AskIdentity(t.Context(), s, a, nil)
	require.NoError(t, err)
	d := report.PlantIdentity(got)
	for _, told := range d.Told() {
		assert.NotContains(t, told, "plant.identify", "it has words")
		assert.NotRegexp(t, regexp.MustCompile(`\{\d|%!`), told)
	}
	return got
}

// A unit whose label cannot be read is found among those of all stations, though every jig reads each key differently.
func TestAUnitIsFoundAcrossStations(t *testing.T) {
	hall, yard, desk := newStation(t, "hall", "J-0001"), newStation(t, "yard", "J-0002"), newStation(t, "desk", "J-0003")
	p := &presser{rand.New(rand.NewPCG(4, 2)), map[*station][]float64{}}
	made := map[string][]float64{}
	for i := range 60 {
		for _, s := range []*station{hall, yard} {
			serial := fmt.Sprintf("%s-%03d", s.name, i)
			made[serial] = p.pad()
			rev := revA
			if i >= 50 {
				rev = revB
			}
			p.test(t, s, rev, serial, made[serial], nil)
		}
	}
	reference := p.pad()
	for range 5 {
		for _, s := range []*station{hall, yard, desk} {
			run := p.test(t, s, revA, "REF-1", reference, nil)
			require.NoError(t, s.Care.SaveReferenceCheck(t.Context(), care.ReferenceCheck{Run: run.ID, Unit: "REF-1"}))
		}
	}
	back := func(serial string, pad []float64, change func(*sequence.Run)) {
		p.test(t, desk, revA, serial, pad, change)
	}
	back("NO-LABEL-1", made["yard-017"], nil)
	back("NO-LABEL-2", made["hall-055"], nil) // tested there as another revision, whose keys are in another order
	back("NO-LABEL-3", p.pad(), nil)          // of no station
	back("NO-LABEL-4", made["hall-003"], func(r *sequence.Run) {
		for k := range r.Keys[3:] { // saturated
			r.Keys[3+k].Closed.AtLeast = true
		}
	})
	back("NO-LABEL-5", made["yard-030"], func(r *sequence.Run) { // one key was repaired, one reads beyond the range
		r.Keys[5].Closed.Value *= 1.6
		r.Keys[9].Closed.AtLeast = true
	})
	back("NO-LABEL-6", made["yard-031"], func(r *sequence.Run) { r.Simulated = false })
	pool := server.Plant(t)
	bring := func(one *station) {
		_, err := forward.Join(t.Context(), pool, one.name)
		require.NoError(t, err)
		f := &forward.Forwarder{Plant: pool, Records: one.Store, Member: one.name}
		_, err = f.All(t.Context(), func(int64, int64) {})
		require.NoError(t, err)
		f.Close()
	}
	for _, one := range []*station{hall, yard, desk} {
		bring(one)
	}
	s := results.Over(pool, "the plant")

	found := func(got plant.Identity, serial, station string) {
		t.Helper()
		require.Equal(t, pads.SamePad, got.Conclusion, "%+v", got.Candidates)
		assert.Equal(t, serial, got.Candidates[0].Serial)
		assert.Equal(t, station, got.Stations[0])
		assert.Equal(t, samepad.FromReferences, got.Candidates[0].Basis)
	}
	found(ask(t, s, plant.IdentityAsked{What: "NO-LABEL-1"}), "yard-017", "yard")
	found(ask(t, s, plant.IdentityAsked{What: "NO-LABEL-2"}), "hall-055", "hall")
	found(ask(t, s, plant.IdentityAsked{What: "NO-LABEL-5"}), "yard-030", "yard")
	stranger := ask(t, s, plant.IdentityAsked{What: "NO-LABEL-3"})
	assert.Equal(t, pads.OtherPads, stranger.Conclusion)
	assert.Greater(t, stranger.None, 0.5)
	assert.Equal(t, pads.NotAsked, ask(t, s, plant.IdentityAsked{What: "NO-LABEL-4"}).Conclusion)
	assert.Equal(t, pads.TooFew, ask(t, s, plant.IdentityAsked{What: "NO-LABEL-6"}).Conclusion, "simulated units are not those of real jigs")

	elsewhere := ask(t, s, plant.IdentityAsked{What: "NO-LABEL-1", Station: "hall"})
	assert.NotEqual(t, pads.SamePad, elsewhere.Conclusion, "it is not of that station")
	assert.Less(t, elsewhere.Searched, 70)
	_, err := plant.AskIdentity(t.Context(), s, plant.IdentityAsked{What: "NO-LABEL-1", Station: "attic"}, nil)
	assert.ErrorIs(t, err, plant.ErrStation)
	_, err = plant.AskIdentity(t.Context(), s, plant.IdentityAsked{What: "NEVER"}, nil)
	assert.ErrorIs(t, err, store.ErrNotFound)

	// Readings that went to files leave what was kept of the pads; what was never kept is said, with its month.
	sound := func() {
		t.Helper()
		wrong, err := count.Check(t.Context(), s, func(float64) {})
		require.NoError(t, err)
		assert.Empty(t, wrong)
	}
	sound()
	// A plant of before gets the rows of what it has when it is prepared.
	files, err := filepath.Glob("../../plant/postgres/migrations/*_pads.sql")
	require.NoError(t, err)
	require.Len(t, files, 1)
	text, err := os.ReadFile(files[0])
	require.NoError(t, err)
	_, rest, _ := strings.Cut(string(text), "\nINSERT")
	fill, _, _ := strings.Cut(rest, ";")
	again, err := pool.BeginTx(t.Context(), nil)
	require.NoError(t, err)
	for _, do := range []string{`SET LOCAL session_replication_role = replica`, `DELETE FROM run_pad`, "INSERT" + fill} {
		_, err = again.ExecContext(t.Context(), do)
		require.NoError(t, err)
	}
	require.NoError(t, again.Commit())
	sound()
	next := hall.now.AddDate(0, 1, 0)
	month, err := retention.ParseMonth(next.Format("2006-01"))
	require.NoError(t, err)
	done, err := (&retention.Retirement{DB: pool, Before: month, Folder: t.TempDir(), By: "Ines", Now: next.AddDate(0, 2, 0)}).Do(t.Context())
	require.NoError(t, err)
	require.Len(t, done, 1)
	desk.now = desk.now.AddDate(0, 2, 0)
	back("NO-LABEL-8", made["yard-017"], nil)
	bring(desk)
	sound()
	later := ask(t, s, plant.IdentityAsked{What: "NO-LABEL-8"})
	require.Equal(t, pads.OneOfSeveral, later.Conclusion, "it was tested under two numbers before: %+v", later.Candidates)
	assert.ElementsMatch(t, []string{"NO-LABEL-1", "yard-017"}, []string{later.Candidates[0].Serial, later.Candidates[1].Serial})
	assert.Less(t, later.None, 0.001)
	assert.Zero(t, later.Gone)
	tx, err := pool.BeginTx(t.Context(), nil)
	require.NoError(t, err)
	_, err = tx.ExecContext(t.Context(), `SET LOCAL session_replication_role = replica`)
	require.NoError(t, err)
	_, err = tx.ExecContext(t.Context(), `DELETE FROM run_pad WHERE run % 4096 = (SELECT member FROM member WHERE name = 'yard')`)
	require.NoError(t, err)
	require.NoError(t, tx.Commit())
	never := ask(t, s, plant.IdentityAsked{What: "NO-LABEL-8", Station: "yard"})
	assert.Equal(t, pads.TooFew, never.Conclusion)
	assert.Equal(t, 65, never.Gone)
	assert.Len(t, never.Months, 1)
	assert.Contains(t, said(never.Conclusions), "plant.identify.gone")

	// Own records of a station give the same by the same rule, over what they have.
	p.test(t, yard, revA, "NO-LABEL-7", made["yard-017"], nil)
	own := ask(t, yard.Store, plant.IdentityAsked{What: "NO-LABEL-7"})
	assert.Equal(t, pads.SamePad, own.Conclusion)
	assert.Equal(t, "yard-017", own.Candidates[0].Serial)
	assert.Equal(t, samepad.SameJig, own.Candidates[0].Basis)
	_, err = plant.AskIdentity(t.Context(), yard.Store, plant.IdentityAsked{What: "NO-LABEL-7", Station: "yard"}, nil)
	assert.ErrorIs(t, err, plant.ErrStation)
}
