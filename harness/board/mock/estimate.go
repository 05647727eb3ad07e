package mock

import "math"

const (
	poleInertial = 1.2 // rad/s, of the filter with the accelerometer
	poleBaro     = 2.5 // rad/s, without it

	gateBase      = 10      // m
	gateSpeed     = 0.1     // m more per m/s
	gateGrowth    = 15      // m more per second without an accepted sample
	refuseTimeout = 2       // s of refused samples after which the barometer is accepted again
	baroTimeout   = 500_000 // us without an accepted sample after which the barometer isn't current

	maxAccelError = 0.1 // m/s2: a larger correction comes from faulty last pressures, not from the accelerometer

	noSensorTime = 300_000 // us without any sensor before the last acceleration is dropped

	settleSamples = 10
	settleTime    = 500_000 // us
)

// estimator estimates height and upward speed from pressure height and vertical acceleration: a filter of third
// order with three equal real poles (the critically damped g-h-k filter of tracking practice). Its third state b is
// added to the measured acceleration: with an accelerometer it is the accelerometer's error, without one it is the
// whole acceleration.
type estimator struct {
	t          int64 // us, of the state
	h, v, b    float64
	u          float64 // m/s2, measured upward acceleration; 0 without inertial
	inertial   bool
	falling    bool // past apogee: without any sensor the speed stays constant; before apogee the estimate follows free fall
	started    bool
	n          int  // samples since it began
	inFlight   bool // it began in flight: the speed comes from the first samples
	begun      int64
	accepted   int64 // time of the last accepted sample
	refused    int64 // since when all samples have been refused
	refusing   bool
	period     float64  // s between samples
	gains      [2]gains // barometer alone, with acceleration
	accelWrong bool     // the barometer has overruled the accelerometer
	noGate     bool     // no sample is refused, for the defect believes-any-pressure
}

type gains struct{ h, v, b float64 }

// tune sets the gains for a rate of samples in Hz.
func (e *estimator) tune(hz float64) {
	e.period = 1 / max(hz, 1)
	for i, pole := range [...]float64{poleBaro, poleInertial} {
		th := exponential(-float64(pole * e.period))
		d := 1 - th
		e.gains[i] = gains{1 - float64(th*th*th), 1.5 * float64(d*d*(1+th)) / e.period, float64(d*d*d) / float64(e.period*e.period)}
	}
}

// begin starts the filter at a height; moving says that its speed must come from the first samples.
func (e *estimator) begin(t int64, z float64, moving bool) {
	e.t, e.begun, e.accepted, e.n = t, t, t, 0
	e.h, e.v, e.b = z, 0, 0
	if moving && !e.falling {
		e.b = -standardGravity
	}
	e.started, e.inFlight, e.refusing = true, moving, false
}

// addAcceleration advances to t and takes the upward acceleration there. The first one changes no sum, so that it needs
// no advance.
func (e *estimator) addAcceleration(t int64, up float64) {
	if !e.inertial {
		e.b, e.u, e.inertial = e.b-up, up, true
		return
	}
	last := e.u
	e.u = (last + up) / 2
	e.predict(t)
	e.u = up
}

// dropInertial continues without the accelerometer and keeps the last acceleration.
func (e *estimator) dropInertial(falling bool) {
	e.falling = falling
	if e.inertial {
		e.b, e.u, e.inertial = e.b+e.u, 0, false
	}
}

// predict advances to t.
func (e *estimator) predict(t int64) {
	dt := span(t - e.t)
	if !e.started {
		return
	}
	if !e.inertial && t-e.accepted > noSensorTime {
		e.b = -standardGravity
		if e.falling {
			e.b = 0
		}
	}
	if e.inertial && t-e.accepted > baroTimeout {
		e.b = min(max(e.b, -maxAccelError), maxAccelError)
	}
	a := e.u + e.b
	e.h += float64(dt*e.v) + float64(dt*dt*a)/2
	e.v += float64(dt * a)
	e.t = t
}

// correct takes a pressure height, or refuses it.
func (e *estimator) correct(t int64, z float64) {
	e.predict(t)
	r := z - e.h
	if e.settled() && !e.noGate && math.Abs(r) > e.gate(t) {
		if !e.refusing {
			e.refusing, e.refused = true, t
		}
		if span(t-e.refused) < refuseTimeout {
			return
		}
		e.dropInertial(e.falling)
		e.accelWrong = true
		e.begin(t, z, true)
		r = 0
	}
	e.refusing, e.accepted = false, t
	e.n++
	g := e.gains[0]
	if e.inertial {
		g = e.gains[1]
	}
	if n := float64(e.n - 1); e.inFlight { // least squares over all samples, while its gain is larger
		g.h = max(g.h, 2*(2*n+1)/float64((n+1)*(n+2)))
		g.v = max(g.v, 6/float64((n+1)*(n+2))/e.period)
	}
	e.h += float64(g.h * r)
	e.v += float64(g.v * r)
	e.b += float64(g.b * r)
}

// gate is the largest accepted difference between sample and prediction.
func (e *estimator) gate(t int64) float64 {
	return gateBase + float64(gateSpeed*math.Abs(e.v)) + float64(gateGrowth*span(t-e.accepted))
}

// settled says that height and speed are usable.
func (e *estimator) settled() bool {
	return e.n >= settleSamples && e.t-e.begun >= settleTime
}

// baroCurrent says that a sample of the barometer was accepted recently.
func (e *estimator) baroCurrent(now int64) bool {
	return now-e.accepted < baroTimeout
}

// disagrees says that the barometer speaks and is refused: in a while it will be accepted, or believed again.
func (e *estimator) disagrees(now int64) bool {
	return e.refusing && span(now-e.refused) < refuseTimeout+span(baroTimeout)
}

// accelRejected says that the accelerometer has disagreed with the barometer, and the barometer is current.
func (e *estimator) accelRejected(now int64) bool { return e.accelWrong && e.baroCurrent(now) }

// pressureHeight gives the height in m above the level of 101 325 Pa in the standard atmosphere of
// ISO 2533:1975 below 11 km: (T0/L) (1 - (p/p0)^(R L/g0)).
func pressureHeight(p float64) float64 {
	const scale, exponent = 44330.769230769, 0.190263237
	return float64(scale * (1 - exponential(float64(exponent*naturalLog(p/101325)))))
}

// heightAbove gives the height in m of pressure p above a ground whose pressureHeight is base, on a
// day with temperature kelvin there; 0: that of the standard atmosphere.
func heightAbove(p, base, kelvin float64) float64 {
	h := pressureHeight(p) - base
	if kelvin > 0 {
		h = float64(h * kelvin / (288.15 - float64(0.0065*base)))
	}
	return h
}
