package sensor

import (
	"math"

	"drystage/sim"
	"drystage/sim/plain"
)

// bay is the air around a board. It flows in and out through the vents, and in from the recovery bay while a charge
// has raised the pressure there.
//
// Flow through a sharp-edged hole: C A sqrt(2 rho dp), with the density on the side of the higher pressure and C = 0.6
// (ISO 5167-2, from memory). The air in the bay keeps its temperature T, so dp/dt = R T/V times the flow.
type bay struct {
	vent, leak float64 // C A/V in 1/m
	lag        lag     // of a bay whose vents are told by a time constant
	period     float64 // s between samples
	outside    float64 // Pa at the ports, at the last sample
	pressure   float64 // Pa in the bay
	ejection   sim.Ejection
	chargeAt   sim.Time // when the last charge fired; sim.Never before
	chargeEnd  sim.Time // when nothing is left of it
	quick      bool     // a step of 100 Pa is gone before the next sample
	started    bool
}

const (
	discharge   = 0.6
	gasConstant = 287.05287 // J/(kg K), of air: US Standard Atmosphere 1976
	baySteps    = 4         // between samples, of a bay that breathes slowly or has a charge beside it
	chargeOver  = 20        // time constants after which nothing is left of a charge
	// usualVolume is the volume in m3 of a bay that doesn't tell it. Common practice, no source.
	usualVolume = 0.4e-3
	// choked is the share of a pressure above which a larger fall makes no more flow: 1 - (2/2.4)^3.5.
	choked = 0.4717
)

func newBay(b *sim.Barometer, period float64) bay {
	v := b.Vents.Volume
	if v <= 0 {
		v = usualVolume
	}
	hole := func(diameter float64) float64 {
		return float64(discharge*math.Pi/4*float64(diameter*diameter)) / v
	}
	made := bay{vent: float64(float64(b.Vents.Count) * hole(b.Vents.Diameter)), leak: hole(b.Ejection.Leak), lag: newLag(b.Lag, period),
		period: period, ejection: b.Ejection, chargeAt: sim.Never}
	made.quick = float64(made.vent*math.Sqrt(2*gasConstant*288.15*5e4)*period) > 2*math.Sqrt(100)
	return made
}

// chargeFired sets the time of a charge.
func (b *bay) chargeFired(at sim.Time) {
	b.chargeAt, b.chargeEnd = at, at+sim.Seconds(float64(chargeOver*b.ejection.Time))
}

// next takes the pressure at the ports at a sample and gives that in the bay.
func (b *bay) next(outside float64, s *input) float64 {
	if !b.started {
		b.outside, b.pressure, b.started = outside, outside, true
	}
	gas := float64(2 * gasConstant * max(s.temperature, 100))
	charged := b.leak > 0 && s.now >= b.chargeAt && s.now <= b.chargeEnd
	switch {
	case b.vent > 0:
		b.breathe(outside, gas, s.now, charged)
	case b.lag.on:
		b.lag.y = b.pressure
		b.pressure = b.lag.next(outside)
		if charged {
			b.pressure += float64(b.period * b.leakRate(b.pressure, outside, gas, s.now))
		}
	default:
		b.pressure = outside
	}
	b.outside = outside
	return b.pressure
}

// breathe advances by one sample through the vents. In each step the difference d of the pressures outside and inside
// is that at its end (backward Euler), d + h k sqrt(d) = D, which is stable for the smallest of bays and exact behind
// a steady climb.
func (b *bay) breathe(outside, gas float64, now sim.Time, charged bool) {
	steps := baySteps
	if b.quick && !charged {
		steps = 1
	}
	h := b.period / float64(steps)
	rise := (outside - b.outside) / float64(steps)
	out := b.outside
	k := float64(h * float64(b.vent*math.Sqrt(float64(gas*max(outside, b.pressure, 0))))) // it hardly changes
	k2 := float64(k * k)
	for i := 1; i <= steps; i++ {
		out += rise
		d := out - b.pressure
		if charged {
			d -= float64(h * b.leakRate(b.pressure, out, gas, now-sim.Seconds(float64(h*float64(steps-i)))))
		}
		root := (math.Sqrt(k2+float64(4*math.Abs(d))) - k) / 2
		b.pressure = out - math.Copysign(float64(root*root), d)
	}
	b.pressure = max(b.pressure, 0)
}

// leakRate gives the rise of the bay's pressure in Pa/s through the leak.
func (b *bay) leakRate(inside, outside, gas float64, at sim.Time) float64 {
	if at < b.chargeAt {
		return 0
	}
	charge := outside + float64(b.ejection.Peak*plain.Decay((at-b.chargeAt).Seconds(), b.ejection.Time))
	high, low := max(charge, inside, 0), min(charge, inside)
	flow := float64(b.leak * math.Sqrt(float64(gas*float64(high*min(high-low, float64(choked*high))))))
	return math.Copysign(flow, charge-inside)
}
