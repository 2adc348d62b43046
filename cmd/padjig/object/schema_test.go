package object

import (
	"bytes"
	"encoding/json"
	"flag"
	"go/ast"
	"go/parser"
	"go/token"
	"io/fs"
	"os"
	"path"
	"path/filepath"
	"reflect"
	"regexp"
	"strings"
	"testing"
	"time"

	"github.com/google/jsonschema-go/jsonschema"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"padjig/fixture"
	"padjig/results/accounts"
	"padjig/results/report"
	"padjig/results/report/returned"
	"padjig/results/runs"
	"padjig/sequence"
)

var update = flag.Bool("update", false, "write docs/schema anew")

const folder = "../../../docs/schema"

// The published schemas are those of the shapes. Whoever changes a shape sees it
// here; where the change takes something away, the shape needs the next version
// and the old page stays.
func TestSchemasArePublished(t *testing.T) {
	said := comments(t, "../object", "../doctor", "../../../results/report", "../../../results/report/returned", "../../../results/returns",
		"../../../sequence", "../../../sequence/commission")
	names := map[string]bool{}
	for _, k := range Kinds() {
		require.Regexp(t, regexp.MustCompile(`^[a-z-]+-[1-9][0-9]*$`), k.Name)
		require.False(t, names[k.Name], k.Name)
		names[k.Name] = true
		text := schemaOf(t, k, said)
		page := filepath.Join(folder, k.Name+".json")
		if *update {
			require.NoError(t, os.MkdirAll(folder, 0o755))
			require.NoError(t, os.WriteFile(page, text, 0o644))
		}
		published, err := os.ReadFile(page)
		require.NoError(t, err)
		assert.Equal(t, string(published), string(text), k.Name)
	}
	pages, err := filepath.Glob(filepath.Join(folder, "*.json"))
	require.NoError(t, err)
	for _, page := range pages {
		assert.True(t, names[strings.TrimSuffix(filepath.Base(page), ".json")], "%s describes nothing that is printed", page)
	}
}

// shape is what a type with a form of its own is written as.
func shape[T any](t *testing.T) *jsonschema.Schema {
	s, err := jsonschema.For[T](nil)
	require.NoError(t, err)
	return s
}

func schemaOf(t *testing.T, k Kind, said map[string]string) []byte {
	s, err := jsonschema.ForType(k.Shape, &jsonschema.ForOptions{TypeSchemas: map[reflect.Type]*jsonschema.Schema{
		reflect.TypeFor[report.Table]():          {Type: "array", Items: &jsonschema.Schema{Type: "object"}},
		reflect.TypeFor[sequence.Seconds]():      {Type: "number"},
		reflect.TypeFor[sequence.Milliseconds](): {Type: "number"},
		reflect.TypeFor[sequence.Said](): {
			Type: "array", Items: &jsonschema.Schema{Type: "string"}, Description: "A code, and what it is about.",
		},
		reflect.TypeFor[fixture.Resistance](): shape[struct {
			Ohm  *float64 `json:"ohm"`
			U    *float64 `json:"u_ohm" jsonschema:"standard uncertainty, k = 1; null where it is not known"`
			Over bool     `json:"over_range,omitempty" jsonschema:"more than the jig can read, or infinite: there is no number"`
		}](t),
		reflect.TypeFor[fixture.Voltage](): shape[struct {
			Volt *float64 `json:"v"`
			U    *float64 `json:"u_v" jsonschema:"standard uncertainty, k = 1; null where it is not known"`
		}](t),
		reflect.TypeFor[fixture.AtCurrent](): shape[struct {
			Ampere float64 `json:"a" jsonschema:"ampere"`
			Ohm    struct {
				Ohm *float64 `json:"ohm"`
				U   *float64 `json:"u_ohm" jsonschema:"standard uncertainty, k = 1; null where it is not known"`
			} `json:"contact_resistance"`
		}](t),
		reflect.TypeFor[fixture.Conduction](): {Type: "string", Description: "ohmic, not ohmic, or unsteady: it differed at one current too."},
		reflect.TypeFor[fixture.Bounce](): shape[struct {
			Time        float64 `json:"ms"`
			Transitions int     `json:"transitions" jsonschema:"full crossings between the two thresholds"`
		}](t),
		reflect.TypeFor[fixture.Hold](): shape[struct {
			Watched  float64 `json:"seconds" jsonschema:"how long it was watched"`
			Openings int     `json:"openings"`
			Longest  float64 `json:"longest_ms" jsonschema:"of the openings"`
			AtLeast  bool    `json:"at_least,omitempty" jsonschema:"there were more openings than the jig had room to keep"`
		}](t),
		reflect.TypeFor[returned.Change](): shape[struct {
			Value *float64 `json:"ohm"`
			U     *float64 `json:"expanded_u_ohm" jsonschema:"expanded uncertainty, k = 2"`
			Real  bool     `json:"real" jsonschema:"larger than its uncertainty"`
		}](t),
	}})
	require.NoError(t, err)
	describe(s, k.Shape, said)
	var name any = k.Name
	s.Schema = "https://json-schema.org/draft/2020-12/schema"
	s.Title = k.Name
	s.Description = "Printed by " + k.Of + " with --json. " + said["object."+k.Shape.Name()]
	s.Properties["schema"] = &jsonschema.Schema{Const: &name, Description: "This schema and its version."}
	s.PropertyOrder = append([]string{"schema"}, s.PropertyOrder...)
	s.Required = append([]string{"schema"}, s.Required...)
	_, err = s.Resolve(nil)
	require.NoError(t, err)
	text, err := json.Marshal(s)
	require.NoError(t, err)
	var out bytes.Buffer
	require.NoError(t, json.Indent(&out, text, "", "  "))
	return append(out.Bytes(), '\n')
}

