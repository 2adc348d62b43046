package main

import (
	"encoding/json"
	"os"
	"os/exec"
	"path/filepath"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// The unit leaves no more open than it says, by the tool that reckons that (systemd-analyze security: 0 safe, 10 open).
func TestTheUnitIsFencedIn(t *testing.T) {
	analyze, err := exec.LookPath("systemd-analyze")
	require.NoError(t, err, "install systemd: the unit cannot be looked at without")
	out, err := exec.CommandContext(t.Context(), analyze, "security", "--offline=true", "--threshold=20", "--no-pager",
		"./deb/padjig.service").CombinedOutput()
	assert.NoError(t, err, string(out))
}

// An older package is refused over a newer one, by Debian's own order of versions, and says where to read on; the same
// and newer ones go in, and so does the first.
func TestAnOlderPackageIsRefused(t *testing.T) {
	script, err := os.ReadFile("deb/preinst")
	require.NoError(t, err)
	path := filepath.Join(t.TempDir(), "preinst")
	require.NoError(t, os.WriteFile(path, []byte(strings.ReplaceAll(string(script), "@VERSION@", "1.2.0")), 0o755))
	for _, c := range []struct {
		args    []string
		refused bool
	}{
		{[]string{"install"}, false},
		{[]string{"install", "1.3.0"}, false}, // removed before: the program refuses records that are newer
		{[]string{"upgrade", "1.1.9"}, false},
		{[]string{"upgrade", "1.2.0"}, false},
		{[]string{"upgrade", "1.2.0~rc1"}, false},
		{[]string{"upgrade", "1.2.1"}, true},
		{[]string{"upgrade", "1.10.0"}, true},
		{[]string{"upgrade", "1:0.1"}, true},
		{[]string{"abort-upgrade", "1.3.0"}, false},
	} {
		out, err := exec.CommandContext(t.Context(), "sh", append([]string{path}, c.args...)...).CombinedOutput()
		if !c.refused {
			assert.NoError(t, err, c.args)
			assert.Empty(t, string(out))
			continue
		}
		assert.Error(t, err, c.args)
		assert.Contains(t, string(out), "version 1.2.0 is older than "+c.args[1])
		assert.Contains(t, string(out), "Going back")
	}
}

// The list of what is linked has what SPDX 2.3 requires of a document, a package and a relation (clauses 6, 7, 10 and 11),
// refers only to what is in it, and is the same for the same program.
func TestTheListOfWhatIsLinked(t *testing.T) {
	modules := []module{
		{Path: "std", Version: "1.26.0", licence: "BSD"},
		{Path: "example.org/a", Version: "v1.0.0", licence: "MIT"},
		{Path: "sqlite.org/sqlite3", Version: "3.51.0", licence: "public domain"},
	}
	at := time.Date(2026, 11, 30, 6, 0, 0, 0, time.FixedZone("", 7200))
	raw, err := bill("1.2.0", at, modules)
	require.NoError(t, err)
	again, err := bill("1.2.0", at.UTC(), modules)
	require.NoError(t, err)
	assert.Equal(t, string(raw), string(again))
	var d struct {
		SpdxVersion, DataLicense, SPDXID, Name, DocumentNamespace string
		CreationInfo                                              struct {
			Created  string
			Creators []string
		}
		Packages []struct {
			SPDXID, Name, VersionInfo, DownloadLocation, LicenseConcluded, LicenseDeclared, CopyrightText string
			FilesAnalyzed                                                                                 *bool
		}
		Relationships              []struct{ SpdxElementID, RelationshipType, RelatedSpdxElement string }
		HasExtractedLicensingInfos []struct{ LicenseID, ExtractedText string }
	}
	require.NoError(t, json.Unmarshal(raw, &d))
	assert.Equal(t, []string{"SPDX-2.3", "CC0-1.0", "SPDXRef-DOCUMENT", "padjig 1.2.0"},
		[]string{d.SpdxVersion, d.DataLicense, d.SPDXID, d.Name})
	assert.Equal(t, "2026-11-30T04:00:00Z", d.CreationInfo.Created)
	assert.NotEmpty(t, d.CreationInfo.Creators)
	assert.Regexp(t, `^https://\S+/1\.2\.0/[0-9a-f]+$`, d.DocumentNamespace)
	known, licences := map[string]bool{d.SPDXID: true}, map[string]bool{"MIT": true}
	for _, l := range d.HasExtractedLicensingInfos {
		assert.NotEmpty(t, l.ExtractedText)
		licences[l.LicenseID] = true
	}
	require.Len(t, d.Packages, 4)
	for _, p := range d.Packages {
		assert.Regexp(t, `^SPDXRef-[A-Za-z0-9.-]+$`, p.SPDXID)
		assert.False(t, known[p.SPDXID], "once")
		known[p.SPDXID] = true
		assert.NotEmpty(t, p.Name)
		assert.NotEmpty(t, p.VersionInfo)
		assert.NotEmpty(t, p.DownloadLocation)
		assert.True(t, licences[p.LicenseConcluded], p.LicenseConcluded)
		assert.NotNil(t, p.FilesAnalyzed)
	}
	require.Len(t, d.Relationships, 4)
	for _, r := range d.Relationships {
		assert.True(t, known[r.SpdxElementID] && known[r.RelatedSpdxElement], r)
	}
}

// What has no licence is not passed on.
func TestWithoutALicenceThereIsNoPackage(t *testing.T) {
	dir := t.TempDir()
	_, err := licences(dir)
	assert.ErrorContains(t, err, "no licence lies in")
	require.NoError(t, os.WriteFile(filepath.Join(dir, "LICENSE.md"), []byte("MIT\n"), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "NOTICE"), []byte("by A"), 0o644))
	require.NoError(t, os.WriteFile(filepath.Join(dir, "licenses.go"), []byte("package a"), 0o644))
	text, err := licences(dir)
	assert.NoError(t, err)
	assert.Equal(t, "MIT\n\nby A\n", text)
}

// A version that would be another file, or another field of the package, is refused before anything is made.
func TestVersionsThatAPackageCannotHave(t *testing.T) {
	for _, v := range []string{"", "../1", "1_2", "1 2", "1\nDepends: x", "@STAGE@"} {
		_, err := (&release{version: v}).make(t.Context())
		assert.ErrorContains(t, err, "is none that a package may have")
	}
	_, err := (&release{version: "1.0.0", program: "main.go"}).make(t.Context())
	assert.ErrorContains(t, err, "main.go", "no program")
}
