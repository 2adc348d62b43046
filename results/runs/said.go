package runs

import (
	"encoding/json"

	"padjig/results/store"
	"padjig/sequence"
	"padjig/sequence/prove"
)

// toSaid is a fact as it is stored.
func toSaid(s sequence.Said) sequence.Said {
	if s.Code == "" {
		return sequence.Said{}
	}
	return sequence.Fact(sequence.Code(store.Text(string(s.Code))), store.Each(s.Args, store.Text)...)
}

// saidColumn is a fact as JSON; none is NULL.
func saidColumn(s sequence.Said) (any, error) {
	if s.Code == "" {
		return nil, nil
	}
	text, err := json.Marshal(s)
	return string(text), err
}

// proofsColumn is an account as JSON; none is NULL.
func proofsColumn(a *prove.Account) (any, error) {
	if a == nil {
		return nil, nil
	}
	text, err := json.Marshal(a)
	return string(text), err
}

// listColumn is a list as JSON; an empty one is NULL.
func listColumn[T any](list []T) (any, error) {
	if len(list) == 0 {
		return nil, nil
	}
	text, err := json.Marshal(list)
	return string(text), err
}
