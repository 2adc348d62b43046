package store

import (
	"os"
	"strings"

	"golang.org/x/sys/unix"
)

// bootID is drawn anew by the kernel at each start; empty when it is not told.
func bootID() string {
	text, err := os.ReadFile("/proc/sys/kernel/random/boot_id")
	if err != nil {
		return ""
	}
	return strings.TrimSpace(string(text))
}

// Uptime is the time since the computer started in nanoseconds, sleep included;
// nil when it is not told.
func Uptime() *int64 {
	var t unix.Timespec
	if err := unix.ClockGettime(unix.CLOCK_BOOTTIME, &t); err != nil {
		return nil
	}
	return new(t.Nano())
}

// ClockSynced says whether the kernel holds its wall clock for synchronised;
// nil when it is not told.
func ClockSynced() *bool {
	var t unix.Timex
	state, err := unix.Adjtimex(&t)
	if err != nil {
		return nil
	}
	return new(state != unix.TIME_ERROR)
}