// describe puts what the comments say beside the members, and takes null away
// from lists: an empty one is written [].
func describe(s *jsonschema.Schema, shape reflect.Type, said map[string]string) {
	for shape.Kind() == reflect.Pointer {
		shape = shape.Elem()
	}
	switch shape.Kind() {
	case reflect.Slice, reflect.Array:
		if len(s.Types) > 0 {
			s.Type, s.Types = "array", nil
		}
		if s.Items != nil {
			describe(s.Items, shape.Elem(), said)
		}
	case reflect.Map:
		if s.AdditionalProperties != nil {
			describe(s.AdditionalProperties, shape.Elem(), said)
		}
	case reflect.Struct:
		for _, f := range reflect.VisibleFields(shape) {
			name, _, _ := strings.Cut(f.Tag.Get("json"), ",")
			member := s.Properties[name]
			if member == nil {
				continue
			}
			owner := shape
			if len(f.Index) > 1 {
				owner = shape.FieldByIndex(f.Index[:len(f.Index)-1]).Type
			}
			if words := said[path.Base(owner.PkgPath())+"."+owner.Name()+"."+f.Name]; words != "" {
				member.Description = words
			}
			describe(member, f.Type, said)
		}
	}
}

// comments gives what is said beside types and their fields in these folders.
func comments(t *testing.T, folders ...string) map[string]string {
	said := map[string]string{}
	for _, folder := range folders {
		files, err := filepath.Glob(filepath.Join(folder, "*.go"))
		require.NoError(t, err)
		for _, name := range files {
			file, err := parser.ParseFile(token.NewFileSet(), name, nil, parser.ParseComments)
			require.NoError(t, err)
			ast.Inspect(file, func(n ast.Node) bool {
				d, is := n.(*ast.GenDecl)
				if !is || d.Tok != token.TYPE {
					return true
				}
				for _, spec := range d.Specs {
					spec := spec.(*ast.TypeSpec)
					body, is := spec.Type.(*ast.StructType)
					if !is {
						continue
					}
					name := filepath.Base(folder) + "." + spec.Name.Name
					if folder == "../object" {
						said[name] = strings.TrimSpace(strings.ReplaceAll(d.Doc.Text(), "\n", " "))
					}
					for _, f := range body.Fields.List {
						for _, field := range f.Names {
							said[name+"."+field.Name] = strings.TrimSpace(strings.ReplaceAll(f.Comment.Text(), "\n", " "))
						}
					}
				}
				return true
			})
		}
	}
	return said
}

