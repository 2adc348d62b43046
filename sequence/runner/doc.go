// Package runner is what is done to one unit: the plan, and carrying it out on a jig.
//
// A [Plan] is made from a product and a jig's capabilities: ordered steps, each
// saying what it proves. [Plan.Run] carries it out as a plain loop - self-test,
// seating, everything against everything at rest, each key, rest again - and
// returns a [sequence.Run], the record of what was read and what is wrong. Whatever
// happens, the jig is inert when it returns. What readings mean is said by the
// package judge; here is what the jig is asked, and in which order.
//
// Three ideas carry the measuring:
//
//   - A net is a set of lines known to be connected. At rest each line is a
//     net of its own. Holding a key joins two. Nothing else may.
//   - Groups: with n nets, ceil(log2 n) readings suffice to show that no two
//     touch, each between the nets whose number has bit k clear and those
//     that have it set. A group reading can only acquit: leakages add up in
//     it. Where it does not acquit, pairs are read one by one, the other lines
//     held at the sensed potential so that no current sneaks round.
//   - Guard band: a limit is met only when the value plus a stated multiple of
//     its expanded uncertainty meets it. In between, the reading is taken again
//     with more samples, then rejected.
package runner
