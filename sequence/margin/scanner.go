package margin

import (
	"padjig/fixture/quantity"
	"padjig/sequence/product"
)

// scanner is what reads the keypad, at the ends of its tolerances.
type scanner struct{ product.Scanner }

// supplies are the two ends of the supply, each as the factor by which a threshold that
// follows the supply has moved.
func (s scanner) supplies() [2]float64 {
	return [2]float64{1 - s.SupplyTolerance, 1 + s.SupplyTolerance}
}

// mostSupply is the supply at its upper end.
func (s scanner) mostSupply() quantity.Volt { return s.Supply * quantity.Volt(s.supplies()[1]) }

func (s scanner) leastPull() quantity.Ohm { return s.PullUp * quantity.Ohm(1-s.PullUpTolerance) }
func (s scanner) mostPull() quantity.Ohm  { return s.PullUp * quantity.Ohm(1+s.PullUpTolerance) }

// hanging is what a row must charge: itself, and a column that floats again but hangs on it
// by a key that is held.
func (s scanner) hanging() quantity.Farad {
	if s.IdleDriven {
		return s.Capacitance
	}
	return 2 * s.Capacitance
}
