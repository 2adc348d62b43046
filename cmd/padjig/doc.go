// Padjig tests keypads on a jig over a serial port and keeps the results.
//
// Main is a few lines around run, so that tests call it in their own process.
// Each subcommand has a file with its flags, help, examples and code; what
// stands on the terminal, and where, follows the rules at the top of
// messages.go. A unit's way through the program is [testUnit] in test.go, read
// from top to bottom: product, serial number, records, jig, plan, run, commit,
// and only then the verdict.
package main
