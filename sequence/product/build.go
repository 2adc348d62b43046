package product

import (
	"regexp"

	yaml "go.yaml.in/yaml/v4"
)

// builder turns the fields of a file into a product. Its steps run in the
// order of build, since each uses the names that the ones before have settled.
type builder struct {
	*source
	p *Product

	matrix object
	lineAt []place // where each line of p is named
	drafts []*draft
	groups []*group
	limits sheet // of the whole product
	begun  int   // mistakes found before the lines
	kept   bool  // the text was kept: names of before mean what they meant
}

// sound reports whether all that the electrical checks build upon was read
// without a mistake; otherwise they would only find the consequences.
func (b *builder) sound() bool { return len(b.mistakes) == b.begun }

func (b *builder) build(root *yaml.Node) {
	o := b.object(root, "the product file", "product", "title", "revision", "tail", "matrix", "lines", "keys",
		"layout", "groups", "tracks", "nominal", "limits", "test", "serial", "attempts", "scanner", "references")
	if root.Kind != yaml.MappingNode {
		return
	}
	b.identity(o)
	b.begun = len(b.mistakes)
	b.lines(o)
	b.tail(o)
	b.keys(o)
	b.finish()
	b.tracks(o)
	b.judge(o)
	b.nominal(o)
	b.scanner(o)
	b.test(o)
	b.place(o)
	b.p.Serial = b.serial(o)
	b.p.Attempts = 1
	b.whole(o, "attempts", 1, maxAttempts, &b.p.Attempts)
	b.references(o)
}

// maxAttempts is beyond what any line allows; a greater number is a slip.
const maxAttempts = 20

var code = regexp.MustCompile(`^[A-Za-z0-9][A-Za-z0-9._-]{0,39}$`)

func (b *builder) identity(o object) {
	if !b.missing(o, "product", "product: GCC-20") {
		if w, ok := b.line(o, "product"); ok && !code.MatchString(w.text) {
			b.wrong(w.place, "product code %q; write letters, digits, dots, dashes, underscores, 40 at most",
				w.text)
		} else {
			b.p.Code = w.text
		}
	}
	if w, ok := b.line(o, "title"); ok {
		b.p.Title = w.text
	}
	if w, ok := b.line(o, "revision"); ok {
		b.p.Revision = w.text
	}
}
