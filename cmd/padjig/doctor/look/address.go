package look

import (
	"context"
	"crypto/tls"
	"crypto/x509"
	"net"
	"net/http"
	"strings"

	"padjig/cmd/padjig/doctor"
)

// certificateOf looks at the certificate of the pages.
func certificateOf(listen, cert, key string) *doctor.Certificate {
	if cert == "" {
		if listen == "" {
			return nil
		}
		return &doctor.Certificate{None: true}
	}
	pair, err := tls.LoadX509KeyPair(cert, key)
	if err != nil {
		return &doctor.Certificate{Why: err.Error()}
	}
	leaf, err := x509.ParseCertificate(pair.Certificate[0])
	if err != nil {
		return &doctor.Certificate{Why: err.Error()}
	}
	return &doctor.Certificate{After: leaf.NotBefore, Before: leaf.NotAfter}
}

// reach asks the station's own address for the door, which everybody may see. Whose the
// certificate is does not matter here: its names are not those of this computer to itself.
func reach(ctx context.Context, listen string, secure bool) *doctor.Reached {
	host, port, err := net.SplitHostPort(listen)
	if err != nil {
		return nil
	}
	ip := net.ParseIP(host)
	r := &doctor.Reached{Address: listen, Local: host == "localhost" || ip != nil && ip.IsLoopback()}
	if host == "" || ip != nil && ip.IsUnspecified() {
		host = "127.0.0.1"
	}
	scheme := "http://"
	if secure {
		scheme = "https://"
	}
	ctx, cancel := context.WithTimeout(ctx, addressPatience)
	defer cancel()
	request, err := http.NewRequestWithContext(ctx, http.MethodGet, scheme+net.JoinHostPort(host, port)+"/door", nil)
	if err != nil {
		return nil
	}
	request.Header.Set("Accept", "application/json")
	transport := &http.Transport{TLSClientConfig: &tls.Config{InsecureSkipVerify: true}, DisableKeepAlives: true}
	answer, err := (&http.Client{Transport: transport, CheckRedirect: func(*http.Request, []*http.Request) error {
		return http.ErrUseLastResponse
	}}).Do(request)
	if err != nil {
		return r
	}
	defer answer.Body.Close()
	r.Answers, r.Status = true, answer.StatusCode
	// Every answer of the station has its policy, also one that a name is turned away with.
	r.Ours = strings.Contains(answer.Header.Get("Content-Security-Policy"), "default-src 'none'") &&
		answer.Header.Get("Cross-Origin-Opener-Policy") == "same-origin"
	return r
}
