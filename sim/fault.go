package sim

// Fault is one thing that goes wrong, as data. It begins at From, lasts Duration (0: to the end) and
// changes its Target only. What Value means depends on the kind.
type Fault struct {
	Kind     FaultKind
	Bay      int  // index into Setup.Bays, for faults of sensors, link and power
	Stage    int  // index into Vehicle.Stages, for faults of the vehicle
	Part     Part // the sensor, for faults of sensors
	Axis     Axis // of a three-axis sensor, in the part's own axes
	Motor    int  // of a cluster, for faults of motors: 0 all of them, else one, counted from 1
	From     Anchor
	Duration Time
	Value    float64 // SI
}

// FaultKind is the kind of a Fault.
type FaultKind uint8

// The kinds of fault.
const (
	NoFault      FaultKind = iota
	Spike                  // sensor: a half-sine bump of height Value over Duration
	Step                   // sensor: Value is added
	Stuck                  // sensor: repeats the last value before the fault
	Dropout                // sensor: no samples
	Drift                  // sensor: Value per second is added, growing from 0
	NoiseBurst             // sensor: noise of standard deviation Value is added
	DeadIgniter            // vehicle: an output that fires while it lasts lights nothing
	LateIgniter            // vehicle: lights Value seconds later than it should
	EarlyBurnout           // vehicle: the motor dies at From
	PowerCut               // power: the board's supply is off
)

var faultNames = [...]string{"", "spike", "step", "stuck", "dropout", "drift", "noise_burst", "igniter_dead", "igniter_late", "early_burnout", "power_cut"}

// String gives the word used in files.
func (k FaultKind) String() string { return faultNames[k] }

// FaultKinds lists the words used in files, in order of their constants, without the empty one.
func FaultKinds() []string { return faultNames[1:] }

// Layer says what a kind of fault spoils.
func (k FaultKind) Layer() Layer {
	switch k {
	case DeadIgniter, LateIgniter, EarlyBurnout:
		return OnVehicle
	case PowerCut:
		return OnPower
	}
	return OnSensor
}

// Layer is what a fault spoils.
type Layer uint8

// The layers of faults.
const (
	OnSensor Layer = iota
	OnVehicle
	OnPower
)

// Part is one sensor of a board.
type Part uint8

// The sensors that faults can spoil.
const (
	NoPart Part = iota
	PartAccel
	PartGyro
	PartBaro
	PartGNSS
	PartBattery
)

var partNames = [...]string{"", "accelerometer", "gyro", "barometer", "gnss", "battery"}

// String gives the word used in files.
func (p Part) String() string { return partNames[p] }

// PartNames lists the words used in files, in order of their constants, without the empty one.
func PartNames() []string { return partNames[1:] }

// Axis picks an axis of a three-axis sensor. For a GNSS receiver, Z is the height.
type Axis uint8

// The axes; AllAxes touches each of them.
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
