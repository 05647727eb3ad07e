package contract

import "slices"

// Version is the version of the contract that this package speaks.
const Version = 1

// MaxTail is the most bytes that a tail field carries.
const MaxTail = 64

// Message is one row of the table: the content of one type of frame.
type Message struct {
	Name    string // in capitals, as in documents
	Code    Code
	From    Direction
	Meaning string
	Fields  []Field
}

// Field is one field of a message, in the order of the bytes.
type Field struct {
	Name    string // lower case with underscores
	Type    Type
	Unit    string // of the least significant bit; empty for plain numbers and text
	Meaning string
}

// Direction says who sends a message.
type Direction uint8

// The two directions.
const (
	FromHost Direction = iota
	FromBoard
)

// String gives "host to board" or "board to host".
func (d Direction) String() string { return [...]string{"host to board", "board to host"}[d&1] }

// Type is the encoding of a field.
type Type string

// The types. Integers are little-endian, two's complement. Text is ASCII, padded with zero bytes. A
// tail takes what is left of the frame, at most MaxTail bytes, and stands last.
const (
	U8     Type = "u8"
	U16    Type = "u16"
	U32    Type = "u32"
	I16    Type = "i16"
	I32    Type = "i32"
	Text16 Type = "text16"
	Text24 Type = "text24"
	Tail   Type = "tail"
)

// Size is the number of bytes of a field of this type; 0 for a tail.
func (t Type) Size() int {
	switch t {
	case U8:
		return 1
	case U16, I16:
		return 2
	case U32, I32:
		return 4
	case Text16:
		return 16
	case Text24:
		return 24
	}
	return 0
}

// Sizes gives the least and the greatest number of bytes of the message's payload.
func (m *Message) Sizes() (least, most int) {
	for _, f := range m.Fields {
		least += f.Type.Size()
		if f.Type == Tail {
			most += MaxTail
		}
	}
	return least, least + most
}

// LineBytes is the greatest number of bytes of this message's frame on the line, with the delimiter. COBS adds
// exactly one byte to such short frames.
func (m *Message) LineBytes() int {
	_, most := m.Sizes()
	return most + overhead
}

// Table gives all messages, in order of their codes. The slice is the caller's own.
func Table() []Message { return slices.Clone(table) }

var timeField = Field{"time", U32, "us", "since the run began"}

