package scenario

import (
	"drystage/harness"
	"drystage/sim"
	"drystage/sim/quantity"
)

// boardFile is what a board's file tells.
type boardFile struct {
	bay   sim.Bay
	board harness.Board
}

var boardTable = blockOf("a board", "A flight computer: its sensors, and what each of its outputs does to the vehicle.", func(b *boardFile) []row {
	return []row{
		kindRow("board"),
		{key: "name", is: textLine{most: 60}, need: true, doc: "what the board is called"},
		{key: "station", is: length(0, 20), need: true, doc: "where the sensors sit, aft of the front end of the board's stage", to: &b.bay.Station},
		{key: "sensors", is: sensorsTable, need: true, doc: "the parts that are fitted", to: &b.bay.Sensors},
		{key: "outputs", is: listShape{outputTable, 1, 16}, need: true, doc: "the output channels", to: listOf(&b.bay.Wires)},
		{key: "continuity", is: flag{}, def: "false", doc: "the board measures the continuity of its outputs, and its firmware takes CIRCUITS: it is told what it reads, when that changes and once a second", to: &b.bay.Checks},
		{key: "reports", is: words{"own", "none"}, def: "own", doc: "none: the firmware tells nothing of its own estimate, such as one that doesn't speak the contract; expectations on its reports are then refused"},
		{key: "link", is: linkTable, def: "{}", doc: "the line to the board", to: &b.board},
		{key: "nmea", is: nmeaTable, doc: "an input for the GNSS receiver's NMEA 0183, beside the link; {} for one with the defaults; default none"},
		{key: "boot", is: seconds(0, 60), def: "300 ms", doc: "from power to the first word of the board", to: &b.bay.Boot},
		{key: "settings", is: settingsShape, doc: "the board's own settings, sent after the handshake; true is 1, false 0"},
		{key: "settings_list", is: filePath{}, doc: "the file that says what settings the firmware has; default those of the built-in board"},
	}
})

var settingsShape = namedBlocks{of: settingShape{}, most: 200, letters: 24, what: "a setting"}

var nmeaTable = blockOf("an input for NMEA 0183", "The board's input for its GNSS receiver's NMEA 0183 sentences. `--nmea BOARD=ADDR` of a command that flies says where it is: serial:PORT?baud=N, unix:PATH or tcp:HOST:PORT. They leave at the instant of the fix, with all that faults do to it, and never keep a run waiting: what the line doesn't take in time is lost and named.", func(n *harness.NMEA) []row {
	return []row{
		{key: "baud", is: number{1200, 4000000, true}, def: "115200", doc: "of a serial line whose address says none", to: &n.Baud},
		{key: "rate", is: quantityShape{quantity.Frequency, 1, 10}, doc: "sets of sentences a second, at most that of the receiver; default that of the receiver, at most 10 Hz", typical: "1 Hz as delivered, 5 or 10 Hz when told to" + dataSheet, to: &n.Rate},
		{key: "talker", is: words{"GP", "GN", "GL", "GA", "GB"}, def: "GP", doc: "the two letters in front of each sentence", to: &n.Talker},
		{key: "sentences", is: listShape{words(harness.Sentences()), 1, 4}, doc: "which of GGA, RMC, GSA and VTG; default all, in that order", to: &n.Sentences},
		{key: "start", is: instant{}, def: harness.DefaultStart, doc: "date and time of the start of the run, in UTC", to: &n.Start},
	}
}).withFormer("port", "a board's file opens nothing; leave it out, and say --nmea BOARD=ADDR on the command line")

var outputTable = blockOf("an output", "An output channel and what it does.", func(w *sim.Wire) []row {
	return []row{
		{key: "channel", is: number{1, 16, true}, need: true, doc: "as the board numbers it, from 1", to: &w.Channel},
		{key: "name", is: name{[]string{"OUTPUT"}, nameLetters}, need: true, doc: "a word, such as drogue", to: &w.Name},
		{key: "does", is: effectShape{}, need: true, doc: "ignite STAGE, separate STAGE, deploy STAGE.DEVICE, or nothing"},
		{key: "load", to: &w.Load, is: ohms(0.05, 1e6), doc: "resistance of the igniter or dummy load with its leads: it loads the battery while the output is on, and a continuity test finds it; default no load",
			typical: "1 to 2 ohm of an electric match, 0.3 to 1 ohm of a motor igniter (common practice, no source)"},
	}
})

var linkTable = blockOf("a link", "The line to the board.", func(b *harness.Board) []row {
	return []row{
		{key: "baud", is: number{1200, 4000000, true}, def: "115200", doc: "of a serial line", to: &b.Baud},
		{key: "answer", is: seconds(0.0001, 60), doc: "how long the board may take for an answer without leaving the run unsure; default one period of its fastest sensor in lockstep, 20 of them and at least 100 ms in real time", typical: "an emulator on a busy computer needs 100 ms and more (common practice, no source)", to: &b.Answer},
		{key: "lockstep", is: flag{}, def: "true", doc: "the board's clock can be driven by the harness", to: &b.Lockstep},
	}
})
