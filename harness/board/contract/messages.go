// Code generated from the table by go generate; DO NOT EDIT.

package contract

// The codes of the messages.
const (
	CodeHello      Code = 0x01
	CodeSetting    Code = 0x02
	CodeIMU        Code = 0x10
	CodeBaro       Code = 0x11
	CodeGNSS       Code = 0x12
	CodeBattery    Code = 0x13
	CodeCommand    Code = 0x14
	CodeTick       Code = 0x20
	CodeSync       Code = 0x21
	CodeRestart    Code = 0x22
	CodeBye        Code = 0x23
	CodeTest       Code = 0x24
	CodeWelcome    Code = 0x81
	CodeAccept     Code = 0x82
	CodeOutput     Code = 0x90
	CodeReport     Code = 0x91
	CodeContinuity Code = 0x92
	CodeLog        Code = 0x93
	CodeDone       Code = 0xa0
	CodeSynced     Code = 0xa1
	CodeTested     Code = 0xa2
)

// String gives the message's name, or the code in hexadecimal if the table has none.
func (c Code) String() string {
	switch c {
	case CodeHello:
		return "HELLO"
	case CodeSetting:
		return "SETTING"
	case CodeIMU:
		return "IMU"
	case CodeBaro:
		return "BARO"
	case CodeGNSS:
		return "GNSS"
	case CodeBattery:
		return "BATTERY"
	case CodeCommand:
		return "COMMAND"
	case CodeTick:
		return "TICK"
	case CodeSync:
		return "SYNC"
	case CodeRestart:
		return "RESTART"
	case CodeBye:
		return "BYE"
	case CodeTest:
		return "TEST"
	case CodeWelcome:
		return "WELCOME"
	case CodeAccept:
		return "ACCEPT"
	case CodeOutput:
		return "OUTPUT"
	case CodeReport:
		return "REPORT"
	case CodeContinuity:
		return "CONTINUITY"
	case CodeLog:
		return "LOG"
	case CodeDone:
		return "DONE"
	case CodeSynced:
		return "SYNCED"
	case CodeTested:
		return "TESTED"
	}
	const hex = "0123456789abcdef"
	return string([]byte{'0', 'x', hex[c>>4], hex[c&15]})
}

// Hello is HELLO (host to board). Begins a run, and begins it anew after a restart. The board answers WELCOME and forgets all settings.
type Hello struct {
	Version   uint8    // of the contract
	Mode      uint8    // 0 lockstep: TICK drives the board's clock; 1 real time: the board's own clock counts
	Nonce     uint32   // any number; WELCOME echoes it
	Time      uint32   // us; the present time of the run
	IMUHz     uint16   // Hz; rate of IMU messages to come; 0: none
	BaroHz    uint16   // Hz; rate of BARO messages to come; 0: none
	GNSSHz    uint8    // Hz; rate of GNSS messages to come; 0: none
	BatteryHz uint8    // Hz; rate of BATTERY messages to come; 0: none
	Role      [16]byte // the board's place in the vehicle, such as sustainer
}

// Hello appends the frame of a HELLO message to dst.
func (e *Encoder) Hello(dst []byte, m *Hello) []byte {
	p, first := e.open(CodeHello)
	le.PutUint64(p[0:], first|uint64(m.Version)<<16|uint64(m.Mode)<<24|uint64(m.Nonce)<<32)
	le.PutUint64(p[8:], uint64(m.Time)|uint64(m.IMUHz)<<32|uint64(m.BaroHz)<<48)
	le.PutUint64(p[16:], uint64(m.GNSSHz)|uint64(m.BatteryHz)<<8|le.Uint64(m.Role[0:])<<16)
	le.PutUint64(p[24:], le.Uint64(m.Role[0:])>>48|le.Uint64(m.Role[8:])<<16)
	last := le.Uint64(m.Role[8:]) >> 48
	le.PutUint64(p[32:], last|behind<<16)
	crc := e.sum(34)
	le.PutUint64(p[32:], last|crc<<16|behind<<48)
	return stuff(dst, &e.content, 38)
}

// Decode takes the fields from the payload of a frame. The error is ErrLength.
func (m *Hello) Decode(p []byte) error {
	if len(p) != 32 {
		return ErrLength
	}
	m.Version = p[0]
	m.Mode = p[1]
	m.Nonce = le.Uint32(p[2:])
	m.Time = le.Uint32(p[6:])
	m.IMUHz = le.Uint16(p[10:])
	m.BaroHz = le.Uint16(p[12:])
	m.GNSSHz = p[14]
	m.BatteryHz = p[15]
	m.Role = [16]byte(p[16:])
	return nil
}

