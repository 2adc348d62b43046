// Package judge says what readings mean: from what a jig read of a unit to what is
// wrong with it. It asks no jig, knows no time, and makes facts, never words.
//
// A [Setting] is what readings are held against. What was found gathers in a [Sheet];
// [Rest], [Keys], [Wiring] and [Presses] each judge one kind of reading and write on it.
package judge
