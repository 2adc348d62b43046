// Package diagnose turns the readings of a run into physical causes with a place.
//
// It is given [readings.Unit], plain values: every reading that was taken, with its
// standard uncertainty, and what was not taken. [Diagnose] gives back a [Diagnosis]:
// groups of causes, ranked. The causes of a group cannot be told apart by the readings
// there are; the [Check] that comes with them is what would tell most, by expected
// information.
//
// # How causes are compared
//
// A fault - a contact that does not close, a line broken at a place, a bridge between
// two lines - is put into the product's circuit, what every reading would be is
// predicted, and the faults are ranked by how likely they make all readings together
// ([model.Model]). A magnitude that is not known, such as the ohms of a bad contact, is
// taken as the readings have it, and what that freedom is worth is paid for with the part
// of the prior that it uses up. Each fault costs its prior probability, so that the
// smallest set that explains everything is preferred ([search]). Readings beyond a range
// count as "at least": they are as likely as everything above them.
//
// Beside the causes stand the closed readings of a matrix taken apart into terms of lines
// and keys, by medians and by least squares ([Terms]): a person sees there what the
// likelihood weighs.
//
// # The order
//
// Jig health, mapping, rest matrix and nets, lines, keys, diodes, time: a cause that
// explains more with less comes first by its likelihood, and only what cannot be compared
// by number - a jig that does not read itself - is decided by order.
//
// # Words
//
// An effect is what a fault does in the circuit; a [Kind] is what may have happened to
// the part. Several kinds can have one effect: a missing pill and a missing diode both
// leave the key open. Kinds, places, readings and checks are codes with arguments
// ([Said]); what people read is made of them elsewhere.
package diagnose
