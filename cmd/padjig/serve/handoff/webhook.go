package handoff

import (
	"bytes"
	"context"
	"crypto/hmac"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"fmt"
	"io"
	"net/http"
	"strconv"
	"strings"
	"time"
)

// webhook posts each event, signed as the open specification "Standard Webhooks", version
// 1.0.0, says (standardwebhooks.com): a receiver verifies it with any of its libraries.
type webhook struct {
	url    string
	key    []byte
	client *http.Client
}

// newWebhook takes a secret as that specification writes it.
func newWebhook(url, secret string) (*webhook, error) {
	key, err := base64.StdEncoding.DecodeString(strings.TrimPrefix(strings.TrimSpace(secret), "whsec_"))
	if err != nil || len(key) < 24 || len(key) > 64 {
		return nil, errors.New("write whsec_ and 24 to 64 random bytes in base64")
	}
	transport := &http.Transport{
		Proxy: http.ProxyFromEnvironment, TLSHandshakeTimeout: 10 * time.Second, MaxResponseHeaderBytes: 64 << 10,
		MaxConnsPerHost: 1, IdleConnTimeout: time.Minute, ForceAttemptHTTP2: true,
	}
	return &webhook{url, key, &http.Client{
		Transport:     transport,
		CheckRedirect: func(*http.Request, []*http.Request) error { return http.ErrUseLastResponse }, // it would lose the body or take it elsewhere
	}}, nil
}

// sign gives the signature of an attempt.
func sign(key []byte, id string, at time.Time, body []byte) string {
	mac := hmac.New(sha256.New, key)
	_, _ = fmt.Fprintf(mac, "%s.%d.", id, at.Unix()) // never fails, as the next
	_, _ = mac.Write(body)
	return "v1," + base64.StdEncoding.EncodeToString(mac.Sum(nil))
}

func (w *webhook) Send(ctx context.Context, m Message) error {
	request, err := http.NewRequestWithContext(ctx, http.MethodPost, w.url, bytes.NewReader(m.Body))
	if err != nil {
		return err
	}
	now := time.Now()
	for name, value := range map[string]string{
		"Content-Type": "application/json", "User-Agent": "padjig", "Webhook-Id": m.ID,
		"Webhook-Timestamp": strconv.FormatInt(now.Unix(), 10), "Webhook-Signature": sign(w.key, m.ID, now, m.Body),
	} {
		request.Header.Set(name, value)
	}
	answer, err := w.client.Do(request)
	if err != nil {
		return shortened(err)
	}
	defer answer.Body.Close()
	said, _ := io.ReadAll(io.LimitReader(answer.Body, 4096)) // the status has decided already
	return decided(answer, said, now)
}

// decided says what an answer means.
func decided(answer *http.Response, said []byte, now time.Time) error {
	why := "HTTP " + answer.Status
	if line, _, _ := strings.Cut(strings.TrimSpace(string(said)), "\n"); line != "" {
		why += ": " + strings.ToValidUTF8(line[:min(len(line), 200)], "")
	}
	switch code := answer.StatusCode; {
	case code/100 == 2:
		return nil
	case code == http.StatusRequestTimeout, code == http.StatusTooEarly:
	case code == http.StatusTooManyRequests, code == http.StatusServiceUnavailable:
		return &LaterError{retryAfter(answer.Header.Get("Retry-After"), now), why}
	case code/100 == 4:
		return &RefusedError{why}
	}
	return errors.New(why)
}

// retryAfter reads Retry-After (RFC 9110, 10.2.3); 0 where it says nothing to go by.
func retryAfter(text string, now time.Time) time.Duration {
	if seconds, err := strconv.ParseUint(text, 10, 31); err == nil {
		return time.Duration(seconds) * time.Second
	}
	if at, err := http.ParseTime(text); err == nil {
		return max(0, at.Sub(now))
	}
	return 0
}

// shortened leaves the address out, which may have something in it that only the receiver
// shall know.
func shortened(err error) error {
	for {
		inner := errors.Unwrap(err)
		if inner == nil || !strings.Contains(err.Error(), "://") {
			return err
		}
		err = inner
	}
}

func (w *webhook) Close() { w.client.CloseIdleConnections() }
