package sequence_test

import (
	"encoding/json"
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"padjig/fixture"
	"padjig/fixture/quantity"
	"padjig/sequence"
)

// The leaves of the record as programs get them, written out by hand.
func TestTheRecordAsJSON(t *testing.T) {
	inf, nan := math.Inf(1), math.NaN()
	for want, v := range map[string]any{
		`{"ohm":23.456,"u_ohm":0.012}`:                                 fixture.Resistance{Value: 23.456, U: 0.012},
		`{"ohm":-0.003,"u_ohm":0}`:                                     fixture.Resistance{Value: -0.003},
		`{"ohm":5,"u_ohm":null}`:                                       fixture.Resistance{Value: 5, U: quantity.Open},
		`{"ohm":null,"u_ohm":0}`:                                       fixture.Resistance{Value: quantity.Ohm(nan)},
		`{"ohm":null,"u_ohm":null,"over_range":true}`:                  []any{fixture.Resistance{Value: 2e9, U: 1, AtLeast: true}, fixture.Resistance{Value: quantity.Open}},
		`{"v":0.612,"u_v":0.001}`:                                      fixture.Voltage{Value: 0.612, U: 0.001},
		`{"v":0.612,"u_v":null}`:                                       fixture.Voltage{Value: 0.612, U: quantity.Volt(inf)},
		`{"ms":0.35,"transitions":3}`:                                  fixture.Bounce{Time: 350 * time.Microsecond, Transitions: 3},
		`{"seconds":2,"openings":0,"longest_ms":0}`:                    fixture.Hold{Watched: 2 * time.Second},
		`{"seconds":0,"openings":4,"longest_ms":0.35,"at_least":true}`: fixture.Hold{Openings: 4, Longest: 350 * time.Microsecond, AtLeast: true},
		`["key","7","R3","C1"]`:                                        sequence.Fact(sequence.AtKey, "7", "R3", "C1"),
		`["tail moved"]`:                                               sequence.Fact(sequence.TailMoved),
		`null`:                                                         []any{sequence.Said{}, sequence.Number(inf), sequence.Number(-inf), sequence.Number(nan)},
		`3.2171`:                                                       sequence.Number(3.2171),
		`8.421337`:                                                     sequence.Seconds(8_421_337 * time.Microsecond),
		`1.25`:                                                         sequence.Milliseconds(1250 * time.Microsecond),
		`{"what":"line open","place":"","key":"","lines":null,"pins":null,"value":null,"u":null,"limit":null,"unit":""}`: sequence.Finding{What: "line open"},
	} {
		all, several := v.([]any)
		if !several {
			all = []any{v}
		}
		for _, v := range all {
			text, err := json.Marshal(v)
			require.NoError(t, err)
			assert.Equal(t, want, string(text), "%#v", v)
		}
	}
}

// No number there is keeps a finding or a reading from being told.
func TestEveryNumberIsTold(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		odd := rapid.SampledFrom([]float64{math.Inf(1), math.Inf(-1), math.NaN(), math.MaxFloat64, math.SmallestNonzeroFloat64, math.Copysign(0, -1)})
		number := func(name string) float64 { return rapid.OneOf(rapid.Float64(), odd).Draw(t, name) }
		value, u, limit := sequence.Number(number("value")), sequence.Number(number("u")), sequence.Number(number("limit"))
		ohm := fixture.Resistance{Value: quantity.Ohm(value), U: quantity.Ohm(u), AtLeast: rapid.Bool().Draw(t, "at least")}
		run := sequence.Run{
			Seats: []sequence.Seat{{Loop: ohm}},
			Keys:  []sequence.KeyResult{{Closed: &ohm, Reverse: &ohm, Forward: &fixture.Voltage{Value: quantity.Volt(value), U: quantity.Volt(u)}}},
			Pairs: []sequence.Pair{{Ohm: ohm, Forward: &ohm, Backward: &ohm}}, Exercised: []sequence.KeyExercise{{Least: &ohm, Most: &ohm}},
			Findings: []sequence.Finding{{Value: &value, U: &u, Limit: &limit}},
		}
		text, err := json.Marshal(run)
		if err != nil {
			t.Fatal(err)
		}
		var got struct {
			Findings []struct{ Value, U, Limit *float64 }
		}
		if err := json.Unmarshal(text, &got); err != nil {
			t.Fatal(err)
		}
		for _, pair := range []struct {
			was  sequence.Number
			told *float64
		}{{value, got.Findings[0].Value}, {u, got.Findings[0].U}, {limit, got.Findings[0].Limit}} {
			finite := !math.IsNaN(float64(pair.was)) && !math.IsInf(float64(pair.was), 0)
			if finite != (pair.told != nil) || finite && *pair.told != float64(pair.was) {
				t.Fatalf("%v was told as %v", pair.was, pair.told)
			}
		}
	})
}

// A fact is read back as it was, whatever its words.
func TestFactsAreReadBack(t *testing.T) {
	for _, s := range []sequence.Said{{}, sequence.Fact(sequence.TailMoved), sequence.Fact(sequence.AtKey, "<", `"&`, "ö", "")} {
		text, err := json.Marshal(s)
		require.NoError(t, err)
		var back sequence.Said
		require.NoError(t, json.Unmarshal(text, &back))
		assert.Equal(t, s, back)
	}
	var s sequence.Said
	assert.Error(t, json.Unmarshal([]byte(`{"code":"key"}`), &s))
}
