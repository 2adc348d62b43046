package main

import (
	"strings"
	"time"

	"padjig/fixture/jigsim"
	"padjig/fixture/wire"
	"padjig/sequence/product"
)

// simulation is a simulated jig, and what lies in it.
type simulation struct {
	faults      []string
	serial      string
	seed        uint64
	baud        int
	latency     time.Duration
	pace        bool
	noActuators bool
	travel      time.Duration // of an actuator, each way; 0: the usual
	standard    string        // what lies in the jig in place of a unit, in words
}

// build makes the jig with its wiring: line under channel, key under actuator.
func (s *simulation) build(p *product.Product) (*jigsim.Jig, error) {
	id := jigsim.Defaults()
	id.Serial = s.serial
	if s.noActuators {
		id.Features &^= wire.FeatureMechanical
		id.Actuators, id.Together = 0, 0
	}
	if s.travel > 0 {
		id.TravelDownUs, id.TravelUpUs = uint32(s.travel.Microseconds()), uint32(s.travel.Microseconds())
	}
	keypad := p.Circuit()
	faults, err := jigsim.ParseFaults(strings.Join(s.faults, "\n"), keypad)
	if err != nil {
		return nil, err
	}
	return jigsim.New(jigsim.Config{
		Identity: id, Keypad: keypad, Contact: p.Nominal.Contact, Faults: faults,
		Wiring: p.Wiring(), Actuators: p.Pushes(),
		Seed: s.seed, Pace: s.pace, Baud: s.baud, Latency: s.latency,
	})
}

// inIt says what lies in the jig.
func (s *simulation) inIt(p *product.Product, jig *jigsim.Jig) string {
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

func (s *simulation) load(p *product.Product, jig *jigsim.Jig, faults string) error {
	keypad := p.Circuit()
	parsed, err := jigsim.ParseFaults(faults, keypad)
	if err != nil {
		return err
	}
	s.standard = ""
	return jig.Load(jigsim.Unit{Keypad: keypad, Contact: p.Nominal.Contact, Faults: parsed, Seed: s.seed})
}
