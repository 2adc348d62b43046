package web

import (
	"bytes"
	"compress/gzip"
	"io"
	"mime"
	"net/http"
	"slices"
	"strconv"
	"strings"
	"sync"
)

// Answers go compressed to whoever takes them so: pages, what programs read, tables and drawings. Pictures and archives are as small as
// they get, and streams are not compressed at all: their events are short, and each would have to be flushed.
//
// An answer that holds a secret beside what its address says can be asked for until its length tells the secret (BREACH,
// breachattack.com, 2013). Here it tells nothing: the token of forms looks different in every answer (door.FormToken), the cookie of a session
// is in none, and browsers send it with no request that another site begins (SameSite=Strict).

// leastZipped is how many bytes are worth it.
const leastZipped = 1 << 10

// zipped are the kinds of answer that get smaller.
var zipped = []string{"text/html", "text/csv", "text/plain", "text/css", "text/javascript", "application/json", "application/x-ndjson",
	"application/problem+json", "application/openapi+json", "application/openmetrics-text", "application/manifest+json", "image/svg+xml"}

// zippers are large to make.
var zippers = sync.Pool{New: func() any {
	z, _ := gzip.NewWriterLevel(nil, gzip.BestSpeed) // a level that there is
	return z
}}

// sendBody sends an answer whose head is set but for its length, compressed where that helps and is taken.
func sendBody(w http.ResponseWriter, r *http.Request, status int, body []byte) {
	h := w.Header()
	if helps(h.Get("Content-Type"), body) {
		addVary(h)
		if zips(r) {
			h.Set("Content-Encoding", "gzip")
			body = smaller(body)
		}
	}
	h.Set("Content-Length", strconv.Itoa(len(body)))
	w.WriteHeader(status)
	_, _ = w.Write(body) // an error means that nobody listens any more
}

func helps(kind string, body []byte) bool {
	if len(body) < leastZipped {
		return false
	}
	kind, _, err := mime.ParseMediaType(kind)
	return err == nil && slices.Contains(zipped, kind)
}

// addVary says that the answer depends on what is taken, once.
func addVary(h http.Header) {
	const name = "Accept-Encoding"
	if said := h.Get("Vary"); said == "" {
		h.Set("Vary", name)
	} else if !strings.Contains(said, name) {
		h.Set("Vary", said+", "+name)
	}
}

func smaller(body []byte) []byte {
	var out bytes.Buffer
	z := zippers.Get().(*gzip.Writer)
	z.Reset(&out)
	_, _ = z.Write(body) // a buffer takes everything
	_ = z.Close()
	z.Reset(io.Discard) // it would keep the answer
	zippers.Put(z)
	return out.Bytes()
}

// zips reports whether gzip is taken (RFC 9110, 12.5.3): by its name, or as any other; a weight of 0 refuses it.
func zips(r *http.Request) bool {
	other := false
	for one := range strings.SplitSeq(strings.Join(r.Header.Values("Accept-Encoding"), ","), ",") {
		name, weight, _ := strings.Cut(one, ";")
		takes := true
		if _, q, is := strings.Cut(weight, "="); is {
			of, err := strconv.ParseFloat(strings.TrimSpace(q), 64)
			takes = err == nil && of > 0
		}
		switch name = strings.TrimSpace(name); {
		case strings.EqualFold(name, "gzip"), strings.EqualFold(name, "x-gzip"):
			return takes
		case name == "*":
			other = takes
		}
	}
	return other
}
