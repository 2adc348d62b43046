package product

import "padjig/sequence/fields"

// Mistake is one thing wrong with a product file, and Mistakes all of them, in the order of
// the file; a Code says what is wrong.
type (
	Mistake  = fields.Mistake
	Mistakes = fields.Mistakes
	Code     = fields.Code
)
