// Package conformance holds a board against the contract, point by point, in lockstep: it says what was
// sent, what came back, what the contract says, and what follows. It speaks raw frames over a link, so
// that a mistake of the bench's own client can't hide one of the board.
//
// It never flies a scenario, never judges flight logic, and never calls a point passed that was not
// seen: what the board doesn't offer is "not claimed", what a spoilt link blurs is unsure.
//
// A real board's outputs are live, and some points arm it and let it fire. Connect dummy loads only, no
// motor, igniter or charge; follow your national code and your range safety officer.
package conformance
