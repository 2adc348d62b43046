package plant_test

import (
	"flag"
	"fmt"
	"math/rand/v2"
	"testing"
	"time"

	"github.com/stretchr/testify/require"

	"padjig/results/answers/plant"
	"padjig/results/plant/forward"

	"padjig/results"
)

var padRuns = flag.Int("padruns", 2000, "runs that a search is timed over")

// BenchmarkIdentify searches for a unit among many runs at three stations, and compares that with having the database read the same
// rows and nothing else. All but the newest hundred of each are made in the database.
func BenchmarkIdentify(b *testing.B) {
	hall, yard, desk := newStation(b, "hall", "J-0001"), newStation(b, "yard", "J-0002"), newStation(b, "desk", "J-0003")
	p := &presser{rand.New(rand.NewPCG(4, 3)), map[*station][]float64{}}
	var wanted []float64
	for i := range 100 {
		for _, s := range []*station{hall, yard} {
			pad := p.pad()
			if i == 40 {
				wanted = pad
			}
			p.test(b, s, revA, fmt.Sprintf("%s-%03d", s.name, i), pad, nil)
		}
	}
	for i := range 15 {
		p.test(b, desk, revA, fmt.Sprintf("desk-%03d", i), p.pad(), nil)
	}
	p.test(b, desk, revA, "NO-LABEL", wanted, nil)
	pool := server.Plant(b)
	for _, one := range []*station{hall, yard, desk} {
		_, err := forward.Join(b.Context(), pool, one.name)
		require.NoError(b, err)
		f := &forward.Forwarder{Plant: pool, Records: one.Store, Member: one.name}
		_, err = f.All(b.Context(), func(int64, int64) {})
		require.NoError(b, err)
		f.Close()
	}
	_, err := pool.ExecContext(b.Context(), `
		INSERT INTO run_pad (revision, simulated, jig, run, u, pad)
		SELECT revision, simulated, jig, n * 4096 + 1, 4, pad FROM generate_series(1, ?::bigint) AS n
		JOIN (SELECT revision, simulated, jig, pad, row_number() OVER (ORDER BY run) AS at FROM run_pad) AS made ON at = 1 + n % 200`, *padRuns)
	require.NoError(b, err)
	_, err = pool.ExecContext(b.Context(), `VACUUM ANALYZE run_pad`)
	require.NoError(b, err)
	var size int64
	require.NoError(b, pool.QueryRowContext(b.Context(), `SELECT pg_total_relation_size('run_pad')`).Scan(&size))
	s := results.Over(pool, "the plant")
	var searches, reads time.Duration
	looked := 0
	for b.Loop() {
		began := time.Now()
		got, err := plant.AskIdentity(b.Context(), s, plant.IdentityAsked{What: "NO-LABEL"}, nil)
		require.NoError(b, err)
		searches += time.Since(began)
		looked = got.Searched
		began = time.Now()
		var rows, bytes int64
		require.NoError(b, pool.QueryRowContext(b.Context(), `SELECT count(*), sum(length(pad)) FROM run_pad WHERE simulated = 1`).Scan(&rows, &bytes))
		reads += time.Since(began)
	}
	b.ReportMetric(float64(searches)/float64(reads), "of-reading-the-rows")
	b.ReportMetric(float64(searches.Microseconds())/float64(b.N)/float64(looked), "us/run")
	b.ReportMetric(float64(size)/float64(looked), "bytes/run")
}
