// Package editor tells editors how a product file is written, while it is being written.
//
// [Schema] is a JSON Schema of the file's YAML: the names of all fields, what each may hold and what it is
// for. It refuses nothing that [padjig/sequence/product] accepts; the other way round an editor sees only what stands
// at one place, and the rest - lines without keys, limits beyond what is plausible - remains with the check.
package editor

import _ "embed"

// Schema is a JSON Schema (draft 7, which editors know best) of a product file.
//
//go:embed product.schema.json
var Schema []byte
