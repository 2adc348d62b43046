// Package answers answers questions about a line: one function a question.
//
// A question takes what it is about, a [Selection] of runs with the options of
// the question and their defaults, and gives a typed answer: numbers with n and
// interval, the method they come from, and conclusions as [Sentence] values, a
// code and arguments. There is no prose here and no layout: package report
// writes an answer for a terminal, as JSON, as CSV and as a printed page, and
// the pages of the station show the same tables and sentences.
//
// What is counted and what is read of keys is asked here; control charts and the
// questions about what measures have packages of their own below.
//
// Every convention is decided once, in conventions.go, with its source. Package
// stats and those below it are imported here and below alone, so that no surface
// can reckon differently.
// [Questions] lists what can be asked; a test in cmd/padjig asks each of them on
// every surface and compares the numbers to the last digit that is printed.
package answers
