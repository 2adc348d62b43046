//go:build !cgo

package store

// SQLite is written in C. Without this line a build without cgo would succeed,
// and the program fail when it opens its first store.
var _ int = "padjig needs cgo: build with CGO_ENABLED=1 and a C compiler"
