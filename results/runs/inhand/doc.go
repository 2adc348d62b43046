// Package inhand keeps a start, or a unit, in the hands of one process: for as long as it lives, and no longer.
//
// [Take] locks the byte of its number in a file beside the store, [Lock.Release] lets it go, and [Held] asks without
// taking. The system lifts the lock however the holder ends; no clock and no process number has a say.
package inhand

import "errors"

// ErrTaken is returned where somebody has it in hand.
var ErrTaken = errors.New("it is taken")
