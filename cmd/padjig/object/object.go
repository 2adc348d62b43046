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
	"crypto/sha256"
	"encoding/hex"
	"encoding/json"
	"fmt"
	"io"
	"reflect"
	"strings"
	"time"

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
		{"answer-1", reflect.TypeFor[report.Object](), "padjig quality, padjig jig due, padjig plant stations, padjig plant compare, padjig plant due, padjig plant drift, padjig plant suspects, padjig plant life, padjig unit identify"},
		{"backup-1", reflect.TypeFor[Backup](), "padjig records backup"},
		{"calibrations-1", reflect.TypeFor[Calibrations](), "padjig jig history"},
		{"cases-1", reflect.TypeFor[Cases](), "padjig returns list"},
		{"checked-1", reflect.TypeFor[Checked](), "padjig product check"},
		{"commissioning-1", reflect.TypeFor[Commissioning](), "padjig jig commission"},
		{"conformance-1", reflect.TypeFor[Conformance](), "padjig jig conform"},
		{"diagnosis-2", reflect.TypeFor[Diagnosis](), "padjig diagnose"},
		{"difference-1", reflect.TypeFor[Difference](), "padjig product diff"},
		{"doctor-1", reflect.TypeFor[Doctor](), "padjig doctor"},
		{"event-1", reflect.TypeFor[Event](), "padjig records hand-off event"},
		{"gauge-reading-1", reflect.TypeFor[GaugeReading](), "padjig quality gauge run"},
		{"hand-off-1", reflect.TypeFor[HandOff](), "padjig records hand-off list"},
		{"life-1", reflect.TypeFor[Life](), "padjig returns show, padjig returns intake"},
		{"margins-1", reflect.TypeFor[Margins](), "padjig product margins"},
		{"placement-1", reflect.TypeFor[Placement](), "padjig unit place"},
		{"ports-1", reflect.TypeFor[Ports](), "padjig jig list"},
		{"products-1", reflect.TypeFor[Products](), "GET /api/v1/products"},
		{"references-1", reflect.TypeFor[References](), "padjig jig references"},
		{"restore-1", reflect.TypeFor[Restore](), "padjig records restore"},
		{"run-1", reflect.TypeFor[Run](), "padjig test, padjig returns first-press, padjig returns test, padjig returns exercise"},
		{"settings-1", reflect.TypeFor[Settings](), "padjig settings"},
		{"runs-1", reflect.TypeFor[Runs](), "GET /api/v1/runs"},
		{"sign-ins-1", reflect.TypeFor[SignIns](), "padjig station accounts attempts"},
		{"conflicts-1", reflect.TypeFor[Conflicts](), "padjig plant conflicts, padjig plant conflicts close, padjig plant conflicts reopen"},
		{"notices-1", reflect.TypeFor[Notices](), "padjig plant notices"},
		{"plant-key-1", reflect.TypeFor[PlantKey](), "padjig plant key"},
		{"published-1", reflect.TypeFor[Published](), "padjig plant publish, padjig plant return"},
		{"plant-check-1", reflect.TypeFor[PlantCheck](), "padjig plant check"},
		{"plant-login-1", reflect.TypeFor[PlantLogin](), "padjig plant member add, padjig plant reader add, padjig plant office add"},
		{"plant-prepared-1", reflect.TypeFor[PlantPrepared](), "padjig plant prepare"},
		{"plant-retirement-1", reflect.TypeFor[PlantRetirement](), "padjig plant retire"},
		{"soundness-1", reflect.TypeFor[Soundness](), "padjig records check"},
		{"suspects-1", reflect.TypeFor[Suspects](), "padjig jig suspects"},
		{"tokens-1", reflect.TypeFor[Tokens](), "padjig station tokens list"},
		{"unit-1", reflect.TypeFor[Unit](), "padjig unit"},
		{"version-1", reflect.TypeFor[Version](), "padjig version"},
		{"wear-1", reflect.TypeFor[Wear](), "padjig jig parts"},
	}
}

// Print writes the one object of --json, its schema first.
func Print(to io.Writer, o any) error {
	name, text, err := encoded(o)
	if err != nil {
		return err
	}
	_, err = fmt.Fprintf(to, "{\n  \"schema\": %q,%s", name, text[1:])
	return err
}

func encoded(o any) (name string, text []byte, err error) {
	for _, k := range Kinds() {
		if k.Shape == reflect.TypeOf(o) {
			name = k.Name
		}
	}
	if name == "" {
		return "", nil, fmt.Errorf("%T is no object of its own", o)
	}
	if text, err = encode(o, "  "); err == nil {
		err = timed(text)
	}
	if err != nil {
		err = fmt.Errorf("%s: %w", name, err)
	}
	return name, text, err
}

func encode(o any, indent string) ([]byte, error) {
	var text bytes.Buffer
	encoder := json.NewEncoder(&text)
	encoder.SetEscapeHTML(false) // labels such as "<" stay as they are
	encoder.SetIndent("", indent)
	err := encoder.Encode(o)
	return text.Bytes(), err
}

// Sealed gives an object as it is handed on: its canonical form after RFC 8785, with the
// SHA-256 of that form without it as the member sha256.
func Sealed(o any) ([]byte, error) {
	name, text, err := encoded(o)
	if err != nil {
		return nil, err
	}
	var members map[string]any
	if err := json.Unmarshal(text, &members); err != nil {
		return nil, err
	}
	delete(members, "sha256")
	members["schema"] = name
	text, err = canonical(members)
	if err != nil {
		return nil, err
	}
	sum := sha256.Sum256(text)
	members["sha256"] = hex.EncodeToString(sum[:])
	return canonical(members)
}

// canonical is the canonical form after RFC 8785 of what was decoded from JSON. Go sorts the
// members of maps, ours have names of ASCII, and writes numbers as ECMAScript does; what is
// left are two characters that it escapes and the standard does not, and the sign of zero.
func canonical(decoded any) ([]byte, error) {
	text, err := encode(unsigned(decoded), "")
	if err != nil {
		return nil, err
	}
	return []byte(unescaped.Replace(strings.TrimSuffix(string(text), "\n"))), nil
}

func unsigned(decoded any) any {
	switch v := decoded.(type) {
	case map[string]any:
		for name := range v {
			v[name] = unsigned(v[name])
		}
	case []any:
		for i := range v {
			v[i] = unsigned(v[i])
		}
	case float64:
		return v + 0 // minus zero and zero are zero
	}
	return decoded
}

var unescaped = strings.NewReplacer(`\\`, `\\`, `\u2028`, "\u2028", `\u2029`, "\u2029")

// timed finds a time that nobody set: a program would take it for one in year 1.
func timed(text []byte) error {
	var o any
	if err := json.Unmarshal(text, &o); err != nil {
		return err
	}
	return set("", o)
}

func set(place string, value any) error {
	switch v := value.(type) {
	case map[string]any:
		for name, member := range v {
			if err := set(place+"."+name, member); err != nil {
				return err
			}
		}
	case []any:
		for i, one := range v {
			if err := set(fmt.Sprintf("%s[%d]", place, i), one); err != nil {
				return err
			}
		}
	case string:
		if at, err := time.Parse(time.RFC3339, v); err == nil && at.Year() <= 1 {
			return fmt.Errorf("%s is %s, a time that was never set", place, v)
		}
	}
	return nil
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
