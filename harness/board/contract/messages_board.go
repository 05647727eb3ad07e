// Code generated from the table by go generate; DO NOT EDIT.

package contract

// Welcome is WELCOME (board to host). Answers HELLO. Sent unasked, it says that the board has restarted.
type Welcome struct {
	Version      uint8    // of the contract
	Capabilities uint16   // bit 0 lockstep, 1 real time, 2 RESTART, 3 SETTING, 4 CONTINUITY, 5 COMMAND, 6 TEST, 7 CIRCUITS, 8 MAG
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
