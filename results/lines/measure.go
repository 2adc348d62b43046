package lines

import (
	"fmt"
	"strings"

	"padjig/results/store"
)

// recorded are the names that stand in the store for measures which were renamed.
var recorded = map[Measure]string{Contact: "closed", Closing: "make", Opening: "break"}

// Recorded is what stands for a measure in the store. It never changes: frozen limits
// are found by it.
func (m Measure) Recorded() string {
	if was, renamed := recorded[m]; renamed {
		return was
	}
	return string(m)
}

// RenamedMeasureError is of a name that a measure had once.
type RenamedMeasureError struct {
	Was string
	Now Measure
}

func (e *RenamedMeasureError) Error() string { return fmt.Sprintf("it is called %s now", e.Now) }

// ParseMeasure reads the name of a measure. An old name is a [*RenamedMeasureError].
func ParseMeasure(name string) (Measure, error) {
	for _, m := range Measures {
		switch name {
		case string(m):
			return m, nil
		case m.Recorded():
			return "", &RenamedMeasureError{name, m}
		}
	}
	names := store.Each(Measures, func(m Measure) string { return string(m) })
	return "", fmt.Errorf("write %s", strings.Join(names, ", "))
}
