package control

import "sync"

// onceEach is a table of n values that never change, each worked out when it is asked
// for first.
func onceEach[T any](n int, value func(int) T) []func() T {
	table := make([]func() T, n)
	for i := range table {
		table[i] = sync.OnceValue(func() T { return value(i) })
	}
	return table
}
