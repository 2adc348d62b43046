package samepad

// Whole gives a lot the number of keys that its independent ones are of.
func Whole(l Lot, keys int) Lot {
	l.keys = keys
	return l
}
