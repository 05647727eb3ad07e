package scenario

import "drystage/sim/quantity"

var rigTable = &table{
	name: "a rig",
	doc:  "What stands between this computer and the boards: pins, switches and dummy loads. For inert benches only.",
	rows: []row{
		kindRow("rig"),
		{key: "name", is: line{most: 60}, need: true, doc: "what the rig is called"},
		{key: "rig", is: words{"host", "simulated"}, def: "host", doc: "host: pins of this computer; simulated: none, to try every command"},
		{key: "state", is: name{[]string{"NAME"}, nameLetters}, doc: "simulated: a word; the drive pins then live in the file simulated-pins/NAME.pins beside this one, for others to see"},
		{key: "uncertainty", is: seconds(1e-6, 1), def: "5 ms", doc: "expanded uncertainty (k = 2) of an edge while its path has not been measured"},
		{key: "measured_for", is: seconds(60, 31536000), def: "2592000 s", doc: "how long a measurement counts"},
		{key: "boards", is: named{rigBoardTable, 1, 8, nameLetters, "a board"}, need: true, doc: "the boards by their role"},
		{key: "drives", is: many{driveTable, 0, 64}, doc: "pins that act on boards"},
	},
}

var rigBoardTable = &table{name: "a board on a rig", doc: "A board on the rig.", rows: []row{
	{key: "board", is: boardAddress{}, doc: "where the board is, such as serial:usb=VID:PID; a program (exec:) comes from the command line alone"},
	{key: "outputs", is: named{rigOutputTable, 1, 16, nameLetters, "an output"}, need: true, doc: "what hangs on each output, by the output's name"},
}}

var rigOutputTable = &table{name: "an output on a rig", doc: "What hangs on an output, and the pin that sees it.", rows: append([]row{
	{key: "load", is: loadTable, doc: "the dummy load; without it no run begins"},
	{key: "pin", is: pinWord{}, doc: "the pin that sees the output; default none does"},
	{key: "pull", is: words{"none", "up", "down"}, def: "none", doc: "the resistor inside the pin"},
	{key: "wire", is: words{"whole", "loose", "bounces"}, def: "whole", doc: "simulated: how the wire to the pin behaves"},
	{key: "debounce", is: seconds(0, 1), def: "1 ms", doc: "a level counts once it has stood this long"},
}, pinRows...)}

var pinRows = []row{
	{key: "active", is: words{"high", "low"}, def: "high", doc: "the pin's level while it is on"},
	{key: "wired", is: line{most: 80}, doc: "to what the pin is wired, for people"},
	{key: "delay", is: seconds(0, 10), def: "0 s", doc: "from the output to the pin, or from the pin to its effect"},
	{key: "uncertainty", is: seconds(0, 10), def: "0 s", doc: "expanded uncertainty (k = 2) of delay"},
}

var loadTable = &table{name: "a load", doc: "A dummy load. Nothing that burns.", rows: []row{
	{key: "kind", is: words{"resistor", "lamp", "led", "open"}, need: true, doc: "what it is; open is nothing at all"},
	{key: "resistance", is: qty{quantity.Resistance, 0.01, 1e7}, doc: "of the load; not for open"},
	{key: "tolerance", is: number{min: 0, max: 0.9}, def: "20 %", doc: "of the load and of the board's measurement together"},
}}

var driveTable = &table{name: "a drive", doc: "A pin that acts on a board. On means supplied, armed, whole (breakwire) or held in reset.", rows: append([]row{
	{key: "name", is: name{[]string{"NAME"}, nameLetters}, need: true, doc: "a word, such as supply"},
	{key: "does", is: driveDoes{}, need: true, doc: driveForm},
	{key: "pin", is: pinWord{}, need: true, doc: "as this computer names it, such as GPIO17"},
	{key: "safe", is: words{"on", "off"}, doc: "what it is without a run; default off, and on for a breakwire"},
}, pinRows...)}
