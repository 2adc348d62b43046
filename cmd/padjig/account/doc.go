// Package account says who somebody is and what they may do: roles, passwords
// and badges.
//
// A password is chosen by a person and so can be guessed: it is kept as
// Argon2id, which makes each guess dear. A badge's code is made here from a
// random source, long enough that nobody guesses it, and so that a scanner
// reads it the same on any keyboard; it is kept as a plain SHA-256.
package account
