//go:build !unix

package server

// descriptorLimit is how many files and connections this process may have open:
// elsewhere than on Unix more than it needs.
func descriptorLimit() int { return 2 * mostConnections }
