// Package stats and those below it are the arithmetic behind every number padjig
// says about a line: pure functions over slices, which import nothing else of
// ours and read no clock and no file.
//
// Three ideas come first. A number about a sample is worth what its n and its
// interval say, so that what estimates returns an [Interval] beside it. Data
// that cannot answer the question - no values, one value, no spread, a value
// that is no number - give an error in a sentence a person can read, never a
// panic and never a number. And nothing is pooled or dropped on the way:
// what goes in is what is counted.
//
// This package describes ([Summarize], [Quantile], [NewHistogram]) and holds what
// all have in common; a subject has a package of its own. interval: shares, counts,
// and tolerance intervals. control: the charts, the rules on their points, and how
// often those give false alarm. capability: meeting limits, normal or not. compare:
// tests of two or more groups, and of many at once. gauge: crossed studies, agreement,
// bias and linearity. sampling: plans, testing again, stopping a line. numeric is
// what they reckon with, reference what their tests are held against.
//
// The formulas, with sources and the convention chosen where there are
// several, stand in docs/statistics.md and beside each function.
package stats
