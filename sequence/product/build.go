package product

import (
	"regexp"

	yaml "go.yaml.in/yaml/v4"
)

// maxAttempts is beyond what any line allows; a greater number is a slip.
const maxAttempts = 20

var code = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9._-]{0,39}$`)

// build turns the fields of a file into a product. The steps follow each other so because
// each uses the names that the ones before have settled.
func build(s *source, root *yaml.Node) *Product {
	p := &Product{Attempts: 1}
	o := s.object(root, "the product file", "product", "title", "revision", "tail", "matrix", "lines", "keys",
		"layout", "groups", "tracks", "nominal", "limits", "test", "serial", "attempts", "scanner", "references")
	if root.Kind != yaml.MappingNode {
		return p
	}
	identity(o, p)
	s.begun = len(s.found)
	matrix, hasMatrix := o.section("matrix", "rows", "columns", "keys", "diodes")
	lines := &lineTable{}
	if hasMatrix {
		p.Rows = readAxis(matrix, lines, "rows", Row, MaxRows)
		p.Columns = readAxis(matrix, lines, "columns", Column, MaxColumns)
	}
	readLines(o, lines)
	p.Lines = lines.all
	p.Tail = readTail(o, lines)

	keys, groups := readKeys(o, matrix, p)
	p.Keys = keys.settle(matrix, p.Lines, groups)
	if s.sound() { // else a key that could not be read would be blamed on its line
		unused(o.collector, lines, p.Keys)
	}
	readTracks(o, p)
	general := judge(o, keys, groups)
	nominal(o, p, keys, general)
	p.Scanner = readScanner(o, p.Keys, p.Nominal.Diode)
	readTest(o, p, keys.hasRectangles(p))
	placeKeys(o, keys, len(p.Rows))
	p.Serial = readSerial(o)
	o.whole("attempts", 1, maxAttempts, &p.Attempts)
	p.References = readReferences(o, p)
	return p
}

func identity(o object, p *Product) {
	if !o.missing("product", "product: GCC-20") {
		if w, ok := o.line("product"); ok && !code.MatchString(w.text) {
			o.wrong(w.place, "code", w.text)
		} else {
			p.Code = w.text
		}
	}
	title, _ := o.line("title")
	revision, _ := o.line("revision")
	p.Title, p.Revision = title.text, revision.text
}
