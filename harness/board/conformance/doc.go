// Package conformance tests a board against the contract, point by point, in lockstep. It says what was sent, what
// came back, what the contract says, and what follows. It makes its own frames, wrong ones too, and sends them
// through the same session as a run, but not by the client of a run: an error of that client can't hide an error of
// the board.
//
// It never flies a scenario, never judges flight logic, and passes only what it has seen: what the board doesn't
// offer is "not claimed", what a bad line makes uncertain is unsure.
//
// A real board's outputs are live, and some points arm it and let it fire. Connect dummy loads only, no motor,
// igniter or charge; follow your national code and your range safety officer.
package conformance