// Setting is SETTING (host to board). Sets one of the board's own settings. The board answers ACCEPT.
type Setting struct {
	Name  [24]byte // of the setting
	Value int32    // 0.001; in SI units
}

// Setting appends the frame of a SETTING message to dst.
func (e *Encoder) Setting(dst []byte, m *Setting) []byte {
	p, first := e.open(CodeSetting)
	le.PutUint64(p[0:], first|le.Uint64(m.Name[0:])<<16)
	le.PutUint64(p[8:], le.Uint64(m.Name[0:])>>48|le.Uint64(m.Name[8:])<<16)
	le.PutUint64(p[16:], le.Uint64(m.Name[8:])>>48|le.Uint64(m.Name[16:])<<16)
	last := le.Uint64(m.Name[16:])>>48 | uint64(uint32(m.Value))<<16
	le.PutUint64(p[24:], last|behind<<48)
	crc := e.sum(30)
	le.PutUint64(p[24:], last|crc<<48)
	le.PutUint64(p[32:], crc>>16|behind<<16)
	return stuff(dst, &e.content, 34)
}

// Decode takes the fields from the payload of a frame. The error is ErrLength.
func (m *Setting) Decode(p []byte) error {
	if len(p) != 28 {
		return ErrLength
	}
	m.Name = [24]byte(p[0:])
	m.Value = int32(le.Uint32(p[24:]))
	return nil
}

// IMU is IMU (host to board). One sample of the accelerometer, the gyro, or both, in the parts' own axes.
type IMU struct {
	Time   uint32 // us; since the run began
	Has    uint8  // bit 0: acceleration is fresh; bit 1: rate is fresh
	AccelX int32  // mm/s2; specific force
	AccelY int32  // mm/s2; specific force
	AccelZ int32  // mm/s2; specific force
	GyroX  int32  // urad/s; angular rate
	GyroY  int32  // urad/s; angular rate
	GyroZ  int32  // urad/s; angular rate
}

// IMU appends the frame of a IMU message to dst.
func (e *Encoder) IMU(dst []byte, m *IMU) []byte {
	p, first := e.open(CodeIMU)
	le.PutUint64(p[0:], first|uint64(m.Time)<<16|uint64(m.Has)<<48|uint64(uint32(m.AccelX))<<56)
	le.PutUint64(p[8:], uint64(uint32(m.AccelX))>>8|uint64(uint32(m.AccelY))<<24|uint64(uint32(m.AccelZ))<<56)
	le.PutUint64(p[16:], uint64(uint32(m.AccelZ))>>8|uint64(uint32(m.GyroX))<<24|uint64(uint32(m.GyroY))<<56)
	last := uint64(uint32(m.GyroY))>>8 | uint64(uint32(m.GyroZ))<<24
	le.PutUint64(p[24:], last|behind<<56)
	crc := e.sum(31)
	le.PutUint64(p[24:], last|crc<<56)
	le.PutUint64(p[32:], crc>>8|behind<<24)
	return stuff(dst, &e.content, 35)
}

// Decode takes the fields from the payload of a frame. The error is ErrLength.
func (m *IMU) Decode(p []byte) error {
	if len(p) != 29 {
		return ErrLength
	}
	m.Time = le.Uint32(p[0:])
	m.Has = p[4]
	m.AccelX = int32(le.Uint32(p[5:]))
	m.AccelY = int32(le.Uint32(p[9:]))
	m.AccelZ = int32(le.Uint32(p[13:]))
	m.GyroX = int32(le.Uint32(p[17:]))
	m.GyroY = int32(le.Uint32(p[21:]))
	m.GyroZ = int32(le.Uint32(p[25:]))
	return nil
}

// Baro is BARO (host to board). One sample of the barometer.
type Baro struct {
	Time        uint32 // us; since the run began
	Pressure    uint32 // mPa; static pressure
	Temperature int16  // 0.01 degC; of the barometer itself
}

