// Package simulated makes simulated jigs: what lies in one, the pseudo-terminal it
// speaks on, and one in a process of its own.
package simulated

import (
	"math/rand/v2"
	"strings"
	"time"

	"padjig/fixture/jigsim"
	"padjig/fixture/jigsim/world"
	"padjig/fixture/wire"
	"padjig/sequence/product"
)

// Setup is a simulated jig, and what lies in it.
type Setup struct {
	Faults      []string
	Serial      string
	Adapter     string // empty: the first that the product asks for, if it asks
	Seed        uint64
	Baud        int
	Latency     time.Duration
	Pace        bool
	NoActuators bool
	Lit         func(wire.Tower) // told of each change of the signal tower; nil: the jig has none
	Together    uint8            // keys that it can hold at once; 0: the usual
	Travel      time.Duration    // of an actuator, each way; 0: the usual
	standard    string           // what lies in the jig in place of a unit, in words
}

// Build makes the jig with its wiring: line under channel, key under actuator.
func (s *Setup) Build(p *product.Product) (*jigsim.Jig, error) {
	id := jigsim.Defaults()
	id.Serial, id.Adapter = s.Serial, s.Adapter
	if id.Adapter == "" && len(p.Adapters) > 0 {
		id.Adapter = p.Adapters[0]
	}
	if s.NoActuators {
		id.Features &^= wire.FeatureMechanical
		id.Actuators, id.Together = 0, 0
	}
	if s.Together > 0 && !s.NoActuators {
		id.Together = s.Together
	}
	if s.Travel > 0 {
		id.TravelDownUs, id.TravelUpUs = uint32(s.Travel.Microseconds()), uint32(s.Travel.Microseconds())
	}
	if s.Lit != nil {
		id.Features |= wire.FeatureTower
	}
	keypad := p.Circuit()
	faults, err := world.ParseFaults(strings.Join(s.Faults, "\n"), keypad)
	if err != nil {
		return nil, err
	}
	return jigsim.New(jigsim.Config{
		Identity: id, Keypad: keypad, Contact: p.Nominal.Contact, Faults: faults,
		Wiring: p.Wiring(), Actuators: p.Pushes(),
		Seed: s.Seed, Lit: s.Lit, Session: uint16(1 + rand.IntN(1<<16-1)), Pace: s.Pace, Baud: s.Baud, Latency: s.Latency,
	})
}

// InIt says what lies in the jig.
func (s *Setup) InIt(p *product.Product, jig *jigsim.Jig) string {
	var faults []string
	for _, f := range jig.Faults() {
		faults = append(faults, f.String())
	}
	unit := strings.TrimSpace(p.Code + " " + p.Revision)
	if s.standard != "" {
		unit = s.standard
	}
	if len(faults) == 0 {
		return unit + ", no faults"
	}
	return unit + ", faults: " + strings.Join(faults, "; ")
}

// Load puts another unit in.
func (s *Setup) Load(p *product.Product, jig *jigsim.Jig, faults string) error {
	keypad := p.Circuit()
	parsed, err := world.ParseFaults(faults, keypad)
	if err != nil {
		return err
	}
	s.standard = ""
	return jig.Load(world.Unit{Keypad: keypad, Contact: p.Nominal.Contact, Faults: parsed, Seed: s.Seed})
}

// Empty takes out what lies in the jig.
func (s *Setup) Empty(jig *jigsim.Jig) error {
	s.standard = "nothing"
	return jig.Empty()
}
