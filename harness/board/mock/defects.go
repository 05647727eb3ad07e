package mock

import (
	"cmp"
	"fmt"
	"slices"

	"drystage/harness/spelling"
)

// Defect is a known mistake that the board can have, the accident that follows, and what a scenario has to do to show
// it.
type Defect struct{ Name, Accident, Hint string }

// Defects lists the known defects.
func Defects() []Defect { return slices.Clone(defects[1:]) }

type defect uint8

const (
	noDefect defect = iota
	decelerationIsApogee
	noLockout
	ignoresTilt
	tiltOfTheMoment
	ignoresArming
	stagesUnarmed
	timerOnly
	forgets
	seaLevel
	axialReversed
	stagesTwice
	mainFirst
	noFloor
	noLatest
	waitsForSustainer
	trustsGNSS
	inertialOnly
	mainOnSpike
	bumpIsLiftoff
	firesAtPowerUp
	shortPulse
	standstillIsApogee
	firstFallIsApogee
	countsSamples
	noSelfTest
	noChecksum
	firstBurnoutCounts
	ignoresDisarm
	disarmsLater
	mainOnPadRestart
	armedByRestart
	firesAgain
	staysOn
	oneAxisTilt
	frozenGyro
	lostGyro
	tiltNeeded
	accelNeeded
	gapIsNoNumber
	gravityLeft
	pressureOnly
	noHeightNoMain
	shortClock
	shortNumbers
	slowOutputs
	tickLate
	lostWire
	commandIgnored
	alignsOnce
	noGate
	clippingByRepeats
	smoothFallIsApogee
	joltIsLanding
	sideIsFlight
	zeroAtPowerUp
	swingIsTumble
	heldIsApogee
	tiltFromField
	defectCount
)

// The times that the board with timerOnly was set up for, in s.
const (
	timerBurn   = 2  // of the booster
	timerApogee = 13 // after liftoff
)

