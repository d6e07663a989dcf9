// Package workbench has the verbs of the bench: one function for each thing a
// person does there, from taking in chips to the reorder a year later.
//
// A verb takes a typed request, with its units, and gives a typed result: what
// --json prints and what a page shows. What it stores it stores in one
// transaction, against the card it read. Which pours are evidence, how lots are
// counted, what a recipe is judged by is decided here and nowhere above; a face
// (commands, pages) turns words into a request and a result into text.
//
// # Knowledge
//
// What is known of a resin's colours at a moment is formed in one place
// (knowledge.go): the calibration as stored, the strength of the lots in use,
// what the pours of a target taught about lots and target. Every verb that
// says what to expect asks it.
//
// # Errors
//
// An error is one line: what, where, what to do. Error says of which kind it
// is and at which input; inputs and verbs in its text are marked as package
// remedy describes, for a face to name.
package workbench