var table = []Message{
	{"HELLO", 0x01, FromHost, "Begins a run, and begins it anew after a restart. The board answers WELCOME and forgets all settings.", []Field{
		{"version", U8, "", "of the contract"},
		{"mode", U8, "", "0 lockstep: TICK drives the board's clock; 1 real time: the board's own clock counts"},
		{"nonce", U32, "", "any number; WELCOME echoes it"},
		{"time", U32, "us", "the present time of the run"},
		{"imu_hz", U16, "Hz", "rate of IMU messages to come; 0: none"},
		{"baro_hz", U16, "Hz", "rate of BARO messages to come; 0: none"},
		{"gnss_hz", U8, "Hz", "rate of GNSS messages to come; 0: none"},
		{"battery_hz", U8, "Hz", "rate of BATTERY messages to come; 0: none"},
		{"role", Text16, "", "the board's place in the vehicle, such as sustainer"},
	}},
	{"SETTING", 0x02, FromHost, "Sets one of the board's own settings. The board answers ACCEPT.", []Field{
		{"name", Text24, "", "of the setting"},
		{"value", I32, "0.001", "in SI units"},
	}},
	{"IMU", 0x10, FromHost, "One sample of the accelerometer, the gyro, or both, in the parts' own axes.", []Field{
		timeField,
		{"has", U8, "", "bit 0: acceleration is fresh; bit 1: rate is fresh"},
		{"accel_x", I32, "mm/s2", "specific force"},
		{"accel_y", I32, "mm/s2", "specific force"},
		{"accel_z", I32, "mm/s2", "specific force"},
		{"gyro_x", I32, "urad/s", "angular rate"},
		{"gyro_y", I32, "urad/s", "angular rate"},
		{"gyro_z", I32, "urad/s", "angular rate"},
	}},
	{"BARO", 0x11, FromHost, "One sample of the barometer.", []Field{
		timeField,
		{"pressure", U32, "mPa", "static pressure"},
		{"temperature", I16, "0.01 degC", "of the barometer itself"},
	}},
	{"GNSS", 0x12, FromHost, "One fix of the GNSS receiver.", []Field{
		timeField,
		{"latitude", I32, "1e-7 deg", "north is positive"},
		{"longitude", I32, "1e-7 deg", "east is positive"},
		{"height", I32, "mm", "above mean sea level"},
		{"east", I32, "mm/s", "velocity"},
		{"north", I32, "mm/s", "velocity"},
		{"up", I32, "mm/s", "velocity"},
		{"fix", U8, "", "0 none, 2 horizontal only, 3 full"},
		{"satellites", U8, "", "used in the fix"},
	}},
	{"BATTERY", 0x13, FromHost, "One sample of the board's supply.", []Field{
		timeField,
		{"voltage", U16, "mV", "at the board"},
	}},
	{"COMMAND", 0x14, FromHost, "An operator's command.", []Field{
		timeField,
		{"command", U8, "", "1 arm, 2 disarm, 3 stage (light the upper motor)"},
	}},
	{"CIRCUITS", 0x15, FromHost, "What a continuity check reads at the outputs, in place of the board's own measurement: a channel that is neither open nor short has its load.", []Field{
		timeField,
		{"open", U16, "", "bit c-1: channel c is open: its igniter has burnt, its wire is lost, or nothing is connected"},
		{"shorted", U16, "", "bit c-1: channel c is shorted"},
	}},
	{"MAG", 0x16, FromHost, "One sample of the magnetometer, in the part's own axes.", []Field{
		timeField,
		{"field_x", I32, "nT", "magnetic flux density"},
		{"field_y", I32, "nT", "magnetic flux density"},
		{"field_z", I32, "nT", "magnetic flux density"},
	}},
	{"TICK", 0x20, FromHost, "All samples up to this time have been sent. In lockstep the board goes on to it, sends what it does, and answers DONE.", []Field{
		{"time", U32, "us", "what the board's clock now reads"},
	}},
	{"SYNC", 0x21, FromHost, "Asks for the board's clock, in real time. The board answers SYNCED at once.", []Field{
		{"time", U32, "us", "the host's; SYNCED echoes it"},
	}},
	{"RESTART", 0x22, FromHost, "The supply fails: all outputs off, memory lost but for what survives a power cut, silent until HELLO.", []Field{
		{"nonce", U32, "", "any number"},
	}},
	{"BYE", 0x23, FromHost, "The run is over: all outputs off and disarmed.", nil},
	{"TEST", 0x24, FromHost, "Asks for one short pulse of one output, to measure the bench itself. The board answers TESTED, and obeys only on the ground, unarmed and new.", []Field{
		{"nonce", U32, "", "any number; TESTED echoes it"},
		{"guard", U32, "", "HELLO's nonce, exclusive-or 0x9A7C5EED"},
		{"channel", U8, "", "from 1"},
		{"length", U16, "ms", "how long it is on, 1 to 500; the board's own clock ends it"},
	}},
	{"WELCOME", 0x81, FromBoard, "Answers HELLO. Sent unasked, it says that the board has restarted.", []Field{
		{"version", U8, "", "of the contract"},
		{"capabilities", U16, "", "bit 0 lockstep, 1 real time, 2 RESTART, 3 SETTING, 4 CONTINUITY, 5 COMMAND, 6 TEST, 7 CIRCUITS, 8 MAG"},
		{"channels", U8, "", "outputs, at most 16"},
		{"nonce", U32, "", "of the HELLO; 0 when unasked"},
		{"boots", U16, "", "how often the board has started, modulo 65536"},
		{"name", Text16, "", "of the firmware"},
	}},
	{"ACCEPT", 0x82, FromBoard, "Answers SETTING.", []Field{
		{"name", Text24, "", "of the setting"},
		{"value", I32, "0.001", "what it now is, in SI units"},
		{"known", U8, "", "1: the board has this setting; 0: it has not"},
	}},
	{"OUTPUT", 0x90, FromBoard, "An output has switched.", []Field{
		timeField,
		{"channel", U8, "", "from 1"},
		{"on", U8, "", "1 on, 0 off"},
	}},
	{"REPORT", 0x91, FromBoard, "What the board thinks.", []Field{
		timeField,
		{"phase", Text16, "", "the board's own word for the phase of flight"},
		{"height", I32, "mm", "above the pad"},
		{"speed", I32, "mm/s", "upwards"},
		{"apogee", I32, "mm", "greatest height so far, above the pad"},
	}},
	{"CONTINUITY", 0x92, FromBoard, "A measured resistance at an output.", []Field{
		timeField,
		{"channel", U8, "", "from 1"},
		{"resistance", U32, "mOhm", "4294967295: open"},
	}},
	{"LOG", 0x93, FromBoard, "A line of text for people.", []Field{
		timeField,
		{"text", Tail, "", "without an end of line"},
	}},
	{"DONE", 0xA0, FromBoard, "Answers TICK, after everything that the board did up to it.", []Field{
		{"time", U32, "us", "of the TICK"},
		{"armed", U8, "", "1: outputs may switch on"},
		{"outputs", U16, "", "bit c-1: channel c is on"},
		{"bad", U16, "", "corrupt frames received since it started; stays at 65535"},
		{"lost", U16, "", "missing frames since it started; stays at 65535"},
	}},
	{"SYNCED", 0xA1, FromBoard, "Answers SYNC.", []Field{
		{"time", U32, "us", "of the SYNC"},
		{"board_time", U32, "us", "the board's clock when SYNC came"},
	}},
	{"TESTED", 0xA2, FromBoard, "Answers TEST.", []Field{
		{"nonce", U32, "", "of the TEST"},
		{"channel", U8, "", "of the TEST"},
		{"refused", U8, "", "0 obeyed; 1 wrong guard word; 2 not in real time; 3 armed; 4 a sample or command has come since power-up, or a flight is remembered; 5 no such channel or length; 6 an output is on; 7 another reason"},
	}},
}
