package store

import (
	"os"
	"runtime/debug"
	"strings"
	"sync"
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
func Software() string {
	info, ok := debug.ReadBuildInfo()
	if !ok {
		return "unknown"
	}
	if v := info.Main.Version; v != "" && v != "(devel)" {
		return v
	}
	return "devel" + commit(info.Settings)
}

func commit(settings []debug.BuildSetting) string {
	var text strings.Builder
	for _, s := range settings {
		switch {
		case s.Key == "vcs.revision":
			text.WriteString(" " + s.Value[:min(12, len(s.Value))])
		case s.Key == "vcs.modified" && s.Value == "true":
			text.WriteString(" modified")
		}
	}
	return text.String()
}