// Baro appends the frame of a BARO message to dst.
func (e *Encoder) Baro(dst []byte, m *Baro) []byte {
	p, first := e.open(CodeBaro)
	le.PutUint64(p[0:], first|uint64(m.Time)<<16|uint64(m.Pressure)<<48)
	last := uint64(m.Pressure)>>16 | uint64(uint16(m.Temperature))<<16
	le.PutUint64(p[8:], last|behind<<32)
	crc := e.sum(12)
	le.PutUint64(p[8:], last|crc<<32)
	le.PutUint64(p[16:], crc>>32|behind<<0)
	return stuff(dst, &e.content, 16)
}

// Decode takes the fields from the payload of a frame. The error is ErrLength.
func (m *Baro) Decode(p []byte) error {
	if len(p) != 10 {
		return ErrLength
	}
	m.Time = le.Uint32(p[0:])
	m.Pressure = le.Uint32(p[4:])
	m.Temperature = int16(le.Uint16(p[8:]))
	return nil
}

// GNSS is GNSS (host to board). One fix of the GNSS receiver.
type GNSS struct {
	Time       uint32 // us; since the run began
	Latitude   int32  // 1e-7 deg; north is positive
	Longitude  int32  // 1e-7 deg; east is positive
	Height     int32  // mm; above mean sea level
	East       int32  // mm/s; velocity
	North      int32  // mm/s; velocity
	Up         int32  // mm/s; velocity
	Fix        uint8  // 0 none, 2 horizontal only, 3 full
	Satellites uint8  // used in the fix
}

// GNSS appends the frame of a GNSS message to dst.
func (e *Encoder) GNSS(dst []byte, m *GNSS) []byte {
	p, first := e.open(CodeGNSS)
	le.PutUint64(p[0:], first|uint64(m.Time)<<16|uint64(uint32(m.Latitude))<<48)
	le.PutUint64(p[8:], uint64(uint32(m.Latitude))>>16|uint64(uint32(m.Longitude))<<16|uint64(uint32(m.Height))<<48)
	le.PutUint64(p[16:], uint64(uint32(m.Height))>>16|uint64(uint32(m.East))<<16|uint64(uint32(m.North))<<48)
	le.PutUint64(p[24:], uint64(uint32(m.North))>>16|uint64(uint32(m.Up))<<16|uint64(m.Fix)<<48|uint64(m.Satellites)<<56)
	crc := e.sum(32)
	le.PutUint64(p[32:], crc<<0|behind<<32)
	return stuff(dst, &e.content, 36)
}

// Decode takes the fields from the payload of a frame. The error is ErrLength.
func (m *GNSS) Decode(p []byte) error {
	if len(p) != 30 {
		return ErrLength
	}
	m.Time = le.Uint32(p[0:])
	m.Latitude = int32(le.Uint32(p[4:]))
	m.Longitude = int32(le.Uint32(p[8:]))
	m.Height = int32(le.Uint32(p[12:]))
	m.East = int32(le.Uint32(p[16:]))
	m.North = int32(le.Uint32(p[20:]))
	m.Up = int32(le.Uint32(p[24:]))
	m.Fix = p[28]
	m.Satellites = p[29]
	return nil
}

// Battery is BATTERY (host to board). One sample of the board's supply.
type Battery struct {
	Time    uint32 // us; since the run began
	Voltage uint16 // mV; at the board
}

// Battery appends the frame of a BATTERY message to dst.
func (e *Encoder) Battery(dst []byte, m *Battery) []byte {
	p, first := e.open(CodeBattery)
	le.PutUint64(p[0:], first|uint64(m.Time)<<16|uint64(m.Voltage)<<48)
	crc := e.sum(8)
	le.PutUint64(p[8:], crc<<0|behind<<32)
	return stuff(dst, &e.content, 12)
}

// Decode takes the fields from the payload of a frame. The error is ErrLength.
func (m *Battery) Decode(p []byte) error {
	if len(p) != 6 {
		return ErrLength
	}
	m.Time = le.Uint32(p[0:])
	m.Voltage = le.Uint16(p[4:])
	return nil
}

// Command is COMMAND (host to board). An operator's command.
type Command struct {
	Time    uint32 // us; since the run began
	Command uint8  // 1 arm, 2 disarm, 3 stage (light the upper motor)
}

