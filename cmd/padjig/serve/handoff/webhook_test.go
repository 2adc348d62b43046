package handoff

import (
	"context"
	"crypto/hmac"
	"errors"
	"fmt"
	"io"
	"log"
	"net"
	"net/http"
	"net/http/httptest"
	"os"
	"strconv"
	"strings"
	"sync"
	"sync/atomic"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

const testSecret = "whsec_MfKQ9r8GKYqrTwjUPD8ILPZIo2LaLaSw"

// The example that the reference libraries of Standard Webhooks 1.0.0 are tested with.
func TestSignatureIsThatOfTheSpecification(t *testing.T) {
	for _, secret := range []string{testSecret, strings.TrimPrefix(testSecret, "whsec_"), testSecret + "\n"} {
		w, err := newWebhook("https://mes.example/", secret)
		require.NoError(t, err)
		assert.Equal(t, "v1,g0hM9SsE+OTPJTGt/tmIKtSyZlE3uFJELVlNIOLJ1OE=",
			sign(w.key, "msg_p5jXN8AQM9LWM0D4loKWxJek", time.Unix(1614265330, 0), []byte(`{"test": 2432232314}`)))
	}
	for _, bad := range []string{"", "whsec_", "whsec_c2hvcnQ=", "whsec_not base64 at all, but long enough to be", "whsec_" + strings.Repeat("A", 92)} {
		_, err := newWebhook("https://mes.example/", bad)
		assert.Error(t, err, bad)
	}
}

// The worked example of docs/hand-off.md is what the program computes.
func TestWorkedSignature(t *testing.T) {
	page, err := os.ReadFile("../../../../docs/hand-off.md")
	require.NoError(t, err)
	w, err := newWebhook("https://mes.example/", "whsec_Z3JlZW5ob3VzZSBjbGltYXRlIGNvbnRyb2xsZXI=")
	require.NoError(t, err)
	for _, want := range []string{
		"whsec_Z3JlZW5ob3VzZSBjbGltYXRlIGNvbnRyb2xsZXI=", "\n0192f3a1-7c2e-4b5d-9a51-3f0c2d7e8b64.1772438400.{\"unit\":\"GCC-000001-3\"}\n",
		sign(w.key, "0192f3a1-7c2e-4b5d-9a51-3f0c2d7e8b64", time.Unix(1772438400, 0), []byte(`{"unit":"GCC-000001-3"}`)),
	} {
		assert.Contains(t, string(page), want)
	}
}

// hook is a receiver of webhooks, as one that verifies what it takes.
type hook struct {
	taken
	t      *testing.T
	answer func(n int, w http.ResponseWriter) bool // false: it was answered otherwise
	n      atomic.Int32
	lost   func(n int) bool // it is taken, and the answer is lost
}

func (k *hook) ServeHTTP(w http.ResponseWriter, r *http.Request) {
	n := int(k.n.Add(1))
	body, err := io.ReadAll(r.Body)
	if err != nil {
		return // the sender is gone
	}
	assert.Equal(k.t, http.MethodPost, r.Method)
	assert.Equal(k.t, "application/json", r.Header.Get("Content-Type"))
	seconds, err := strconv.ParseInt(r.Header.Get("webhook-timestamp"), 10, 64)
	assert.NoError(k.t, err)
	at := time.Unix(seconds, 0)
	assert.WithinDuration(k.t, time.Now(), at, time.Minute, "of this attempt")
	known, _ := newWebhook("", testSecret)
	assert.True(k.t, hmac.Equal([]byte(r.Header.Get("webhook-signature")), []byte(sign(known.key, r.Header.Get("webhook-id"), at, body))))
	assert.Contains(k.t, string(body), `"id":"`+r.Header.Get("webhook-id")+`"`)
	if k.answer != nil && !k.answer(n, w) {
		return
	}
	k.take(body)
	if k.lost != nil && k.lost(n) {
		panic(http.ErrAbortHandler)
	}
	w.WriteHeader(http.StatusNoContent)
}

// eventually waits for real programs; it fails after a time that only a hang takes.
func eventually(t *testing.T, done func() bool) {
	t.Helper()
	require.Eventually(t, done, time.Minute, 5*time.Millisecond)
}

func (h *house) all(r *taken) func() bool {
	return func() bool { return len(r.once()) == len(h.stored()) }
}

func webhookAt(t *testing.T, url string) Sender {
	t.Helper()
	w, err := newWebhook(url, testSecret)
	require.NoError(t, err)
	return quick{w}
}

// quick has what failed tried again at once: what these tests wait for is the receiver, not
// the time between tries, of which those of the pump are.
type quick struct{ Sender }

func (q quick) Send(ctx context.Context, m Message) error {
	err := q.Sender.Send(ctx, m)
	if _, refused := errors.AsType[*RefusedError](err); err == nil || refused {
		return err
	}
	return &LaterError{time.Millisecond, err.Error()}
}

// A webhook that is down, slow, breaks down halfway, loses its answers, answers that it is
// overloaded: at the end both sides have the same, in the same order.
func TestWebhookBothSidesEqual(t *testing.T) {
	h, k := newHouse(t), &hook{t: t}
	k.answer = func(n int, w http.ResponseWriter) bool {
		switch n % 5 {
		case 1:
			w.Header().Set("Retry-After", "0")
			http.Error(w, "busy", http.StatusServiceUnavailable)
			return false
		case 2:
			http.Error(w, "broken", http.StatusInternalServerError)
			return false
		case 3:
			time.Sleep(20 * time.Millisecond) // it is slow
		}
		return true
	}
	k.lost = func(n int) bool { return n%7 == 0 }
	listener, err := net.Listen("tcp", "127.0.0.1:0")
	require.NoError(t, err)
	address := listener.Addr().String()
	require.NoError(t, listener.Close()) // it is down
	end := h.hand(webhookAt(t, "http://"+address+"/keypads"))
	h.save(1, 2, 3, 4, 5)
	eventually(t, func() bool { _, _, why := h.progress(); return strings.Contains(why, "connection refused") })
	listener, err = net.Listen("tcp", address)
	require.NoError(t, err)
	server := &http.Server{Handler: k}
	var serving sync.WaitGroup
	serving.Go(func() { _ = server.Serve(listener) })
	h.save(6, 7, 8, 9, 10, 11, 12)
	eventually(t, h.all(&k.taken))
	end()
	require.NoError(t, server.Close())
	serving.Wait()
	k.sound(h)
	assert.Greater(t, len(k.ids), 12, "some answers were lost, and came again")
}

// What each answer means.
func TestWebhookAnswers(t *testing.T) {
	now := time.Date(2026, 3, 2, 8, 0, 0, 0, time.UTC)
	for _, c := range []struct {
		status  int
		after   string
		refused bool
		later   time.Duration
	}{
		{status: 200}, {status: 204}, {status: 301}, {status: 307}, {status: 308}, {status: 408}, {status: 425}, {status: 500}, {status: 502}, {status: 504},
		{status: 429, after: "120", later: 2 * time.Minute}, {status: 503, after: "Mon, 02 Mar 2026 08:01:00 GMT", later: time.Minute},
		{status: 503, after: "Mon, 02 Mar 2026 07:00:00 GMT"}, {status: 503, after: "-1"}, {status: 503, after: "soon"}, {status: 429, after: "99999999999999999999"},
		{status: 400, refused: true}, {status: 401, refused: true}, {status: 404, refused: true}, {status: 410, refused: true}, {status: 413, refused: true},
		{status: 422, refused: true},
	} {
		err := decided(&http.Response{StatusCode: c.status, Status: fmt.Sprint(c.status), Header: http.Header{"Retry-After": {c.after}}},
			[]byte("no such unit\nand more"), now)
		_, refused := errors.AsType[*RefusedError](err)
		assert.Equal(t, c.refused, refused, c.status)
		assert.Equal(t, c.status/100 != 2, err != nil, c.status)
		if later, is := errors.AsType[*LaterError](err); is {
			assert.Equal(t, c.later, later.After, c.after)
		} else {
			assert.Zero(t, c.later)
		}
		if err != nil {
			assert.Contains(t, err.Error(), "no such unit")
			assert.NotContains(t, err.Error(), "and more")
		}
	}
}

// A redirect would take the message elsewhere; an endless answer is not read to its end; what
// is said of a failure never has the address in it, which may hold what only the receiver shall know.
func TestWebhookIsNotLedAstray(t *testing.T) {
	other := httptest.NewServer(http.HandlerFunc(func(http.ResponseWriter, *http.Request) { t.Error("it was led here") }))
	defer other.Close()
	endless := false
	server := httptest.NewServer(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !endless {
			http.Redirect(w, r, other.URL, http.StatusTemporaryRedirect)
			return
		}
		for r.Context().Err() == nil {
			if _, err := w.Write(make([]byte, 4096)); err != nil {
				return
			}
		}
	}))
	defer server.Close()
	w, err := newWebhook(server.URL+"/?token=hidden", testSecret)
	require.NoError(t, err)
	m := Message{ID: "1", Body: []byte("{}")}
	err = w.Send(t.Context(), m)
	assert.ErrorContains(t, err, "307")
	_, refused := errors.AsType[*RefusedError](err)
	assert.False(t, refused, "somebody may mend the address")
	endless = true
	assert.NoError(t, w.Send(t.Context(), m), "200 is taken")
	server.CloseClientConnections()
	server.Listener.Close()
	err = w.Send(t.Context(), m)
	require.Error(t, err)
	assert.NotContains(t, err.Error(), "hidden")
}

// A certificate that nobody vouches for is no receiver.
func TestWebhookVerifiesTLS(t *testing.T) {
	k := &hook{t: t}
	server := httptest.NewUnstartedServer(k)
	server.Config.ErrorLog = log.New(io.Discard, "", 0)
	server.StartTLS()
	defer server.Close()
	w, err := newWebhook(server.URL, testSecret)
	require.NoError(t, err)
	err = w.Send(t.Context(), Message{ID: "1", Body: []byte(`{"id":"1"}`)})
	assert.ErrorContains(t, err, "certificate")
	assert.Empty(t, k.ids)
	w.client = server.Client()
	assert.NoError(t, w.Send(t.Context(), Message{ID: "1", Body: []byte(`{"id":"1"}`)}))
}
