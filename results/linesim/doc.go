// Package linesim makes up what a production line does over weeks, run by run,
// so that charts and questions can be tried at full size without a line.
//
// A [Line] is a handful of jigs that test one product day and night. From a seed
// it gives the same entries each time: units with readings that are judged by
// the product's own limits, retests, reseated units, changes of lot, shift and
// operator, calibrations, replaced actuators. [Story] lists what is planted to be
// found: a lot whose pills read high, an actuator that wears, a place that fails
// on one jig only, one that fails on all, a second revision with tighter limits.
//
// No circuit is solved and no jig spoken to; package jigsim does that. Every run
// is marked simulated.
package linesim
