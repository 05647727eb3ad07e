package main

import (
	"slices"

	"drystage/harness/judge/mutants"
)

const (
	tie          = "two real numbers that are equal to the last bit: either answer is right, and no measurement is that exact"
	step         = "two moments that are equal to the microsecond: the decision comes one step of the logic sooner or later, and nothing asks for less than a step"
	another      = "one sample more or less of a number that its author chose among many that are right"
	realTime     = "it matters in real time only, and the suite is flown in lockstep"
	mean         = "the mean on the pad is scaled to length 1: a weight changes how fast it follows, and the pad lasts for hundreds of samples"
	cancels      = "it matters for first samples that cancel each other to a thousandth of 1 g: the sensor would have to turn over between two samples"
	cache        = "a cache: what is computed again comes out the same"
	rest         = "at rest a sound sensor reads 1 g within 0.4 m/s2, one of the wrong range is wrong by 3.2 m/s2 and more, and thrust by more than 10"
	standing     = "a rocket stands within 20 deg of vertical when it is armed, or lies: no limit between 37 and 66 deg tells these apart otherwise"
	broken       = "a broken barometer reads 0 or the greatest number, a sound one more than 20 hPa below 25 km"
	smallSum     = "the square of half the angle between two samples: below 0.008 at 2000 deg/s, and 0.0001 at the rates of a flight"
	noBurnout    = "a longer wait for the downward speed where burnout was never seen: no flight has a downward speed for between 0.1 and 0.5 s there before apogee, and at apogee the drogue's window is wider than the difference"
	silent       = "chooseSource says so, too, at each step in which the gyro is silent, and on the pad the next samples at rest set it again"
	latched      = "it is called on the pad only, where the two counts never fall back"
	anew         = "the time of burnout is asked for in the coast only, and set anew where that begins"
	sameRecovery = "recovery is the same in both phases, and what has fired is not fired again: it tells only"
	afterLanding = "after the landing nothing is decided: it tells only"
	fits         = "50 Pa in hundredths fit into 16 bits, and a hundredth of a pascal is a millimetre"
	emptyClock   = "the clock of an empty memory is 0, from which the same time comes out"
	inTheStep    = "it matters for a knock in the very step after burnout, and moves the burnout by a tenth of a second"
	lowRestart   = "it matters where apogee comes within 1.5 s after a restart, and below 60 m"
	heightAgain  = "the first pressure above 5 m says so again"
	others       = "each sample has predicted up to its own time, and without samples the estimate is no longer believed"
)

// tiesGo are comparisons of measured or computed real numbers in the built-in board.
var tiesGo = []string{
	"speed > c.set[apogeeLockoutSpeed]", "c.axial < apogeeDrag", "speed < 0",
	"c.est.h > confirmHeight", "c.est.h > liftHeight", "math.Abs(c.est.v) > liftSpeed", "c.mem.maxHeight > liftHeight",
	"c.est.v < c.set[stagingMinSpeed]", "c.decisionHeight() < c.set[stagingMinHeight]", "tilt >= c.minTiltCosine",
	"math.Abs(c.est.v) < stillSpeed", "c.decisionHeight() <= c.set[mainHeight]", "math.Abs(f.norm()-standardGravity) <= restBand",
	"mean.norm() < 1e-3", "c.att.up.dot(c.nose) < steep", "math.Abs(r) > e.gate(t)", "w.dot(w) < 0.04",
	"c.axial > c.set[liftoffAcceleration]", "c.axial < c.set[burnoutAcceleration]", "p < lowestPressure",
}

// stepsGo are comparisons of times.
var stepsGo = []string{
	"c.since(c.armAskedAt) < selfTestTime", "span(now-h.since) >= seconds", "c.since(c.mem.liftoff) >= c.set[drogueBackup]",
	"c.since(c.mem.apogee) < c.set[drogueDelay]", "c.since(from) < c.set[mainLockout]", "c.since(from) >= c.set[mainBackup]",
	"c.since(c.mem.burnout) < c.set[stagingDelay]", "c.now > latest", "c.since(max(c.mem.liftoff, c.startedAt)) < needed",
	"dt <= gyroGap", "dt > gyroGap", "c.since(c.att.t) > gyroGap", "c.since(c.accelAt) <= gyroGap", "t-e.accepted > noSensorTime",
	"t-e.accepted > baroTimeout", "span(t-e.refused) < refuseTimeout", "span(now-e.refused) < refuseTimeout+span(baroTimeout)", "e.t-e.begun >= settleTime", "now-e.accepted < baroTimeout",
	"c.now >= c.out.ends[ch]", "passed < longestOutage",
}

