package sim

import "drystage/sim/r3"

// Fault is one fault as data. It begins at From, lasts Duration (0: to the end) and changes its target only. The
// meaning of Value depends on the kind.
type Fault struct {
	Kind     FaultKind
	Bay      int  // index into Setup.Bays, for faults of sensors, link and power
	Stage    int  // index into Vehicle.Stages, for faults of the vehicle
	Channel  int  `json:",omitzero"` // of the board, for faults of a wire
	Device   int  `json:",omitzero"` // index into Stage.Recovery, for faults of a recovery device
	Part     Part // the sensor, for faults of sensors
	Axis     Axis // of a three-axis sensor, in the part's own axes; of a body, for TipOff
	Motor    int  // of a cluster, for faults of motors: 0 is all motors, else one, counted from 1
	From     Anchor
	Duration Time
	Value    float64 // SI
	Speed    float64 `json:",omitzero"` // m/s, of the lost part, for NoseLost
	// It happens Times times in all, each Every after the beginning of the last one; Times 0 is once.
	Times int
	Every Time
}

// FaultKind is the kind of a Fault.
type FaultKind uint8

// The kinds of fault.
const (
	NoFault         FaultKind = iota
	Spike                     // sensor: a half-sine bump of height Value over Duration
	Step                      // sensor: Value is added
	Stuck                     // sensor: repeats the last value before the fault
	Dropout                   // sensor: no samples
	Drift                     // sensor: Value per second is added, growing from 0
	NoiseBurst                // sensor: noise of standard deviation Value is added
	DeadIgniter               // vehicle: an igniter that fires while it lasts ignites nothing
	LateIgniter               // vehicle: the motor ignites Value seconds later
	EarlyBurnout              // vehicle: the motor stops at From
	PowerCut                  // power: the board's supply is off
	Stale                     // sensor: one of Value samples is fresh, the others repeat it
	Clipped                   // sensor: limited to Value: both signs; of a barometer from below, of a battery from above
	Swapped                   // sensor: the two axes other than Axis change places
	Reversed                  // sensor: an axis has the other sign
	Scaled                    // sensor: relative error Value
	Delayed                   // sensor: samples are Value seconds old
	Jittered                  // sensor: each sample is taken up to Value seconds early
	Duplicated                // sensor: each sample is sent twice
	Reordered                 // sensor: every two samples change places
	Extreme                   // sensor: the greatest number that the line can carry, or the least if Value is negative
	VentBlocked               // barometer: the bay's pressure follows with a time constant of Value seconds, or with 0 not at all
	BayLeak                   // barometer: the share Value of the dynamic pressure is added
	FixLost                   // GNSS: no fix, the last position repeated
	HeightLimit               // GNSS: no fix above Value metres
	Restart                   // power: the supply fails for an instant
	BrownOut                  // power: the supply is Value volts lower
	ClockError                // power: relative rate error Value of the board's clock
	BitsFlipped               // link: in the share Value of the bytes of samples, one bit
	BytesLost                 // link: the share Value of the bytes of samples
	FramesCut                 // link: the end of the share Value of the frames of samples
	LinkStalled               // link: samples are held back and sent together at the end
	SelfIgnition              // vehicle: the motor ignites without a command at From
	SeparationStuck           // vehicle: while it lasts, the stage doesn't separate from the one above, except by ignition of the upper motor
	SeparationEarly           // vehicle: in free flight, the stage separates from the one above at From
	DeviceDead                // vehicle: a recovery device whose line stretch comes while it lasts never opens
	DeviceEarly               // vehicle: a recovery device opens without a command at From
	Chuff                     // vehicle: a burning motor stops at From, and after Duration goes on where it stopped
	ImpulseError              // vehicle: relative error Value of the total impulse of a motor that ignites while it lasts
	BurnTimeError             // vehicle: relative error Value of the burn time of a motor that ignites while it lasts, with the same impulse
	TipOff                    // vehicle: in free flight, at From, a step of Value rad/s in the rate about an Axis of the body
	HighTilt                  // vehicle: in free flight, body and velocity turn by Value rad away from vertical, over Duration
	NoseLost                  // vehicle: in free flight, Value kg of nose or payload separate from the front at Speed
	WireLost                  // wire: the circuit of an output is open
	WireShorted               // wire: the circuit of an output is shorted
)

