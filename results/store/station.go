package store

import (
	"os"
	"sync"

	"padjig/results/store/program"
)

// Station is the program and the computer a run was recorded on.
type Station struct {
	Host     string `json:"host"`
	Software string `json:"software"`
	BootID   string `json:"boot_id"`
}

// ThisStation looks once: none of it changes while the program runs.
var ThisStation = sync.OnceValue(func() Station {
	host, err := os.Hostname()
	if err != nil {
		host = "" // a record without a host name is better than no record
	}
	return Station{Host: host, Software: Software(), BootID: bootID()}
})

// Software is the version of this program: a release, or the commit it was built from.
func Software() string { return program.This().Short() }