// Command appends the frame of a COMMAND message to dst.
func (e *Encoder) Command(dst []byte, m *Command) []byte {
	p, first := e.open(CodeCommand)
	last := first | uint64(m.Time)<<16 | uint64(m.Command)<<48
	le.PutUint64(p[0:], last|behind<<56)
	crc := e.sum(7)
	le.PutUint64(p[0:], last|crc<<56)
	le.PutUint64(p[8:], crc>>8|behind<<24)
	return stuff(dst, &e.content, 11)
}

// Decode takes the fields from the payload of a frame. The error is ErrLength.
func (m *Command) Decode(p []byte) error {
	if len(p) != 5 {
		return ErrLength
	}
	m.Time = le.Uint32(p[0:])
	m.Command = p[4]
	return nil
}

// Tick is TICK (host to board). All samples up to this time have been sent. In lockstep the board goes on to it, sends what it does, and answers DONE.
type Tick struct {
	Time uint32 // us; what the board's clock now reads
}

// Tick appends the frame of a TICK message to dst.
func (e *Encoder) Tick(dst []byte, m *Tick) []byte {
	p, first := e.open(CodeTick)
	last := first | uint64(m.Time)<<16
	le.PutUint64(p[0:], last|behind<<48)
	crc := e.sum(6)
	le.PutUint64(p[0:], last|crc<<48)
	le.PutUint64(p[8:], crc>>16|behind<<16)
	return stuff(dst, &e.content, 10)
}

// Decode takes the fields from the payload of a frame. The error is ErrLength.
func (m *Tick) Decode(p []byte) error {
	if len(p) != 4 {
		return ErrLength
	}
	m.Time = le.Uint32(p[0:])
	return nil
}

// Sync is SYNC (host to board). Asks for the board's clock, in real time. The board answers SYNCED at once.
type Sync struct {
	Time uint32 // us; the host's; SYNCED echoes it
}

// Sync appends the frame of a SYNC message to dst.
func (e *Encoder) Sync(dst []byte, m *Sync) []byte {
	p, first := e.open(CodeSync)
	last := first | uint64(m.Time)<<16
	le.PutUint64(p[0:], last|behind<<48)
	crc := e.sum(6)
	le.PutUint64(p[0:], last|crc<<48)
	le.PutUint64(p[8:], crc>>16|behind<<16)
	return stuff(dst, &e.content, 10)
}

// Decode takes the fields from the payload of a frame. The error is ErrLength.
func (m *Sync) Decode(p []byte) error {
	if len(p) != 4 {
		return ErrLength
	}
	m.Time = le.Uint32(p[0:])
	return nil
}

// Restart is RESTART (host to board). The supply fails: all outputs off, memory lost but for what survives a power cut, silent until HELLO.
type Restart struct {
	Nonce uint32 // any number
}

// Restart appends the frame of a RESTART message to dst.
func (e *Encoder) Restart(dst []byte, m *Restart) []byte {
	p, first := e.open(CodeRestart)
	last := first | uint64(m.Nonce)<<16
	le.PutUint64(p[0:], last|behind<<48)
	crc := e.sum(6)
	le.PutUint64(p[0:], last|crc<<48)
	le.PutUint64(p[8:], crc>>16|behind<<16)
	return stuff(dst, &e.content, 10)
}

// Decode takes the fields from the payload of a frame. The error is ErrLength.
func (m *Restart) Decode(p []byte) error {
	if len(p) != 4 {
		return ErrLength
	}
	m.Nonce = le.Uint32(p[0:])
	return nil
}

// Bye is BYE (host to board). The run is over: all outputs off and disarmed.
type Bye struct {
}

// Bye appends the frame of a BYE message to dst.
func (e *Encoder) Bye(dst []byte, m *Bye) []byte {
	p, first := e.open(CodeBye)
	last := first
	le.PutUint64(p[0:], last|behind<<16)
	crc := e.sum(2)
	le.PutUint64(p[0:], last|crc<<16|behind<<48)
	return stuff(dst, &e.content, 6)
}

// Decode takes the fields from the payload of a frame. The error is ErrLength.
func (m *Bye) Decode(p []byte) error {
	if len(p) != 0 {
		return ErrLength
	}
	return nil
}

// Test is TEST (host to board). Asks for one short pulse of one output, to measure the bench itself. The board answers TESTED, and obeys only on the ground, unarmed and new.
type Test struct {
	Nonce   uint32 // any number; TESTED echoes it
	Guard   uint32 // HELLO's nonce, exclusive-or 0x9A7C5EED
	Channel uint8  // from 1
	Length  uint16 // ms; how long it is on, 1 to 500; the board's own clock ends it
}

