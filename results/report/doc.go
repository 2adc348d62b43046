// Package report turns answers about a line into something to read or to pass on.
//
// A [Document] is what a question is answered with: tables, charts, remarks and
// conclusions in words. It is built once and written in any form: [Document.Text]
// for a terminal, [Document.JSON] for programs, [Table.CSV] for spreadsheets,
// [Document.HTML] as one page without anything outside it, fit for print.
//
// The functions that build documents ([Yield], [Causes], [Charted], [Capability],
// [Compared], [ShiftPage]) take what package results found and what package stats
// makes of it, and say it in plain words: every share with its n and interval,
// every conclusion with what it does not show.
//
// [WriteRuns] and its kin write rows without end as CSV or Parquet.
package report
