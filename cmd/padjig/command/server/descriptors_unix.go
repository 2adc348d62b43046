//go:build unix

package server

import (
	"math"

	"golang.org/x/sys/unix"
)

// descriptorLimit is how many files and connections this process may have open.
// The Go runtime has raised the soft limit as far as it may.
func descriptorLimit() int {
	var limit unix.Rlimit
	if err := unix.Getrlimit(unix.RLIMIT_NOFILE, &limit); err != nil {
		return 2 * mostConnections
	}
	return int(min(uint64(limit.Cur), math.MaxInt32))
}
