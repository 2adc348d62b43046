package main

import (
	"bytes"
	"compress/gzip"
	"context"
	"crypto/sha256"
	"debug/buildinfo"
	"encoding/json"
	"fmt"
	"os"
	"os/exec"
	"path/filepath"
	"regexp"
	"slices"
	"strings"
	"time"
)

// module is something that is linked into the program, and may be copied by its licence.
type module struct {
	Path, Version, Dir string
	licence            string
}

// licenceFile names files that hold a licence, or what one asks to be passed on.
var licenceFile = regexp.MustCompile(`(?i)^(licen[cs]e|copying|notice|patents)([.-].*)?$`)

// linked are the modules that a program says it was built of, Go's own library, and the database engine that lies
// inside one of them.
func linked(ctx context.Context, program string) ([]module, error) {
	info, err := buildinfo.ReadFile(program)
	if err != nil {
		return nil, fmt.Errorf("%s: %w", program, err)
	}
	root, err := exec.CommandContext(ctx, "go", "env", "GOROOT").Output()
	if err != nil {
		return nil, fmt.Errorf("find Go's own library: %w", err)
	}
	all := []module{{Path: "std", Version: strings.TrimPrefix(info.GoVersion, "go"), Dir: strings.TrimSpace(string(root))}}
	for _, d := range info.Deps {
		if d.Replace != nil {
			d = d.Replace
		}
		where := exec.CommandContext(ctx, "go", "mod", "download", "-json", d.Path+"@"+d.Version)
		out, err := where.Output()
		if err != nil {
			return nil, fmt.Errorf("find the sources of %s %s: %w", d.Path, d.Version, err)
		}
		m := module{}
		if err := json.Unmarshal(out, &m); err != nil {
			return nil, err
		}
		all = append(all, m)
	}
	for i := range all {
		if all[i].licence, err = licences(all[i].Dir); err != nil {
			return nil, fmt.Errorf("%s %s: %w", all[i].Path, all[i].Version, err)
		}
	}
	return engine(all)
}

// engine adds the database engine, which is C inside of its driver, and belongs to nobody.
func engine(all []module) ([]module, error) {
	i := slices.IndexFunc(all, func(m module) bool { return m.Path == "github.com/mattn/go-sqlite3" })
	if i < 0 {
		return nil, fmt.Errorf("no database driver is linked: its engine could not be listed")
	}
	text, err := os.ReadFile(filepath.Join(all[i].Dir, "sqlite3-binding.h"))
	if err != nil {
		return nil, err
	}
	found := regexp.MustCompile(`#define SQLITE_VERSION\s+"([\d.]+)"`).FindSubmatch(text)
	if found == nil {
		return nil, fmt.Errorf("the database engine does not say its version")
	}
	return append(all, module{Path: "sqlite.org/sqlite3", Version: string(found[1]),
		licence: "The authors disclaim copyright to this source code: it is in the public domain.\n"}), nil
}

// licences are the texts that lie at the top of a module.
func licences(dir string) (string, error) {
	files, err := os.ReadDir(dir)
	if err != nil {
		return "", err
	}
	var all []string
	for _, f := range files {
		if f.Type().IsRegular() && licenceFile.MatchString(f.Name()) {
			text, err := os.ReadFile(filepath.Join(dir, f.Name()))
			if err != nil {
				return "", err
			}
			all = append(all, strings.TrimSpace(string(text))+"\n")
		}
	}
	if len(all) == 0 {
		return "", fmt.Errorf("no licence lies in %s: it may not be passed on without one", dir)
	}
	return strings.Join(all, "\n"), nil
}

// bill lists what the program is made of as SPDX 2.3 (ISO/IEC 5962 is its version 2.2.1), in JSON.
func bill(version string, date time.Time, modules []module) ([]byte, error) {
	type entry map[string]any
	packages := []entry{{
		"SPDXID": "SPDXRef-padjig", "name": "padjig", "versionInfo": version, "downloadLocation": "NOASSERTION",
		"filesAnalyzed": false, "licenseConcluded": "MIT", "licenseDeclared": "MIT", "copyrightText": "NOASSERTION",
	}}
	relations := []entry{{"spdxElementId": "SPDXRef-DOCUMENT", "relationshipType": "DESCRIBES", "relatedSpdxElement": "SPDXRef-padjig"}}
	var texts []entry
	mark := sha256.New()
	for i, m := range modules {
		id, licence := fmt.Sprintf("SPDXRef-%d", i+1), fmt.Sprintf("LicenseRef-%d", i+1)
		p := entry{
			"SPDXID": id, "name": m.Path, "versionInfo": m.Version, "downloadLocation": "NOASSERTION", "filesAnalyzed": false,
			"licenseConcluded": licence, "licenseDeclared": licence, "copyrightText": "NOASSERTION",
		}
		if m.Path != "sqlite.org/sqlite3" {
			locator := "pkg:golang/" + m.Path + "@" + m.Version
			p["externalRefs"] = []entry{{"referenceCategory": "PACKAGE-MANAGER", "referenceType": "purl", "referenceLocator": locator}}
		}
		packages = append(packages, p)
		texts = append(texts, entry{"licenseId": licence, "name": m.Path, "extractedText": m.licence})
		relations = append(relations, entry{"spdxElementId": "SPDXRef-padjig", "relationshipType": "CONTAINS", "relatedSpdxElement": id})
		fmt.Fprintln(mark, m.Path, m.Version)
	}
	return json.MarshalIndent(entry{
		"spdxVersion": "SPDX-2.3", "dataLicense": "CC0-1.0", "SPDXID": "SPDXRef-DOCUMENT", "name": "padjig " + version,
		"documentNamespace": fmt.Sprintf("https://padjig.invalid/spdx/%s/%x", version, mark.Sum(nil)[:8]),
		"creationInfo":      entry{"created": date.UTC().Format("2006-01-02T15:04:05Z"), "creators": []string{"Tool: padjig-release"}},
		"packages":          packages, "relationships": relations, "hasExtractedLicensingInfos": texts,
	}, "", " ")
}

// zipped puts a file that is compressed in its place, without the hour and the name that gzip would keep.
func zipped(path string) error {
	text, err := os.ReadFile(path)
	if err != nil {
		return err
	}
	var b bytes.Buffer
	w, err := gzip.NewWriterLevel(&b, gzip.BestCompression)
	if err != nil {
		return err
	}
	if _, err := w.Write(text); err != nil {
		return err
	}
	if err := w.Close(); err != nil {
		return err
	}
	if err := os.WriteFile(path+".gz", b.Bytes(), 0o644); err != nil {
		return err
	}
	return os.Remove(path)
}
