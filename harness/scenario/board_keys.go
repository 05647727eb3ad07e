package scenario

import "drystage/sim/quantity"

func hertz(max float64) qty { return qty{quantity.Frequency, 0.1, max} }

var boardTable = &table{
	name: "a board",
	doc:  "A flight computer: its sensors, and what each of its outputs does to the vehicle.",
	rows: []row{
		kindRow("board"),
		{key: "name", is: line{most: 60}, need: true, doc: "what the board is called"},
		{key: "station", is: length(0, 20), need: true, doc: "where the sensors sit, aft of the front end of the board's stage"},
		{key: "sensors", is: sensorsTable, need: true, doc: "the parts that are fitted"},
		{key: "outputs", is: many{outputTable, 1, 16}, need: true, doc: "the output channels"},
		{key: "link", is: linkTable, def: "{}", doc: "the line to the board"},
		{key: "boot", is: seconds(0, 60), def: "300 ms", doc: "from power to the first word of the board"},
		{key: "settings", is: settingsShape, doc: "the board's own settings, sent after the handshake; true is 1, false 0"},
	},
}

var settingsShape = named{of: setting{}, most: 200, letters: 24, what: "a setting"}

var sensorsTable = &table{name: "sensors", doc: "The sensors; a part that isn't named isn't fitted.", rows: []row{
	{key: "accelerometer", is: triadTable("an accelerometer", quantity.Acceleration, 20000), doc: "three axes, specific force"},
	{key: "gyro", is: triadTable("a gyro", quantity.AngularRate, 500), doc: "three axes, angular rate"},
	{key: "barometer", is: barometerTable, doc: "static pressure"},
	{key: "gnss", is: gnssTable, doc: "position and velocity"},
	{key: "battery", is: batteryTable, doc: "the board's own supply"},
}}

func triadTable(name string, dim quantity.Dimension, most float64) *table {
	positive := qty{dim, 0, most}
	return &table{name: name, doc: "A three-axis part.", rows: []row{
		{key: "rate", is: hertz(4000), need: true, doc: "samples a second"},
		{key: "range", is: qty{dim, 1e-3, most}, need: true, doc: "clips at plus and minus this"},
		{key: "resolution", is: positive, doc: "step of the output; default none"},
		{key: "noise", is: positive, doc: "one standard deviation of each sample; default none"},
		{key: "bias", is: vector{dim, most}, doc: "added to each axis x, y, z of the part; default none"},
		{key: "mounting", is: mounting{}, def: "x up y left", doc: "where the part's axes point, seen by someone facing the rocket on its pad"},
	}}
}

func pascals(max float64) qty { return qty{quantity.Pressure, 0, max} }

var barometerTable = &table{name: "a barometer", doc: "A barometer.", rows: []row{
	{key: "rate", is: hertz(1000), need: true, doc: "samples a second"},
	{key: "min", is: pascals(200000), need: true, doc: "clips below"},
	{key: "max", is: pascals(200000), need: true, doc: "clips above"},
	{key: "resolution", is: pascals(5000), doc: "step of the output; default none"},
	{key: "noise", is: pascals(5000), doc: "one standard deviation; default none"},
	{key: "bias", is: qty{quantity.Pressure, -20000, 20000}, doc: "added; default none"},
}}

var gnssTable = &table{name: "a GNSS receiver", doc: "A GNSS receiver.", rows: []row{
	{key: "rate", is: hertz(100), need: true, doc: "fixes a second"},
	{key: "position_noise", is: length(0, 1000), doc: "one standard deviation, each horizontal axis; default none"},
	{key: "height_noise", is: length(0, 1000), doc: "one standard deviation; default none"},
	{key: "velocity_noise", is: qty{quantity.Speed, 0, 100}, doc: "one standard deviation, each axis; default none"},
}}

func volts(min, max float64) qty { return qty{quantity.Voltage, min, max} }

var batteryTable = &table{name: "a battery", doc: "The battery that feeds the board, and the board's measurement of it.", rows: []row{
	{key: "rate", is: hertz(200), need: true, doc: "measurements a second"},
	{key: "voltage", is: volts(0.5, 65), need: true, doc: "fresh and without load"},
	{key: "sag", is: volts(0, 65), doc: "lost over an hour on the bench; default none"},
	{key: "noise", is: volts(0, 10), doc: "one standard deviation; default none"},
	{key: "resolution", is: volts(0, 10), doc: "step of the measurement; default none"},
}}

var outputTable = &table{name: "an output", doc: "An output channel and what it does.", rows: []row{
	{key: "channel", is: number{1, 16, true}, need: true, doc: "as the board numbers it, from 1"},
	{key: "name", is: name{[]string{"OUTPUT"}, nameLetters}, need: true, doc: "a word, such as drogue"},
	{key: "does", is: does{}, need: true, doc: "ignite STAGE, separate STAGE, deploy STAGE.DEVICE, or nothing"},
}}

var linkTable = &table{name: "a link", doc: "The line to the board.", rows: []row{
	{key: "baud", is: number{1200, 4000000, true}, def: "115200", doc: "of a serial line"},
	{key: "lockstep", is: flag{}, def: "true", doc: "the board's clock can be driven by the harness"},
}}
