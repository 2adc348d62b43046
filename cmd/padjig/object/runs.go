package object

import (
	"time"

	"padjig/results/listing"
	"padjig/results/runs"
)

// Runs are one page of runs, in the order they were stored.
type Runs struct {
	Runs []Listed `json:"runs"`
	Next string   `json:"next"` // what to ask for runs after; empty where these are the last
}

// Listed is a run in a list; all of it is asked for by its id.
type Listed struct {
	ID         string  `json:"run"`
	Serial     string  `json:"serial"`
	Product    string  `json:"product"`
	Revision   string  `json:"revision"`
	Verdict    string  `json:"verdict"`
	Simulated  bool    `json:"simulated"`
	Started    string  `json:"started"`
	Seconds    float64 `json:"seconds"`
	Jig        string  `json:"jig"`
	Actuation  string  `json:"actuation"`
	Purpose    string  `json:"purpose"` // empty for production
	Attempt    int     `json:"attempt"`
	Findings   int     `json:"findings"`
	RecordHash string  `json:"record_hash"` // SHA-256, hexadecimal
}

// RunsOf is a page; more says that there are runs behind it.
func RunsOf(page []listing.Run, more bool) Runs {
	out := Runs{Runs: each(page, func(r listing.Run) Listed {
		return Listed{
			r.ID.String(), r.Serial, r.Product, r.Revision, string(r.Outcome), r.Simulated, r.Started.UTC().Format(time.RFC3339Nano),
			r.Duration.Seconds(), r.Jig, string(r.Actuation), string(r.Purpose), r.Attempt, r.Findings, r.Hash,
		}
	})}
	if more {
		out.Next = out.Runs[len(out.Runs)-1].ID
	}
	return out
}

// Products are those of which a revision was released, by code.
type Products struct {
	Products []InForce `json:"products"`
}

// InForce is the release of a product that holds.
type InForce struct {
	Product    string `json:"product"`
	Revision   string `json:"revision"`
	Hash       string `json:"revision_hash"`
	FromSerial string `json:"from_serial"` // of the first unit that is tested by it; empty: every unit is
	By         string `json:"by"`
	Released   string `json:"released"`
}

// ProductsOf are the newest releases of some products.
func ProductsOf(list []runs.Release) Products {
	return Products{each(list, func(r runs.Release) InForce {
		return InForce{r.Code, r.Label, r.Hash, r.FromSerial, r.By, r.At.UTC().Format(time.RFC3339)}
	})}
}
