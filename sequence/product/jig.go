package product

// Wiring says which line lies under each jig channel when the tail is seated:
// channel 0 is under pin 1. An unused pin has -1.
func (p *Product) Wiring() []int {
	wiring := make([]int, len(p.Tail))
	for pin, name := range p.Tail {
		wiring[pin] = p.Line(name)
	}
	return wiring
}

// Pushes says which key each actuator pushes, -1 for an actuator with no key
// under it.
func (p *Product) Pushes() []int {
	var pushes []int
	for i, k := range p.Keys {
		for len(pushes) <= k.Actuator {
			pushes = append(pushes, -1)
		}
		pushes[k.Actuator] = i
	}
	return pushes
}
