// Package product holds what is known about a keypad before one is tested.
//
// A product is written by hand in a YAML file: the tail pins, the lines, the
// keys and the two lines each joins, the limits, and how its units are named.
// [Load] reads such a file into a [Product] in which every default has been
// filled in and every limit resolved, so that nobody downstream asks "and what
// if it is not given".
//
// A [Line] is a conductor that comes out on a tail pin. A [Key] joins two of
// them when pressed. Keys and lines are numbered from 0 in an order that only
// the meaning of the file decides: rows, columns, direct, common, shield and
// ground lines, each as listed; keys as in the matrix, left to right and top to
// bottom, then the others in the order of the lines they join.
//
// A file is either right or refused with [Mistakes]: all of them at once,
// sorted, each with file, line, column and what to write instead. Columns count
// characters, not bytes.
//
// [Product.Hash] names the meaning. It is the same for two files that differ
// in layout, comments, order of fields or spelling of units, and differs when
// anything that is tested or drawn differs. The title and the engineer's
// revision label are left out, so that "same label, other hash" shows that a
// file was changed without saying so.
//
// Every field of the file, its unit and its default: docs/product-file.md.
package product
