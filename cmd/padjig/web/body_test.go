package web_test

import (
	"bufio"
	"bytes"
	"context"
	"fmt"
	"io"
	"mime/multipart"
	"net"
	"net/http"
	"net/http/httptest"
	"net/url"
	"os"
	"path/filepath"
	"strings"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/cmd/padjig/web"
	"padjig/cmd/padjig/web/page"
	"padjig/cmd/padjig/web/webtest"
	"padjig/results"
)

// endless is a body of so many bytes that counts how many were taken.
type endless struct{ left, taken int64 }

func (e *endless) Read(b []byte) (int, error) {
	n := min(int64(len(b)), e.left)
	if n == 0 {
		return 0, io.EOF
	}
	for i := range b[:n] {
		b[i] = 'a'
	}
	e.left, e.taken = e.left-n, e.taken+n
	return int(n), nil
}

// filled is a pattern with something for each of its places.
func filled(path string) string {
	for strings.Contains(path, "{") {
		before, rest, _ := strings.Cut(path, "{")
		_, after, _ := strings.Cut(rest, "}")
		path = before + "1" + after
	}
	return path
}

const escaped, parts = "application/x-www-form-urlencoded", "multipart/form-data; boundary=x"

// No route takes a body of 100 MB, of whatever kind and whether or not its length
// is stated; each has read no more of it than it is allowed.
func TestNoRouteTakesALargeBody(t *testing.T) {
	h, site, _ := webtest.Door(t)
	const huge = 100 << 20
	for _, a := range site.All().Actions {
		for _, kind := range []string{escaped, parts, "text/plain", "application/octet-stream"} {
			for _, known := range []int64{huge, -1} {
				e := &endless{left: huge}
				body := io.MultiReader(strings.NewReader("--x\r\nContent-Disposition: form-data; name=\"photo\"; filename=\"p\"\r\n\r\n"), e)
				if kind != parts {
					body = e
				}
				w := webtest.SendBody(h, http.MethodPost, filled(a.Path), kind, body, known)
				assert.Equal(t, http.StatusRequestEntityTooLarge, w.Code, "%s as %s", a.Path, kind)
				assert.Equal(t, "close", w.Header().Get("Connection"), a.Path)
				most := web.MostOf(page.Action{})
				if kind == parts {
					most = web.MostOf(a)
				}
				assert.LessOrEqual(t, e.taken, most+1<<20, "%s as %s", a.Path, kind)
			}
		}
	}
	others := []string{"/nowhere", "/static/station.css"}
	for _, p := range site.All().Pages {
		others = append(others, filled(p.Path))
	}
	for _, path := range others {
		for _, method := range []string{http.MethodGet, http.MethodPost, http.MethodPut} {
			e := &endless{left: huge}
			w := webtest.SendBody(h, method, path, parts, e, -1)
			if w.Code != http.StatusRequestEntityTooLarge { // the address of an action too
				assert.LessOrEqual(t, e.taken, int64(1<<20), "%s %s", method, path)
			}
		}
	}
	left, err := filepath.Glob(filepath.Join(os.TempDir(), "multipart-*"))
	require.NoError(t, err)
	assert.Empty(t, left, "what was put aside is removed")
}

// Who may not do a thing is told so before their body is read.
func TestStrangersBodiesAreNotRead(t *testing.T) {
	h, site, _ := webtest.Door(t)
	for _, a := range site.All().Actions {
		if a.Who == nil {
			continue
		}
		e := &endless{left: 100 << 20}
		r := httptest.NewRequest(http.MethodPost, "http://"+webtest.OurHost+filled(a.Path), e)
		r.Host = webtest.OurHost
		r.Header.Set("Content-Type", escaped)
		w := httptest.NewRecorder()
		h.ServeHTTP(w, r)
		assert.Equal(t, http.StatusSeeOther, w.Code, a.Path)
		assert.Zero(t, e.taken, a.Path)
	}
}

// A form of ten thousand fields is refused, whatever it is made of.
func TestFormsWithManyFields(t *testing.T) {
	h, site, _ := webtest.Door(t)
	many := make([]string, 10_000)
	for i := range many {
		many[i] = fmt.Sprintf("field%d=", i)
	}
	var form bytes.Buffer
	w := multipart.NewWriter(&form)
	for i := range many {
		require.NoError(t, w.WriteField(fmt.Sprint("field", i), ""))
	}
	require.NoError(t, w.Close())
	for _, a := range site.All().Actions {
		got := webtest.SendBody(h, http.MethodPost, filled(a.Path), escaped, strings.NewReader(strings.Join(many, "&")), -1)
		assert.Equal(t, http.StatusRequestEntityTooLarge, got.Code, a.Path)
		got = webtest.SendBody(h, http.MethodPost, filled(a.Path), w.FormDataContentType(), bytes.NewReader(form.Bytes()), -1)
		assert.Equal(t, http.StatusRequestEntityTooLarge, got.Code, a.Path)
		got = webtest.SendBody(h, http.MethodPost, filled(a.Path)+"?"+strings.Join(many, "&"), escaped, strings.NewReader(""), 0)
		assert.Equal(t, http.StatusRequestEntityTooLarge, got.Code, a.Path)
	}
}

