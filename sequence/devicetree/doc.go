// Package devicetree makes a product file of the key matrix that a devicetree
// source describes.
//
// The firmware of a device with a keypad already says which key sits on which
// crossing: in the property linux,keymap of a node, by the kernel bindings
// matrix-keymap and gpio-matrix-keypad. [Import] reads that node and writes a
// product file to finish by hand. What a devicetree cannot know - the order of
// the tail, limits, what is printed on a key - stands there as an assumption
// with a remark.
//
// [Parse] reads the source into a [Tree] of [Node] and [Property]. It knows the
// syntax of version 1 of the source format of the Devicetree Specification as
// far as a keypad needs it: nodes, labels, references, deletions, strings,
// bytes, cells with integer expressions, and of the C preprocessor #define of
// names. Expressions are those of the reference compiler: 64 bits, unsigned.
//
// What is wrong is [product.Mistakes], all at once, and nothing is written.
// What only looks odd - two keys on one crossing, a key outside the stated
// size - is a remark in the same form, and the file is written.
//
// Caveats: included files are not read, conditionals and macros with arguments
// other than MATRIX_KEY are not expanded. A source that leans on them goes
// through the C preprocessor first.
package devicetree
