// Package samepad says whether two runs read one keypad twice or two keypads of a
// lot, by what they read of the keys: a label and a serial number can be wrong, and
// a unit can lie in the jig twice, but no two pads have the same contacts.
//
// What is compared is the logarithm of each key's contact resistance as it was read.
// Contacts scatter by parts of themselves, so that the logarithm has one standard
// deviation for a key of 60 ohm and one of 600; tracks are left in, because they too
// belong to the pad; and what shifts all keys alike - temperature, wear, a film, a
// jig that reads a little more - is one number then, and taken off (the median of
// the keys' differences). Only differences of two pads are looked at, so that what
// all pads of the lot have in common at a key, such as its track, drops out.
//
// The answer is a likelihood ratio in natural logarithms: how much likelier the
// differences are from one pad pressed again than from two pads. What two pads of
// the lot differ by is learned from pads of it ([LotOf]); by how much presses of one
// pad differ is not known beforehand, and all of a range are weighed ([Scatter]).
// The model is the one of two levels of variance that forensic comparison uses
// (D. V. Lindley, Biometrika 64 (1977) 207-213, for one reading), without what is
// rare or common among pads, and made robust. docs/samepad.md has it in full, with
// how often it is wrong.
package samepad
