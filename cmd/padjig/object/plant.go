package object

import (
	"padjig/results/plant/forward"
	"padjig/results/plant/retention"
)

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

// PlantPrepared is a plant's database that is up to date.
type PlantPrepared struct {
	Database string `json:"database"`
	Version  int    `json:"version"` // of its tables
	Station  string `json:"station"` // role whose members are the stations
	Reader   string `json:"reader"`  // role whose members read
}

// PlantLogin is a role that signs in at the plant.
type PlantLogin struct {
	Name     string `json:"name"`
	Role     string `json:"role"`
	Number   int    `json:"number,omitempty"` // of a station
	Password bool   `json:"password"`         // one was given now
}

// PlantRetirement is what padjig plant retire took out of a plant.
type PlantRetirement struct {
	Folder string       `json:"folder"`
	Months []PlantMonth `json:"months"`
}

// PlantMonth is a month whose readings lie in files alone.
type PlantMonth struct {
	Month    string `json:"month"`
	Runs     int64  `json:"runs"`
	Rows     int64  `json:"rows"` // of all tables
	Bytes    int64  `json:"bytes"`
	Folder   string `json:"folder"`
	Manifest string `json:"manifest_sha256"`
}

// PlantRetirementOf are months that went to a folder.
func PlantRetirementOf(folder string, done []retention.Retired) PlantRetirement {
	o := PlantRetirement{Folder: folder, Months: []PlantMonth{}}
	for _, d := range done {
		o.Months = append(o.Months, PlantMonth{d.Month.String(), d.Runs, d.Rows, d.Bytes, d.Folder, d.Manifest})
	}
	return o
}
