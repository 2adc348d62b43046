// Package program says which program this is: by the stamps that a release is linked with, else by what
// the Go tool saw of the sources.
package program

import (
	"cmp"
	"runtime"
	"runtime/debug"
	"strings"
	"sync"
	"time"
)

// The stamps, by -ldflags "-X padjig/results/store/program.version=1.2.0 ..."; the Makefile has the whole line. They
// stand in a program that is built from an archive of its sources too, and are the same wherever it is built.
var (
	version string // of the release
	commit  string // all of its hash, with -dirty where the sources were changed since
	date    string // of the commit, RFC 3339
)

// Program is one build.
type Program struct {
	Version  string    // of a release; devel else
	Commit   string    // empty where nobody knows
	Date     time.Time // of the commit; zero where nobody knows
	Modified bool      // it was built of other sources than those of the commit
	Go       string    // that compiled it
	Platform string    // system/processor
}

// This is the program that runs.
var This = sync.OnceValue(func() Program {
	info, _ := debug.ReadBuildInfo() // nil where there is none
	return of(info, version, commit, date)
})

const changed = "-dirty"

// of reads what a build says of itself; stamps come first, all of them or none.
func of(info *debug.BuildInfo, version, commit, date string) Program {
	p := Program{Version: "devel", Go: runtime.Version(), Platform: runtime.GOOS + "/" + runtime.GOARCH}
	if version != "" || commit != "" {
		p.Version = cmp.Or(strings.TrimPrefix(version, "v"), p.Version)
		p.Commit, p.Modified = strings.CutSuffix(commit, changed)
		p.Date = day(date)
		return p
	}
	if info == nil {
		return p
	}
	for _, s := range info.Settings {
		switch s.Key {
		case "vcs.revision":
			p.Commit = s.Value
		case "vcs.time":
			p.Date = day(s.Value)
		case "vcs.modified":
			p.Modified = s.Value == "true"
		}
	}
	if v, _, _ := strings.Cut(info.Main.Version, "+"); v != "" && v != "(devel)" && !strings.HasPrefix(v, "v0.0.0-") {
		p.Version = strings.TrimPrefix(v, "v")
	}
	return p
}

func day(text string) time.Time {
	t, err := time.Parse(time.RFC3339, text)
	if err != nil {
		return time.Time{}
	}
	return t.UTC()
}

// Short is the version and as much of the commit as tells commits apart: what people read and records keep.
func (p Program) Short() string {
	text := p.Version
	if p.Commit != "" {
		text += " " + p.Commit[:min(12, len(p.Commit))]
	}
	if p.Modified {
		text += " modified"
	}
	return text
}
