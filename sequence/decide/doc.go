// Package decide says what a reading with its uncertainty lets one decide
// about a limit, and how often such decisions are wrong. Terms and method are
// those of JCGM 106:2012 (ISO/IEC Guide 98-4).
//
// The ideas, in order:
//
//   - A tolerance [Interval] bounds the true value. What can be compared with a
//     limit is only a reading, so the reading is held to an acceptance interval
//     of its own.
//   - A guard band w is the distance between the two, taken off each end that
//     is a limit: w = 0 is simple acceptance, where buyer and seller share the
//     risk; w above 0 protects the buyer ([Band], [MultipleForRisk]); w below 0
//     rejects only what is surely wrong.
//   - A [Spread] is how the true value lies about a reading: normal, or
//     Student's t where few readings gave the uncertainty, or rectangular
//     where only bounds are known.
//   - The specific risk is that of one reading: the probability that the
//     accepted unit does not conform, or that the rejected one does
//     ([Conformance]). It is largest for a reading right at the acceptance limit.
//   - The global risk is that of a process: how many of all units made are bad
//     and accepted, or good and rejected ([Global]).
//
// Nothing is assumed known of a unit but its reading, save where a [Process]
// is named. All values of one call are in one unit; probabilities are from 0
// to 1.
package decide
