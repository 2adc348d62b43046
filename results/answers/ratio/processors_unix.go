//go:build unix

package ratio

import (
	"syscall"
	"time"
)

// Processors does something and gives the time that this program, and others that it started and waited for, had a processor
// meanwhile: what a computation costs however busy the machine is. Nothing else may run in this program beside it.
func Processors(do func()) time.Duration {
	before := used()
	do()
	return used() - before
}

func used() (all time.Duration) {
	for _, who := range []int{syscall.RUSAGE_SELF, syscall.RUSAGE_CHILDREN} {
		var u syscall.Rusage
		if err := syscall.Getrusage(who, &u); err != nil {
			panic(err) // it knows both
		}
		all += time.Duration(u.Utime.Nano() + u.Stime.Nano())
	}
	return all
}
