package web

import (
	"bytes"
	"compress/gzip"
	"crypto/sha256"
	"encoding/base64"
	"fmt"
	"io/fs"
	"mime"
	"net/http"
	"path"
	"regexp"
	"strings"
	"sync"
	"time"

	"padjig/results/report/chart"
	"padjig/results/report/tag"
)

// assetFiles are the files that pages are made with. Their addresses hold a mark
// of what is in them, so that browsers may keep them for good.
type assetFiles map[string]assetFile // by path below static/

type assetFile struct {
	body  []byte
	small func() []byte // compressed, when it is first asked for
	mark  string
	kind  string
}

func loadAssets() (assetFiles, error) {
	files := assetFiles{}
	err := fs.WalkDir(assets, "static", func(name string, d fs.DirEntry, err error) error {
		if err != nil || d.IsDir() {
			return err
		}
		body, err := assets.ReadFile(name)
		files.hold(strings.TrimPrefix(name, "static/"), body)
		return err
	})
	light, dark := darkStyle(chart.Style)
	files.hold("chart.css", []byte(light))
	files.hold("dark.css", append(files["dark.css"].body, dark...))
	files.hold("tag.css", []byte(tag.Style))
	linked := map[string]bool{}
	for name := range files {
		files.link(name, linked)
	}
	return files, err
}

// hold adds a file.
func (s assetFiles) hold(name string, body []byte) {
	sum := sha256.Sum256(body)
	s[name] = assetFile{body: body, small: sync.OnceValue(func() []byte { return compressed(body) }), mark: base64.RawURLEncoding.EncodeToString(sum[:9]), kind: kindOf(name)}
}

// compressed is a file as it goes over the line to browsers that take it so.
func compressed(body []byte) []byte {
	var out bytes.Buffer
	z, _ := gzip.NewWriterLevel(&out, gzip.BestCompression) // the level is one
	_, _ = z.Write(body)                                    // a buffer takes everything
	_ = z.Close()
	return out.Bytes()
}

// imported is another script of ours that a script begins with.
var imported = regexp.MustCompile(`from '\./([\w.]+)'`)

// link gives the scripts that a script imports the addresses they have on pages, so that a
// browser keeps them too, and asks for none again.
func (s assetFiles) link(name string, linked map[string]bool) {
	if linked[name] || path.Ext(name) != ".js" {
		return
	}
	linked[name] = true
	s.hold(name, imported.ReplaceAllFunc(s[name].body, func(from []byte) []byte {
		other := string(imported.FindSubmatch(from)[1])
		s.link(other, linked)
		return fmt.Appendf(nil, "from '%s'", s.address(other))
	}))
}

func kindOf(name string) string {
	switch path.Ext(name) {
	case ".js":
		return "text/javascript; charset=utf-8"
	case ".css":
		return "text/css; charset=utf-8"
	case ".svg":
		return "image/svg+xml"
	}
	if kind := mime.TypeByExtension(path.Ext(name)); kind != "" {
		return kind
	}
	return "text/plain; charset=utf-8"
}

// address is where a file is served; a name that is none stays visible as such.
func (s assetFiles) address(name string) string { return "/static/" + name + "?" + s[name].mark }

// ServeHTTP serves the files.
func (s assetFiles) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	file, ok := s[strings.TrimPrefix(r.URL.Path, "/static/")]
	if !ok {
		http.Error(w, "no such file", http.StatusNotFound)
		return
	}
	h := w.Header()
	h.Set("Content-Type", file.kind)
	h.Set("ETag", `"`+file.mark+`"`)
	h.Set("Cache-Control", "no-cache")
	if r.URL.RawQuery == file.mark {
		h.Set("Cache-Control", "public, max-age=31536000, immutable")
	}
	body := file.body
	h.Set("Vary", "Accept-Encoding")
	if zips(r) && len(file.small()) < len(body) {
		body = file.small()
		h.Set("Content-Encoding", "gzip")
		h.Set("ETag", `"`+file.mark+`-gzip"`)
	}
	http.ServeContent(w, r, path.Base(r.URL.Path), time.Time{}, bytes.NewReader(body))
}