// Test appends the frame of a TEST message to dst.
func (e *Encoder) Test(dst []byte, m *Test) []byte {
	p, first := e.open(CodeTest)
	le.PutUint64(p[0:], first|uint64(m.Nonce)<<16|uint64(m.Guard)<<48)
	last := uint64(m.Guard)>>16 | uint64(m.Channel)<<16 | uint64(m.Length)<<24
	le.PutUint64(p[8:], last|behind<<40)
	crc := e.sum(13)
	le.PutUint64(p[8:], last|crc<<40)
	le.PutUint64(p[16:], crc>>24|behind<<8)
	return stuff(dst, &e.content, 17)
}

// Decode takes the fields from the payload of a frame. The error is ErrLength.
func (m *Test) Decode(p []byte) error {
	if len(p) != 11 {
		return ErrLength
	}
	m.Nonce = le.Uint32(p[0:])
	m.Guard = le.Uint32(p[4:])
	m.Channel = p[8]
	m.Length = le.Uint16(p[9:])
	return nil
}

// Welcome is WELCOME (board to host). Answers HELLO. Sent unasked, it says that the board has restarted.
type Welcome struct {
	Version      uint8    // of the contract
	Capabilities uint16   // bit 0 lockstep, 1 real time, 2 RESTART, 3 SETTING, 4 CONTINUITY, 5 COMMAND, 6 TEST
	Channels     uint8    // outputs, at most 16
	Nonce        uint32   // of the HELLO; 0 when unasked
	Boots        uint16   // how often the board has started, modulo 65536
	Name         [16]byte // of the firmware
}

// Welcome appends the frame of a WELCOME message to dst.
func (e *Encoder) Welcome(dst []byte, m *Welcome) []byte {
	p, first := e.open(CodeWelcome)
	le.PutUint64(p[0:], first|uint64(m.Version)<<16|uint64(m.Capabilities)<<24|uint64(m.Channels)<<40|uint64(m.Nonce)<<48)
	le.PutUint64(p[8:], uint64(m.Nonce)>>16|uint64(m.Boots)<<16|le.Uint64(m.Name[0:])<<32)
	le.PutUint64(p[16:], le.Uint64(m.Name[0:])>>32|le.Uint64(m.Name[8:])<<32)
	last := le.Uint64(m.Name[8:]) >> 32
	le.PutUint64(p[24:], last|behind<<32)
	crc := e.sum(28)
	le.PutUint64(p[24:], last|crc<<32)
	le.PutUint64(p[32:], crc>>32|behind<<0)
	return stuff(dst, &e.content, 32)
}

// Decode takes the fields from the payload of a frame. The error is ErrLength.
func (m *Welcome) Decode(p []byte) error {
	if len(p) != 26 {
		return ErrLength
	}
	m.Version = p[0]
	m.Capabilities = le.Uint16(p[1:])
	m.Channels = p[3]
	m.Nonce = le.Uint32(p[4:])
	m.Boots = le.Uint16(p[8:])
	m.Name = [16]byte(p[10:])
	return nil
}

// Accept is ACCEPT (board to host). Answers SETTING.
type Accept struct {
	Name  [24]byte // of the setting
	Value int32    // 0.001; what it now is, in SI units
	Known uint8    // 1: the board has this setting; 0: it has not
}

// Accept appends the frame of a ACCEPT message to dst.
func (e *Encoder) Accept(dst []byte, m *Accept) []byte {
	p, first := e.open(CodeAccept)
	le.PutUint64(p[0:], first|le.Uint64(m.Name[0:])<<16)
	le.PutUint64(p[8:], le.Uint64(m.Name[0:])>>48|le.Uint64(m.Name[8:])<<16)
	le.PutUint64(p[16:], le.Uint64(m.Name[8:])>>48|le.Uint64(m.Name[16:])<<16)
	last := le.Uint64(m.Name[16:])>>48 | uint64(uint32(m.Value))<<16 | uint64(m.Known)<<48
	le.PutUint64(p[24:], last|behind<<56)
	crc := e.sum(31)
	le.PutUint64(p[24:], last|crc<<56)
	le.PutUint64(p[32:], crc>>8|behind<<24)
	return stuff(dst, &e.content, 35)
}

