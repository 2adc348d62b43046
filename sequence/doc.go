// Package sequence is what a test of one unit comes to: the record of a [Run] with its
// facts, and what those who look on are told meanwhile. Nothing is done here; the
// package runner carries out a plan, and judge says what readings mean.
//
// A bad unit is a result. An error is whatever stopped us finding out, and
// leaves the outcome "aborted". A jig whose contact to the unit is doubtful
// makes "reseat", never "fail".
package sequence
