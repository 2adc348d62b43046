// Padjig tests keypads on a jig over a serial port and keeps the results.
//
// Main is a few lines around run, so that tests call it in their own process.
// Each noun has a folder, which gives its command: unit, product, jig, quality,
// returns, records, serve (padjig station) and demo. They do not know each other;
// what they share lies below them, in command. What stands on the terminal, and
// where, follows the rules at the top of command/messages.go.
package main
