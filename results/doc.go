// Package results remembers what was found, unit by unit, so that it can be
// proved a year later.
//
// A [Store] is one SQLite file. [Store.Save] writes a whole [sequence.Run] in
// one transaction and returns only after it is durable: show a verdict after
// Save, never before. [Store.History] says what must be known of a unit before
// anything moves, [Store.Unit] and [Store.Run] give runs back complete, and
// [Store.Room] refuses to start a unit that might not fit on the disk.
//
// Nothing is ever changed or removed. A retest is a new run; runs are ordered
// by their sequence number and never by a clock. Ids are UUIDv7 and ascend with
// the sequence number even when the clock is set back.
//
// Readings are kept as whole numbers, milliohm, microvolt and microseconds, so
// what comes back is what went in rounded to those. docs/records.md describes
// the tables to people with a SQLite shell.
//
// Several processes may use one file at a time, on one machine: SQLite's locks
// let one write at once, and the others wait up to five seconds for it. The file
// must not lie on a network drive. Nobody in the process may open the
// database file by other means, not even to read it: closing it again would
// silently drop SQLite's locks.
package results