// Decode takes the fields from the payload of a frame. The error is ErrLength.
func (m *Accept) Decode(p []byte) error {
	if len(p) != 29 {
		return ErrLength
	}
	m.Name = [24]byte(p[0:])
	m.Value = int32(le.Uint32(p[24:]))
	m.Known = p[28]
	return nil
}

// Output is OUTPUT (board to host). An output has switched.
type Output struct {
	Time    uint32 // us; since the run began
	Channel uint8  // from 1
	On      uint8  // 1 on, 0 off
}

// Output appends the frame of a OUTPUT message to dst.
func (e *Encoder) Output(dst []byte, m *Output) []byte {
	p, first := e.open(CodeOutput)
	le.PutUint64(p[0:], first|uint64(m.Time)<<16|uint64(m.Channel)<<48|uint64(m.On)<<56)
	crc := e.sum(8)
	le.PutUint64(p[8:], crc<<0|behind<<32)
	return stuff(dst, &e.content, 12)
}

// Decode takes the fields from the payload of a frame. The error is ErrLength.
func (m *Output) Decode(p []byte) error {
	if len(p) != 6 {
		return ErrLength
	}
	m.Time = le.Uint32(p[0:])
	m.Channel = p[4]
	m.On = p[5]
	return nil
}

// Report is REPORT (board to host). What the board thinks.
type Report struct {
	Time   uint32   // us; since the run began
	Phase  [16]byte // the board's own word for the phase of flight
	Height int32    // mm; above the pad
	Speed  int32    // mm/s; upwards
	Apogee int32    // mm; greatest height so far, above the pad
}

// Report appends the frame of a REPORT message to dst.
func (e *Encoder) Report(dst []byte, m *Report) []byte {
	p, first := e.open(CodeReport)
	le.PutUint64(p[0:], first|uint64(m.Time)<<16|le.Uint64(m.Phase[0:])<<48)
	le.PutUint64(p[8:], le.Uint64(m.Phase[0:])>>16|le.Uint64(m.Phase[8:])<<48)
	le.PutUint64(p[16:], le.Uint64(m.Phase[8:])>>16|uint64(uint32(m.Height))<<48)
	le.PutUint64(p[24:], uint64(uint32(m.Height))>>16|uint64(uint32(m.Speed))<<16|uint64(uint32(m.Apogee))<<48)
	last := uint64(uint32(m.Apogee)) >> 16
	le.PutUint64(p[32:], last|behind<<16)
	crc := e.sum(34)
	le.PutUint64(p[32:], last|crc<<16|behind<<48)
	return stuff(dst, &e.content, 38)
}

// Decode takes the fields from the payload of a frame. The error is ErrLength.
func (m *Report) Decode(p []byte) error {
	if len(p) != 32 {
		return ErrLength
	}
	m.Time = le.Uint32(p[0:])
	m.Phase = [16]byte(p[4:])
	m.Height = int32(le.Uint32(p[20:]))
	m.Speed = int32(le.Uint32(p[24:]))
	m.Apogee = int32(le.Uint32(p[28:]))
	return nil
}

// Continuity is CONTINUITY (board to host). A measured resistance at an output.
type Continuity struct {
	Time       uint32 // us; since the run began
	Channel    uint8  // from 1
	Resistance uint32 // mOhm; 4294967295: open
}

// Continuity appends the frame of a CONTINUITY message to dst.
func (e *Encoder) Continuity(dst []byte, m *Continuity) []byte {
	p, first := e.open(CodeContinuity)
	le.PutUint64(p[0:], first|uint64(m.Time)<<16|uint64(m.Channel)<<48|uint64(m.Resistance)<<56)
	last := uint64(m.Resistance) >> 8
	le.PutUint64(p[8:], last|behind<<24)
	crc := e.sum(11)
	le.PutUint64(p[8:], last|crc<<24|behind<<56)
	return stuff(dst, &e.content, 15)
}

// Decode takes the fields from the payload of a frame. The error is ErrLength.
func (m *Continuity) Decode(p []byte) error {
	if len(p) != 9 {
		return ErrLength
	}
	m.Time = le.Uint32(p[0:])
	m.Channel = p[4]
	m.Resistance = le.Uint32(p[5:])
	return nil
}

// Log is LOG (board to host). A line of text for people.
type Log struct {
	Time uint32 // us; since the run began
	Text []byte // without an end of line
}

