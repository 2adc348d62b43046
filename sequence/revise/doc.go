// Package revise says what a new revision of a product changes: which differences let
// more units through and which fewer, and what runs of before would have been by it.
// It reads definitions and records alone, and concludes from numbers and codes, never
// from words.
package revise