// What is no shape of its own is not printed: a program could not know it.
func TestOnlyShapesArePrinted(t *testing.T) {
	assert.Error(t, Print(&bytes.Buffer{}, map[string]int{"a": 1}))
	var b bytes.Buffer
	require.NoError(t, Print(&b, Wear{Jig: "J-0042", Parts: []Part{}}))
	assert.Equal(t, "{\n  \"schema\": \"wear-1\",\n  \"jig\": \"J-0042\",\n  \"parts\": []\n}\n", b.String())
}

// A time that nobody set is not printed as one of year 1, wherever it stands, as the time it is or as
// text, in UTC or by another clock; what only looks like it is.
func TestNoTimeOfYearOneIsPrinted(t *testing.T) {
	none := time.Time{}
	for place, o := range map[string]any{
		".started":                RunOf(runs.Stored{}),
		".runs[0].started":        UnitOf("24-000001", []runs.Stored{{}}, nil, nil, nil, nil),
		".starts[0].started":      UnitOf("24-000001", nil, []runs.Start{{}}, nil, nil, nil),
		".accounts[0].since":      AccountsOf([]accounts.Account{{Since: none.In(time.FixedZone("", 3600))}}),
		".tables.signals[0].text": report.Object{Tables: map[string]report.Table{"signals": table(nil, "0001-01-01T00:00:00Z")}},
	} {
		var out bytes.Buffer
		assert.ErrorContains(t, Print(&out, o), "never set", place)
		assert.Empty(t, out.String(), place)
	}
	good := AccountsOf([]accounts.Account{{Name: "0001-01-01", Role: "0001-01-01T", Since: time.Date(2026, 3, 2, 7, 0, 0, 0, time.UTC)}})
	assert.NoError(t, Print(&bytes.Buffer{}, good))
	var out bytes.Buffer // a cell of a table has nothing there
	require.NoError(t, Print(&out, report.Object{Tables: map[string]report.Table{"signals": table(none.In(time.FixedZone("", 3600)), nil)}}))
	assert.Contains(t, out.String(), `"start": null`)
}

func table(start, text any) report.Table {
	return report.Table{Name: "signals", Columns: report.Columns("start, text"), Rows: [][]any{{start, text}}}
}

// Every --json goes through Print, so that none is without a schema: no other
// code of the commands encodes JSON to what it prints.
func TestNothingElsePrintsJSON(t *testing.T) {
	found := 0
	require.NoError(t, filepath.WalkDir("..", func(path string, entry fs.DirEntry, err error) error {
		if err != nil || entry.IsDir() && entry.Name() == "web" {
			return filepath.SkipDir
		}
		if filepath.Ext(path) != ".go" || strings.HasSuffix(path, "_test.go") {
			return nil
		}
		text, err := os.ReadFile(path)
		require.NoError(t, err)
		if regexp.MustCompile(`json\.(NewEncoder|Marshal)`).Match(text) {
			found++
			assert.Equal(t, "../object/object.go", filepath.ToSlash(path))
		}
		return nil
	}))
	assert.Equal(t, 1, found)
}

// The table of docs/schema lists what there is.
func TestSchemasAreListed(t *testing.T) {
	page, err := os.ReadFile(filepath.Join(folder, "README.md"))
	require.NoError(t, err)
	above, rest, found := strings.Cut(string(page), "|---|---|\n")
	require.True(t, found)
	_, below, found := strings.Cut(rest, "\n`padjig product show")
	require.True(t, found)
	table := above + "|---|---|\n"
	for _, k := range Kinds() {
		table += "| [" + k.Name + "](" + k.Name + ".json) | `" + strings.ReplaceAll(k.Of, ", ", "`, `") + "` |\n"
	}
	table += "\n`padjig product show" + below
	if *update {
		require.NoError(t, os.WriteFile(filepath.Join(folder, "README.md"), []byte(table), 0o644))
	}
	assert.Equal(t, table, string(page))
}
