package conformance

import (
	"math"

	"drystage/harness/board/contract"
)

// samples makes sensor samples of a rocket on the pad, or in a short vertical flight with constant accelerations and
// without air. It is a stimulus, not a simulation.
type samples struct {
	rates    contract.Rates
	axis     int    // 1, 2, 3: x, y, z points to the nose; negative: to the tail
	k        int    // IMU sample
	late     uint32 // us; delay of all samples, for a board whose clock is ahead
	launch   float64
	together bool // slower sensors are due at the same instants, as in a run; else they take turns
	dither   uint32
}

const (
	gravity     = 9.80665 // m/s2, standard: BIPM, The International System of Units, 9th edition
	boost       = 50.0    // m/s2, specific force while the motor burns
	burn        = 1.0     // s
	leastPad    = 1.5     // s, before the launch, for a board that arms at once
	descentRate = 15.0    // m/s, after apogee

	airPressure = 101325.0 // Pa, and the height over which it falls by a factor e near the ground:
	scaleHeight = 8434.5   // U.S. Standard Atmosphere, 1976: R*T/(M*g) at 288.15 K
)

func newSamples(opt Options) samples {
	s := samples{rates: opt.Rates, axis: opt.Axis}
	s.reset()
	return s
}

// reset puts the rocket on the pad, at time 0.
func (s *samples) reset() { s.k, s.late, s.launch = 0, 0, math.Inf(1) }

// at is the time of the next sample, in us.
func (s *samples) at() uint32 { return s.timeOf(s.k + 1) }

// passed is the time of the last sample, in us.
func (s *samples) passed() uint32 { return s.timeOf(s.k) }

func (s *samples) timeOf(k int) uint32 {
	return s.late + uint32(math.Round(float64(k)/s.rates.IMU*1e6))
}

// apogee is the time from launch to apogee, in s.
func apogee() float64 { return burn * boost / gravity }

// motion gives the specific force towards the nose and the height, at t seconds after launch.
func motion(t float64) (force, height float64) {
	up := boost - gravity
	v, h := up*burn, up*burn*burn/2
	top := h + v*v/(2*gravity)
	switch {
	case t < 0:
		return gravity, 0
	case t < burn:
		return boost, up * t * t / 2
	case t < apogee():
		u := t - burn
		return 0, h + v*u - gravity*u*u/2
	}
	return gravity, max(0, top-descentRate*(t-apogee()))
}

// next makes the samples of the next instant of the IMU.
func (s *samples) next(e *contract.Encoder, now *uint32) (out []byte) {
	*now = s.at()
	s.k++
	t := float64(s.k) / s.rates.IMU
	force, height := motion(t - s.launch)
	imu := contract.IMU{Time: *now, Has: contract.FreshAccel | contract.FreshGyro, GyroX: s.noise(), GyroY: s.noise(), GyroZ: s.noise()}
	axes := [...]*int32{&imu.AccelX, &imu.AccelY, &imu.AccelZ}
	for _, a := range axes {
		*a = s.noise()
	}
	if s.axis < 0 {
		force = -force
	}
	*axes[max(s.axis, -s.axis)-1] += contract.Milli(force)
	out = e.IMU(out, &imu)
	if s.due(s.rates.Baro, 0) {
		p := contract.Count[uint32](1e3*airPressure*math.Exp(-height/scaleHeight)) + uint32(100+10*s.noise())
		out = e.Baro(out, &contract.Baro{Time: *now, Pressure: p, Temperature: 1500})
	}
	if s.due(s.rates.GNSS, 1) {
		out = e.GNSS(out, &contract.GNSS{Time: *now, Height: contract.Milli(height), Fix: 3, Satellites: 9})
	}
	if s.due(s.rates.Battery, 2) {
		out = e.Battery(out, &contract.Battery{Time: *now, Voltage: 7400})
	}
	return out
}

// due says that a slower sensor has a sample at this instant of the IMU, or was due a few instants earlier when the
// sensors take turns.
func (s *samples) due(rate float64, turn int) bool {
	k := s.k
	if !s.together {
		k += turn
	}
	return math.Floor(float64(k)*rate/s.rates.IMU) > math.Floor(float64(k-1)*rate/s.rates.IMU)
}

// noise gives a few counts of noise: a board may take a constant sensor for a stuck one.
func (s *samples) noise() int32 {
	s.dither = s.dither*1664525 + 1013904223
	return int32(s.dither>>24)%9 - 4
}
