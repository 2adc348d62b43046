package product

import (
	"regexp"

	"padjig/sequence/fields"
)

// maxAttempts is beyond what any line allows; a greater number is a slip.
const maxAttempts = 20

// usualLoops is how often a unit may fail again after a repair where the file does not
// say (common practice, no source).
const usualLoops = 3

var code = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9._-]{0,39}$`)

// build turns the fields of a file into a product. The steps follow each other so because
// each uses the names that the ones before have settled.
func build(root fields.Field) *Product {
	p := &Product{Attempts: 1, RepairLoops: usualLoops}
	o := root.Object("the product file", "product", "title", "revision", "tail", "matrix", "lines", "keys",
		"layout", "groups", "tracks", "nominal", "limits", "test", "serial", "attempts", "repair loops", "fails", "scanner",
		"references", "stops", "adapter")
	if !root.IsSet() {
		return p
	}
	identity(o, p)
	o.Begin()
	matrix, hasMatrix := o.Section("matrix", "rows", "columns", "keys", "diodes")
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
	if o.Sound() { // else a key that could not be read would be blamed on its line
		unused(o.Collector, lines, p.Keys)
	}
	readTracks(o, p)
	general := judge(o, keys, groups)
	nominal(o, p, keys, general)
	p.Scanner = readScanner(o, p.Keys, p.Nominal.Diode)
	readTest(o, p, keys.hasRectangles(p))
	placeKeys(o, keys, len(p.Rows))
	p.Serial = readSerial(o)
	o.Whole("attempts", 1, maxAttempts, &p.Attempts)
	o.Whole("repair loops", 1, maxAttempts, &p.RepairLoops)
	p.Fails = Fails(o.Choice("fails", string(TagAndPlace), string(FailsFree)))
	p.References = readReferences(o, p)
	p.Stops = readStops(o)
	p.Adapters = readAdapters(o)
	return p
}

func identity(o fields.Object, p *Product) {
	if !o.Missing("product", "product: GCC-20") {
		if w, ok := o.Line("product"); ok && !code.MatchString(w.Text) {
			o.Wrong(w.Place, "code", w.Text)
		} else {
			p.Code = w.Text
		}
	}
	title, _ := o.Line("title")
	revision, _ := o.Line("revision")
	p.Title, p.Revision = title.Text, revision.Text
}
