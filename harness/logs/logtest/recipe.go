// Package logtest makes flight logs for tests: a flight by equations of its own, what sensors would have
// said of it, what went wrong with them, and the many shapes in which people keep such logs. Each log
// comes with its truth: when each phase began, what was spoilt, and what each column means.
//
// It is a second source beside package sim and must stay one: it imports nothing of drystage, and its air, motors,
// canopies and noise are made in other ways. It has one seed and no other chance. It is for tests only.
package logtest

import (
	"math"
	"math/rand/v2"
)

// Recipe is all that a log is made from. Draw gives one with everything drawn; change it before Fly.
type Recipe struct {
	Seed   uint64
	Stages int     // 1 or 2
	Rate   float64 // Hz, of the rows
	Pad    float64 // s before liftoff
	After  float64 // s after landing
	End    float64 // s, the log ends there whatever happens; 0: it does not

	Accel, Gyro, Baro, GNSS, Battery bool // which parts the log has
	BaroHeight                       bool // a height in place of the pressure
	OneAxis                          bool // only the axis along the rocket
	Outputs                          bool // what the board fired
	Own                              bool // what the board thought: state and speed

	BaroEvery, GNSSEvery, BatteryEvery int // rows from sample to sample

	Vibration float64 // m/s2 rms at mean thrust
	Coloured  bool    // vibration rings at a frequency, or is white
	Clip      float64 // m/s2, the range's end of the accelerometer; 0: none
	Axis      int     // of the accelerometer that lies along the rocket
	Down      bool    // it points down
	Jitter    float64 // of the rows' times, as a share of a period

	Thrust     [2]Curve
	Recovery   Recovery
	Pack       float64 // s from a charge until the lines of what it throws out pull, softly; 0: at once
	Early      float64 // s before a free flight's apogee that the first charge fires; 0: after it
	Charge     float64 // Pa, peak in the bay when a charge fires; 0: sealed
	ChargeStay float64 // s in which its gas falls to a third; 0: the usual 0.03 s
	BaroNoise  float64 // Pa rms
	AccelNoise float64 // m/s2 rms
	Lag        float64 // s, of the air in the bay
	VoltNoise  float64 // V rms; 0: a battery that reads the same for ever

	Brake Brake // an air brake that opens in the first coast

	Anomalies []Anomaly
}

// Brake is an air brake that brakes by Size for a while; the zero Brake is none.
type Brake struct{ After, Length, Size float64 } // s after the first burnout, s, m/s2 as it opens

// Curve is the shape of a motor's thrust.
type Curve uint8

// The shapes.
const (
	Flat Curve = iota
	Regressive
	Progressive
	LongTail  // the last fifth burns out slowly
	FirstPeak // a tenth of the time at twice the thrust
	curves
)

// Recovery is how the rocket comes down.
type Recovery uint8

// The ways down.
const (
	Dual         Recovery = iota // drogue at apogee, main low
	Single                       // one canopy at apogee
	NoDrogue                     // the main alone opens, low
	MainAtApogee                 // both at apogee
	Ballistic                    // neither
)

// Kind is what went wrong, or what happened that a log shows beside the flight.
type Kind string

// The kinds of anomaly. Those of the last group are real: they happened to the rocket.
const (
	Spike    Kind = "spike" // one sample
	Step     Kind = "step"
	Stuck    Kind = "stuck"
	Dropout  Kind = "dropout" // of one part
	Gap      Kind = "gap"     // of the whole log
	Drift    Kind = "drift"
	Noise    Kind = "noise burst"
	Latency  Kind = "latency"
	Jump     Kind = "clock jump"
	Wrap16   Kind = "clock wrap 16 bit" // of milliseconds
	GNSSJump Kind = "gnss jump"
	GNSSLoss Kind = "gnss loss"
	Vent     Kind = "vent" // blocked: the bay's air follows slowly

	Clipped   Kind = "clipped"
	Charge    Kind = "charge" // pressure of an ejection charge
	Sag       Kind = "sag"    // of the battery, under the load of a firing
	Transonic Kind = "transonic"
)

// Real says that a kind happened to the rocket, not to its sensors.
func (k Kind) Real() bool { return k == Charge || k == Sag || k == Transonic }

