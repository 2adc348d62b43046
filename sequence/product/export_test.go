package product

import "padjig/sequence/fields"

// SetsOf are the sets of fields that a reading of the text asked for.
func SetsOf(text []byte) []fields.Set {
	s := fields.New("text", text, format, false)
	if root, ok := s.Root(); ok {
		build(root)
	}
	return s.Sets
}
