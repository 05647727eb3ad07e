// Code generated from the table by go generate; DO NOT EDIT.

package contract

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

// Circuits is CIRCUITS (host to board). What a continuity check reads at the outputs, in place of the board's own measurement: a channel that is neither open nor short has its load.
type Circuits struct {
	Time    uint32 // us; since the run began
	Open    uint16 // bit c-1: channel c is open: its igniter has burnt, its wire is lost, or nothing is connected
	Shorted uint16 // bit c-1: channel c is shorted
}

// Circuits appends the frame of a CIRCUITS message to dst.
func (e *Encoder) Circuits(dst []byte, m *Circuits) []byte {
	p, first := e.open(CodeCircuits)
	le.PutUint64(p[0:], first|uint64(m.Time)<<16|uint64(m.Open)<<48)
	last := uint64(m.Shorted)
	le.PutUint64(p[8:], last|behind<<16)
	crc := e.sum(10)
	le.PutUint64(p[8:], last|crc<<16|behind<<48)
	return stuff(dst, &e.content, 14)
}

// Decode takes the fields from the payload of a frame. The error is ErrLength.
func (m *Circuits) Decode(p []byte) error {
	if len(p) != 8 {
		return ErrLength
	}
	m.Time = le.Uint32(p[0:])
	m.Open = le.Uint16(p[4:])
	m.Shorted = le.Uint16(p[6:])
	return nil
}

// Mag is MAG (host to board). One sample of the magnetometer, in the part's own axes.
type Mag struct {
	Time   uint32 // us; since the run began
	FieldX int32  // nT; magnetic flux density
	FieldY int32  // nT; magnetic flux density
	FieldZ int32  // nT; magnetic flux density
}

// Mag appends the frame of a MAG message to dst.
func (e *Encoder) Mag(dst []byte, m *Mag) []byte {
	p, first := e.open(CodeMag)
	le.PutUint64(p[0:], first|uint64(m.Time)<<16|uint64(uint32(m.FieldX))<<48)
	le.PutUint64(p[8:], uint64(uint32(m.FieldX))>>16|uint64(uint32(m.FieldY))<<16|uint64(uint32(m.FieldZ))<<48)
	last := uint64(uint32(m.FieldZ)) >> 16
	le.PutUint64(p[16:], last|behind<<16)
	crc := e.sum(18)
	le.PutUint64(p[16:], last|crc<<16|behind<<48)
	return stuff(dst, &e.content, 22)
}

// Decode takes the fields from the payload of a frame. The error is ErrLength.
func (m *Mag) Decode(p []byte) error {
	if len(p) != 16 {
		return ErrLength
	}
	m.Time = le.Uint32(p[0:])
	m.FieldX = int32(le.Uint32(p[4:]))
	m.FieldY = int32(le.Uint32(p[8:]))
	m.FieldZ = int32(le.Uint32(p[12:]))
	return nil
}
