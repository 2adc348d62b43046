package program

import (
	"runtime/debug"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

func TestStampsComeBeforeWhatGoSaw(t *testing.T) {
	const hash = "8708e6a3fa1bd9c82f0a5f0d4e5a3c7f11223344"
	seen := &debug.BuildInfo{Settings: []debug.BuildSetting{
		{Key: "vcs.revision", Value: hash}, {Key: "vcs.time", Value: "2026-11-30T03:48:21Z"}, {Key: "vcs.modified", Value: "true"},
	}}
	seen.Main.Version = "v0.0.0-20261130034821-8708e6a3fa1b+dirty"
	tagged := &debug.BuildInfo{Settings: seen.Settings[:2]}
	tagged.Main.Version = "v1.2.0"
	for name, c := range map[string]struct {
		info                  *debug.BuildInfo
		version, commit, date string
		want                  string
		modified              bool
	}{
		"nothing is known":        {want: "devel"},
		"a working copy":          {info: seen, want: "devel 8708e6a3fa1b modified", modified: true},
		"a tag":                   {info: tagged, want: "1.2.0 8708e6a3fa1b"},
		"no sources under git":    {info: &debug.BuildInfo{}, want: "devel"},
		"a release":               {seen, "1.2.0", hash, "2026-11-30T04:48:21+01:00", "1.2.0 8708e6a3fa1b", false},
		"a release by its tag":    {nil, "v1.2.0", hash, "", "1.2.0 8708e6a3fa1b", false},
		"a release, then changed": {nil, "1.2.0", hash + "-dirty", "", "1.2.0 8708e6a3fa1b modified", true},
		"a commit alone":          {nil, "", "8708", "not a time", "devel 8708", false},
	} {
		p := of(c.info, c.version, c.commit, c.date)
		assert.Equal(t, c.want, p.Short(), name)
		assert.Equal(t, c.modified, p.Modified, name)
		assert.Regexp(t, `^go1\.`, p.Go, name)
		assert.Regexp(t, `^\w+/\w+$`, p.Platform, name)
	}
	assert.Equal(t, time.Date(2026, 11, 30, 3, 48, 21, 0, time.UTC), of(seen, "1.2.0", hash, "2026-11-30T04:48:21+01:00").Date)
	assert.True(t, of(nil, "", "8708", "not a time").Date.IsZero())
}
