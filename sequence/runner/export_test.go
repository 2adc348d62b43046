package runner

import (
	"padjig/fixture/quantity"
	"padjig/sequence"
)

// Speaks has the records of a plan's runs say facts in these sentences.
func (plan *Plan) Speaks(sentences sequence.Sentences) { plan.sentences = sentences }

// WorstNeighbour is that of the plan's setting.
func (plan *Plan) WorstNeighbour(k int) (neighbour int, shift quantity.Ohm, err error) {
	return plan.set.WorstNeighbour(k)
}
