package main

import "drystage/harness/judge/mutants"

const (
	tie      = "two real numbers that are equal to the last bit: either answer is right, and no measurement is that exact"
	text     = "only a text for people depends on it, and the suite judges none"
	realTime = "it matters in real time only, and the suite is flown in lockstep"
	reports  = "the suite judges the last reported height only, not how often the board reports"
)

// reasonsGo says why mutants of the built-in board live. A mutant that lives and has no reason here is still to be looked at.
var reasonsGo = []mutants.Reason{
	{Func: "climbOver", Kind: mutants.Shifted, Was: "e.h < c.mem.maxHeight-apogeeFall", Equal: true, Why: tie},
	{Func: "climbOver", Kind: mutants.Shifted, Was: "speed > c.set[apogeeLockoutSpeed]", Equal: true, Why: tie},
	{Func: "climbOver", Kind: mutants.Shifted, Was: "c.axial < apogeeDrag", Equal: true, Why: tie},
	{Func: "leavingPad", Kind: mutants.Shifted, Equal: true, Why: tie},
	{Func: "detectLiftoff", Kind: mutants.Shifted, Was: "c.est.h > liftHeight", Equal: true, Why: tie},
	{Func: "detectLiftoff", Kind: mutants.Shifted, Was: "math.Abs(c.est.v) > liftSpeed", Equal: true, Why: tie},
	{Func: "stagingRefusal", Kind: mutants.Shifted, Was: "c.est.v < c.set[stagingMinSpeed]", Equal: true, Why: tie},
	{Func: "stagingRefusal", Kind: mutants.Shifted, Was: "c.decisionHeight() < c.set[stagingMinHeight]", Equal: true, Why: tie},
	{Func: "tiltRefusal", Kind: mutants.Shifted, Was: "tilt >= c.minTiltCosine", Equal: true, Why: tie},
	{Func: "runRecovery", Kind: mutants.Shifted, Was: "math.Abs(c.est.v) < stillSpeed", Equal: true, Why: tie},
	{Func: "mainDue", Kind: mutants.Shifted, Was: "c.decisionHeight() <= c.set[mainHeight]", Equal: true, Why: tie},
	{Func: "alignOnPad", Kind: mutants.Shifted, Equal: true, Why: tie},
	{Func: "alignOnPad", Kind: mutants.LeftOut, Was: "a.n == 1", Equal: true, Why: "the mean of one sample, begun at zero, is that sample"},
	{Func: "stage", Kind: mutants.Negated, Was: "force", Equal: true, Why: "stagingRefusal has just found the board armed"},
	{Func: "thousandths", Was: "2e9", Equal: true, Why: "no height is near 2000 km"},
	{Func: "thousandths", Was: "-2e9", Equal: true, Why: "no height is near 2000 km"},
	{Func: "runStaging", Was: "why != c.lastReason", Why: text},
	{Func: "runStaging", Was: "c.lastReason = why", Why: text},
	{Func: "watchUpperMotor", Why: text},
	{Func: "allOff", Kind: mutants.Shifted, Why: "no shipped board has anything on output 16"},
	{Func: "advance", Was: "c.report()", Why: reports},
	{Func: "advance", Was: "reportEvery", Why: reports},
	{Func: "hello", Was: "g.send.clock = nil", Why: realTime},
	{Func: "hello", Was: "g.send.clock = g.ownTime", Why: realTime},
	{Func: "hello", Was: "g.base = g.clock() - int64(m.Time)", Why: realTime},
	{Func: "hello", Was: "g.clock() - int64(m.Time)", Why: realTime},
	{Func: "hello", Was: "g.clock != nil", Why: realTime},
}

// reasonsC says why mutants of the reference firmware live.
var reasonsC = []mutants.Reason{}
