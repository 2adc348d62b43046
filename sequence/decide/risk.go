package decide

// Conformance is the probability that the true value behind a reading lies in
// the tolerance (JCGM 106 7). An accepted unit's specific consumer's risk is
// what is missing to 1; a rejected unit's specific producer's risk is the
// conformance itself.
func Conformance(reading float64, tolerance Interval, s Spread) float64 {
	return tolerance.share(s, reading)
}

// ConsumersRisk is the probability that a unit with this reading, accepted,
// does not conform. Small ones keep their digits.
func ConsumersRisk(reading float64, tolerance Interval, s Spread) float64 {
	return below(s, tolerance.Low-reading) + below(s, reading-tolerance.High)
}
