package capability

import "math/rand/v2"

// resample is the statistic of so many samples drawn with replacement.
func resample(values []float64, times int, seed uint64, statistic func([]float64) float64) []float64 {
	source := rand.New(rand.NewPCG(seed, 0))
	sample := make([]float64, len(values))
	found := make([]float64, times)
	for i := range found {
		for j := range sample {
			sample[j] = values[source.IntN(len(values))]
		}
		found[i] = statistic(sample)
	}
	return found
}