var defects = [defectCount]Defect{
	decelerationIsApogee: {"drogue-on-deceleration", "A jolt or hard drag right after burnout opens the drogue at full speed, which tears it off or cuts the airframe open.",
		"Lose the nose (nose_lost) or make drag rise while the rocket is fast, and demand that the drogue never fires while the airspeed is high."},
	noLockout: {"no-speed-lockout", "A false fall of the height by pressure, as near the speed of sound or from a spike, opens the drogue while the rocket is still fast.",
		"Let the pressure lie while the rocket is fast (spike, jitter, bay_leak), and demand that the drogue never fires while the airspeed is high."},
	ignoresTilt: {"ignores-tilt", "The upper motor lights with the rocket lying over and drives it at people or houses under power.",
		"Lean the rail into a strong wind or tip the stack (tip_off, high_tilt) before staging, and demand that the upper motor stays dark."},
	tiltOfTheMoment: {"forgets-past-tilt", "A tumbling rocket lights its upper motor when it happens to point up, and goes wherever it points next.",
		"Let the stack tumble past the tilt limit and back before staging, and demand that the upper motor stays dark."},
	ignoresArming: {"ignores-arming", "Charges and motors fire by outputs that were meant to be dark, with people beside the rocket.",
		"Leave out the command that arms, and demand that every output stays dark."},
	stagesUnarmed: {"stages-unarmed", "The operator's button lights the upper motor of a board that nobody has armed, on the bench or at the pad.",
		"Give the command that stages without the one that arms, and demand that the upper motor stays dark."},
	timerOnly: {"timer-only", "A flight other than the planned one, with a motor that is weak, late or unlit, gets its motor and its drogue at the wrong height and speed.",
		"Fly a motor that is weak, late or burns long, or a slow clock, and demand staging and drogue at their events, not at their times."},
	forgets: {"forgets-on-restart", "A supply that fails for an instant leaves a board that thinks it stands on the pad; the rocket comes in without parachutes.",
		"Cut the supply or restart the board in coast, and demand drogue and main at their usual places."},
	seaLevel: {"height-above-sea-level", "At a launch site on a hill the main opens too low or never, since its height was meant above the ground.",
		"Fly from a site on a hill, and demand the main at its height above the pad."},
	axialReversed: {"axial-sign-reversed", "Thrust reads as drag: liftoff and burnout are missed or swapped, so that staging and recovery run at the wrong time or not at all.",
		"Fly the good flight, and demand that the upper motor fires after burnout."},
	stagesTwice: {"stages-twice", "A motor that did not light at first is lit by the second pulse, late, low and pointing down.",
		"Let the upper motor's igniter fail or the stages stay together, and demand that its output switches on once only."},
	mainFirst: {"main-before-drogue", "The main opens at apogee or at speed and carries the rocket for miles or shreds; the drogue comes too late to help.",
		"Demand that the drogue fires before the main, by some seconds."},
	noFloor: {"no-staging-floor", "After a weak or short boost the upper motor lights low and slow, with fins that do not hold the rocket straight.",
		"Fly a weak or short booster, and demand that the upper motor never fires below the height or airspeed at which fins hold it."},
	noLatest: {"no-latest-staging", "The upper motor lights long after it should, when the rocket has already turned over.",
		"Give the command that stages long after burnout, and demand that the upper motor stays dark."},
	waitsForSustainer: {"waits-for-sustainer", "The upper motor does not light, and the board waits for its burnout instead of opening the drogue; the rocket comes in whole.",
		"Let the upper motor fail to light, and demand the drogue at apogee all the same."},
	trustsGNSS: {"trusts-gnss", "Satellites are lost under acceleration; height and apogee freeze or come late, and with them the parachutes.",
		"Lose, freeze or delay the satellites' fixes in the climb, and demand the drogue at apogee."},
	inertialOnly: {"inertial-only", "The speed is a sum of accelerations without a check: an accelerometer that sticks or drifts never gets to apogee, or is there at once.",
		"Let the accelerometer stick, drift or clip in the boost, and demand the drogue at apogee."},
	mainOnSpike: {"main-on-pressure-spike", "The pressure of the drogue's charge reads as a low height and opens the main at apogee.",
		"Put a spike of high pressure at the drogue's charge, and demand the main at its height."},
	bumpIsLiftoff: {"liftoff-on-a-bump", "A knock on the pad starts the flight; timers and tests run with the rocket beside people.",
		"Knock the rocket on the pad (a spike of the accelerometer before launch), and demand that every output keeps to the true liftoff."},
	firesAtPowerUp: {"fires-at-power-up", "Switching the board on fires the drogue's charge into whoever holds the rocket.",
		"Demand that the drogue stays dark from the start on."},
	shortPulse: {"pulse-too-short", "The output is on for too short a time to heat an igniter; nothing opens although the board says that it fired.",
		"Demand a least length of the pulse."},
	standstillIsApogee: {"standstill-is-apogee", "A barometer that repeats itself or a vent hole that is blocked for a moment reads as the top of the flight and opens the drogue at speed.",
		"Let the barometer repeat itself (stale, stuck) or block its vent in the climb, and demand that the drogue never fires while the airspeed is high."},
	firstFallIsApogee: {"apogee-on-first-fall", "One sample that comes in the wrong order, or one late one, reads as a fall and opens the drogue at speed.",
		"Reorder, delay or disturb the barometer's samples in the climb, and demand that the drogue never fires while the airspeed is high."},
	countsSamples: {"counts-samples", "Speed is summed as if each sample stood for one period: samples that come twice or not at all make apogee early, late or never.",
		"Send accelerometer samples twice or lose some on the line, and demand the drogue at apogee."},
	noSelfTest: {"no-self-test", "A board that is mounted the wrong way round or whose sensor is broken arms as if nothing were wrong, and flies on what it reads.",
		"Swap or reverse the accelerometer's axes on the pad, and demand that the board does not arm and every output stays dark."},
	noChecksum: {"no-checksum", "A bit that flips on the line turns a small number into a huge one, and the board takes it: speed and height jump, and outputs fire or stay dark.",
		"Flip bits on the line in the climb, and demand the drogue at apogee and not before."},
	firstBurnoutCounts: {"first-burnout-counts", "A motor that goes out for a moment and lights again counts as burnt out: the upper motor lights while the lower one still burns.",
		"Let the booster go out for a moment and light again (chuff), and demand that the upper motor stays dark until it has burnt out."},
	ignoresDisarm: {"ignores-disarm", "A board that was made safe fires all the same, with somebody beside the rocket who was told that it is safe.",
		"Arm, disarm and launch, and demand that every output stays dark."},
	disarmsLater: {"disarms-after-the-pulse", "What is on when the board is made safe stays on to the end of its pulse, and lights what was to be stopped.",
		"Disarm in the middle of a pulse, and demand that the output is dark at once."},
	mainOnPadRestart: {"main-on-pad-restart", "A battery lead that is moved on the pad opens the main into the face of whoever moved it.",
		"Restart the armed board on the pad, and demand that the main stays dark before apogee."},
	armedByRestart: {"armed-by-a-restart", "A supply that fails for an instant arms a board that nobody has armed.",
		"Restart a board that nobody has armed, and demand that every output stays dark."},
	firesAgain: {"fires-again-after-restart", "Each failure of the supply under the canopy fires the charge again, at last on the ground beside people.",
		"Cut the supply again and again under the main, and demand each output once."},
	staysOn: {"main-never-off", "An output that stays on melts its igniter, empties the battery and is live when somebody picks the rocket up.",
		"Demand a greatest length of the pulse of every output."},
	oneAxisTilt: {"tilt-about-one-axis", "A rocket that lies over about the other axis looks upright, and its upper motor drives it at people.",
		"Tip the stack about each axis and either way, and demand that the upper motor stays dark."},
	frozenGyro: {"trusts-a-frozen-gyro", "A gyro that repeats itself says that nothing turns: the upper motor lights with the rocket lying over.",
		"Freeze the gyro and tip the stack, and demand that the upper motor stays dark."},
	lostGyro: {"trusts-a-lost-gyro", "A gyro that is silent leaves the last attitude standing: the upper motor lights with the rocket lying over.",
		"Lose the gyro and tip the stack, and demand that the upper motor stays dark."},
	tiltNeeded: {"no-apogee-without-attitude", "A gyro that dies takes the parachutes with it, which need no attitude.",
		"Lose the gyro, and demand the drogue at apogee."},
	accelNeeded: {"no-apogee-without-accelerometer", "An accelerometer that dies takes the parachutes with it, though the barometer shows apogee.",
		"Lose the accelerometer for good in the climb, and demand the drogue at apogee."},
	gapIsNoNumber: {"no-number-after-a-gap", "A silence of the inertial sensor becomes a step of time that no sum survives: speed and height are no numbers any more, and nothing opens.",
		"Lose accelerometer and gyro for a while in the coast, and demand the drogue at apogee."},
	gravityLeft: {"gravity-not-removed", "Standing still reads as falling upwards at 1 g: speed and height run away in every flight.",
		"Fly the good flight, and demand the drogue at apogee."},
	pressureOnly: {"pressure-only", "Without the accelerometer a barometer that is silent for some seconds around apogee takes the drogue with it.",
		"Lose the barometer across apogee or for good, and demand the drogue at apogee."},
	noHeightNoMain: {"main-waits-for-a-height", "A barometer that dies under the drogue leaves the main closed, and the rocket lands under its drogue.",
		"Lose or freeze the barometer for good after the drogue, and demand a soft landing."},
	shortClock: {"clock-wraps-early", "Milliseconds in 16 bits begin anew after 65 seconds: what was a moment ago lies in the future, and every time that is waited for comes late or never.",
		"Launch so that 65,536 ms fall into the boost, or wait for minutes on the pad, and demand staging and drogue at their events."},
	shortNumbers: {"speed-wraps-early", "A speed in 16 bits of cm/s turns negative above 328 m/s and opens the drogue there.",
		"Fly faster than 328 m/s, and demand that the drogue never fires while the airspeed is high."},
	slowOutputs: {"slow-outputs", "Writing a log keeps the outputs waiting for a third of a second: the upper motor lights later than every check of its safety.",
		"Demand staging within some milliseconds of its command."},
	tickLate: {"outputs-a-tick-late", "Every output waits for the next turn of the loop: what the checks found safe is done on what is true one sample later, and every task that hands on to another adds a sample.",
		"Demand that staging follows its command within less than a period of the samples (reaction)."},
	lostWire: {"main-on-lost-continuity", "A wire of the drogue that shakes loose under thrust reads as a drogue that has fired: the main opens at full speed and tears the airframe open.",
		"Break the drogue's wire in the climb (wire_lost), and demand that the main stays dark until its height."},
	commandIgnored: {"stages-without-command", "A board that is to light the upper motor at the operator's word only does it by itself.",
		"Set it to stage by command, give none, and demand that the upper motor stays dark."},
	alignsOnce: {"attitude-from-power-up", "The gyro is summed up from power-up on: after minutes on the pad its error is a tilt that nobody has, and the upper motor stays cold.",
		"Wait for minutes on the pad, and demand staging."},
	noGate: {"believes-any-pressure", "One absurd pressure throws height and speed far off, and outputs follow.",
		"Send extreme or jumping pressures, and demand every output at its place."},
	clippingByRepeats: {"misses-clipped-vibration", "The speed is summed up from an accelerometer whose clipping is looked for by readings that repeat. Vibration that is clipped before the filter repeats nothing: the sum comes out too slow, and the upper motor stays cold.",
		"Let the motor's vibration reach the end of the accelerometer's range before its filter (transmissibility, bandwidth), and demand staging."},
	smoothFallIsApogee: {"transonic-fall-is-apogee", "Steps of the pressure are told from falls, but near the speed of sound the error of the static ports changes without a step: coasting down through it reads as a fall of hundreds of metres and opens the drogue at full speed.",
		"Fly through the speed of sound with static ports that err there, and demand that the drogue never fires while the airspeed is high."},
	joltIsLanding: {"landed-on-a-jolt", "The shock of the drogue's charge or the snatch of its lines reads as the touch of the ground: the board ends its work in the air, and the main stays in its tube.",
		"Let charges, lines and separation push and ring (shock, push and snatch of the vehicle), and demand the main at its height."},
	sideIsFlight: {"on-its-side-is-flight", "A battery lead that the touch of the ground shakes loose starts the board anew; the rocket lies on its side, which reads as tumbling without a parachute, and the charges fire beside whoever fetches it.",
		"Cut the supply after the landing, when the rocket has fallen over (ground of the site), and demand each output once."},
	zeroAtPowerUp: {"zero-at-power-up", "The acceleration at power-up counts as zero: a rocket that was switched on lying and is raised onto its rail is in flight for the board, with people beside it.",
		"Raise the rocket onto its rail with the board switched on (pad), and demand every output at its place."},
	swingIsTumble: {"main-on-a-swing", "A body that swings and spins below its drogue counts as tumbling without one: the main opens high up and carries the rocket away.",
		"Let the canopies swing and spin (swing), and demand the main at its height."},
	heldIsApogee: {"apogee-on-a-held-height", "A receiver that has found its satellites again holds the old height at first: for the board the rocket stands still, and the drogue opens at speed.",
		"Let the receiver lose its fix in the boost and come back in the coast (most_force, hold), and demand that the drogue never fires while the airspeed is high."},
	tiltFromField: {"tilt-from-the-field", "The tilt is taken from the magnetometer alone, which doesn't see a turn about the field: the stack leans far over, and the upper motor lights at people.",
		"Fit a magnetometer, turn the stack over about the direction of the field (high_tilt), and demand that the upper motor stays dark."},
}

// findDefect gives the defect with a name; the empty name is none.
func findDefect(name string) (defect, error) {
	if name == "" {
		return noDefect, nil
	}
	var names []string
	for i := noDefect + 1; i < defectCount; i++ {
		if defects[i].Name == name {
			return i, nil
		}
		names = append(names, defects[i].Name)
	}
	hint := cmp.Or(spelling.Hint(name, names), "`drystage bench --list-defects` lists them")
	return noDefect, fmt.Errorf("mock: no defect %q; %s", name, hint)
}
