// Package stats is the arithmetic behind every number padjig says about a
// line: pure functions over slices, which import nothing of ours and read no
// clock and no file.
//
// Three ideas come first. A number about a sample is worth what its n and its
// interval say, so that what estimates returns an [Interval] beside it. Data
// that cannot answer the question - no values, one value, no spread, a value
// that is no number - give an error in a sentence a person can read, never a
// panic and never a number. And nothing is pooled or dropped on the way:
// what goes in is what is counted.
//
// Then by topic, one a file. Describing: [Summarize], [Quantile],
// [NewHistogram]. Counting: [Wilson] and its relatives, [CountInterval],
// [StopRule]. Watching: the control charts ([NewIndividuals], [NewXbarR],
// [NewProportions], [EWMA], [Cusum]), [Rules] on their points and how often
// those give false alarm ([Rules.RunLength]). Meeting limits:
// [NewCapability], [AndersonDarling], [PercentileCapability],
// [ToleranceFactorTwoSided]. Comparing: [Fisher], [MannWhitney], [OneWay] and
// the rest, with [Holm] and [BenjaminiHochberg] for many at once. Trusting
// the gauge: [Crossed], [CohenKappa], [Linearity]. Sampling and testing
// again: [Plan], [Sequential], [RetestPolicy].
//
// The formulas, with sources and the convention chosen where there are
// several, stand in docs/statistics.md and beside each function. They are
// held against published and independently computed values in testdata.
package stats
