package scenario

import (
	"strings"

	"drystage/sim"
	"drystage/sim/quantity"
)

var deviceTarget = name{[]string{"STAGE", "DEVICE"}, nameLetters}

var partTarget = name{[]string{"BOARD", "PART"}, nameLetters}

// faultShape has a table for each kind of fault, in the order of sim.FaultKinds.
var faultShape = &variants{"a fault", []*table{
	sensorFault(sim.Spike, "a half-sine bump of height `by`", axisRow, byRow("a knock on the pad 50 to 200 m/s2 for 20 ms, a charge in the bay 0.5 to 12 kPa for 50 ms to 1 s"+commonPractice), lastsRow, repeatRow),
	sensorFault(sim.Step, "`by` is added; on z of gnss, a jump in height", axisRow, byRow("25 hPa at Mach 1, computed from Cp 0.035; 50 m of a GNSS that has lost the sky"+commonPractice), forRow, repeatRow),
	sensorFault(sim.Stuck, "the part repeats its last value; a gnss stays a valid fix in one place", axisRow, forRow, repeatRow),
	sensorFault(sim.Dropout, "no samples", forRow, repeatRow),
	sensorFault(sim.Drift, "`by` per second is added, growing from 0: a ramp", axisRow, byRow("1 to 10 Pa/s of a bay that warms up"+commonPractice), forRow, repeatRow),
	sensorFault(sim.NoiseBurst, "noise of standard deviation `by` is added", axisRow, byRow("ten to a hundred times the part's own"+commonPractice), forRow, repeatRow),
	motorFault(sim.DeadIgniter, "an output that fires meanwhile lights nothing", fromRow, forRow),
	motorFault(sim.LateIgniter, "the motor lights `by` later than it should", fromRow, forRow,
		row{key: "by", is: seconds(0, 60), need: true, doc: "how much later"}),
	motorFault(sim.EarlyBurnout, "the motor dies", row{key: "from", is: anchor{}, need: true, doc: "when it dies"}),
	boardFault("a", sim.PowerCut, "the board's supply is off", onsetRow, forRow, repeatRow),
	sensorFault(sim.Stale, "only one of `by` samples is fresh, the others repeat it", row{key: "by", is: number{2, 10000, true}, need: true, doc: "a count of samples", typical: "2 to 10 of a driver that reads faster than the part measures" + commonPractice}, forRow, repeatRow),
	sensorFault(sim.Clipped, "the range ends at `by`: of a part with axes either way, of a barometer below, of a battery above", axisRow, byRow("the next smaller range of the part: 16 g0, 500 deg/s, 30 kPa"), forRow, repeatRow),
	sensorFault(sim.Swapped, "the two axes other than `axis` change places", row{key: "axis", is: words(sim.AxisNames()[1:]), need: true, doc: "the one that stays"}, forRow, repeatRow),
	sensorFault(sim.Reversed, "an axis reads with the other sign", axisRow, forRow, repeatRow),
	sensorFault(sim.Scaled, "the part reads too much by the share `by`", axisRow, row{key: "by", is: number{min: -1, max: 10}, need: true, doc: "a share: 0.1 or 10 % reads a tenth too much", typical: "3 % of a bad part, 100 % of a range that was set wrong" + commonPractice}, forRow, repeatRow),
	sensorFault(sim.Delayed, "each sample is that of `by` ago, with the time of now", row{key: "by", is: seconds(1e-4, 60), need: true, doc: "the age", typical: "10 ms of a driver's queue, 0.5 s of a GNSS" + commonPractice}, forRow, repeatRow),
	sensorFault(sim.Jittered, "each sample is taken early by a random time, evenly from 0 to `by`, with the time of now", row{key: "by", is: seconds(1e-5, 10), need: true, doc: "the greatest", typical: "1 to 20 ms of a busy processor" + commonPractice}, forRow, repeatRow),
	sensorFault(sim.Duplicated, "each sample is sent twice, with the same time", forRow, repeatRow),
	sensorFault(sim.Reordered, "the samples of every two change places", forRow, repeatRow),
	sensorFault(sim.Extreme, "the part reads the greatest or least number that the line can carry, as after a division by zero", axisRow, row{key: "to", is: words{"highest", "lowest"}, def: "highest", doc: "which end"}, forRow, repeatRow),
	sensorFault(sim.VentBlocked, "the bay's pressure follows that of the air with the time constant `by` only", row{key: "by", is: seconds(0, 3600), def: "0 s", doc: "0 s: sealed, it keeps the pressure it had", typical: "sealed by tape or paint; 5 to 60 s of a bay that leaks" + commonPractice}, forRow, repeatRow),
	sensorFault(sim.BayLeak, "a gap lets a share `by` of the dynamic pressure into the bay", row{key: "by", is: number{min: -2, max: 2}, need: true, doc: "a share; below 0 it sucks", typical: "-0.3 to 1, by where the gap is" + commonPractice}, forRow, repeatRow),
	sensorFault(sim.FixLost, "the receiver says that it has no fix and repeats its last place", forRow, repeatRow),
	sensorFault(sim.HeightLimit, "the receiver has no fix above a height", row{key: "by", is: length(-450, 200000), need: true, doc: "above mean sea level", typical: "12, 18, 50 or 80 km" + dataSheet}, forRow, repeatRow),
	boardFault("a", sim.Restart, "the board restarts: its supply fails for an instant", onsetRow, repeatRow),
	boardFault("a", sim.BrownOut, "the supply is `by` lower; below the battery's `brown_out` the board resets", onsetRow,
		row{key: "by", is: volts(0.01, 65), need: true, doc: "how deep", typical: "1 to 4 V when an igniter is shorted (Ohm's law)"}, row{key: "for", is: faultSpan, need: true, doc: "how long it lasts", typical: "1 to 50 ms" + commonPractice}, repeatRow),
	boardFault("a", sim.ClockError, "the board's clock is too fast, and stays where it got to when it is over", fromRow, forRow,
		row{key: "by", is: number{min: -0.05, max: 0.05}, need: true, doc: "a share, below 0 too slow", typical: "20 to 100 ppm of a crystal, 1 to 5 % of an RC oscillator" + dataSheet}),
	boardFault("a", sim.BitsFlipped, "in some bytes of the samples on the line to the board, one bit is flipped", onsetRow, forRow, repeatRow, shareRow("bytes", "0.1 to 1 % beside a motor igniter or a transmitter")),
	boardFault("a", sim.BytesLost, "some bytes of the samples on the line to the board are lost", onsetRow, forRow, repeatRow, shareRow("bytes", "1 % of a receiver that is overrun")),
	boardFault("a", sim.FramesCut, "the end of some frames of samples on the line to the board is lost", onsetRow, forRow, repeatRow, shareRow("frames", "10 to 50 % of a buffer that is too short")),
	boardFault("a", sim.LinkStalled, "samples wait in the line to the board and come all together when it is over, with the times at which they were taken", onsetRow,
		row{key: "for", is: faultSpan, need: true, doc: "how long it lasts", typical: "0.1 to 2 s of a bus that hangs" + commonPractice}, repeatRow),
	motorFault(sim.SelfIgnition, "the motor lights by itself, whatever its output does", row{key: "from", is: anchor{}, need: true, doc: "when it lights"}),
	stageFault(sim.SeparationStuck, "the stage does not let go of the one above; an upper motor that lights still blows it off", fromRow, forRow),
	stageFault(sim.SeparationEarly, "in free flight the stage lets go of the one above; nothing keeps the two from meeting again, so not while the lower motor burns", row{key: "from", is: anchor{}, need: true, doc: "when it lets go"}),
	deviceFault(sim.DeviceDead, "its charge fires and it stays in its bag", fromRow, forRow),
	deviceFault(sim.DeviceEarly, "it opens by itself; from the drogue's opening, both open at once", row{key: "from", is: anchor{}, need: true, doc: "its line stretch"}),
	motorFault(sim.Chuff, "the burning motor goes out, and then lights again and goes on where it stopped; going out and coming back take 10 ms each", row{key: "from", is: anchor{}, need: true, doc: "when it goes out"},
		row{key: "for", is: seconds(1e-3, 60), need: true, doc: "how long it is out", typical: "0.1 to 2 s of a motor that lights poorly" + commonPractice}, repeatRow),
	motorFault(sim.ImpulseError, "a motor that lights meanwhile has more total impulse by the share `by`, over the same time", fromRow, forRow,
		row{key: "by", is: number{min: -0.5, max: 0.5}, need: true, doc: "a share, below 0 a weak motor", typical: "1 to 5 % within a batch, 10 % of one that was stored badly" + commonPractice}),
	motorFault(sim.BurnTimeError, "a motor that lights meanwhile burns longer by the share `by`, with the same total impulse", fromRow, forRow,
		row{key: "by", is: number{min: -0.5, max: 0.5}, need: true, doc: "a share, below 0 a short burn", typical: "2 to 10 %, longer in the cold" + commonPractice}),
	stageFault(sim.TipOff, "in free flight the body gets an angular kick at once; on the rail nothing turns", row{key: "from", is: anchor{}, def: sim.EventRailExit, doc: "when it comes"},
		row{key: "axis", is: words(sim.AxisNames()[1:]), def: "y", doc: "of the body: x rolls it, y and z throw the nose to a side"},
		row{key: "by", is: quantityShape{quantity.AngularRate, -200, 200}, need: true, doc: "the rate that it adds", typical: "5 to 60 deg/s when a guide jams" + commonPractice}, repeatRow),
	stageFault(sim.HighTilt, "in free flight the body and its path turn away from vertical, smoothly and whatever the air does; the gyro and the accelerometer feel it", row{key: "from", is: anchor{}, need: true, doc: "when it begins to turn"},
		row{key: "for", is: seconds(0.01, 60), def: "1 s", doc: "how long it turns", typical: "0.3 to 2 s" + commonPractice},
		row{key: "by", is: degrees(-180, 180), need: true, doc: "how far, on top of the tilt that it has; below 0 towards vertical", typical: "20 to 60 deg of a fin that flutters or breaks" + commonPractice}),
	stageFault(sim.NoseLost, "in free flight nose or payload fly off: mass and balance change, the front is flat, and the board feels a shock of 10 ms", row{key: "from", is: anchor{}, def: sim.EventApogee, doc: "when it is lost"},
		row{key: "by", is: quantityShape{quantity.Mass, 0.001, 500}, need: true, doc: "the mass that is lost, at most nine tenths of the stage's", typical: "a tenth to a third of the stage" + commonPractice},
		row{key: "speed", is: quantityShape{quantity.Speed, 0, 100}, def: "5 m/s", doc: "at which the two part", typical: "2 to 15 m/s of a charge's push" + commonPractice}),
	wireFault(sim.WireLost, "the circuit is open: the output does nothing, and a continuity check finds no load", onsetRow, forRow, repeatRow),
	wireFault(sim.WireShorted, "the circuit is shorted: the output does nothing but load the battery with 0.1 ohm, and a continuity check finds a short", onsetRow, forRow, repeatRow),
}}

