package object

import (
	"padjig/results/pads"
	"padjig/sequence"
)

// Compared is how a run compares with the units tested before it; docs/samepad.md says
// what the figures are.
type Compared struct {
	Conclusion string  `json:"conclusion"` // "same pad", "other pads", "too few" or "cannot tell"
	Others     int     `json:"others"`     // units it was compared with
	Keys       int     `json:"keys"`       // compared with the nearest of them
	Between    float64 `json:"between"`    // standard deviation of pads of the lot, relative
	Threshold  float64 `json:"threshold"`  // log_ratio from which two runs are one pad
	Nearest    *Match  `json:"nearest"`    // of the others, where it is the same pad
	Before     *Match  `json:"before"`     // the run before under the same serial number
	Changed    bool    `json:"changed"`    // it reads like another pad than then
}

// Match is a run that another was compared with.
type Match struct {
	Serial   string  `json:"serial"`
	Run      string  `json:"run"`
	LogRatio float64 `json:"log_ratio"` // natural logarithm of the likelihood of one pad over that of two
	Keys     int     `json:"keys"`
	Within   float64 `json:"within"` // standard deviation of presses that explains it best, relative
}

// ComparedOf is nil for a run that was compared with nothing.
func ComparedOf(c pads.Comparison) *Compared {
	if c.Conclusion == pads.NotAsked {
		return nil
	}
	compared := &Compared{
		Conclusion: string(c.Conclusion), Others: c.Others, Keys: c.Keys, Between: c.Between, Threshold: c.Threshold,
		Before: matchOf(c.Own), Changed: c.OwnChanged,
	}
	if c.Conclusion == pads.SamePad {
		compared.Nearest = matchOf(c.Nearest)
	}
	return compared
}

func matchOf(m *pads.Match) *Match {
	if m == nil {
		return nil
	}
	return &Match{m.Serial, m.ID.String(), m.Log, m.Keys, m.Within}
}

// Identity is whether a unit that came back is the one that left.
type Identity struct {
	Conclusion string           `json:"conclusion"` // "as left", "not as left", "undecided", "too few" or "cannot tell"
	Left       Match            `json:"left"`       // the run it left with
	Now        string           `json:"now"`        // id of the run compared
	Stage      sequence.Purpose `json:"stage"`
	Others     int              `json:"others"`   // units that what pads differ by was learned from
	Between    float64          `json:"between"`  // that, as a relative standard deviation
	Searched   int              `json:"searched"` // units tested around it
	Nearest    *Match           `json:"nearest"`  // of these, where one is likelier than the unit itself
}

func identityOf(id *pads.Identity) *Identity {
	if id == nil {
		return nil
	}
	return &Identity{
		string(id.Conclusion), *matchOf(&id.Left), id.Now.ID.String(), id.Now.Purpose, id.Others, id.Between, id.Units, matchOf(id.Nearest),
	}
}
