// Package api is what programs read from a station over the network: one table of routes,
// from which the station serves them and the OpenAPI document describes them.
//
// A route gives an answer as a value and writes nothing itself: package web alone answers,
// after it has seen the token. What is answered is what --json prints, byte for byte.
package api

import (
	"bytes"
	"context"
	_ "embed" // the document
	"net/url"
	"slices"
	"strings"
	"time"

	"padjig/cmd/padjig/object"
	"padjig/cmd/padjig/web/metrics"
	"padjig/results"
	"padjig/results/tokens"
)

// Base is where the routes lie that answer about the records.
const Base = "/api/v1"

// The kinds of answers.
const (
	JSON  = "application/json"
	Plain = "text/plain; charset=utf-8"
)

// Call is one request of a program.
type Call struct {
	Path   func(name string) string // the value in a path
	Query  url.Values
	Accept string // kinds of answers that are wanted
	Now    time.Time
}

// Answer is what comes of it.
type Answer struct {
	Kind   string
	Body   []byte
	Status int // 0: 200
}

// Route is something to read.
type Route struct {
	Path    string       // as net/http's patterns have it, without the method
	Name    string       // of its operation in the document
	Scope   tokens.Scope // that a token must open; empty: no token is needed
	Summary string
	Params  []Param
	Kind    string // of the answer
	Schema  string // page of docs/schema that it keeps to; empty for what is no JSON, or "readiness"
	Do      func(context.Context, Call) (Answer, error)
}

// Param is a parameter of a route.
type Param struct {
	Name, About string
	InPath      bool
	Many        bool     // may be given more than once
	Of          []string // the values there are; nil for any
	Whole       [2]int   // it is a whole number from the first to the second; zero for what is none
	Number      bool
}

// Lane is how a lane stands, for who watches the station.
type Lane struct {
	Phase   string
	Present bool // its jig is there
}

// Config is what the routes are about.
type Config struct {
	Store   *results.Store             // is asked
	Own     *results.Store             // keeps releases and tokens, and is written to; at a station the same
	Answers func(context.Context) bool // whether the plant's database does; nil for a station
	Lanes   func() []Lane
	Metrics *metrics.Collector
	Open    bool // metrics need no token
}

// Routes are all of them.
func Routes(c Config) []Route {
	a := answering{c, &lately{}}
	scope := tokens.Metrics
	if c.Open {
		scope = ""
	}
	return []Route{
		{
			Path: Base + "/units/{serial}", Name: "unit", Scope: tokens.Units, Kind: JSON, Schema: "unit-1", Do: a.unit,
			Summary: "The life of a unit: how it stands, its runs, starts, rework and where it was put",
			Params:  []Param{{Name: "serial", InPath: true, About: "serial number, letter by letter"}},
		},
		{
			Path: Base + "/runs", Name: "runs", Scope: tokens.Units, Kind: JSON, Schema: "runs-1", Do: a.runs, Params: runParams,
			Summary: "Runs in the order they were stored, page after page",
		},
		{
			Path: Base + "/runs/{run}", Name: "run", Scope: tokens.Units, Kind: JSON, Schema: "run-1", Do: a.run,
			Summary: "A run, with everything that was read and found, and the hash of its record",
			Params:  []Param{{Name: "run", InPath: true, About: "id of the run, a UUID"}},
		},
		{
			Path: Base + "/yields", Name: "yields", Scope: tokens.Yields, Kind: JSON, Schema: "answer-1", Do: a.yields, Params: yieldParams,
			Summary: "First-pass and final yield with intervals, the answer of padjig quality yield --json",
		},
		{
			Path: Base + "/products", Name: "products", Scope: tokens.Yields, Kind: JSON, Schema: "products-1", Do: a.products,
			Summary: "The revision of each product that is in force",
		},
		{
			Path: Base + "/jigs", Name: "jigs", Scope: tokens.Yields, Kind: JSON, Schema: "answer-1", Do: a.jigs,
			Summary: "How every jig stands and what is due on it, the answer of padjig jig due --json",
		},
		{
			Path: Base + "/openapi.json", Name: "openapi", Kind: JSON, Do: document,
			Summary: "This description",
		},
		{Path: "/healthz", Name: "healthz", Kind: Plain, Do: healthy, Summary: "The process turns"},
		{Path: "/readyz", Name: "readyz", Kind: JSON, Schema: readiness, Do: a.ready, Summary: "Records can be written and pages are up"},
		{
			Path: "/metrics", Name: "metrics", Scope: scope, Kind: metrics.OpenMetrics, Do: a.metrics,
			Summary: "How the station is doing, as OpenMetrics 1.0 or, asked for by nobody, as Prometheus text",
		},
	}
}

//go:embed openapi.json
var openapi []byte

func document(context.Context, Call) (Answer, error) { return Answer{Kind: JSON, Body: openapi}, nil }

func healthy(context.Context, Call) (Answer, error) {
	return Answer{Kind: Plain, Body: []byte("ok\n")}, nil
}

// printed is an object as --json prints it.
func printed(o any) (Answer, error) {
	var text bytes.Buffer
	err := object.Print(&text, o)
	return Answer{Kind: JSON, Body: text.Bytes()}, err
}

// Check says what is wrong with the parameters of a call: a name that is misspelt would
// otherwise leave out a filter unnoticed.
func (r Route) Check(v url.Values) error {
	for name, given := range v {
		at := slices.IndexFunc(r.Params, func(p Param) bool { return p.Name == name && !p.InPath })
		switch {
		case name == "access_token":
			return Problem{Status: 400, Code: "token in address", Detail: "a token does not belong into an address: it is logged on its way",
				Remedy: "revoke it, and send the new one as Authorization: Bearer"}
		case at < 0:
			return wrong("there is no parameter %q", "one of: "+r.names(), name)
		case len(given) > 1 && !r.Params[at].Many:
			return wrong("%s is given more than once", "once", name)
		}
	}
	return nil
}

func (r Route) names() string {
	var names []string
	for _, p := range r.Params {
		if !p.InPath {
			names = append(names, p.Name)
		}
	}
	if len(names) == 0 {
		return "none, this takes no parameter"
	}
	return strings.Join(names, ", ")
}
