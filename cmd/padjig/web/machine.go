package web

import (
	"context"
	"crypto/sha256"
	"encoding/base64"
	"errors"
	"net"
	"net/http"
	"net/url"
	"strconv"
	"strings"
	"time"

	"padjig/cmd/padjig/log"
	"padjig/cmd/padjig/web/api"
	"padjig/cmd/padjig/web/bearer"
	"padjig/cmd/padjig/web/metrics"
)

// machine is the part of the site that programs read: no session and no cookie counts here, and
// nothing can be changed.
type machine struct {
	routes []api.Route
	gate   *bearer.Gate
	counts *metrics.Collector
	turn   chan struct{} // as many answers are made at a time: the computer has units to test
}

func machineOf(c Config) machine {
	m := machine{turn: make(chan struct{}, 2), gate: bearer.New(c.Store.Tokens), counts: metrics.New(c.Store, c.Lanes, append(c.Metrics, metrics.Beside(c.Store))...)}
	m.routes = api.Routes(api.Config{Store: c.asked(), Own: c.Store, Answers: c.Plant.Answers(), Metrics: m.counts, Open: c.MetricsOpen, Lanes: func() (list []api.Lane) {
		for _, l := range c.Lanes {
			s := l.State()
			list = append(list, api.Lane{Phase: string(s.Phase), Present: s.Jig.Present})
		}
		return list
	}})
	return m
}

// Watch counts what happens to the jigs, until ctx ends.
func (s *Site) Watch(ctx context.Context) { s.machine.counts.Watch(ctx) }

func (s *Site) routeMachine() {
	for _, r := range s.machine.routes {
		s.handle("GET "+r.Path, noBody, s.read(r))
		s.handle(r.Path, noBody, func(w http.ResponseWriter, _ *http.Request) { // any other method
			w.Header().Set("Allow", "GET, HEAD")
			s.problem(w, api.Problem{Status: http.StatusMethodNotAllowed, Code: "read only", Detail: "programs read here, and change nothing", Remedy: "GET or HEAD"})
		})
	}
	s.handle("/api/", noBody, func(w http.ResponseWriter, r *http.Request) {
		s.problem(w, api.Problem{Status: http.StatusNotFound, Code: "no such address", Detail: "there is nothing at this address", Remedy: api.Base + "/openapi.json lists what there is"})
	})
}

// read answers one route, after it has seen the token, and once more before anything is sent.
func (s *Site) read(r api.Route) http.HandlerFunc {
	return func(w http.ResponseWriter, req *http.Request) {
		req, done := s.plant.Within(req)
		defer done()
		answer, err := s.answer(r, req)
		if err != nil {
			s.problem(w, s.unread(req, err))
			return
		}
		send(w, req, answer, r.Scope != "")
	}
}

func (s *Site) answer(r api.Route, req *http.Request) (api.Answer, error) {
	if r.Scope != "" {
		if _, err := s.machine.gate.Admit(req.Context(), req.Header, addressOf(req), r.Scope); err != nil {
			return api.Answer{}, err
		}
	}
	query, err := parameters(req)
	if err != nil {
		return api.Answer{}, err
	}
	if err := r.Check(query); err != nil {
		return api.Answer{}, err
	}
	if r.Scope != "" {
		select {
		case s.machine.turn <- struct{}{}:
			defer func() { <-s.machine.turn }()
		case <-req.Context().Done():
			return api.Answer{}, req.Context().Err()
		}
	}
	answer, err := r.Do(req.Context(), api.Call{Path: req.PathValue, Query: query, Accept: req.Header.Get("Accept"), Now: time.Now()})
	if err == nil && r.Scope != "" {
		err = s.machine.gate.Still(req.Context(), req.Header, r.Scope)
	}
	return answer, err
}

// parameters are those of an address: more than any route has, or what is none, is no request.
func parameters(req *http.Request) (url.Values, error) {
	query, err := url.ParseQuery(req.URL.RawQuery)
	if err != nil || strings.Count(req.URL.RawQuery, "&") > mostFields {
		return nil, api.Problem{Status: http.StatusBadRequest, Code: "wrong request", Detail: "the parameters cannot be read", Remedy: "name=value, joined by &"}
	}
	return query, nil
}

