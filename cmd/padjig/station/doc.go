// Package station is the work place: a unit is checked, tested, stored and shown.
//
// The order of a test stands once, in order.go: what forbids the test comes
// before the jig hears of it, the unit is claimed before anything moves, and the
// result is stored before anybody else hears of it. Whoever has units tested
// - the terminal, a lane, the returns desk, a gauge study - hands in what
// differs as Hooks. Whatever is in the way comes back as a Refusal: what sort
// it is, a code for those who say it in another language, and what a person can
// do about it.
//
// A Lane keeps one jig open and tests one unit after another on it: it finds
// the jig again when it was unplugged, says at any time how things stand, and
// cannot be held up by those who look. It also gives the jig to an ExclusiveTask,
// which is no test and leaves nothing behind.
package station
