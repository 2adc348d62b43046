// Package interlab compares stations that measured the same thing again and again: how far each
// reads from what they read together, and whether it moves away from it.
//
// It is what ISO 13528 calls an interlaboratory comparison with a value assigned by the
// participants: their median, which one that is wrong cannot pull away. The text of the standard
// was not at hand; what is said of it here is from memory.
package interlab
