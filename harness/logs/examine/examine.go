// Package examine finds out what a flight log tells: the phases of the flight, how high and how fast,
// and what is odd: a part that stuck, spiked, drifted, fell silent or was late, or a rocket that really
// braked so hard.
//
// Three sensors look at the same vertical motion, and they fail differently. Pressure gives height; a
// step in it moves the height, and nothing else. The accelerometer, turned upright by the gyro, gives
// changes of speed; a spike in it moves the speed for ever after. GNSS gives both, late and coarse. So
// each break in one of them is held against the others, and against what air and motor can do.
//
// It never reads a file, never says more than the data do (an explanation has at most 0.99 of the
// belief), and never calls a log good: only unremarkable.
package examine

import (
	"errors"
	"fmt"
	"math"
	"slices"

	"drystage/harness/logs"
	"drystage/harness/logs/phases"
	"drystage/sim"
)

// Options of Examine; the zero value is good.
type Options struct {
	Temperature float64    // K at the pad; 0: the standard's for its height
	Setup       *sim.Setup // to hold the flight against; may be nil
	Stage       int        // that carried the board
	Flight      int        // of several in the log, from 1; 0: the first
}

// Examine examines a log.
func Examine(l *logs.Log, opt Options) (*Result, error) {
	e := &examiner{log: unheld(l), opt: opt, g: gravity, lag: usualLag, portSD: portSD, behind: usualDelay, res: &Result{Log: l, turned: [3]float64{1, 1, 1}}}
	e.mendClock()
	if err := e.channels(); err != nil {
		return nil, err
	}
	e.silent()
	e.stuck()
	if err := e.rest(); err != nil {
		return nil, err
	}
	e.heights()
	e.move()
	e.first()
	e.collect()
	e.spikes()
	e.charges()
	e.bursts()
	e.move()
	e.turning()
	e.pushing()
	if err := e.braking(); err != nil {
		return nil, err
	}
	e.elsewhere()
	e.comeBack()
	e.moments()
	if err := e.smooth(); err != nil {
		return nil, err
	}
	e.late()
	e.explain()
	if opt.Setup != nil {
		if err := e.fit(); err != nil {
			return nil, err
		}
		e.plan()
	}
	e.restoreClock()
	slices.SortStableFunc(e.res.Findings, func(a, b Finding) int {
		switch {
		case a.From < b.From:
			return -1
		case a.From > b.From:
			return 1
		}
		return 0
	})
	return e.res, nil
}

// examiner is an examination under way.
type examiner struct {
	log *logs.Log
	opt Options
	res *Result

	accel   [3]*signal // body axes: x along the rocket; nil when not in the log
	gyro    [3]*signal
	baro    *signal // Pa, then m above the pad
	gnss    [3]*signal
	vup     *signal // m/s by GNSS
	volts   *signal
	up      upright
	in      window  // what of the log is looked at
	padEnd  float64 // s, the pad lasts at least until then
	end     float64 // s, of the log
	begun   bool    // the log begins in flight,
	falling bool    // on the way down

	g        float64
	accelOff float64    // m/s2, along the rocket, from the pad
	gyroOff  [3]float64 // rad/s
	rise     *signal    // m/s, speed by the accelerometer
	sway     *signal    // m, height by the accelerometer
	tilt     []float64  // cosine of the angle to the vertical, by sample of accel[0]
	lift     float64    // s, roughly
	top      float64    // s, roughly
	gapV     *signal    // see speedGap
	gapH     *signal    // see heightGap
	marks    []float64  // s, moments as first found
	jolts    []shock    // all shocks
	lone     []shock    // what one axis of several shows
	blows    []shock    // those outside burns
	thrown   shock      // of a charge that fires long before the apogee; zero: none
	tugged   []shock    // tugs of lines that no sample of a shock shows, as first found
	port     float64    // m per (m/s)2 that static ports read too much
	portSD   float64    // its standard deviation
	warm     float64    // share by which heights by pressure are too great
	extra    []float64  // m/s2, by burn: what was felt beyond the accelerometer's range
	fires    []Moment   // those of them that something is fired for
	burns    []phases.Burn
	parted   []float64 // s, separations as first found
	seams    []float64 // s, where a burn goes on in another way
	brakes   []float64 // s, where the short coast before something that brakes begins
	down     float64   // s, landing as first found; 0: not in the log
	lag      lag       // of the barometer's bay
	tumbles  []window  // in which the rocket turns over and over, once turned is set
	turned   bool
	leaps    []leap  // of the log's clock
	behind   lag     // of the receiver's speed
	side     float64 // m/s over the ground at the apogee, as if it had always flown the same way
	coast    float64 // 1/m, deceleration over speed squared at sea level's density
	coastSD  float64
}

// upright says which axis of the log's accelerometer lies along the rocket, and which way.
type upright struct {
	axis int
	sign float64
}

