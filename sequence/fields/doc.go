// Package fields reads files that people write as named fields, in the part of YAML in which
// what is written is what is meant, and gathers everything that is wrong with one.
//
// A [Source] is the text, and its [Collector] of mistakes. [Source.Root] parses it; from there an
// [Object] gives its [Field] values by name, and each value its words, numbers and quantities
// with the place where they stand. Whatever cannot be read is added to the mistakes at once, so
// that all of them come out of one reading.
//
// A mistake is a [Code] with arguments and a place. The common ones are worded here, those of a
// kind of file in its [Format].
package fields