var faultNames = [...]string{"", "spike", "step", "stuck", "dropout", "drift", "noise_burst", "igniter_dead", "igniter_late", "early_burnout", "power_cut",
	"stale", "clipped", "swapped", "reversed", "scaled", "delayed", "jittered", "duplicated", "reordered", "extreme",
	"vent_blocked", "bay_leak", "fix_lost", "height_limit", "restart", "brown_out", "clock_error",
	"bits_flipped", "bytes_lost", "frames_cut", "link_stalled",
	"igniter_self", "separation_stuck", "separation_early", "device_dead", "device_early",
	"chuff", "impulse_error", "burn_time_error", "tip_off", "high_tilt", "nose_lost", "wire_lost", "wire_shorted"}

// String gives the word used in files.
func (k FaultKind) String() string { return faultNames[k] }

// FaultKinds lists the words used in files, in order of their constants, without the empty one.
func FaultKinds() []string { return faultNames[1:] }

// AppliesTo says whether a kind of fault can happen to a sensor.
func (k FaultKind) AppliesTo(p Part) bool {
	switch k {
	case Swapped, Reversed:
		return p.Axes()
	case Scaled, Clipped:
		return p != PartGNSS
	case VentBlocked, BayLeak:
		return p == PartBaro
	case FixLost, HeightLimit:
		return p == PartGNSS
	}
	return k.Layer() == OnSensor
}

// Layer says to what a kind of fault applies.
func (k FaultKind) Layer() Layer {
	switch k {
	case DeadIgniter, LateIgniter, EarlyBurnout, SelfIgnition, SeparationStuck, SeparationEarly, DeviceDead, DeviceEarly,
		Chuff, ImpulseError, BurnTimeError, TipOff, HighTilt, NoseLost:
		return OnVehicle
	case PowerCut, Restart, BrownOut, ClockError:
		return OnPower
	case BitsFlipped, BytesLost, FramesCut, LinkStalled:
		return OnLink
	case WireLost, WireShorted:
		return OnWire
	}
	return OnSensor
}

// OfDevice says that a kind of fault applies to a recovery device.
func (k FaultKind) OfDevice() bool { return k == DeviceDead || k == DeviceEarly }

// Layer is to what a fault applies.
type Layer uint8

// The layers of faults.
const (
	OnSensor Layer = iota
	OnVehicle
	OnPower
	OnLink
	OnWire
)

// Injection is the change of one sample by a fault: the sample before the fault and after it. Parts without axes
// use X only. For a GNSS receiver X, Y, Z are longitude and latitude in rad and the height in m; they are equal
// before and after when the fix was lost. A sample that was sent twice is equal too.
type Injection struct {
	At      Time
	Fault   int // index into Setup.Faults
	Bay     int
	Part    Part
	Dropped bool // the sample was removed
	Was, Is r3.Vec
}

// Part is one sensor of a board.
type Part uint8

// The sensors.
const (
	NoPart Part = iota
	PartAccel
	PartGyro
	PartBaro
	PartGNSS
	PartBattery
	PartMag
)

var partNames = [...]string{"", "accelerometer", "gyro", "barometer", "gnss", "battery", "magnetometer"}

// String gives the word used in files.
func (p Part) String() string { return partNames[p] }

// Axes says that a part measures a vector in axes of its own.
func (p Part) Axes() bool { return p == PartAccel || p == PartGyro || p == PartMag }

// LastPart is the last of the sensors.
const LastPart = PartMag

// PartNames lists the words used in files, in order of their constants, without the empty one.
func PartNames() []string { return partNames[1:] }

// Axis picks an axis of a three-axis sensor. For a GNSS receiver, Z is the height.
type Axis uint8

// The axes; AllAxes is all three.
const (
	AllAxes Axis = iota
	AxisX
	AxisY
	AxisZ
)

var axisNames = [...]string{"all", "x", "y", "z"}

// String gives the word used in files.
func (a Axis) String() string { return axisNames[a] }

// AxisNames lists the words used in files, in order of their constants.
func AxisNames() []string { return axisNames[:] }