var (
	faultSpan = seconds(1e-6, 3600)
	fromRow   = row{key: "from", is: anchor{}, def: sim.EventStart, doc: "when it begins"}
	onsetRow  = row{key: "from", is: anchor{}, need: true, doc: "when it begins"}
	forRow    = row{key: "for", is: faultSpan, doc: "how long it lasts; default to the end"}
	lastsRow  = row{key: "for", is: faultSpan, need: true, doc: "how long it lasts"}
	axisRow   = row{key: "axis", is: words(sim.AxisNames()), def: "all", doc: "of a part with three axes; z of gnss is the height"}
	repeatRow = row{key: "repeat", is: repeatTable, doc: "it comes again; default once"}
)

var repeatTable = &table{name: "a repeat", doc: "A fault that comes again.", rows: []row{
	{key: "times", is: number{2, 10000, true}, need: true, doc: "how often in all"},
	{key: "every", is: faultSpan, need: true, doc: "from one beginning to the next, longer than it lasts"},
}}

func shareRow(of, typical string) row {
	return row{key: "by", is: number{min: 0, max: 1}, need: true, doc: "share of " + of + " that are hit", typical: typical + commonPractice}
}

func byRow(typical string) row {
	return row{key: "by", is: amount{}, need: true, doc: "how much, in a unit of the part; drift per second", typical: typical}
}

