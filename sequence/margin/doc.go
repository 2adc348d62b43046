// Package margin says how well a product's scanner in the field will read its keypad.
//
// A product file may describe the circuit that reads the keypad: rows pulled up, one column
// at a time driven low, each row compared with two thresholds. [Of] turns that and the
// product's limits into a [Report].
//
// For each key there is a [Level] pressed and a [Level] released: the voltage of its row in
// the worst case that the limits and the scanner's tolerances leave open, the threshold it
// must keep, and the resistance at which it would just keep it. Behind both stands one
// [Divider]: pull-up above, key and driver below. What a good unit gives is solved with the
// whole keypad as a network, tracks, diodes and all.
//
// [Presses] says which one, two and three keys held at once make the scanner see a key that
// nobody presses, or lose one that somebody does; it follows where current can flow from a
// row, through closed keys, to what is driven low. [Timing] compares how fast a line settles
// with how soon it is read, and a short press with the time between scans. [Currents] is
// what the ports that drive the columns must bear.
//
// What is looser than the scanner allows, and what else deserves a look, is listed as
// [Warning] values. They are results: the only error is a product that states no scanner.
//
// # Which line is read, which is driven
//
// Rows and direct lines are pulled up and read. Columns and common lines are driven, one at
// a time. Ground lines are always low, through no resistance. A key that joins no line that is
// read with one that can be low, or whose diode blocks the current from the one to the
// other, is never seen; that too is a warning.
//
// # Caveats
//
// Levels are those of one key held. Leakage of the ports' own inputs and protection
// is not part of the model, nor is noise. Thresholds are taken both as fixed voltages and
// as following the supply, whichever is worse, since data sheets state them either way and
// a product file does not say. A port is a switch behind a resistance up to any current.
package margin
