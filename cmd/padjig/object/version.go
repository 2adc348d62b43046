package object

import (
	"time"

	"padjig/fixture/wire"
	"padjig/results/store"
	"padjig/results/store/program"
)

// Version is which program this is, and what it speaks and keeps.
type Version struct {
	Version  string `json:"version"`          // of the release; devel of a program that is none
	Commit   string `json:"commit,omitempty"` // hash of the sources it was built of; left out where nobody knows
	Date     string `json:"date,omitempty"`   // of the commit
	Modified bool   `json:"modified"`         // the sources had been changed since the commit
	Go       string `json:"go"`               // that compiled it
	Platform string `json:"platform"`         // system and processor, such as linux/amd64
	SQLite   string `json:"sqlite"`           // version of SQLite in it
	Protocol int    `json:"protocol"`         // version of the protocol that it speaks to jigs
	Records  int64  `json:"records"`          // version of the tables of the records: number of their last migration
}

// VersionOf describes a program.
func VersionOf(p program.Program) (Version, error) {
	tables, err := store.Tables()
	v := Version{Version: p.Version, Commit: p.Commit, Modified: p.Modified, Go: p.Go, Platform: p.Platform,
		SQLite: store.SQLite(), Protocol: wire.Version, Records: tables}
	if !p.Date.IsZero() {
		v.Date = p.Date.Format(time.RFC3339)
	}
	return v, err
}
