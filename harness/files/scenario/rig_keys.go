package scenario

import (
	"drystage/harness"
	"drystage/sim/quantity"
)

var rigTable = blockOf("a rig", "What stands between this computer and the boards: pins, switches and dummy loads. For inert benches only.", func(r *harness.Rig) []row {
	return []row{
		kindRow("rig"),
		{key: "name", is: textLine{most: 60}, need: true, doc: "what the rig is called", to: &r.Name},
		{key: "rig", is: words{"host", "simulated"}, def: "host", doc: "host: pins of this computer; simulated: none, to try every command", to: func(v value) { r.Simulated = v.text() == "simulated" }},
		{key: "state", is: name{[]string{"NAME"}, nameLetters}, doc: "simulated: a word; the drive pins then live in the file simulated-pins/NAME.pins beside this one, for others to see", to: &r.State},
		{key: "uncertainty", is: seconds(1e-6, 1), def: "5 ms", doc: "expanded uncertainty (k = 2) of an edge while its path has not been measured", to: &r.Default},
		{key: "measured_for", is: seconds(60, 31536000), def: "2592000 s", doc: "how long a measurement counts", to: &r.Lasts},
		{key: "boards", is: namedBlocks{rigBoardTable, 1, 8, nameLetters, "a board"}, need: true, doc: "the boards by their role"},
		{key: "drives", is: listShape{driveTable, 0, 64}, doc: "pins that act on boards"},
	}
})

var rigBoardTable = blockOf("a board on a rig", "A board on the rig.", func(b *harness.RigBoard) []row {
	return []row{
		{key: "board", is: boardAddress{}, doc: "where the board is, such as serial:usb=VID:PID; a program (exec:) comes from the command line alone", to: &b.Address},
		{key: "outputs", is: namedBlocks{rigOutputTable, 1, 16, nameLetters, "an output"}, need: true, doc: "what hangs on each output, by the output's name"},
	}
})

var rigOutputTable = blockOf("an output on a rig", "What hangs on an output, and the pin that sees it.", func(o *harness.RigOutput) []row {
	return append([]row{
		{key: "load", is: loadTable, doc: "the dummy load; without it no run begins", to: &o.Load},
		{key: "pin", is: pinWord{}, doc: "the pin that sees the output; default none does", to: &o.Capture.Name},
		{key: "pull", is: pullWord, def: "none", doc: "the resistor inside the pin", to: enum(&o.Capture.Pull, pullWord)},
		{key: "wire", is: wireWord, def: "whole", doc: "simulated: how the wire to the pin behaves", to: enum(&o.Wire, wireWord)},
		{key: "debounce", is: seconds(0, 1), def: "1 ms", doc: "a level counts once it has stood this long", to: &o.Capture.Debounce},
	}, pinRows(&o.Capture)...)
})

var (
	pullWord = words{"none", "up", "down"}        // in order of harness.Pull
	wireWord = words{"whole", "loose", "bounces"} // in order of harness.SimulatedWire
)

// pinRows are the keys that every pin has.
func pinRows(p *harness.Pin) []row {
	return []row{
		{key: "active", is: words{"high", "low"}, def: "high", doc: "the pin's level while it is on", to: func(v value) { p.ActiveLow = v.text() == "low" }},
		{key: "wired", is: textLine{most: 80}, doc: "to what the pin is wired, for people", to: &p.Wired},
		{key: "delay", is: seconds(0, 10), def: "0 s", doc: "from the output to the pin, or from the pin to its effect", to: &p.Delay},
		{key: "uncertainty", is: seconds(0, 10), def: "0 s", doc: "expanded uncertainty (k = 2) of delay", to: &p.Within},
	}
}

var loadTable = blockOf("a load", "A dummy load. Nothing that burns.", func(l *harness.Load) []row {
	return []row{
		{key: "kind", is: words{"resistor", "lamp", "led", "open"}, need: true, doc: "what it is; open is nothing at all", to: &l.Kind},
		{key: "resistance", is: quantityShape{quantity.Resistance, 0.01, 1e7}, doc: "of the load; not for open", to: &l.Ohm},
		{key: "tolerance", is: number{min: 0, max: 0.9}, def: "20 %", doc: "of the load and of the board's measurement together", to: &l.Tolerance},
	}
})

var driveTable = blockOf("a drive", "A pin that acts on a board. On means supplied, armed, whole (breakwire, wire), held in reset or shorted. A wire is a relay that opens an output's circuit, a short one that shorts its load through a resistor that the board's output stands, as faults of the scenario and burnt igniters demand, for boards that measure continuity themselves.", func(d *harness.Drive) []row {
	return append([]row{
		{key: "name", is: name{[]string{"NAME"}, nameLetters}, need: true, doc: "a word, such as supply", to: &d.Label},
		{key: "does", is: driveDoes{}, need: true, doc: driveForm},
		{key: "pin", is: pinWord{}, need: true, doc: "as this computer names it, such as GPIO17", to: &d.Pin.Name},
		{key: "safe", is: words{"on", "off"}, doc: "what it is without a run; default off, and on for a breakwire and a wire"},
	}, pinRows(&d.Pin)...)
})
