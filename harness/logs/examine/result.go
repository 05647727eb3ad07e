package examine

import (
	"fmt"

	"drystage/harness/logs"
	"drystage/sim"
)

// Result is what a log tells of its flight.
type Result struct {
	Log       *logs.Log
	Moments   []Moment // in order of time
	Findings  []Finding
	Path      Path
	Raw       Raw
	Cropped   bool     // only a minute before liftoff and half an hour after it were looked at
	Untold    []string // what the log does not tell, and why
	Checks    []Check
	Ground    Ground
	Touchdown Touchdown  // zero when the log doesn't tell
	Plan      []string   // what differs from the vehicle's plan, one sentence each
	Fit       *Fit       // nil without a vehicle
	turned    [3]float64 // by axis of the log's accelerometer and gyro: -1 when turned round
}

// Touchdown is how fast the rocket came down at last, by a straight line through the last 3 s of its height: a
// smoother has blurred the corner.
type Touchdown struct{ Speed, Within float64 } // m/s downwards, expanded uncertainty

// motion gives height and speed at a moment.
func (r *Result) motion(m Moment) (height, speed float64) {
	height, speed = r.Path.at(m.At)
	if m.Event == Landing && r.Touchdown.Speed > 0 {
		speed = -r.Touchdown.Speed
	}
	return height, speed
}

// Series is a channel against time, as the log has it.
type Series struct{ T, X []float64 }

// Raw is what the sensors said, in the units of the report, before anything was mended: all of the
// height, and the way up of the rest.
type Raw struct{ Height, GNSSHeight, Speed, Accel Series }

// Moment is an instant at which a phase of the flight begins.
type Moment struct {
	Event  string  // liftoff, burnout, ignition, separation, apogee, deployment, landing
	Number int     // of boosts and deployments, from 1
	At     float64 // s
	Within float64 // s, expanded uncertainty (k = 2)
	From   string  // what it was told by
}

// Name gives the moment's name with its number where there may be several.
func (m Moment) Name() string {
	if m.Number > 0 {
		return fmt.Sprintf("%s %d", m.Event, m.Number)
	}
	return m.Event
}

// The events that moments have.
const (
	Liftoff    = "liftoff"
	Ignition   = "ignition" // of a later motor
	Burnout    = "burnout"
	Separation = "separation"
	Apogee     = "apogee"
	Deployment = "deployment"
	Landing    = "landing"
)

// Finding is something in the log that asks for an explanation.
type Finding struct {
	Kind         Kind
	Part         sim.Part
	Axis         sim.Axis // in the log's own axes
	From, Until  float64  // s
	Within       float64  // s, expanded uncertainty of From
	Size         float64  // SI of the channel; per second for a Drift, standard deviation for a NoiseBurst
	SizeWithin   float64  // expanded uncertainty of Size
	Strength     float64  // in standard deviations
	Explanations []Explanation
}

// Explanation is one way in which a finding may have come about.
type Explanation struct {
	Cause        Cause
	Share        float64 // of belief, among the explanations listed; never more than 0.99
	For, Against []string
}

// Kind is the shape of a finding.
type Kind uint8

// The kinds of finding. Fault gives what plays them in a simulated flight.
const (
	Spike        Kind = iota // a half-sine bump
	Step                     // a shift that begins and ends, or stays
	Stuck                    // the same value again and again
	Dropout                  // no samples
	Drift                    // a shift that grows
	NoiseBurst               // more noise than before and after
	Clipped                  // the end of the part's range
	Deceleration             // harder than 3 g0
	Latency                  // late by Size seconds
	ClockJump                // the stamps leap by Size seconds, and nothing is lost
)

var kindNames = [...]string{"spike", "step", "stuck", "dropout", "drift", "noise burst", "clipped", "deceleration", "latency", "clock jump"}

// String gives the word for the kind.
func (k Kind) String() string { return kindNames[k] }

// Fault gives the fault of the library that plays a kind; NoFault when none does.
func (k Kind) Fault() sim.FaultKind {
	return [...]sim.FaultKind{sim.Spike, sim.Step, sim.Stuck, sim.Dropout, sim.Drift, sim.NoiseBurst, sim.NoFault, sim.NoFault, sim.Delayed, sim.NoFault}[k]
}

// Cause is what an explanation says was at work.
type Cause uint8

// The causes.
const (
	Sensor    Cause = iota // the part, its wiring or its bus
	Drag                   // the air
	MotorEnd               // thrust that ends
	Shock                  // a separation, an ejection, a line stretch, the ground
	Supply                 // the supply of the board, or the logger itself
	Range                  // more than the part can measure
	Pressured              // gas of an ejection charge, or a gust into the static ports
	Vents                  // small or blocked static ports
	Load                   // what an output, a servo or a radio draws
	Clock                  // the logger's clock
)

var causeNames = [...]string{"the sensor", "drag", "the motor's end", "a shock", "the supply or the logger", "the part's range", "a pressure event", "the bay's vents", "a load", "the logger's clock"}

// String gives the words for the cause.
func (c Cause) String() string { return causeNames[c] }

// Real says that the likeliest explanation is something that happened to the rocket.
func (f *Finding) Real() bool {
	if len(f.Explanations) == 0 {
		return false
	}
	switch f.Explanations[0].Cause {
	case Drag, MotorEnd, Shock:
		return true
	}
	return false
}

// Path is the smoothed flight along the vertical, at equal steps.
type Path struct {
	T, Height, Speed, Accel []float64 // s, m above the pad, m/s, m/s2
	HeightSD, SpeedSD       []float64 // one standard deviation
	AccelBias, GNSSOffset   float64   // m/s2, m, at the end
}

// Check is a test of a sensor's innovations: over the flight they should be white, with the variance
// that the filter expects.
type Check struct {
	Part     sim.Part
	N        int
	Mean     float64 // of the normalised innovations; 0 expected
	Variance float64 // 1 expected
	Beyond   float64 // share beyond 3 standard deviations; 0.0027 expected of normal ones
}

// Ground is where the height is counted from.
type Ground struct {
	Pressure    float64 // Pa, the median on the pad
	Temperature float64 // K, assumed
	Assumed     string  // where the temperature comes from
	Elevation   float64 // m above sea level
	Stretch     float64 // height by GNSS over height by pressure; 1 when it can't be told
}
