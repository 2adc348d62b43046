// Package report turns answers about a line into something to read or to pass on.
//
// A [Document] is what a question is answered with: tables, charts, remarks and
// conclusions in words. It is built once and written in any form: [Document.Text]
// for a terminal, [Document.JSON] for programs, [Table.CSV] for spreadsheets,
// [Document.HTML] as one page without anything outside it, fit for print.
//
// The functions that build documents ([Yield], [Causes], [Charted], [Capability],
// [Compared], [Shift]) take an answer of package answers and lay it out; they
// reckon nothing. The tables they are made of ([CapabilityTable] and its kin) are
// also those of the station's pages, and the sentences ([Say]) too, which are in
// text/ in every language.
//
// [WriteRuns] and its kin write rows without end as CSV or Parquet.
package report
