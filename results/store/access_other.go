//go:build !unix

package store

// mayWrite leaves it to the attempt on this system.
func mayWrite(string) bool { return true }

// SameDisk is not told on this system.
func SameDisk(string, string) bool { return false }

// TryTurn takes no turns on this system.
func TryTurn(string) (done func() error, taken bool, err error) {
	return func() error { return nil }, true, nil
}
