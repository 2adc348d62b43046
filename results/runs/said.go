package runs

import (
	"encoding/json"

	"padjig/results/store"
	"padjig/sequence"
)

// fact is a code and its arguments as they are stored: one list, the code first.
type fact []string

func toFact(s sequence.Said) fact {
	if s.Code == "" {
		return nil
	}
	row := fact{store.Text(string(s.Code))}
	for _, arg := range s.Args {
		row = append(row, store.Text(arg))
	}
	return row
}

func (f fact) said() sequence.Said {
	if len(f) == 0 {
		return sequence.Said{}
	}
	return sequence.Said{Code: sequence.Code(f[0]), Args: append([]string(nil), f[1:]...)}
}

// listColumn is a list as JSON; an empty one is NULL.
func listColumn[T any](list []T) (any, error) {
	if len(list) == 0 {
		return nil, nil
	}
	text, err := json.Marshal(list)
	return string(text), err
}
