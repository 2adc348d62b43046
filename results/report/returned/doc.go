// Package returned makes what is read by people from what is stored: the life of
// a unit that came back.
//
// [Of] gathers a returns case from the records alone: when the unit was tested,
// what it read when it left and what it reads now, what each stage of the case
// found, and what speaks against the jig that passed it. [Life.Text] says it in
// a terminal, [Life.HTML] on one printable page.
//
// A reading beside an earlier one is a [Change] with its uncertainty. Nothing
// here decides for anybody: what the records suggest is offered, with the reason.
package returned
