package scenario

import (
	"drystage/harness"
	"drystage/sim/quantity"
)

var wiringTable = blockOf("a wiring", "What is connected to an emulated chip whose firmware doesn't speak the contract: stand-in sensors on its buses, and what its pins do. `--board 'avr:FIRMWARE.elf?wiring=FILE'` flies it.", func(w *harness.Wiring) []row {
	return []row{
		kindRow("wiring"),
		{key: "name", is: textLine{most: 60}, need: true, doc: "what the flight computer is called"},
		{key: "chip", is: name{[]string{"CHIP"}, nameLetters}, def: "atmega2560", doc: "as the emulator names it", to: &w.Chip},
		{key: "clock", is: quantityShape{quantity.Frequency, 1e6, 20e6}, def: "16000000 Hz", doc: "of the chip", to: &w.Clock},
		{key: "parts", is: namedBlocks{of: wiredPartTable, least: 1, most: 8, letters: nameLetters, what: "a part"}, need: true, doc: "the sensors, each by a name of yours"},
		{key: "outputs", is: listShape{wiredOutputTable, 1, 16}, need: true, doc: "the pins that are outputs, by the channels of the board's file"},
		{key: "switches", is: listShape{wiredSwitchTable, 0, 4}, doc: "inputs that an operator's commands switch, and wires that break"},
		{key: "receivers", is: listShape{wiredReceiverTable, 0, 1}, doc: "a GNSS receiver on a serial line of the chip"},
		{key: "analogue", is: listShape{wiredInputTable, 0, 16}, doc: "what the analogue inputs measure"},
		{key: "settings", is: settingsShape, doc: "what the firmware is built with: the board answers a scenario's setting with that, so that another value is refused"},
		{key: "settings_list", is: filePath{}, doc: "the file that says what these settings are; default those of the built-in board"},
		{key: "faults", is: listShape{wiredFaultTable, 0, 16}, doc: "faults of the buses, by the time of the run"},
	}
})

var (
	levelWord = words{"low", "high"}
	partWord  = words{"ms5611", "bmp280", "mpu6050", "adxl375", "mag3110"}
)

var wiredPartTable = &table{name: "a part", doc: "A stand-in part.", rows: []row{
	{key: "part", is: partWord, need: true, doc: "its type"},
	{key: "bus", is: words{"i2c", "spi"}, need: true, doc: "which bus it is on"},
	{key: "address", is: busAddress{}, doc: "on I2C, seven bits, as 104 or 0x68"},
	{key: "select", is: chipPin{}, doc: "on SPI, the pin that selects it while it is low"},
	{key: "interrupt", is: chipPin{}, doc: "the pin of the chip at its interrupt output; default none"},
}}

var wiredOutputTable = &table{name: "an output", doc: "A pin that is an output channel.", rows: []row{
	{key: "channel", is: number{1, 16, true}, need: true, doc: "of the board's file"},
	{key: "pin", is: chipPin{}, need: true, doc: "of the chip, such as PA0"},
	{key: "active", is: levelWord, def: "high", doc: "the level that is on"},
}}

var wiredSwitchTable = &table{name: "a switch", doc: "An input that a command switches, or that a wire holds until it breaks.", rows: []row{
	{key: "does", is: words{"arm", "stage", "breakwire"}, need: true, doc: "arm is on from the command arm to disarm, also over a loss of power; stage from the command stage on; breakwire while the circuit of a channel is whole, until the fault wire_lost (the board's file needs continuity)"},
	{key: "channel", is: number{1, 16, true}, doc: "breakwire: the channel of the board's file that stands for the wire"},
	{key: "pin", is: chipPin{}, need: true, doc: "of the chip"},
	{key: "active", is: levelWord, def: "low", doc: "the level that is on"},
}}

var wiredReceiverTable = &table{name: "a receiver", doc: "A GNSS receiver that sends GGA and RMC of NMEA 0183 with each fix.", rows: []row{
	{key: "line", is: number{1, 3, true}, need: true, doc: "the number of the chip's USART that hears it"},
	{key: "baud", is: number{1200, 230400, true}, def: "9600", doc: "how fast it sends; a chip that is set to another rate reads rubbish"},
}}

var wiredInputTable = &table{name: "an analogue input", doc: "What an analogue input of the chip measures.", rows: []row{
	{key: "input", is: number{0, 15, true}, need: true, doc: "the number of the input"},
	{key: "reads", is: words{"battery", "circuit"}, need: true, doc: "the battery's voltage, or the continuity of an output"},
	{key: "share", is: number{min: 0.01, max: 1}, doc: "battery: of its voltage, at the input"},
	{key: "channel", is: number{1, 16, true}, doc: "circuit: the output"},
	{key: "good", is: volts(0, 5), doc: "circuit: the voltage with a whole igniter"},
	{key: "open", is: volts(0, 5), doc: "circuit: the voltage with none"},
	{key: "shorted", is: volts(0, 5), doc: "circuit: the voltage with a short"},
}}

var wiredFaultTable = &table{name: "a fault of a bus", doc: "What a part does on its bus for a while.", rows: []row{
	{key: "part", is: name{[]string{"NAME"}, nameLetters}, need: true, doc: "its name among the parts"},
	{key: "fault", is: words{"silent", "stuck", "identity", "flips", "stretch", "reset"}, need: true, doc: "silent: it doesn't answer; stuck: it holds the data line low; identity: another part's identity, or a wrong calibration word; flips: one bit error in so many bytes; stretch: it holds the clock before each byte, for so many microseconds; reset: it loses its supply for a moment"},
	{key: "from", is: seconds(0, 3600), need: true, doc: "the time of the run at which it begins"},
	{key: "to", is: seconds(0, 3600), def: "3600 s", doc: "the time at which it ends"},
	{key: "value", is: number{1, 1e6, true}, def: "1", doc: "of flips bytes, of stretch microseconds, of identity the bits that are wrong"},
}}