// log gives the log's axis and sign of a body axis.
func (u upright) of(body int) (axis int, sign float64) {
	axis = (u.axis + body) % 3
	if u.sign < 0 && body < 2 { // half a turn about the third axis
		return axis, -1
	}
	return axis, 1
}

// collect keeps what the report shows of the log itself.
func (e *examiner) collect() {
	up := func(g *signal, from, until float64) (s Series) {
		if g != nil {
			i, j := g.between(from, until)
			s = Series{slices.Clone(g.t[i:j]), slices.Clone(g.x[i:j])}
		}
		return s
	}
	r := &e.res.Raw
	r.Height, r.GNSSHeight = up(e.baro, 0, e.end), up(e.gnss[2], 0, e.end)
	r.Speed, r.Accel = up(e.vup, e.lift-3, e.top+8), up(e.accel[0], e.lift-3, e.top+8)
}

// channels makes the signals.
func (e *examiner) channels() error {
	from, to := e.log.Span()
	e.end = to.Seconds()
	e.in = window{from.Seconds(), e.end}
	a, b := &e.log.Streams[sim.PartAccel], &e.log.Streams[sim.PartBaro]
	if err := e.chooseFlight(); err != nil {
		return err
	}
	e.begun, e.falling = e.begins()
	fixes := &e.log.Streams[sim.PartGNSS]
	alone := a.Len() == 0 && b.Len() == 0 // the receiver
	if e.log.Samples() > tooMany || alone && e.end-e.in.from > longest {
		e.crop()
	}
	if alone && !fixes.Has(logs.Altitude) {
		return errors.New("examine: the log has neither an accelerometer nor a barometer nor a height by GNSS; there is no flight to find in it")
	}
	if e.end-from.Seconds() < 3 {
		return errors.New("examine: the log is shorter than 3 s; there is no flight to find in it")
	}
	if a.Len() > 100 {
		if e.turnUp(a); e.begun {
			e.turnFlying(a)
		}
		for body := range 3 {
			axis, sign := e.up.of(body)
			e.res.turned[axis] = sign
			if a.Has(axis) {
				e.accel[body] = turned(a, axis, sign, e.in)
			}
			if g := &e.log.Streams[sim.PartGyro]; g.Len() > 100 && g.Has(axis) {
				e.gyro[body] = turned(g, axis, sign, e.in)
			}
		}
		if e.accel[0] == nil {
			return errors.New("examine: the accelerometer has no axis along the rocket")
		}
	}
	if b.Len() > 50 {
		if b.Has(logs.Pressure) {
			e.baro = take(b, logs.Pressure, sim.AllAxes, e.in)
		} else if b.Has(logs.Height) {
			e.baro = take(b, logs.Height, sim.AllAxes, e.in)
		}
	}
	if alone && fixes.Len() >= 20 { // its height stands in for that of a barometer
		if e.baro = take(fixes, logs.Altitude, sim.AxisZ, e.in); len(e.baro.x) < 20 {
			return fmt.Errorf("examine: %d of the %d fixes in the log have a height; there is no flight to find in them", len(e.baro.x), fixes.Len())
		}
		e.baro.sigma = max(e.baro.sigma, wander)
		zero := median(e.baro.x[:min(len(e.baro.x), 20)])
		for i := range e.baro.x {
			e.baro.x[i] -= zero
		}
	}
	if e.baro == nil && e.accel[0] == nil {
		return errors.New("examine: the log has too few samples to find a flight in it")
	}
	if e.receiver(); alone {
		e.gnss[2] = nil
	}
	if v := &e.log.Streams[sim.PartBattery]; v.Len() > 50 {
		e.volts = take(v, logs.Voltage, sim.AllAxes, e.in)
		e.volts.sigma = max(e.volts.sigma, e.volts.heldNoise())
	}
	return nil
}

const (
	tooMany = 2 << 20 // samples of a log that is looked at as a whole
	around  = 60.0    // s before liftoff that count of a longer one
	longest = 1800.0  // s after it
)

const (
	wander  = 2.5 // m, one standard deviation of a receiver's height (common practice, no source)
	gnssLag = 0.2 // s, expanded: how late a receiver's fixes may be, which it can't tell alone (common practice, no source)
)

// byHeight names what tells the height, and by how much more its times are open: a receiver's are late by an
// unknown time.
func (e *examiner) byHeight() (name string, open float64) {
	if e.baro != nil && e.baro.part == sim.PartGNSS {
		return "GNSS height", gnssLag
	}
	return "the barometer", 0
}

