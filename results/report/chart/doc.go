// Package chart draws charts as SVG for pages and printed reports.
//
// A chart is a plain value: what is to be seen, in the caller's words, and a
// method SVG that draws it. Nothing is computed here but where a thing lies on
// the sheet; limits, intervals and signals come in as numbers.
//
// The drawings hold no style of their own, so that they may stand on a page with
// a strict content policy. [Style] is the style sheet for all of them: light,
// dark, and black on white in print. What matters differs in shape as well as
// in colour, and the colours keep apart for the common deficiencies.
//
// Each drawing is one picture to a screen reader, with a title and a
// description. Its numbers belong in a table beside it.
//
// Text is as large as the sheet's units say; a page that shows a sheet at another
// width than its own scales the text with it.
package chart
