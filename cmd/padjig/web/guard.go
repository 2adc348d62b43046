package web

import (
	"net/http"
	"slices"
	"strings"

	"padjig/cmd/padjig/web/page"
)

// policy lets a page have nothing but what this site serves, and be shown in no
// other. Images may be data, for what a page draws itself.
const policy = "default-src 'none'; script-src 'self'; style-src 'self'; img-src 'self' data: blob:; connect-src 'self'; " +
	"form-action 'self'; frame-ancestors 'none'; base-uri 'none'; manifest-src 'self'"

// headed sets what browsers are told with every answer.
func (s *Site) headed(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		h := w.Header()
		h.Set("Content-Security-Policy", policy)
		h.Set("X-Content-Type-Options", "nosniff")
		h.Set("Referrer-Policy", "same-origin")
		h.Set("Cross-Origin-Opener-Policy", "same-origin")
		h.Set("Cross-Origin-Resource-Policy", "same-origin")
		h.Set("Permissions-Policy", "camera=(self), microphone=(), geolocation=()")
		h.Set("Cache-Control", "no-store")
		if s.secure {
			h.Set("Strict-Transport-Security", "max-age=31536000")
		}
		next.ServeHTTP(w, r)
	})
}

// hosted refuses requests under any name that is not ours: a page elsewhere
// could have its own name point here, and would then count as ours.
func (s *Site) hosted(next http.Handler) http.Handler {
	allowed := make([]string, len(s.hosts))
	for i, h := range s.hosts {
		allowed[i] = plainHost(h)
	}
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		if !slices.Contains(allowed, plainHost(r.Host)) {
			s.away(w, r, http.StatusMisdirectedRequest, "error.host")
			return
		}
		next.ServeHTTP(w, r)
	})
}

// plainHost writes one host one way: no capitals, no dot at the end of the name.
func plainHost(host string) string {
	host = strings.ToLower(host)
	if name, port, found := strings.Cut(host, ":"); found && !strings.HasPrefix(host, "[") {
		return strings.TrimSuffix(name, ".") + ":" + port
	}
	return strings.TrimSuffix(host, ".")
}

// sameOrigin refuses what a page of another site would have a browser do.
func (s *Site) sameOrigin(next http.Handler) http.Handler {
	c := http.NewCrossOriginProtection()
	c.SetDenyHandler(http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		s.away(w, r, http.StatusForbidden, "error.elsewhere")
	}))
	return c.Handler(next)
}

// away turns a request away before anybody is known.
func (s *Site) away(w http.ResponseWriter, r *http.Request, status int, key string) {
	v := s.visit(w, r)
	say := v.Say(key)
	v.logRefused(&page.Problem{Status: status, Say: say})
	http.Error(w, say, status)
}