// crop finds the flight in a log that is long, such as one of hours on the pad, so that the rest need
// not be unpacked.
func (e *examiner) crop() {
	a, b := &e.log.Streams[sim.PartAccel], &e.log.Streams[sim.PartBaro]
	if a.Len() > 100 {
		e.turnUp(a)
		if axis, sign := e.up.of(0); a.Has(axis) {
			e.accel[0] = turned(thin(a), axis, sign, e.in)
		}
	}
	if b.Len() > 50 && b.Has(logs.Pressure) {
		e.baro = take(thin(b), logs.Pressure, sim.AllAxes, e.in)
	} else if z := &e.log.Streams[sim.PartGNSS]; a.Len() == 0 && z.Has(logs.Altitude) {
		e.baro = take(z, logs.Altitude, sim.AxisZ, e.in)
	}
	lift, ok := e.steepest()
	if !ok {
		lift, _ = e.liftoffRough()
	}
	e.accel[0], e.baro = nil, nil
	e.in = window{max(lift-around, e.in.from), min(lift+longest, e.in.until)}
	e.end = e.in.until
	e.res.Cropped = e.in.from > 0 || e.end < e.res.end()
}

// steepest gives the instant at which the barometer changes most within steepSpan, or the height by a receiver alone rises most. In hours on the pad the speed by an
// accelerometer runs away by its bias, and the weather changes the pressure slowly.
func (e *examiner) steepest() (t float64, ok bool) {
	b := e.baro
	if b == nil || b.step <= 0 {
		return 0, false
	}
	k, most := max(int(steepSpan/b.step), 3), steepLeast
	if b.part == sim.PartGNSS {
		most = steepRise
	}
	for i := 0; i+k+3 <= len(b.x); i++ {
		d := median(b.x[i+k:i+k+3]) - median(b.x[i:i+3])
		if b.part != sim.PartGNSS {
			d = math.Abs(d)
		}
		if d > most {
			most, t, ok = d, b.t[i], true
		}
	}
	return t, ok
}

const (
	steepSpan  = 2.0   // s
	steepLeast = 120.0 // Pa, some 10 m: no weather does that within it
	steepRise  = 20.0  // m: no receiver wanders so fast; common practice, no source
)

// thin gives every so many samples of a stream, but 20 a second at least: enough to see that a rocket leaves.
func thin(s *logs.Stream) *logs.Stream {
	const enough, slowest = 1 << 18, 50 * sim.Millisecond
	every := 1 + s.Len()/enough
	if p := s.Period(); p > 0 {
		every = max(min(every, int(slowest/p)), 1)
	}
	if every == 1 {
		return s
	}
	keep := make([]int, 0, s.Len()/every+1)
	for i := 0; i < s.Len(); i += every {
		keep = append(keep, i)
	}
	t := s.Rows(keep)
	return &t
}

func turned(s *logs.Stream, axis int, sign float64, in window) *signal {
	g := take(s, axis, sim.AxisX+sim.Axis(axis), in)
	for i := range g.x {
		g.x[i] *= sign
	}
	return g
}

// turnUp takes the axis along which gravity lies at the beginning as the one along the rocket.
func (e *examiner) turnUp(a *logs.Stream) {
	e.up.sign = 1
	first, _ := slices.BinarySearch(a.Times, sim.Seconds(e.in.from))
	n, most := min(a.Len()-first, 100), 0.0
	for axis := range 3 {
		if !a.Has(axis) {
			continue
		}
		var x []float64
		for i := range n {
			if v, ok := a.Value(first+i, axis); ok {
				x = append(x, v)
			}
		}
		if m := median(x); math.Abs(m) > most {
			most, e.up.axis, e.up.sign = math.Abs(m), axis, math.Copysign(1, m)
		}
	}
}

const gravity = 9.80665 // m/s2, ISO 80000-3

const earth = 6371008.8 // m, mean radius (2a+b)/3 of WGS 84

// receiver makes metres east, north and up of the pad from the fixes.
func (e *examiner) receiver() {
	s := &e.log.Streams[sim.PartGNSS]
	if s.Len() < 20 {
		return
	}
	lat0 := math.NaN()
	for body, ch := range []int{logs.Longitude, logs.Latitude, logs.Altitude} {
		if !s.Has(ch) || body < 2 && !s.Has(logs.Latitude) {
			continue // a height needs no position
		}
		g := take(s, ch, sim.AxisX+sim.Axis(body), e.in)
		if len(g.x) < 20 {
			continue
		}
		if body < 2 && math.IsNaN(lat0) {
			first := take(s, logs.Latitude, sim.AxisY, e.in)
			lat0 = median(first.x[:min(len(first.x), 20)])
		}
		scale := 1.0
		if body < 2 {
			scale = []float64{earth * math.Cos(lat0), earth}[body]
		}
		zero := median(g.x[:20])
		for i := range g.x {
			g.x[i] = (g.x[i] - zero) * scale
		}
		if body == 2 {
			e.res.Ground.Elevation = zero
		}
		g.sigma = noise(g.x)
		g.margin = 20 * g.step
		e.gnss[body] = g
	}
	if s.Has(logs.Up) {
		if v := take(s, logs.Up, sim.AxisZ, e.in); len(v.x) >= 20 {
			e.vup = v
		}
	}
}
