package simulated

import (
	"strings"

	"padjig/cmd/padjig/command"
	"padjig/fixture/circuit"
	"padjig/fixture/jigsim"
	"padjig/fixture/jigsim/world"
	"padjig/sequence/refbox"
)

// What can lie in a simulated jig in place of a unit.
const (
	Plug = "plug"
	Box  = "box"
)

// LayStandard puts a shorting plug or a reference box into a simulated jig;
// what is said after a box's file, and after the plug, are faults.
func (s *Setup) LayStandard(jig *jigsim.Jig, what, rest string) error {
	channels := int(jigsim.Defaults().Channels)
	keypad, in := world.Plug(channels), "shorting plug"
	if what == Box {
		path, faults, _ := strings.Cut(rest, " ")
		box, err := refbox.Load(path)
		if err != nil {
			return err
		}
		keypad, in, rest = boxKeypad(box, channels), "reference box "+box.String(), faults
	}
	faults, err := world.ParseFaults(rest, keypad)
	if err != nil {
		return err
	}
	err = jig.Load(world.Unit{Keypad: keypad, Wiring: world.Straight(channels), Faults: faults, Seed: s.Seed})
	if err == nil {
		s.standard = in
	}
	return err
}

func boxKeypad(box *refbox.Box, channels int) *circuit.Keypad {
	return world.Box(channels, command.Each(box.Resistors, func(r refbox.Resistor) world.Resistor {
		return world.Resistor{A: r.Pins[0] - 1, B: r.Pins[1] - 1, Ohm: r.Ohm}
	}))
}
