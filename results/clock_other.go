//go:build !linux

package results

func bootID() string     { return "" }
func uptime() *int64     { return nil }
func clockSynced() *bool { return nil }
