package web

import (
	"bytes"
	"errors"
	"io"
	"io/fs"
	"mime"
	"mime/multipart"
	"net/http"
	"os"
	"strings"
	"time"

	"padjig/cmd/padjig/web/page"
)

// bound is what a route takes of a body, and how long that may last.
type bound struct {
	most     int64 // bytes
	patience time.Duration
}

// The bounds. A product file (product.MaxSize) fits in a form however it is
// escaped; photos come from a phone, over a wireless network.
var (
	noBody  = bound{0, 15 * time.Second}
	forms   = bound{1 << 20, 15 * time.Second}
	uploads = bound{32 << 20, 2 * time.Minute}
)

const (
	mostFields = 1000     // of a form; package mime/multipart has the same limit of its own
	inMemory   = 64 << 10 // bytes of an upload's files; the rest waits in files that are removed
	// writePatience is how long a browser may take nothing of an answer.
	writePatience = 20 * time.Second
	writePiece    = 64 << 10
)

func boundOf(a page.Action) bound {
	if a.Files {
		return uploads
	}
	return forms
}

// handle registers a route. There is no other way to one, so that none is without
// its bounds.
func (s *Site) handle(pattern string, b bound, h http.HandlerFunc) {
	s.mux.HandleFunc(pattern, func(w http.ResponseWriter, r *http.Request) {
		if r.ContentLength != 0 {
			r.Body = http.MaxBytesReader(w, r.Body, b.most)
			if b.most == 0 {
				w.Header().Set("Connection", "close") // rather than wait for what nobody reads
			}
		}
		h(w, r)
	})
}

// patiently bounds how long any request and any answer may take on the line, also
// those that reach no route. A request without a body has nothing to wait for.
func patiently(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		w = &patientWriter{ResponseWriter: w, control: http.NewResponseController(w)}
		if r.ContentLength != 0 {
			hurry(w, noBody.patience)
		}
		next.ServeHTTP(w, r)
	})
}

// hurry lets what is still to come of a request come within a time, 0 for ever.
// A recorder of a test has no deadlines; a connection always has.
func hurry(w http.ResponseWriter, patience time.Duration) {
	var end time.Time
	if patience > 0 {
		end = time.Now().Add(patience)
	}
	_ = http.NewResponseController(w).SetReadDeadline(end)
}

// patientWriter gives each piece of an answer its time, not the whole of it.
type patientWriter struct {
	http.ResponseWriter
	control *http.ResponseController
	begun   bool // something was sent
}

// Unwrap is for http.ResponseController.
func (w *patientWriter) Unwrap() http.ResponseWriter { return w.ResponseWriter }

func (w *patientWriter) wait() {
	w.begun = true
	_ = w.control.SetWriteDeadline(time.Now().Add(writePatience))
}

// WriteHeader is what an answer without a body ends with.
func (w *patientWriter) WriteHeader(status int) {
	w.wait()
	w.ResponseWriter.WriteHeader(status)
}

func (w *patientWriter) Write(b []byte) (written int, err error) {
	for {
		w.wait()
		n, err := w.ResponseWriter.Write(b[:min(len(b), writePiece)])
		written += n
		if b = b[n:]; err != nil || len(b) == 0 {
			return written, err
		}
	}
}

// takeForm reads the form of an action whole, so that nothing later waits for the
// network. The error is a problem a person is told.
func takeForm(v *reply, b bound) error {
	if v.r.ContentLength != 0 {
		hurry(v.w, b.patience) // only now: who may not send photos need not have time to
	}
	err := readForm(v.r)
	if err == nil {
		hurry(v.w, 0) // what is to be done may take longer
		return nil
	}
	v.w.Header().Set("Connection", "close")
	if large, ok := errors.AsType[*http.MaxBytesError](err); ok {
		return page.Fail(http.StatusRequestEntityTooLarge, v.Say("error.large", v.Num(0, float64(large.Limit>>20))))
	}
	switch {
	case errors.Is(err, os.ErrDeadlineExceeded):
		return page.Fail(http.StatusRequestTimeout, v.Say("error.slow"))
	case errors.Is(err, errFields), errors.Is(err, multipart.ErrMessageTooLarge):
		return page.Fail(http.StatusRequestEntityTooLarge, v.Say("error.fields", mostFields))
	}
	if _, ours := errors.AsType[*fs.PathError](err); ours { // an upload waits in files
		return err
	}
	return page.Fail(http.StatusBadRequest, v.Say("error.form"))
}

var errFields = errors.New("too many fields")

// readForm is ParseForm and ParseMultipartForm within bounds. Fields are counted
// before they are taken apart: each costs far more memory than its bytes.
func readForm(r *http.Request) error {
	if strings.Count(r.URL.RawQuery, "&") >= mostFields {
		return errFields
	}
	kind, _, _ := mime.ParseMediaType(r.Header.Get("Content-Type"))
	if kind == "multipart/form-data" {
		return r.ParseMultipartForm(inMemory)
	}
	body, err := io.ReadAll(http.MaxBytesReader(nil, r.Body, forms.most)) // what takes files may take no more than that without
	if err != nil {
		return err
	}
	if bytes.Count(body, []byte("&")) >= mostFields {
		return errFields
	}
	r.Body = io.NopCloser(bytes.NewReader(body))
	return r.ParseForm()
}

// dropForm removes the files that an upload waited in.
func dropForm(r *http.Request) {
	if r.MultipartForm != nil {
		_ = r.MultipartForm.RemoveAll() // what stays is in the folder for temporary files
	}
}
