package runs

import (
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

func TestOhmsRounding(t *testing.T) {
	inf := quantity.Open
	for name, c := range map[string]struct{ in, want fixture.Resistance }{
		"milliohms stay": {
			fixture.Resistance{Value: 118.204, U: 0.35},
			fixture.Resistance{Value: 118.204, U: 0.35},
		},
		"rounds to nearest": {
			fixture.Resistance{Value: 0.0015, U: 0.0024},
			fixture.Resistance{Value: 0.002, U: 0.002},
		},
		"never perfect":      {fixture.Resistance{Value: 1, U: 1e-9}, fixture.Resistance{Value: 1, U: 0.001}},
		"perfect if it says": {fixture.Resistance{Value: 1}, fixture.Resistance{Value: 1}},
		"below zero": {
			fixture.Resistance{Value: -0.003, U: 0.01},
			fixture.Resistance{Value: -0.003, U: 0.01},
		},
		"beyond the range": {
			fixture.Resistance{Value: 2e9, U: 1, AtLeast: true},
			fixture.Resistance{Value: 2e9, U: 1, AtLeast: true},
		},
		"open": {
			fixture.Resistance{Value: inf, U: 3},
			fixture.Resistance{Value: inf, U: 3, AtLeast: true},
		},
		"petaohms and more": {
			fixture.Resistance{Value: 3e17, U: 1},
			fixture.Resistance{Value: 1e15, U: 1, AtLeast: true},
		},
		"uncertainty unknown": {fixture.Resistance{Value: 5, U: inf}, fixture.Resistance{Value: 5, U: inf}},
		"uncertainty no value": {
			fixture.Resistance{Value: 5, U: quantity.Ohm(math.NaN())},
			fixture.Resistance{Value: 5, U: inf},
		},
	} {
		t.Run(name, func(t *testing.T) {
			stored, err := toOhms(c.in)
			require.NoError(t, err)
			assert.Equal(t, c.want, stored.resistance())
		})
	}
}

func TestNoReadings(t *testing.T) {
	nan := math.NaN()
	number := func(v float64) *sequence.Number { return new(sequence.Number(v)) }
	for name, err := range map[string]error{
		"resistance NaN":         second(toOhms(fixture.Resistance{Value: quantity.Ohm(nan)})),
		"resistance -Inf":        second(toOhms(fixture.Resistance{Value: -quantity.Open})),
		"resistance far below 0": second(toOhms(fixture.Resistance{Value: -2e15})),
		"negative uncertainty":   second(toOhms(fixture.Resistance{Value: 1, U: -1})),
		"voltage NaN":            second(toVolts(fixture.Voltage{Value: quantity.Volt(nan)})),
		"voltage infinite":       second(toVolts(fixture.Voltage{Value: quantity.Volt(math.Inf(1))})),
		"voltage uncertainty":    second(toVolts(fixture.Voltage{U: -1})),
		"bounce before the edge": second(toBounce(fixture.Bounce{Time: -time.Second})),
		"bounce count":           second(toBounce(fixture.Bounce{Transitions: -1})),
		"value NaN":              second(finite(number(nan))),
		"value too large":        second(finite(number(1.1e308))),
		"value -Inf":             second(finite(number(math.Inf(-1)))),
	} {
		assert.Error(t, err, name)
	}
}

// Contacts and loops known better than to 100 milliohm are stored to the microohm, others as all else is.
func TestContactsRounding(t *testing.T) {
	for name, c := range map[string]struct{ in, want fixture.Resistance }{
		"a dome":           {fixture.Resistance{Value: 0.0123456, U: 0.0002}, fixture.Resistance{Value: 0.012346, U: 0.0002}},
		"below zero":       {fixture.Resistance{Value: -0.0003, U: 0.00025}, fixture.Resistance{Value: -0.0003, U: 0.00025}},
		"never perfect":    {fixture.Resistance{Value: 1, U: 1e-9}, fixture.Resistance{Value: 1, U: 1e-6}},
		"perfect if it is": {fixture.Resistance{Value: 1.0000004}, fixture.Resistance{Value: 1}},
		"known roughly":    {fixture.Resistance{Value: 50.1234, U: 0.1}, fixture.Resistance{Value: 50.123, U: 0.1}},
		"just not roughly": {fixture.Resistance{Value: 50.1234, U: 0.099999}, fixture.Resistance{Value: 50.1234, U: 0.099999}},
		"u unknown":        {fixture.Resistance{Value: 0.0123456, U: quantity.Open}, fixture.Resistance{Value: 0.012, U: quantity.Open}},
		"large":            {fixture.Resistance{Value: 2e6 + 0.0001, U: 0.01}, fixture.Resistance{Value: 2e6, U: 0.01}},
		"a bound": {
			fixture.Resistance{Value: 12.3456, U: 0.01, AtLeast: true}, fixture.Resistance{Value: 12.3456, U: 0.01, AtLeast: true},
		},
		"open": {fixture.Resistance{Value: quantity.Open, U: 0.001}, fixture.Resistance{Value: quantity.Open, U: 0.001, AtLeast: true}},
	} {
		stored, err := toContact(c.in)
		require.NoError(t, err)
		assert.Equal(t, c.want, stored.resistance(), name)
	}
	for name, err := range map[string]error{
		"no number": second(toContact(fixture.Resistance{Value: quantity.Ohm(math.NaN()), U: 0.001})),
		"negative":  second(toContact(fixture.Resistance{Value: 1, U: -0.001})),
	} {
		assert.Error(t, err, name)
	}
}

// What is stored of a contact is stored the same again; value and uncertainty move by half a
// microohm, or by 1 in 200 of the uncertainty, at the most.
func TestContactsAreStable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := fixture.Resistance{
			Value: quantity.Ohm(rapid.Float64Range(-0.1, 2).Draw(t, "ohm") * rapid.SampledFrom([]float64{0.01, 1, 100, 1e6}).Draw(t, "by")),
			U:     quantity.Ohm(rapid.Float64Range(1e-6, 0.3).Draw(t, "u")),
		}
		stored, err := toContact(r)
		require.NoError(t, err)
		back := stored.resistance()
		rounded := math.Nextafter(math.Abs(float64(r.Value)), large) - math.Abs(float64(r.Value)) // what a float64 of this size cannot hold
		most := max(0.500001e-6+math.Abs(rounded), float64(r.U)/199)
		if math.Abs(float64(r.Value)) >= large {
			most = 0.001
		}
		if math.Abs(float64(back.Value-r.Value)) > most || math.Abs(float64(back.U-r.U)) > max(most, 0.5e-3*float64(r.U)) {
			t.Fatalf("%+v came back as %+v", r, back)
		}
		again, err := toContact(back)
		require.NoError(t, err)
		if assert.ObjectsAreEqual(stored, again) {
			return
		}
		t.Fatalf("%+v stored again is %+v", stored, again)
	})
}

