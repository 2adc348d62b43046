package margin

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"pgregory.net/rapid"

	"padjig/fixture/quantity"
)

// R_max = R_pullup VIL / (VDD - VIL) with VIL = 0.3 VDD: the formula of the divider, computed
// by hand for the pull-ups in use; no publication tabulates it.
func TestLargestClosedResistance(t *testing.T) {
	for pullUp, want := range map[quantity.Ohm]float64{
		4.7e3: 2.01e3, 10e3: 4.29e3, 22e3: 9.43e3, 47e3: 20.1e3, 100e3: 42.9e3,
	} {
		d := Divider{Supply: 3.3, PullUp: pullUp}
		assert.InEpsilon(t, want, float64(d.MaxClosed(0.99)), 3e-3, "%v", pullUp)
		d.Drive = 50
		assert.InEpsilon(t, want-50, float64(d.MaxClosed(0.99)), 3e-3, "%v behind a driver of 50 ohm", pullUp)
	}
}

// The largest contact with and without a series diode, by the formula in docs/margins.md,
// computed by hand to two digits. 0.8 V of 3.3 V and 0.9 V of 5 V are the low thresholds that
// the data sheets of the RP2040 and the ATmega32U4 give (seen as others cite them).
func TestLargestContactBehindADiode(t *testing.T) {
	for _, c := range []struct {
		supply, low, drop quantity.Volt
		want              [3]float64 // for pull-ups of 10, 50 and 100 kohm
	}{
		{3.3, 0.8, 0, [3]float64{3.2e3, 16e3, 32e3}},
		{3.3, 0.8, 0.5, [3]float64{1.2e3, 6.0e3, 12e3}},
		{1.8, 0.54, 0, [3]float64{4.3e3, 21e3, 43e3}},
		{1.8, 0.54, 0.5, [3]float64{0.32e3, 1.6e3, 3.2e3}},
		{5, 0.9, 0.55, [3]float64{0.85e3, 4.3e3, 8.5e3}},
	} {
		for i, pullUp := range []quantity.Ohm{10e3, 50e3, 100e3} {
			d := Divider{Supply: c.supply, PullUp: pullUp, Drop: c.drop}
			assert.InEpsilon(t, c.want[i], float64(d.MaxClosed(c.low)), 0.025, "%+v", d)
		}
	}
}

// t = R C ln(VDD / (VDD - VIH)) to 2.0 V of 3.3 V, computed by hand to two digits.
func TestRiseTime(t *testing.T) {
	for _, c := range []struct {
		r    quantity.Ohm
		c    quantity.Farad
		want float64 // us
	}{{10e3, 100e-12, 0.93}, {50e3, 100e-12, 4.7}, {100e3, 100e-12, 9.3}, {300e3, 100e-12, 28}, {50e3, 470e-12, 22}} {
		got := RiseTime(c.r, c.c, 3.3, 2.0)
		assert.InEpsilon(t, c.want, got.Seconds()*1e6, 0.011, "%v and %v", c.r, c.c)
	}
	assert.Equal(t, Never, RiseTime(10e3, 100e-12, 3.3, 3.3))
}

// FallTime against the charge carried off in small steps.
func TestFallTime(t *testing.T) {
	d := Divider{Supply: 3.3, PullUp: 22e3, Drive: 60}
	const r, c, low = 4000, 220e-12, 0.9
	v, elapsed, step := 3.3, 0.0, 1e-11
	for v > low {
		up, down := (3.3-v)/22e3, v/(r+60)
		v += (up - down) * step / c
		elapsed += step
	}
	assert.InEpsilon(t, elapsed, FallTime(d, r, c, low).Seconds(), 1e-3)
	assert.Equal(t, Never, FallTime(d, 20e3, c, low), "a row that never gets there")
	assert.Equal(t, time.Duration(0), FallTime(d, r, 0, low), "a line without capacitance")
}

// At the resistance allowed the level is the threshold, and beyond it on the wrong side.
func TestAllowedIsOnTheThreshold(t *testing.T) {
	rapid.Check(t, func(r *rapid.T) {
		d := Divider{
			Supply: quantity.Volt(rapid.Float64Range(0.8, 60).Draw(r, "supply")),
			PullUp: quantity.Ohm(rapid.Float64Range(100, 1e7).Draw(r, "pull-up")),
			Drive:  quantity.Ohm(rapid.Float64Range(0, 1e3).Draw(r, "drive")),
			Drop:   quantity.Volt(rapid.Float64Range(0, 1).Draw(r, "drop")),
		}
		low := d.Supply * quantity.Volt(rapid.Float64Range(0.05, 0.95).Draw(r, "threshold"))
		if most := d.MaxClosed(low); most > 0 {
			assert.InEpsilon(r, float64(low), float64(d.Level(most)), 1e-9)
			assert.Greater(r, d.Level(most*1.001+1), low)
		} else {
			assert.GreaterOrEqual(r, float64(d.Level(0)), float64(low)*(1-1e-12), "none, as even 0 ohm is too much")
		}
		d.Drop = 0
		if least := d.MinRest(low); least > 0 {
			assert.InEpsilon(r, float64(low), float64(d.Level(least)), 1e-9)
		}
	})
}

func TestEndsOfTheDivider(t *testing.T) {
	d := Divider{Supply: 3.3, PullUp: 10e3}
	assert.Equal(t, quantity.Volt(3.3), d.Level(quantity.Open))
	assert.Equal(t, quantity.Volt(0), d.Level(0))
	assert.True(t, d.MinRest(3.3).IsOpen())
	d.Drop = 4
	assert.Equal(t, quantity.Volt(3.3), d.Level(10), "a diode that needs more than the supply carries nothing")
	assert.True(t, left(100, 100).IsOpen())
	assert.InEpsilon(t, 200, float64(left(100, 200)), 1e-12)
	assert.Equal(t, quantity.Ohm(100), left(100, quantity.Open))
}
