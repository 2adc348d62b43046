package web

import (
	"fmt"
	"log/slog"
	"net/http"
	"runtime/debug"

	"padjig/cmd/padjig/log"
	"padjig/cmd/padjig/web/page"
)

// trouble logs what went wrong in the station itself, under an id which the person is told: no
// page says where its files lie.
func (v *reply) trouble(why ...any) *page.Problem {
	id := log.NewID()
	v.log().With(why...).ErrorContext(v.Ctx(), log.PageFailed, "id", id, "method", v.r.Method, "path", v.r.URL.Path)
	return &page.Problem{Status: http.StatusInternalServerError, Say: v.Say("error.records", id)}
}

// logRefused logs what somebody may not do, or cannot: which sentence said so, and which fields
// were wrong, but nothing that was typed.
func (v *reply) logRefused(p *page.Problem) {
	if p.Status == http.StatusInternalServerError {
		return // it was logged as that
	}
	attrs := []any{"path", v.r.URL.Path, "status", p.Status, "code", v.Code(p)}
	if len(p.Fields) > 0 {
		var names []string
		for _, m := range p.Fields {
			names = append(names, m.Field)
		}
		attrs = append(attrs, "fields", names)
	}
	v.log().WarnContext(v.Ctx(), log.ActionRefused, attrs...)
}

// log is the log of a request, with who asks and from where.
func (v *reply) log() *slog.Logger {
	l := log.From(v.Ctx()).With("from", v.r.RemoteAddr)
	if v.Person != nil {
		l = l.With("who", v.Person.Name, "role", string(v.Person.Role))
	}
	return l
}

// denied answers with what somebody may not see or do, on a page of its own.
func (v *reply) denied(status int, say string) {
	v.logRefused(&page.Problem{Status: status, Say: say})
	v.fail(status, say)
}

// caught answers a request that the program has a mistake for: the page says an id, the log has
// the cause by it. What has begun to be sent is cut off.
func (s *Site) caught(next http.Handler) http.Handler {
	return http.HandlerFunc(func(w http.ResponseWriter, r *http.Request) {
		defer func() {
			cause := recover()
			if cause == nil {
				return
			}
			if cause == http.ErrAbortHandler {
				panic(cause)
			}
			v := s.visit(w, r)
			p := v.trouble("why", fmt.Sprint(cause), "stack", string(debug.Stack()))
			if sent, is := w.(*patientWriter); is && sent.begun {
				panic(http.ErrAbortHandler)
			}
			v.fail(p.Status, p.Say)
		}()
		next.ServeHTTP(w, r)
	})
}
