//go:build !linux

package store

// remoteDisk does not know here; docs/records.md asks people to see to it.
func remoteDisk(string) (bool, error) { return false, nil }
