package api

import (
	"encoding/json"
	"fmt"
	"net/http"
	"strings"
)

// ProblemKind is the media type of a problem, RFC 9457.
const ProblemKind = "application/problem+json"

// Problem is why a request is not answered. Code is for programs and does not change with the words.
type Problem struct {
	Status               int
	Code, Detail, Remedy string
	Wait                 int // seconds after which it may be tried again; 0: it is not said
}

func (p Problem) Error() string { return p.Detail }

// Body is it as RFC 9457 has it, with code and remedy beside.
func (p Problem) Body() []byte {
	text, err := json.MarshalIndent(struct {
		Type   string `json:"type"`
		Title  string `json:"title"`
		Status int    `json:"status"`
		Detail string `json:"detail"`
		Code   string `json:"code"`
		Remedy string `json:"remedy"`
	}{"urn:padjig:problem:" + strings.ReplaceAll(p.Code, " ", "-"), http.StatusText(p.Status), p.Status, p.Detail, p.Code, p.Remedy}, "", "  ")
	if err != nil {
		panic(err) // texts and a number
	}
	return append(text, '\n')
}

// wrong is what was asked for wrongly.
func wrong(detail, remedy string, args ...any) Problem {
	return Problem{Status: http.StatusBadRequest, Code: "wrong request", Detail: fmt.Sprintf(detail, args...), Remedy: remedy}
}

func missing(code, detail, remedy string) Problem {
	return Problem{Status: http.StatusNotFound, Code: code, Detail: detail, Remedy: remedy}
}

// unanswerable is a question that these runs do not answer.
func unanswerable(detail, remedy string) Problem {
	return Problem{Status: http.StatusUnprocessableEntity, Code: "no answer", Detail: detail, Remedy: remedy}
}
