package examine

import (
	"errors"
	"fmt"
	"math"
	"slices"
	"strings"

	"drystage/harness/logs"
	"drystage/harness/logs/phases"
	"drystage/sim"
	"drystage/sim/flight"
)

// rest finds how long the rocket stands still, and what its sensors say there.
func (e *examiner) rest() error {
	if e.begun {
		e.restUnknown()
		return nil
	}
	lift, ok := e.liftoffRough()
	if !ok {
		if e.padEnd = e.in.from + 1; e.anyHeight() == nil && e.moving() != "" {
			return e.notOnPad(e.moving())
		}
		return errors.New("examine: no flight is in the log: neither speed nor height changes as a rocket's does")
	}
	e.padEnd = lift
	if e.padEnd-e.in.from < leastPad {
		if e.anyHeight() != nil {
			e.restUnknown()
			return nil
		}
		return errors.New("examine: the log does not begin on the pad, or less than 0.5 s before the rocket moves; the pad is needed to know the pressure and the sensors' rest")
	}
	if why := e.moving(); why != "" {
		return e.notOnPad(why)
	}
	still := e.padEnd - 0.3
	if b := e.baro; b != nil && b.part == sim.PartGNSS {
		if x := b.span(e.padEnd-standsFrom, e.padEnd); len(x) >= 5 {
			zero := median(x)
			for i := range b.x {
				b.x[i] -= zero
			}
		}
	}
	if e.accel[0] != nil {
		sum := 0.0
		for _, a := range e.accel {
			if a != nil {
				m, _, _ := a.mean(0, still)
				sum += m * m
			}
		}
		e.accelOff = math.Sqrt(sum) - e.g
	}
	for i, g := range e.gyro {
		if g != nil {
			e.gyroOff[i], _, _ = g.mean(0, still)
		}
	}
	return nil
}

func (e *examiner) notOnPad(why string) error {
	return errors.New("examine: the log does not begin on the pad: " + why + "; the pad is needed to know the pressure and the sensors' rest")
}

// moving says why what seems to be the pad is none; "" when it may be one.
func (e *examiner) moving() string {
	if a := e.accel[0]; a != nil {
		still := e.padEnd - 0.3
		f := e.feltBetween(0, still)
		if off := math.Abs(f - gravity); e.accel[1] != nil && e.accel[2] != nil && off > restOff && (off > partOff || math.Abs(e.feltBetween(0, still/2)-e.feltBetween(still/2, still)) > restSteady) {
			return fmt.Sprintf("its accelerometer reads %.1f m/s2 before the first boost, where a rocket at rest feels 9.8", f)
		}
	}
	if b := e.baro; b != nil && e.stream(sim.PartBaro).Has(logs.Pressure) {
		_, sd := b.line(e.padEnd-2, e.padEnd-0.3, 1)
		before, after := b.span(e.padEnd-2, e.padEnd-1.15), b.span(e.padEnd-1.15, e.padEnd-0.3)
		if slope := (median(after) - median(before)) / 0.85; sd > 0 && len(before) > 0 && len(after) > 0 && math.Abs(slope) > 30+5*sd { // medians: one wild sample is no motion
			return fmt.Sprintf("its pressure changes by %.0f Pa/s before the first boost", slope)
		}
	}
	return ""
}

// feltBetween is the size of what the accelerometer's axes feel on the mean.
func (e *examiner) feltBetween(from, until float64) float64 {
	sum := 0.0
	for _, x := range e.accel {
		if x != nil {
			m, _, _ := x.mean(from, until)
			sum += m * m
		}
	}
	return math.Sqrt(sum)
}

const (
	restOff    = 1.5 // m/s2 beside g that scale and offsets of a good part make
	partOff    = 4.0 // m/s2 that those of a part for hundreds of g make, which then stay the same, as no drag does
	restSteady = 0.3 // m/s2
)

// liftoffRough is about when the rocket begins to move: by the accelerometer, or a second before the
// barometer has seen 5 m.
func (e *examiner) liftoffRough() (t float64, ok bool) {
	if e.accel[0] != nil {
		if t, ok := phases.Lift(e.unmended(), e.end); ok {
			return t, true
		}
	}
	b := e.baro
	if b == nil {
		return 0, false
	}
	if b.part == sim.PartGNSS {
		if t, ok := e.liftoffByReceiver(); ok {
			return t, true
		}
	}
	k := 5 // a second: some logs begin so shortly before liftoff
	if b.step > 0 {
		k = max(k, int(1/b.step))
	}
	rest, high := median(b.x[:min(k, 50, len(b.x))]), 5.0
	sign := 1.0
	if e.stream(sim.PartBaro).Has(logs.Pressure) {
		sign, high = -1, 60
	}
	for i := range b.x {
		if i+5 < len(b.x) && sign*(b.x[i]-rest) > high && sign*(b.x[i+5]-rest) > high {
			return max(b.t[i]-1, min(e.in.from+leastPad, b.t[i]-roughLeast), 0), true
		}
	}
	return 0, false
}

const (
	leastPad   = 0.5 // s that a log shows of the pad at least, for its rest to be known
	roughLeast = 0.6 // s that thrust takes at most to lift a rocket by 5 m: of 28 m/s2 beyond its weight
)

