// Package object is what --json prints: every shape once, with the version of it.
//
// An object opens with the member schema, such as "run-1": the name of a page of
// docs/schema and of the version that it describes. A member that is new keeps the
// version; one that goes, or means something else, begins the next. What a person
// reads in an object - sentences, places in words - may change at any time; codes
// and numbers are for programs.
package object

import (
	"bytes"
	"encoding/json"
	"fmt"
	"io"
	"reflect"

	"padjig/results/report"
)

// Kind is a shape that --json prints by itself.
type Kind struct {
	Name  string // with the version
	Shape reflect.Type
	Of    string // the commands that print it
}

// Kinds are all of them.
func Kinds() []Kind {
	return []Kind{
		{"accounts-1", reflect.TypeFor[Accounts](), "padjig station accounts list"},
		{"answer-1", reflect.TypeFor[report.Object](), "padjig quality"},
		{"calibrations-1", reflect.TypeFor[Calibrations](), "padjig jig history"},
		{"cases-1", reflect.TypeFor[Cases](), "padjig returns list"},
		{"conformance-1", reflect.TypeFor[Conformance](), "padjig jig conform"},
		{"diagnosis-2", reflect.TypeFor[Diagnosis](), "padjig diagnose"},
		{"gauge-reading-1", reflect.TypeFor[GaugeReading](), "padjig quality gauge run"},
		{"life-1", reflect.TypeFor[Life](), "padjig returns show"},
		{"margins-1", reflect.TypeFor[Margins](), "padjig product margins"},
		{"placement-1", reflect.TypeFor[Placement](), "padjig unit place"},
		{"references-1", reflect.TypeFor[References](), "padjig jig references"},
		{"run-1", reflect.TypeFor[Run](), "padjig test, padjig returns first-press, padjig returns test, padjig returns exercise"},
		{"sign-ins-1", reflect.TypeFor[SignIns](), "padjig station accounts attempts"},
		{"suspects-1", reflect.TypeFor[Suspects](), "padjig jig suspects"},
		{"unit-1", reflect.TypeFor[Unit](), "padjig unit"},
		{"wear-1", reflect.TypeFor[Wear](), "padjig jig parts"},
	}
}

// Print writes the one object of --json, its schema first.
func Print(to io.Writer, o any) error {
	name := ""
	for _, k := range Kinds() {
		if k.Shape == reflect.TypeOf(o) {
			name = k.Name
		}
	}
	if name == "" {
		return fmt.Errorf("%T is no object of its own", o)
	}
	var text bytes.Buffer
	encoder := json.NewEncoder(&text)
	encoder.SetEscapeHTML(false) // labels such as "<" stay as they are
	encoder.SetIndent("", "  ")
	if err := encoder.Encode(o); err != nil {
		return err
	}
	_, err := fmt.Fprintf(to, "{\n  \"schema\": %q,%s", name, text.Bytes()[1:])
	return err
}

// each turns a list into another; never nil, so that JSON says [] and not null.
func each[A, B any](list []A, turn func(A) B) []B {
	out := make([]B, 0, len(list))
	for _, a := range list {
		out = append(out, turn(a))
	}
	return out
}

func same[T any](v T) T { return v }
