package sim

import "drystage/sim/r3"

// Sensors are the parts on a board. A part with Rate 0 is not fitted. In every part a field at 0 means
// that the part has no such error.
type Sensors struct {
	Accel Triad // m/s2, specific force
	// High is a second accelerometer with a wider range, sampled together with Accel. An axis of Accel near the
	// end of its range takes the value of High, turned into Accel's axes. Its own Rate only says that it is
	// fitted.
	High    Triad
	Gyro    Triad // rad/s
	Baro    Barometer
	GNSS    Receiver
	Battery Battery
	Mag     Magnetometer `json:",omitzero"`
	Heating Heating
}

// Rate gives how often a part is sampled, in Hz; 0: it is not fitted.
func (s *Sensors) Rate(p Part) float64 {
	switch p {
	case PartAccel:
		return s.Accel.Rate
	case PartGyro:
		return s.Gyro.Rate
	case PartBaro:
		return s.Baro.Rate
	case PartGNSS:
		return s.GNSS.Rate
	case PartBattery:
		return s.Battery.Rate
	case PartMag:
		return s.Mag.Rate
	}
	return 0
}

// Fastest gives the rate of the part that is sampled most often, in Hz; 0 when none is fitted.
func (s *Sensors) Fastest() float64 {
	return max(s.Accel.Rate, s.Gyro.Rate, s.Baro.Rate, s.GNSS.Rate, s.Battery.Rate, s.Mag.Rate)
}

// Heating is how a board warms up after power-on: from the air temperature at the pad to Rise above it, as
// 1 - exp(-t/Time). With Time 0 the board has the temperature of the air around the rocket.
type Heating struct {
	Rise float64 // K
	Time float64 // s
}

// Triad is a three-axis part; its unit U is m/s2 or rad/s. X, Y, Z of Bias, Scale and Thermal are the
// part's own axes.
type Triad struct {
	Rate       float64 // Hz
	Range      float64 // U, clips at plus and minus this
	Resolution float64 // U, step of the output; 0: none
	Noise      float64 // U, one standard deviation of each sample and axis
	Bias       r3.Vec  // U, at 25 degC
	// Mounting holds the part's axes X, Y, Z as unit vectors in body axes.
	Mounting [3]r3.Vec

	ClockError   float64     // share by which its samples come faster than Rate
	Bandwidth    float64     // Hz, cut-off (half power) of a first-order low-pass behind the sensing element, which clips
	Density      float64     // U per square root of Hz, one-sided, of white noise before the low-pass
	Drift        GaussMarkov // U, bias instability, independent for each axis
	Scale        r3.Vec      // relative error of each axis
	CrossAxis    float64     // share of each other axis in the output of an axis
	Thermal      r3.Vec      // U per K of the part's temperature above 25 degC
	GSensitivity float64     // U per m/s2 of specific force along the same axis; of gyros
	Position     r3.Vec      // m, body axes, from the point of the vehicle's axis at Bay.Station
	// Transmissibility is how much of the airframe's vibration reaches the part: of an accelerometer a factor, of a
	// gyro the angular rate in rad/s for each m/s2.
	Transmissibility float64
	// Rectification is what vibration adds to the bias of each axis, in U for each square of m/s2 of mean square.
	Rectification float64
}

// GaussMarkov is a first-order Gauss-Markov process: its values have standard deviation Sigma, and those a
// time T apart the correlation exp(-T/Time).
type GaussMarkov struct {
	Sigma float64 // in the unit of the process
	Time  float64 // s
}

// Barometer measures static pressure in Pa and its own temperature in K.
type Barometer struct {
	Rate       float64 // Hz
	Min, Max   float64 // Pa, clips there
	Resolution float64 // Pa
	Noise      float64 // Pa, one standard deviation
	Bias       float64 // Pa, at 25 degC

	ClockError float64     // share by which its samples come faster than Rate
	Lag        float64     // s, first-order lag of the bay's pressure, instead of that of the vents
	Vents      Vents       // Count 0: the bay has the pressure at its ports
	Ports      []Port      // error of the static ports by the flow along the body; rising in Mach
	Crossflow  float64     // error by the flow across it: mean pressure coefficient around the body
	Thermal    float64     // Pa per K of the board's temperature above 25 degC
	Drift      GaussMarkov // Pa
	Ejection   Ejection    // when a charge fires in the bay's own stage
}

// Vents are the vent holes of the bay, evenly spaced around the body. They are its static ports.
type Vents struct {
	Count    int
	Diameter float64 // m, of each
	Volume   float64 // m3 of air behind them
	Clock    float64 // rad, where the first hole is, from the body's y axis towards its z axis
}

// Port is a row of a table of static-port error against Mach: the pressure at the ports is that of the
// air plus Cp times the dynamic pressure of the flow along the body. Rows are joined by straight lines, held constant
// outside.
type Port struct{ Mach, Cp float64 }

// Ejection is the pressure of a charge in the recovery bay beside that of the board: it rises at once to Peak above
// the pressure outside and decays as exp(-t/Time). Gas flows into the board's bay through a leak of the diameter Leak.
type Ejection struct {
	Peak float64 // Pa
	Time float64 // s
	Leak float64 // m
}

// Receiver is a GNSS receiver.
type Receiver struct {
	Rate          float64 // Hz
	PositionNoise float64 // m, one standard deviation, each horizontal axis
	HeightNoise   float64 // m
	VelocityNoise float64 // m/s, each axis

	Latency       float64     // s, the age of a fix
	PositionDrift GaussMarkov // m, of each horizontal axis
	HeightDrift   GaussMarkov // m
	ColdStart     float64     // s from the start of the run to the first fix
	WarmStart     float64     // s within all limits until a lost fix is back
	Filter        float64     // s, time constant of its filter; 0: none
	Coast         float64     // s for which it goes on at the last velocity, as a fix, when the fix is lost
	Reacquire     float64     // s, mean of an exponential random time on top of WarmStart
	Hold          float64     // s for which a new fix has two dimensions, with the height held
	Ellipsoid     bool        // its heights are above the ellipsoid instead of mean sea level
	MostForce     float64     // m/s2 of specific force above which the fix is lost; 0: never
	MostSpeed     float64     // m/s
	MostHeight    float64     // m above mean sea level
}

// Magnetometer is a three-axis magnetometer: a Triad in T, whose Bias is the hard iron around it, magnets and steel that
// turn with the rocket.
type Magnetometer struct {
	Triad
	SoftIron [3]r3.Vec // rows of the matrix, in the part's axes, by which iron around it distorts the field; zero: none
	Current  r3.Vec    // T per A, the part's axes: field of the leads that carry the current of all outputs that are on
}

// Battery feeds the board.
type Battery struct {
	Rate       float64 // Hz of the board's own measurement
	Voltage    float64 // V, fresh and without load
	Sag        float64 // V of discharge in an hour
	Noise      float64 // V, one standard deviation
	Resolution float64 // V

	Resistance float64 // ohm, internal resistance with leads and switch
	BrownOut   float64 // V, below which the board resets; 0: never
	HoldUp     float64 // s that the board runs on its capacitors below that
}