// liftoffByReceiver goes back from the steepest rise of a receiver's height to where it stood before. It wanders by metres, for
// hours on the pad, too: so the height is taken anew from there, as the pad's.
func (e *examiner) liftoffByReceiver() (t float64, ok bool) {
	b := e.baro
	steep, ok := e.steepest()
	if !ok {
		return 0, false
	}
	before := b.span(steep-standsFrom, steep-standsUntil)
	if len(before) < 5 {
		return 0, false
	}
	rest := median(before)
	i := b.index(steep)
	for i > 0 && b.x[i]-rest > 2*wander {
		i--
	}
	return max(b.t[i]-1, 0), true
}

const standsFrom, standsUntil = 30.0, 8.0 // s before the steepest rise, between which a rocket stands: motors burn no longer

// heights turns pressure into height above the pad, in the air of the day.
func (e *examiner) heights() {
	b := e.baro
	e.res.Ground.Stretch = 1
	e.fixesOnPad()
	if b == nil {
		return
	}
	i, j := b.between(0, e.padEnd)
	if e.begun {
		e.heightsFlying()
		return
	}
	if !e.stream(sim.PartBaro).Has(logs.Pressure) {
		if b.part == sim.PartBaro && j > i { // it may be told above the sea
			zero := median(b.x[i:j])
			for i := range b.x {
				b.x[i] -= zero
			}
		}
		return
	}
	e.res.Ground.Pressure = median(b.x[i:j])
	air := e.air()
	for i := range b.x {
		b.x[i] = heightAt(air, b.x[i])
	}
	b.sigma = noise(b.x[:max(j, 20)])
	e.stretch()
}

// fixesOnPad counts a receiver's position from where it was on the pad: of few fixes there, the first twenty hold a part of the flight.
func (e *examiner) fixesOnPad() {
	for body, g := range e.gnss {
		if g == nil || e.begun {
			continue
		}
		x := g.span(e.in.from, e.padEnd)
		if len(x) == 0 {
			x = g.x[:1]
		}
		zero := median(x[max(len(x)-padFixes, 0):])
		for i := range g.x {
			g.x[i] -= zero
		}
		if body == 2 {
			e.res.Ground.Elevation += zero
		}
	}
}

const padFixes = 20 // before the liftoff that tell where the pad is

// heightsFlying is heights of a log that begins in flight.
func (e *examiner) heightsFlying() {
	b := e.baro
	perMetre := 1.0
	pressure := b.part == sim.PartBaro && e.stream(sim.PartBaro).Has(logs.Pressure)
	if pressure {
		perMetre = median(b.x) / perPascal
	}
	x, where := e.groundOf(b, perMetre)
	zero := median(x)
	if pressure {
		e.res.Ground.Pressure = zero
		air := e.air()
		for i := range b.x {
			b.x[i] = heightAt(air, b.x[i])
		}
		b.sigma = noise(b.x)
	} else {
		for i := range b.x {
			b.x[i] -= zero
		}
	}
	if z := e.gnss[2]; z != nil {
		x, _ := e.groundOf(z, 1)
		zero := median(x)
		if strings.HasPrefix(where, "the log") && len(b.x) > 0 {
			zero -= b.at(z.t[0])
		}
		for i := range z.x {
			z.x[i] -= zero
		}
	}
	e.noLiftoff(where)
	if e.falling {
		e.noApogee()
	}
}

// stretch finds how warm the air was: height by pressure is in proportion to the air's absolute
// temperature, and height by GNSS is not. The median of many ratios outvotes what is wrong for a while.
func (e *examiner) stretch() {
	b, z := e.baro, e.gnss[2]
	if z == nil || e.opt.Temperature != 0 {
		return
	}
	sorted := slices.Clone(b.x)
	slices.Sort(sorted)
	high := sorted[len(sorted)*99/100]
	if high < 200 {
		return
	}
	var ratios []float64
	for i := range z.x {
		if h := b.at(z.t[i]); !z.mask[i] && h > high/2 && h <= high {
			ratios = append(ratios, z.x[i]/h)
		}
	}
	if len(ratios) < 50 {
		return
	}
	k := median(ratios)
	if math.Abs(k-1) > 0.15 {
		return // no weather does that
	}
	e.res.Ground.Stretch = k
	e.res.Ground.Temperature *= k
	e.res.Ground.Assumed = "such that height by pressure is that by GNSS"
	for i := range b.x {
		b.x[i] *= k
	}
}

// air is the air of the day: the standard atmosphere through the pad's pressure.
func (e *examiner) air() *flight.Air {
	g := &e.res.Ground
	if g.Elevation == 0 {
		g.Elevation = heightAt(flight.NewAir(sim.Site{}), g.Pressure)
	}
	site := sim.Site{Elevation: g.Elevation, Pressure: g.Pressure, Temperature: e.opt.Temperature}
	if e.opt.Temperature != 0 {
		g.Temperature, g.Assumed = e.opt.Temperature, "given"
	}
	site.Temperature = g.Temperature
	if g.Temperature == 0 {
		g.Temperature, g.Assumed = flight.NewAir(site).At(0).Temperature, "standard for the height of the pad"
	}
	return flight.NewAir(site)
}

// heightAt inverts the pressure of the air by Newton's method with the hydrostatic slope.
func heightAt(a *flight.Air, p float64) float64 {
	if !(p > 100) {
		p = 100
	}
	h := 0.0
	for range 20 {
		w := a.At(h)
		d := (w.Pressure - p) / (w.Density * 9.80665)
		h += d
		if math.Abs(d) < 1e-7 {
			break
		}
	}
	return h
}
