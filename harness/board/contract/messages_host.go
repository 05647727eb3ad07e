// Code generated from the table by go generate; DO NOT EDIT.

package contract

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
