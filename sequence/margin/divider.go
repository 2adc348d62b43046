package margin

import "padjig/fixture/quantity"

// Divider is the circuit by which one key is read: a pull-up from the supply to the row, and
// from there the drop of a diode, the key and the driver to ground.
type Divider struct {
	Supply quantity.Volt
	PullUp quantity.Ohm
	Drop   quantity.Volt // of the series diode, taken as constant; 0 without one
	Drive  quantity.Ohm  // of the driver that is low
}

// Level gives the voltage of the row with the key at r, which may be open:
//
//	V = Drop + (Supply - Drop) (r + Drive) / (PullUp + r + Drive)
func (d Divider) Level(r quantity.Ohm) quantity.Volt {
	if r.IsOpen() || d.Drop >= d.Supply {
		return d.Supply
	}
	below := r + d.Drive
	return d.Drop + (d.Supply-d.Drop)*quantity.Volt(below/(d.PullUp+below))
}

// MaxClosed gives the largest r whose level is at most low, which is below the supply:
//
//	r = PullUp (low - Drop) / (Supply - low) - Drive
//
// Not above zero it means that no key is good enough.
func (d Divider) MaxClosed(low quantity.Volt) quantity.Ohm {
	return d.PullUp*quantity.Ohm((low-d.Drop)/(d.Supply-low)) - d.Drive
}

// MinRest gives the smallest r whose level is at least high, without the help of a diode:
// r = PullUp high / (Supply - high) - Drive. It is open when the supply itself is not
// above high.
func (d Divider) MinRest(high quantity.Volt) quantity.Ohm {
	if high >= d.Supply {
		return quantity.Open
	}
	return d.PullUp*quantity.Ohm(high/(d.Supply-high)) - d.Drive
}

func parallel(a, b quantity.Ohm) quantity.Ohm { return 1 / (1/a + 1/b) }

// left is the least that a resistance may be for total to remain with beside next to it.
func left(total, beside quantity.Ohm) quantity.Ohm {
	if beside <= total {
		return quantity.Open
	}
	return 1 / (1/total - 1/beside)
}