// Anomaly is one thing that is odd in a log. At and Until are what the log's own stamps say, from its first row on.
type Anomaly struct {
	Kind      Kind
	Part      string  // accelerometer, gyro, barometer, gnss, battery, clock or log
	Axis      int     // of the part's columns; -1: all
	Event     string  // wanted: at this event (its first number)
	Offset    float64 // s after it
	At, Until float64
	Length    float64 // s
	Size      float64 // SI of the part; s for Latency and Jump; rms for Noise; at the end for Drift
}

// Draw draws a recipe of a clean flight.
func Draw(seed uint64) Recipe {
	d := newDice(seed, "recipe")
	r := Recipe{Seed: seed, Stages: 1 + d.n(2), Rate: pick(d, 20., 25, 50, 100, 100, 200, 200, 400, 500, 1000)}
	r.Pad, r.After = d.in(2, 20), d.in(4, 15)
	r.Accel, r.Baro = true, true
	r.Gyro, r.GNSS, r.Battery = d.maybe(0.6), d.maybe(0.5), d.maybe(0.5)
	r.Outputs, r.Own = d.maybe(0.4), d.maybe(0.3)
	r.OneAxis = !r.Gyro && d.maybe(0.2)
	r.BaroEvery = max(1, int(r.Rate/pick(d, 20., 25, 50, 100)))
	r.GNSSEvery, r.BatteryEvery = max(1, int(r.Rate/pick(d, 5., 10))), max(1, int(r.Rate/10))
	if d.maybe(0.3) {
		r.BaroEvery, r.BatteryEvery = 1, 1
	}
	r.Vibration = pick(d, 0, d.in(0, 2), d.in(2, 8), d.in(8, 30))
	r.Coloured, r.Clip = d.maybe(0.5), pick(d, 0., 0, 8, 16, 16, 32)*standardG
	r.Axis, r.Down = d.n(3), d.maybe(0.5)
	if r.OneAxis {
		r.Axis = 0
	}
	r.Jitter = pick(d, 0, 0, d.in(0, 0.02))
	r.Thrust = [2]Curve{Curve(d.n(int(curves))), Curve(d.n(int(curves)))}
	r.Recovery = pick(d, Dual, Dual, Dual, Single)
	r.Charge = pick(d, 0, 0, d.in(2000, 15000))
	r.BaroNoise, r.AccelNoise, r.Lag = d.in(1, 12), d.in(0.03, 0.4), d.in(0.005, 0.06)
	r.VoltNoise = pick(d, 0, d.in(0.001, 0.01))
	return r
}

const standardG = 9.80665 // m/s2

// dice is a stream of random numbers with a name, so that a new stream moves no other.
type dice struct{ *rand.Rand }

func newDice(seed uint64, name string) dice {
	h := uint64(14695981039346656037) // FNV-1a, 64 bit
	for i := range len(name) {
		h = (h ^ uint64(name[i])) * 1099511628211
	}
	return dice{rand.New(rand.NewPCG(seed, h))}
}

func (d dice) n(most int) int               { return d.IntN(most) }
func (d dice) in(low, high float64) float64 { return low + (high-low)*d.Float64() }
func (d dice) maybe(p float64) bool         { return d.Float64() < p }
func (d dice) sign() float64                { return float64(1 - 2*d.n(2)) }

func pick[T any](d dice, list ...T) T { return list[d.n(len(list))] }

// ring is noise that rings at a frequency: an autoregression of second order, of variance one.
type ring struct{ a1, a2, gain, x1, x2 float64 }

func newRing(hz, width, rate float64) *ring {
	r, c := math.Exp(-math.Pi*width/rate), math.Cos(2*math.Pi*hz/rate)
	g := &ring{a1: 2 * r * c, a2: -r * r}
	// The stationary variance of x[n] = a1 x[n-1] + a2 x[n-2] + e is (1-a2)/((1+a2)((1-a2)^2-a1^2)).
	g.gain = math.Sqrt((1 + g.a2) * ((1-g.a2)*(1-g.a2) - g.a1*g.a1) / (1 - g.a2))
	return g
}

func (g *ring) next(d dice) float64 {
	x := g.a1*g.x1 + g.a2*g.x2 + g.gain*d.NormFloat64()
	g.x1, g.x2 = x, g.x1
	return x
}