// pipes is a listener without a network, so that connections live in fake time.
type pipes struct {
	calls chan net.Conn
	over  chan struct{}
}

func (p *pipes) Accept() (net.Conn, error) {
	select {
	case c := <-p.calls:
		return c, nil
	case <-p.over:
		return nil, net.ErrClosed
	}
}
func (p *pipes) Close() error   { close(p.over); return nil }
func (p *pipes) Addr() net.Addr { return &net.IPAddr{} }

// inFakeTime serves a site to one connection in fake time.
func inFakeTime(t *testing.T, do func(t *testing.T, site *web.Site, call func() net.Conn)) {
	synctest.Test(t, func(t *testing.T) {
		store, err := results.Open(context.Background(), filepath.Join(t.TempDir(), "r.sqlite"))
		require.NoError(t, err)
		defer func() { assert.NoError(t, store.Close()) }()
		site, err := web.New(web.Config{Store: store, Hosts: []string{webtest.OurHost}})
		require.NoError(t, err)
		p := &pipes{make(chan net.Conn), make(chan struct{})}
		server := &http.Server{Handler: site.Handler(), ReadHeaderTimeout: time.Minute}
		over := make(chan error)
		go func() { over <- server.Serve(p) }()
		do(t, site, func() net.Conn {
			mine, theirs := net.Pipe()
			p.calls <- theirs
			return mine
		})
		assert.NoError(t, server.Close())
		<-over
	})
}

// A body that comes a byte at a time is not waited for longer than its route
// allows, wherever it is sent.
func TestSlowBodies(t *testing.T) {
	for name, head := range map[string]string{
		"a form":             "POST /door HTTP/1.1\r\nHost: " + webtest.OurHost + "\r\n",
		"a page":             "GET /door HTTP/1.1\r\nHost: " + webtest.OurHost + "\r\n",
		"nowhere":            "POST /nowhere HTTP/1.1\r\nHost: " + webtest.OurHost + "\r\n",
		"not signed in":      "POST /returns/photo HTTP/1.1\r\nHost: " + webtest.OurHost + "\r\n",
		"under another name": "POST /door HTTP/1.1\r\nHost: evil.example\r\n",
		"from another site":  "POST /door HTTP/1.1\r\nSec-Fetch-Site: cross-site\r\nHost: " + webtest.OurHost + "\r\n",
	} {
		t.Run(name, func(t *testing.T) {
			inFakeTime(t, func(t *testing.T, _ *web.Site, call func() net.Conn) {
				c := call()
				defer c.Close()
				began, gone := time.Now(), make(chan struct{})
				go func() { // reads what it is told, so that nothing waits for that
					defer close(gone)
					_, _ = io.Copy(io.Discard, c)
				}()
				_, err := io.WriteString(c, head+"Content-Type: "+escaped+"\r\nContent-Length: 1000\r\n\r\n")
				require.NoError(t, err)
				for err == nil {
					time.Sleep(time.Second)
					_, err = io.WriteString(c, "a")
				}
				<-gone
				assert.LessOrEqual(t, time.Since(began), web.FormPatience+5*time.Second)
			})
		})
	}
}

// A form that came in time may then be worked on for as long as it takes, and the
// connection stays good.
func TestWorkIsNotHurried(t *testing.T) {
	inFakeTime(t, func(t *testing.T, site *web.Site, call func() net.Conn) {
		site.Add(page.Action{Path: "/slow", Do: func(v *page.Visit) (page.Answer, error) {
			time.Sleep(time.Hour)
			return page.Answer{Go: "/door"}, v.Ctx().Err()
		}})
		c := call()
		defer c.Close()
		in := bufio.NewReader(c)
		for range 2 {
			body := url.Values{"note": {"takes long"}}.Encode()
			_, err := fmt.Fprintf(c, "POST /slow HTTP/1.1\r\nHost: %s\r\nContent-Type: %s\r\nContent-Length: %d\r\n\r\n%s", webtest.OurHost, escaped, len(body), body)
			require.NoError(t, err)
			got, err := http.ReadResponse(in, nil)
			require.NoError(t, err)
			assert.Equal(t, http.StatusSeeOther, got.StatusCode)
			_, _ = io.Copy(io.Discard, got.Body)
		}
	})
}

// A browser that takes nothing of its answer is let go of.
func TestAnswersNobodyTakes(t *testing.T) {
	inFakeTime(t, func(t *testing.T, _ *web.Site, call func() net.Conn) {
		c := call()
		defer c.Close()
		began := time.Now()
		_, err := fmt.Fprintf(c, "GET /door HTTP/1.1\r\nHost: %s\r\n\r\n", webtest.OurHost)
		require.NoError(t, err)
		time.Sleep(web.WritePatience + time.Second)
		_, err = io.Copy(io.Discard, c)
		assert.NoError(t, err, "the other end is closed")
		assert.Less(t, time.Since(began), 2*web.WritePatience)
	})
}
