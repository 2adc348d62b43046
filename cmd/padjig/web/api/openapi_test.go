package api

import (
	"encoding/json"
	"flag"
	"maps"
	"os"
	"path/filepath"
	"reflect"
	"slices"
	"testing"

	"github.com/google/jsonschema-go/jsonschema"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var update = flag.Bool("update", false, "write the OpenAPI document anew")

// Where the document is: the copy that the program holds, and the one of the documentation.
var places = []string{"openapi.json", "../../../../docs/api/openapi.json"}

// The document is the one of the routes and of the published schemas.
func TestDocumentIsOfTheRoutes(t *testing.T) {
	text, err := json.MarshalIndent(documented(t), "", "  ")
	require.NoError(t, err)
	text = append(text, '\n')
	for _, place := range places {
		if *update {
			require.NoError(t, os.WriteFile(place, text, 0o644))
		}
		kept, err := os.ReadFile(place)
		require.NoError(t, err)
		assert.Equal(t, string(text), string(kept), "%s: go test ./cmd/padjig/web/api -update", place)
	}
}

// The document is one of OpenAPI 3.1, by the schema of its publisher; one that is none is not.
func TestDocumentIsOpenAPI(t *testing.T) {
	text, err := os.ReadFile("testdata/openapi-3.1-schema.json")
	require.NoError(t, err)
	var schema jsonschema.Schema
	require.NoError(t, json.Unmarshal(text, &schema))
	meta, err := schema.Resolve(nil)
	require.NoError(t, err)
	kept, err := os.ReadFile("openapi.json")
	require.NoError(t, err)
	var document map[string]any
	require.NoError(t, json.Unmarshal(kept, &document))
	require.NoError(t, meta.Validate(document))
	for _, spoil := range []func(map[string]any){
		func(d map[string]any) { delete(d, "info") },
		func(d map[string]any) { d["openapi"] = "3.0.3" },
		func(d map[string]any) { d["paths"].(map[string]any)["healthz"] = map[string]any{} },
		func(d map[string]any) {
			d["paths"].(map[string]any)["/healthz"] = map[string]any{"get": map[string]any{"responses": "none"}}
		},
	} {
		var other map[string]any
		require.NoError(t, json.Unmarshal(kept, &other))
		spoil(other)
		assert.Error(t, meta.Validate(other))
	}
}

// documented makes the document.
func documented(t *testing.T) map[string]any {
	paths, used := map[string]any{}, map[string]bool{"problem": true}
	for _, r := range Routes(Config{}) {
		paths[r.Path] = map[string]any{"get": operation(r, used)}
	}
	schemas := map[string]any{"problem": schemaOf(t, problemShape), readiness: readySchema(t)}
	for name := range used {
		if schemas[name] == nil {
			schemas[name] = published(t, name)
		}
	}
	return map[string]any{
		"openapi": "3.1.0",
		"info": map[string]any{
			"title": "padjig", "version": "1",
			"description": "What programs read from a padjig station. Nothing can be changed here. Times are RFC 3339; resistances are in ohm.",
		},
		"paths": paths,
		"components": map[string]any{
			"schemas": schemas,
			"securitySchemes": map[string]any{"token": map[string]any{
				"type": "http", "scheme": "bearer", "description": "A token of padjig station tokens add; in this header alone.",
			}},
			"responses": map[string]any{"problem": map[string]any{
				"description": "Why it is not answered, RFC 9457",
				"content":     map[string]any{ProblemKind: content("problem")},
			}},
		},
	}
}

func content(schema string) map[string]any {
	return map[string]any{"schema": map[string]any{"$ref": "#/components/schemas/" + schema}}
}

func operation(r Route, used map[string]bool) map[string]any {
	answer := map[string]any{"description": r.Summary}
	switch {
	case r.Schema != "":
		used[r.Schema] = true
		answer["content"] = map[string]any{r.Kind: content(r.Schema)}
	case r.Kind == JSON:
		answer["content"] = map[string]any{r.Kind: map[string]any{"schema": map[string]any{"type": "object"}}}
	default:
		answer["content"] = map[string]any{r.Kind: map[string]any{"schema": map[string]any{"type": "string"}}}
	}
	responses := map[string]any{"200": answer, "default": map[string]any{"$ref": "#/components/responses/problem"}}
	if r.Schema == readiness {
		responses["503"] = answer
	}
	if r.Scope != "" {
		responses["304"] = map[string]any{"description": "It is as the ETag of If-None-Match says"}
	}
	o := map[string]any{"operationId": r.Name, "summary": r.Summary, "responses": responses}
	if r.Scope != "" {
		o["security"] = []any{map[string]any{"token": []any{}}}
		o["description"] = "Needs a token with the scope " + string(r.Scope) + "."
	}
	var params []any
	for _, p := range r.Params {
		params = append(params, p.documented())
	}
	if params != nil {
		o["parameters"] = params
	}
	return o
}

func (p Param) documented() map[string]any {
	schema := map[string]any{"type": "string"}
	switch {
	case p.Of != nil:
		schema["enum"] = p.Of
	case p.Whole != [2]int{}:
		schema = map[string]any{"type": "integer", "minimum": p.Whole[0], "maximum": p.Whole[1]}
	case p.Number:
		schema = map[string]any{"type": "number", "minimum": 0, "maximum": 1}
	}
	d := map[string]any{"name": p.Name, "in": "query", "description": p.About}
	if p.InPath {
		d["in"], d["required"] = "path", true
	}
	if p.Many {
		schema = map[string]any{"type": "array", "items": schema}
		d["explode"] = true
	}
	d["schema"] = schema
	return d
}

// published is a page of docs/schema as a part of the document.
func published(t *testing.T, name string) map[string]any {
	text, err := os.ReadFile(filepath.Join("../../../../docs/schema", name+".json"))
	require.NoError(t, err)
	var schema map[string]any
	require.NoError(t, json.Unmarshal(text, &schema))
	delete(schema, "$schema")
	delete(schema, "$id")
	return schema
}

var problemShape = &jsonschema.Schema{
	Type:     "object",
	Required: []string{"type", "title", "status", "detail", "code", "remedy"},
	Properties: map[string]*jsonschema.Schema{
		"type": {Type: "string"}, "title": {Type: "string"}, "status": {Type: "integer"},
		"detail": {Type: "string", Description: "for people"}, "code": {Type: "string", Description: "for programs; it does not change with the words"},
		"remedy": {Type: "string", Description: "what to do"},
	},
}

func readySchema(t *testing.T) map[string]any {
	s, err := jsonschema.ForType(reflect.TypeFor[Ready](), nil)
	require.NoError(t, err)
	return schemaOf(t, s)
}

func schemaOf(t *testing.T, s *jsonschema.Schema) map[string]any {
	text, err := json.Marshal(s)
	require.NoError(t, err)
	var out map[string]any
	require.NoError(t, json.Unmarshal(text, &out))
	return out
}

// Every parameter is described, and no route has two of a name.
func TestParametersAreSaid(t *testing.T) {
	names := map[string]bool{}
	for _, r := range Routes(Config{}) {
		assert.False(t, names[r.Name], r.Name)
		names[r.Name] = true
		seen := map[string]bool{}
		for _, p := range r.Params {
			assert.NotEmpty(t, p.About, "%s %s", r.Name, p.Name)
			assert.False(t, seen[p.Name], "%s %s", r.Name, p.Name)
			seen[p.Name] = true
		}
	}
	assert.Equal(t, 10, len(slices.Collect(maps.Keys(names))))
}