// samplesGo are comparisons of counts of samples.
var samplesGo = []string{
	"c.est.n < settleSamples", "e.n >= settleSamples", "c.att.n < minAlignSamples", "a.n >= minAlignSamples", "a.rates >= minAlignSamples",
	"w.samples >= 2*w.limit", "3*w.moved >= 2*w.samples-2*w.limit", "w.same >= w.limit", "w.same < w.limit", "m.groundSamples >= 10",
}

// reasonsGo says why mutants of the built-in board live. A mutant that lives and has no reason here is still to be looked at.
var reasonsGo = slices.Concat(shifts(tie, tiesGo), shifts(step, stepsGo), shifts(another, samplesGo), []mutants.Reason{
	{Func: "climbOver", Kind: mutants.LeftOut, Was: "c.mem.phase == phasePowered", Why: noBurnout},
	{Func: "climbOver", Kind: mutants.Dropped, Was: "needed = apogeeHoldBoost", Why: noBurnout},
	{Func: "resume", Kind: mutants.Shifted, Was: "now < m.clock", Equal: true, Why: "a memory of the same moment that isn't valid is empty already"},
	{Func: "selfTest", Was: "steep", Kind: mutants.Halved, Equal: true, Why: standing},
	{Func: "atRest", Was: "restBand", Equal: true, Why: rest},
	{Func: "alignOnPad", Was: "1", Kind: mutants.Doubled, Is: "(1) * 2", Equal: true, Why: mean},
	{Func: "alignOnPad", Kind: mutants.Halved, Was: "1", Is: "(1) * 0.5", Equal: true, Why: mean},
	{Func: "alignOnPad", Was: "-1", Equal: true, Why: mean},
	{Func: "alignOnPad", Was: "1e-3", Equal: true, Why: cancels},
	{Func: "alignOnPad", Was: "mean.norm() < 1e-3", Kind: mutants.LeftOut, Equal: true, Why: cancels},
	{Func: "alignOnPad", Was: "a.n = 0", Equal: true, Why: cancels},
	{Func: "alignOnPad", Was: "a.known", Kind: mutants.LeftOut, Equal: true, Why: latched},
	{Func: "rotate", Was: "1", Kind: mutants.Doubled, Is: "2", Equal: true, Why: mean},
	{Func: "detectLiftoff", Kind: mutants.LeftOut, Was: "c.accelUsable()", Why: "a liftoff by the last word of a dead accelerometer is taken back when no height comes"},
	{Func: "begin", Kind: mutants.Dropped, Is: "e.t, e.begun, e.n = t, t, 0", Why: "the sample that it begins with, or the next one, is accepted and says so again"},
	{Func: "begin", Kind: mutants.Dropped, Is: "e.started, e.inFlight = true, moving", Why: "the next sample that is accepted says so again"},
	{Func: "resume", Was: "longestOutage", Why: "it matters for a supply that is away for minutes while the clock wraps"},
	{Func: "averageGround", Was: "50", Kind: mutants.Halved, Why: "a blast moves the mean of the pad by centimetres either way"},
	{Func: "predict", Was: "baroTimeout", Kind: mutants.Halved, Why: "the accelerometer's error is bounded a quarter of a second sooner, which is millimetres"},
	{Func: "disagrees", Why: "an accelerometer that has died is looked at once, three seconds after the liftoff that it felt"},
	{Func: "detectLiftoff", Was: "!c.thrust.on", Kind: mutants.Negated, Why: "without a barometer the estimate is then zeroed in the first push, not before it"},
	{Func: "accelUsable", Kind: mutants.LeftOut, Was: "!c.accel.stuck()", Why: "a frozen acceleration is not taken either way, and the last one is kept for a moment"},
	{Func: "ventShut", Was: "baroTimeout", Why: "it matters where the pressures stop within a second of apogee, behind a vent that is shut"},
	{Func: "rotate", Kind: mutants.Halved, Was: "1", Why: "a weight in the mean of the rates, which has long settled when the board is armed, or a term of second order in the angle between two samples"},
	{Func: "rotate", Kind: mutants.LeftOut, Was: "dt > 0", Equal: true, Why: "samples are in the order of their times, and two of one time turn nothing"},
	{Func: "chooseSource", Kind: mutants.LeftOut, Was: "c.mem.phase != phaseStanding", Equal: true, Why: "on the pad the next samples at rest set it again"},
	{Func: "start", Kind: mutants.Shifted, Was: "c.mem.phase >= phaseFalling", Equal: true, Why: "chooseSource says so, too, in the first step"},
	{Func: "rotate", Was: "!still", Equal: true, Why: silent},
	{Func: "rotate", Was: "1+b.dot(b)", Kind: mutants.Turned, Equal: true, Why: smallSum},
	{Func: "powerUp", Was: "g.listening, g.realTime, g.send.clock = false, false, nil", Is: "g.listening, g.realTime = false, false", Equal: true, Why: realTime},
	{Func: "powerUp", Was: "g.listening, g.realTime, g.send.clock = false, false, nil", Is: "g.listening, g.send.clock = false, nil", Equal: true, Why: realTime},
	{Func: "timely", Was: "t > c.now", Equal: true, Why: realTime},
	{Func: "timely", Kind: mutants.LeftOut, Was: "t < c.now", Equal: true, Why: realTime},
	{Func: "timely", Was: "g.realTime && t > c.now", Kind: mutants.Negated, Equal: true, Why: step},
	{Func: "timely", Was: "c.advance(t)", Equal: true, Why: realTime},
	{Func: "advance", Was: "c.est.predict(c.now)", Equal: true, Why: others},
	{Func: "pressure", Was: "lowestPressure", Equal: true, Why: broken},
	{Func: "groundHeight", Is: "c.groundCache.decisionHeight = pressureHeight(c.mem.groundPressure)", Equal: true, Why: cache},
	{Func: "imu", Kind: mutants.LeftOut, Was: "c.mem.phase <= phaseUnpowered", Equal: true, Why: "usesIMU has just said so"},
	{Func: "noLiftoff", Kind: mutants.Dropped, Is: "c.mem.maxHeight, c.liftoffConfirmed = 0, false", Equal: true, Why: anew},
	{Func: "openMain", Kind: mutants.Dropped, Was: "c.setPhase(phaseSlowed)", Equal: true, Why: sameRecovery},
	{Func: "inFlight", Kind: mutants.LeftOut, Was: "m.phase != phaseDown", Equal: true, Why: afterLanding},
	{Func: "averageGround", Kind: mutants.Narrowed, Was: "d = min(max(d, -50), 50)", Equal: true, Why: fits},
	{Func: "defaults", Kind: mutants.Narrowed, Equal: true, Why: "each default in hundredths fits into 16 bits"},
	{Func: "resume", Kind: mutants.LeftOut, Was: "m.valid", Equal: true, Why: emptyClock},
	{Func: "alignOnPad", Was: "minAlignSamples", Equal: true, Why: another},
	{Func: "averageGround", Was: "10", Equal: true, Why: another},
	{Func: "selfTest", Kind: mutants.LeftOut, Was: "c.accel.stuck()", Why: "accelUsable refuses it too, a second later"},
	{Func: "setPhase", Kind: mutants.Dropped, Was: "c.thrust = persistence{}", Why: inTheStep},
	{Func: "start", Was: "liftHeight", Why: lowRestart},
	{Func: "start", Kind: mutants.Dropped, Was: "c.heightSeen = true", Why: heightAgain},
	{Func: "start", Kind: mutants.Dropped, Was: "c.configure()", Why: "each SETTING configures anew"},
	{Func: "standsStill", Why: "ignition passes through it within a sample or two, of the 400 of a mean"},
	{Func: "command", Was: "c.stageAsked = false", Equal: true, Why: "runStaging leaves before it looks at the command if there is no channel"},
	{Func: "command", Was: "c.set[stagingChannel] == 0", Kind: mutants.LeftOut, Equal: true, Why: "runStaging leaves before it looks at the command if there is no channel"},
})

// shifts gives one reason that comparisons may be shifted.
func shifts(why string, all []string) (out []mutants.Reason) {
	for _, was := range all {
		out = append(out, mutants.Reason{Kind: mutants.Shifted, Was: was, Equal: true, Why: why})
	}
	return out
}