// What has been stored once is stored the same again, and nothing moves by more
// than half a unit.
func TestScalesAreStable(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		r := fixture.Resistance{
			Value:   quantity.Ohm(rapid.Float64Range(-1e3, 1e12).Draw(t, "ohm")),
			U:       quantity.Ohm(rapid.Float64Range(0, 1e9).Draw(t, "u")),
			AtLeast: rapid.Bool().Draw(t, "at least"),
		}
		stored, err := toOhms(r)
		if err != nil {
			t.Fatal(err)
		}
		back := stored.resistance()
		if math.Abs(float64(back.Value-r.Value)) > 0.0005+1e-15*math.Abs(float64(r.Value)) {
			t.Fatalf("%v came back as %v", r.Value, back.Value)
		}
		again, err := toOhms(back)
		if err != nil || *again.MilliOhm != *stored.MilliOhm || *again.U != *stored.U {
			t.Fatalf("%+v stored again is %+v, %v", stored, again, err)
		}
		v := fixture.Voltage{Value: quantity.Volt(rapid.Float64Range(-100, 100).Draw(t, "volt"))}
		volt, err := toVolts(v)
		if err != nil || math.Abs(float64(volt.voltage().Value-v.Value)) > 0.500001e-6 {
			t.Fatalf("%v came back as %v, %v", v, volt.voltage(), err)
		}
	})
}

func second[A any](_ A, err error) error { return err }