// Log appends the frame of a LOG message to dst.
func (e *Encoder) Log(dst []byte, m *Log) []byte {
	p, first := e.open(CodeLog)
	le.PutUint64(p[0:], first|uint64(m.Time)<<16)
	n := copy(p[6:70], m.Text)
	return e.shut(dst, 4+n)
}

// Decode takes the fields from the payload of a frame. The tail shares p's memory. The error is ErrLength.
func (m *Log) Decode(p []byte) error {
	if len(p) < 4 || len(p) > 68 {
		return ErrLength
	}
	m.Time = le.Uint32(p[0:])
	m.Text = p[4:]
	return nil
}

// Done is DONE (board to host). Answers TICK, after everything that the board did up to it.
type Done struct {
	Time    uint32 // us; of the TICK
	Armed   uint8  // 1: outputs may switch on
	Outputs uint16 // bit c-1: channel c is on
	Bad     uint16 // corrupt frames received since it started; stays at 65535
	Lost    uint16 // missing frames since it started; stays at 65535
}

// Done appends the frame of a DONE message to dst.
func (e *Encoder) Done(dst []byte, m *Done) []byte {
	p, first := e.open(CodeDone)
	le.PutUint64(p[0:], first|uint64(m.Time)<<16|uint64(m.Armed)<<48|uint64(m.Outputs)<<56)
	last := uint64(m.Outputs)>>8 | uint64(m.Bad)<<8 | uint64(m.Lost)<<24
	le.PutUint64(p[8:], last|behind<<40)
	crc := e.sum(13)
	le.PutUint64(p[8:], last|crc<<40)
	le.PutUint64(p[16:], crc>>24|behind<<8)
	return stuff(dst, &e.content, 17)
}

// Decode takes the fields from the payload of a frame. The error is ErrLength.
func (m *Done) Decode(p []byte) error {
	if len(p) != 11 {
		return ErrLength
	}
	m.Time = le.Uint32(p[0:])
	m.Armed = p[4]
	m.Outputs = le.Uint16(p[5:])
	m.Bad = le.Uint16(p[7:])
	m.Lost = le.Uint16(p[9:])
	return nil
}

// Synced is SYNCED (board to host). Answers SYNC.
type Synced struct {
	Time      uint32 // us; of the SYNC
	BoardTime uint32 // us; the board's clock when SYNC came
}

// Synced appends the frame of a SYNCED message to dst.
func (e *Encoder) Synced(dst []byte, m *Synced) []byte {
	p, first := e.open(CodeSynced)
	le.PutUint64(p[0:], first|uint64(m.Time)<<16|uint64(m.BoardTime)<<48)
	last := uint64(m.BoardTime) >> 16
	le.PutUint64(p[8:], last|behind<<16)
	crc := e.sum(10)
	le.PutUint64(p[8:], last|crc<<16|behind<<48)
	return stuff(dst, &e.content, 14)
}

// Decode takes the fields from the payload of a frame. The error is ErrLength.
func (m *Synced) Decode(p []byte) error {
	if len(p) != 8 {
		return ErrLength
	}
	m.Time = le.Uint32(p[0:])
	m.BoardTime = le.Uint32(p[4:])
	return nil
}

// Tested is TESTED (board to host). Answers TEST.
type Tested struct {
	Nonce   uint32 // of the TEST
	Channel uint8  // of the TEST
	Refused uint8  // 0 obeyed; 1 wrong guard word; 2 not in real time; 3 armed; 4 a sample or command has come since power-up, or a flight is remembered; 5 no such channel or length; 6 an output is on; 7 another reason
}

// Tested appends the frame of a TESTED message to dst.
func (e *Encoder) Tested(dst []byte, m *Tested) []byte {
	p, first := e.open(CodeTested)
	le.PutUint64(p[0:], first|uint64(m.Nonce)<<16|uint64(m.Channel)<<48|uint64(m.Refused)<<56)
	crc := e.sum(8)
	le.PutUint64(p[8:], crc<<0|behind<<32)
	return stuff(dst, &e.content, 12)
}

// Decode takes the fields from the payload of a frame. The error is ErrLength.
func (m *Tested) Decode(p []byte) error {
	if len(p) != 6 {
		return ErrLength
	}
	m.Nonce = le.Uint32(p[0:])
	m.Channel = p[4]
	m.Refused = p[5]
	return nil
}
