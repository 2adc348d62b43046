//go:build !linux

package store

func bootID() string { return "" }

// Uptime is not told on this system.
func Uptime() *int64 { return nil }

// ClockSynced is not told on this system.
func ClockSynced() *bool { return nil }