// unread is a problem of what could not be answered, and tells whoever runs the station.
func (s *Site) unread(req *http.Request, err error) api.Problem {
	if no, is := errors.AsType[*bearer.Refusal](err); is {
		s.machine.counts.Refused(no.Why)
		if !no.Again {
			log.From(req.Context()).WarnContext(req.Context(), log.TokenRefused, "token", no.Token, "from", addressOf(req),
				"path", req.URL.Path, "why", no.Why)
		}
		return no.Problem
	}
	if p, is := errors.AsType[api.Problem](err); is {
		return p
	}
	if s.plant.Silent(req.Context(), err) {
		log.From(req.Context()).WarnContext(req.Context(), log.PlantAway, "path", req.URL.Path, "why", err)
		return api.Problem{Status: http.StatusServiceUnavailable, Code: "plant away", Wait: away,
			Detail: "the plant's database does not answer", Remedy: "ask again; padjig doctor and the server's own log say more, at the office"}
	}
	if s.plant.Doubted(err) {
		log.From(req.Context()).ErrorContext(req.Context(), log.PlantUntrusted, "path", req.URL.Path, "why", err)
		return api.Problem{Status: http.StatusBadGateway, Code: "plant not trusted",
			Detail: "what answers as the plant's database does not show who it is", Remedy: "padjig plant serve at the office says what of; its certificate, or somebody stands between"}
	}
	log.From(req.Context()).ErrorContext(req.Context(), log.AnswerFailed, "path", req.URL.Path, "why", err)
	return api.Problem{Status: http.StatusInternalServerError, Code: "records", Detail: "the records could not be read", Remedy: "padjig records check, at the station"}
}

// problem answers with one; what is refused is never kept on its way.
func (s *Site) problem(w http.ResponseWriter, p api.Problem) {
	h := w.Header()
	h.Set("Content-Type", api.ProblemKind)
	switch p.Status {
	case http.StatusUnauthorized:
		h.Set("WWW-Authenticate", `Bearer realm="padjig"`)
	case http.StatusForbidden:
		h.Set("WWW-Authenticate", `Bearer realm="padjig", error="insufficient_scope"`)
	}
	if p.Wait > 0 {
		h.Set("Retry-After", strconv.Itoa(p.Wait))
	}
	w.WriteHeader(p.Status)
	_, _ = w.Write(p.Body())
}

// send sends an answer, or says that it is the one that the program has.
func send(w http.ResponseWriter, r *http.Request, a api.Answer, private bool) {
	h, sum := w.Header(), sha256.Sum256(a.Body)
	tag := `W/"` + base64.RawURLEncoding.EncodeToString(sum[:18]) + `"`
	h.Set("Content-Type", a.Kind)
	if a.Status != 0 {
		sendBody(w, r, a.Status, a.Body)
		return
	}
	h.Set("ETag", tag)
	h.Set("Vary", "Accept, Accept-Encoding, Authorization")
	h.Set("Cache-Control", "no-cache")
	if private {
		h.Set("Cache-Control", "private, no-cache")
	}
	if matches(r.Header.Get("If-None-Match"), tag) {
		w.WriteHeader(http.StatusNotModified)
		return
	}
	sendBody(w, r, http.StatusOK, a.Body)
}

func matches(header, tag string) bool {
	for one := range strings.SplitSeq(header, ",") {
		if one = strings.TrimSpace(one); one == "*" || strings.TrimPrefix(one, "W/") == strings.TrimPrefix(tag, "W/") {
			return true
		}
	}
	return false
}

// addressOf is where a request comes from, as its connection says; headers claim what they like.
func addressOf(r *http.Request) string {
	host, _, err := net.SplitHostPort(r.RemoteAddr)
	if err != nil {
		return r.RemoteAddr
	}
	return host
}

// counted counts answers by the class of their status.
type counted struct {
	http.ResponseWriter
	note func(status int)
	said bool
}

// Unwrap is for http.ResponseController.
func (w *counted) Unwrap() http.ResponseWriter { return w.ResponseWriter }

func (w *counted) WriteHeader(status int) {
	if !w.said {
		w.said = true
		w.note(status)
	}
	w.ResponseWriter.WriteHeader(status)
}

func (w *counted) Write(b []byte) (int, error) {
	if !w.said {
		w.said = true
		w.note(http.StatusOK)
	}
	return w.ResponseWriter.Write(b)
}

func (s *Site) counting(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		next.ServeHTTP(&counted{ResponseWriter: w, note: s.machine.counts.Answered}, r)
	})
}
