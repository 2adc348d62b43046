package diagnose

import (
	"cmp"
	"math"
	"slices"
)

// update takes the results of checks into the weights of causes and the probabilities of
// groups, by Bayes's rule.
func (d *Diagnosis) update(looked []Looked) {
	for _, l := range looked {
		i := slices.IndexFunc(trials, func(t trial) bool { return t.action == l.Action })
		if i < 0 || l.Outcome < 0 || l.Outcome >= len(trials[i].says) {
			continue
		}
		d.take(&trials[i], &l)
	}
	if len(looked) > 0 {
		slices.SortStableFunc(d.Groups, func(a, b Group) int { return cmp.Compare(b.Probability, a.Probability) })
	}
}

func (d *Diagnosis) take(t *trial, l *Looked) {
	fit := make([]float64, len(d.Groups))
	concerned := make([]bool, len(d.Groups))
	for i := range d.Groups {
		fit[i], concerned[i] = d.Groups[i].take(t, l)
	}
	for i := range d.Groups {
		if concerned[i] {
			d.Groups[i].outcome(fit[i], d.against(i, fit, concerned, t.others[l.Outcome]), l.Says)
		}
	}
}

// against is how likely an outcome is if group i is not there: what its competitors make
// of it. Those of the explanation do not compete with each other but with the rivals.
func (d *Diagnosis) against(i int, fit []float64, concerned []bool, otherwise float64) float64 {
	var sum, weights float64
	for j := range d.Groups {
		if concerned[j] && (i < d.Found) != (j < d.Found) {
			sum += d.Groups[j].Probability * fit[j]
			weights += d.Groups[j].Probability
		}
	}
	if weights == 0 {
		return otherwise
	}
	return sum / weights
}

// outcome moves the probability of a group by an outcome that it makes as likely as fit,
// and its competitors as likely as other.
func (g *Group) outcome(fit, other float64, says Said) {
	yes, no := g.Probability*fit, (1-g.Probability)*other
	if yes+no > 0 {
		g.Probability = yes / (yes + no)
	}
	c := Contribution{[]Said{says}, math.Log(max(fit, 1e-6) / max(other, 1e-6))}
	if c.Nats >= 0 {
		g.For = append(g.For, c)
	} else {
		g.Against = append(g.Against, c)
	}
}

// take weighs the causes of a group by an outcome and gives how likely the group made it.
func (g *Group) take(t *trial, l *Looked) (fit float64, concerned bool) {
	for i := range g.Causes {
		if c := &g.Causes[i]; l.concerns(c) {
			concerned = true
			c.Weight *= t.gives(c.Kind)[l.Outcome]
		}
		fit += g.Causes[i].Weight
	}
	if !concerned || fit <= 0 {
		return fit, concerned
	}
	for i := range g.Causes {
		g.Causes[i].Weight /= fit
	}
	byWeight(g.Causes)
	return fit, true
}
