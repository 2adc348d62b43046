package runs_test

import (
	"crypto/sha256"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/results/runs"
	"padjig/results/runs/runstest"
	"padjig/results/store"
	"padjig/sequence"
)

// The canonical record, written out by hand. It stands for ever: hashes of it
// are in every store.
func TestCanonicalRecord(t *testing.T) {
	run := runstest.Failed("24-000001")
	run.Findings[0].At = sequence.Said{} // as of versions that kept no codes
	r, err := runs.NewRecord(runstest.Climate(), run)
	require.NoError(t, err)
	require.NoError(t, r.ID.UnmarshalText([]byte("017f22e2-79b0-7cc3-98c4-dc0c0c07398f")))
	r.Station = store.Station{Host: "bench-3", Software: "v1.0.0", BootID: "1f0c"}
	r.Saved, r.Mono, r.ClockSynced = 1772435713000000, new(int64(86400000000123)), new(true)
	want := strings.Join([]string{
		`{"id":"017f22e2-79b0-7cc3-98c4-dc0c0c07398f","serial":"24-000001","product":"GH-20",`,
		`"title":"Greenhouse climate controller, 5x4","revision":"C",`,
		`"revision_hash":"7c3f622e2fd137ccfcad972e5f9000cdf9925d8b7a2c0de91ce1b6fea8a7d6e0",`,
		`"jig":{"serial":"J-0007","model":"PJ-64","firmware":"1.4.2","adapter":"A-20"},`,
		`"station":{"host":"bench-3","software":"v1.0.0","boot_id":"1f0c"},`,
		`"simulated":false,"actuation":"mechanical","operator":"Ines","attempt":1,`,
		`"started_us":1772435704123456,"duration_us":8421337,"outcome":"fail","reason":"",`,
		`"saved_us":1772435713000000,"mono_ns":86400000000123,"clock_synced":true,`,
		`"steps":[{"step":"seating","done":true,"took_us":61000},{"step":"key 1","done":true,"took_us":312000}],`,
		`"seats":[{"pin":1,"line":"R1","good":true,"loop":{"mohm":412,"u_mohm":30,"at_least":false}},`,
		`{"pin":2,"line":"","good":false,"loop":{"mohm":2000000000,"u_mohm":0,"at_least":true}}],`,
		`"keys":[{"key":"1","lines":["R1","C1"],"passed":false,"closed":{"mohm":null,"u_mohm":null,"at_least":true},`,
		`"make":null,"break":null,"forward":null},`,
		`{"key":"2","lines":["R1","C2"],"passed":null,"closed":null,"make":null,"break":null,"forward":null}],`,
		`"pairs":[{"lines":["R1","R2"],"held":"","reading":{"mohm":3217,"u_mohm":20,"at_least":false}},`,
		`{"lines":["C1","C2"],"held":"2","reading":{"mohm":9500000000000,"u_mohm":100000000000,"at_least":true}}],`,
		`"findings":[{"what":"key open","location":"key 1 (R1-C1)","key":"1","lines":["R1","C1"],"pins":[1,6],`,
		`"value":null,"value_open":true,"u":null,"limit":200,"unit":"ohm"},`,
		`{"what":"short","location":"lines R1 and R2","key":"","lines":["R1","R2"],"pins":[1,2],`,
		`"value":3.2171,"value_open":false,"u":0.02,"limit":10000000,"unit":"ohm"},`,
		`{"what":"odd","location":"nowhere","key":"","lines":[],"pins":[],`,
		`"value":null,"value_open":false,"u":null,"limit":null,"unit":""}]}`,
	}, "")
	got, err := runs.Canonical(r)
	require.NoError(t, err)
	assert.Equal(t, want, string(got))
	sum, err := runs.Sum(r)
	require.NoError(t, err)
	hash := sha256.Sum256([]byte(want))
	assert.Equal(t, hash[:], sum)
}

// What codes add to it stands where nothing stood before.
func TestCanonicalRecordWithCodes(t *testing.T) {
	run := runstest.Failed("24-000001")
	run.Outcome, run.Reason = sequence.Aborted, "the lid was opened"
	run.Why = sequence.Said{Code: sequence.LidOpened}
	run.Findings = run.Findings[:1]
	run.Findings[0].How = []sequence.Said{{Code: sequence.OfPresses, Args: []string{"3", "100", "5"}}, {Code: sequence.TailMoved}}
	r, err := runs.NewRecord(runstest.Climate(), run)
	require.NoError(t, err)
	got, err := runs.Canonical(r)
	require.NoError(t, err)
	assert.Contains(t, string(got), `"limit":200,"unit":"ohm","site":["key","1","R1","C1"],`+
		`"how":[["of presses","3","100","5"],["tail moved"]]}],"why":["lid opened"]}`)

	s := openTemp(t)
	id, err := s.Runs.Save(t.Context(), runstest.Climate(), run)
	require.NoError(t, err)
	stored, err := s.Runs.Run(t.Context(), id)
	require.NoError(t, err)
	assert.Equal(t, run, stored.Run)
}
