package main

import "drystage/harness/judge/mutants"

const (
	tie      = "two real numbers that are equal to the last bit: either answer is right, and no measurement is that exact"
	realTime = "it matters in real time only, and the suite is flown in lockstep"
)

// tiesGo are comparisons of measured or computed real numbers in the built-in board.
var tiesGo = []string{
	"e.h < c.mem.maxHeight-apogeeFall", "speed > c.set[apogeeLockoutSpeed]", "c.axial < apogeeDrag", "speed < 0",
	"c.est.h > confirmHeight", "c.est.h > liftHeight", "math.Abs(c.est.v) > liftSpeed", "c.mem.maxHeight > liftHeight",
	"c.est.v < c.set[stagingMinSpeed]", "c.decisionHeight() < c.set[stagingMinHeight]", "tilt >= c.minTiltCosine",
	"math.Abs(c.est.v) < stillSpeed", "c.decisionHeight() <= c.set[mainHeight]", "math.Abs(f.norm()-standardGravity) > restBand",
	"mean.norm() < 1e-3", "c.att.up.dot(c.nose) < steep", "math.Abs(r) > e.gate(t)", "w.dot(w) < 0.04",
	"c.axial < c.set[liftoffAcceleration]/2", "c.axial > c.set[liftoffAcceleration]", "c.axial < c.set[burnoutAcceleration]",
	"p < lowestPressure",
}

// reasonsGo says why mutants of the built-in board live. A mutant that lives and has no reason here is still to be looked at.
var reasonsGo = append(ties(tiesGo), []mutants.Reason{}...)

// reasonsC says why mutants of the reference firmware live.
var reasonsC = []mutants.Reason{}

// ties gives the reason that comparisons of real numbers may be shifted.
func ties(all []string) (out []mutants.Reason) {
	for _, was := range all {
		out = append(out, mutants.Reason{Kind: mutants.Shifted, Was: was, Equal: true, Why: tie})
	}
	return out
}