func sensorFault(k sim.FaultKind, doc string, rows ...row) *table {
	var able []string
	for i, word := range sim.PartNames() {
		if k.AppliesTo(sim.Part(i + 1)) {
			able = append(able, word)
		}
	}
	article := "a "
	if strings.ContainsRune("aeiou", rune(k.String()[0])) {
		article = "an "
	}
	return &table{name: article + k.String(), doc: "Sensor fault: " + doc + ".", rows: append([]row{
		{key: k.String(), is: partTarget, need: true, doc: "the board's part: " + choices(able)}, fromRow,
	}, rows...)}
}

func stageFault(k sim.FaultKind, doc string, rows ...row) *table {
	return &table{name: withArticle(k.String()), doc: "Vehicle fault: " + doc + ".", rows: append([]row{
		{key: k.String(), is: stageWord, need: true, doc: "the stage"},
	}, rows...)}
}

func motorFault(k sim.FaultKind, doc string, rows ...row) *table {
	of := row{key: "motor", is: number{1, sim.MaxCluster, true}, doc: "of a cluster: which motor, counted from 1; default all of them"}
	return stageFault(k, doc, append([]row{of}, rows...)...)
}

func deviceFault(k sim.FaultKind, doc string, rows ...row) *table {
	return &table{name: withArticle(k.String()), doc: "Vehicle fault: " + doc + ".", rows: append([]row{
		{key: k.String(), is: deviceTarget, need: true, doc: "the recovery device"},
	}, rows...)}
}

func wireFault(k sim.FaultKind, doc string, rows ...row) *table {
	return &table{name: withArticle(k.String()), doc: "Fault of an output's wire: " + doc + ".", rows: append([]row{
		{key: k.String(), is: outputWord, need: true, doc: "the board's output"},
	}, rows...)}
}

func withArticle(word string) string {
	if strings.ContainsAny(word[:1], "aeiou") {
		return "an " + word
	}
	return "a " + word
}

func boardFault(article string, k sim.FaultKind, doc string, rows ...row) *table {
	return &table{name: article + " " + k.String(), doc: "Fault of a board's supply, clock or line: " + doc + ".", rows: append([]row{
		{key: k.String(), is: boardWord, need: true, doc: "the board"},
	}, rows...)}
}
