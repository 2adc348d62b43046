package object

import "padjig/results/plant/forward"

// PlantCheck is what padjig plant check found.
type PlantCheck struct {
	Store       string            `json:"store"` // file of the records
	Member      string            `json:"member"`
	Number      int               `json:"number"` // of the station at the plant
	Same        bool              `json:"same"`
	Tables      []PlantTable      `json:"tables"`
	Differences []PlantDifference `json:"differences"`            // twenty at most
	WrongCounts []string          `json:"wrong_counts,omitempty"` // of all stations, with --counts
}

// PlantTable is a table, as far as it came to the plant.
type PlantTable struct {
	Table     string `json:"table"`
	Here      int64  `json:"rows"`          // of the station
	There     int64  `json:"rows_at_plant"` // of the same station
	Hash      string `json:"hash"`          // SHA-256 over the rows of the station as they stand at the plant
	HashThere string `json:"hash_at_plant"` // over those of the plant
	Left      int64  `json:"still_to_come"`
}

// PlantDifference is a row that is not the same on both sides.
type PlantDifference struct {
	Table string `json:"table"`
	Row   int64  `json:"row"`                     // its number at the station, or that of the row that it belongs to
	Here  string `json:"hash,omitempty"`          // without: it is not at the station
	There string `json:"hash_at_plant,omitempty"` // without: it is not at the plant
}

// PlantCheckOf is what a check found, and what is wrong with the counts where they were looked at.
func PlantCheckOf(store, member string, found forward.Checked, wrong []string) PlantCheck {
	c := PlantCheck{Store: store, Member: member, Number: found.Member, Same: found.Same(), Tables: []PlantTable{}, Differences: []PlantDifference{}, WrongCounts: wrong}
	for _, t := range found.Tables {
		c.Tables = append(c.Tables, PlantTable{t.Table, t.Here, t.There, t.Hash, t.HashThere, t.Left})
	}
	for _, d := range found.Differences {
		c.Differences = append(c.Differences, PlantDifference{d.Table, d.Local, d.Here, d.There})
	}
	return c
}
