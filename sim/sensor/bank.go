// Package sensor turns the true state of a flight into what the parts on a board say: each at its own
// rate, on its own mounting, with the errors that its data sheet tells of and those that its place in
// the rocket brings. One file per family of parts.
//
// Each part has a stream of chance of its own, named BAY.PART, and each effect of a part another, named
// BAY.PART.EFFECT: to add an effect moves no other one.
//
// It never computes a flight, spoils a sample on purpose, or allocates once a Bank is made.
package sensor

import (
	"math"
	"math/bits"

	"gonum.org/v1/gonum/spatial/r3"

	"drystage/sim"
	"drystage/sim/noise"
)

// Bank is all the sensors of one bay.
type Bank struct {
	station float64 // m aft of the stage's front end
	accel   triad
	high    triad
	gyro    triad
	baro    barometer
	gnss    receiver
	battery battery
	warmth  warmth
	timers  [5]timer // in order of the parts
	next    sim.Time
}

// timer tells when a part is due.
type timer struct {
	has  sim.Parts
	rate uint64   // nHz; 0: not fitted
	even sim.Time // between samples, where that is a whole number; 0: it is none
	k    uint64   // number of the next sample
	next sim.Time
}

// New makes the sensors of bay number bay of s, all due at time 0 for the first time. Zero values in
// a part mean: no limit, no step, no noise, axes along the body's, and at rate 0 no part.
func New(seed uint64, s *sim.Setup, bay int) *Bank {
	b := &s.Bays[bay]
	p := &b.Sensors
	chance := func(part string) func(string) *noise.Stream {
		return func(effect string) *noise.Stream { return noise.New(seed, b.Name+"."+part+effect) }
	}
	high := p.High
	if high.Rate > 0 { // it is read together with the other one
		high.Rate, high.ClockError = p.Accel.Rate, p.Accel.ClockError
	}
	bank := &Bank{
		station: b.Station,
		accel:   newTriad(&p.Accel, chance(sim.PartAccel.String())),
		high:    newTriad(&high, chance("high_"+sim.PartAccel.String())),
		gyro:    newTriad(&p.Gyro, chance(sim.PartGyro.String())),
		baro:    newBarometer(&p.Baro, chance(sim.PartBaro.String())),
		gnss:    newReceiver(&p.GNSS, &s.Vehicle.Site, chance(sim.PartGNSS.String())),
		battery: battery{Battery: p.Battery, chance: chance(sim.PartBattery.String())("")},
		warmth:  warmth{p.Heating, s.Vehicle.Site.Temperature},
	}
	rates := [...][2]float64{{p.Accel.Rate, p.Accel.ClockError}, {p.Gyro.Rate, p.Gyro.ClockError}, {p.Baro.Rate, p.Baro.ClockError}, {p.GNSS.Rate, 0}, {p.Battery.Rate, 0}}
	bank.next = sim.Never
	for i, r := range rates {
		t := timer{has: 1 << i, rate: nanohertz(r[0], r[1]), next: sim.Never}
		if t.rate > 0 {
			t.next, bank.next = 0, 0
			if whole := uint64(1e18); whole%t.rate == 0 { // 1e9 ns times 1e9 nHz
				t.even = sim.Time(whole / t.rate)
			}
		}
		bank.timers[i] = t
	}
	return bank
}

// Next gives the next instant at which any part is due; sim.Never when none is fitted.
func (b *Bank) Next() sim.Time { return b.next }

// Sample takes the samples that are due at f.Now from the state of the bay's stage, and sets f.Has to
// those. It leaves the rest of the frame, so a part not due keeps its last value there. Instants
// passed over since the last call are not made up for.
func (b *Bank) Sample(st *sim.State, f *sim.Frame) {
	f.Has = 0
	if b.next > f.Now {
		return
	}
	b.next = sim.Never
	s := scene{now: f.Now, st: st, kelvin: b.warmth.at(f.Now, st)}
	for i := range b.timers {
		t := &b.timers[i]
		if t.next <= f.Now {
			f.Has |= t.has
			b.read(t.has, &s, f)
			t.pass(f.Now)
		}
		b.next = min(b.next, t.next)
	}
}

// Rail gives the voltage of the board's supply at a time: that of the battery under the load of the
// outputs which are on, and less by what a fault takes from it.
func (b *Bank) Rail(now sim.Time) float64 { return b.battery.rail(now) }

// Load says how much conductance in 1/ohm hangs on the outputs that are on, and how many volts the
// supply has lost to a fault.
func (b *Bank) Load(siemens, lost float64) { b.battery.load, b.battery.lost = siemens, lost }

// Charge says that a charge fires in the bay's own stage at a time, which its barometer feels.
func (b *Bank) Charge(at sim.Time) { b.baro.blast(at) }

// read puts one part's sample into the frame.
func (b *Bank) read(part sim.Parts, s *scene, f *sim.Frame) {
	switch part {
	case sim.HasAccel:
		f.Accel = b.force(s)
	case sim.HasGyro:
		var force r3.Vec
		if b.gyro.GSensitivity != 0 {
			force = forceAt(s.st, b.station, b.gyro.Position)
		}
		f.Gyro = b.gyro.sample(s.st.Rates, s, &force)
	case sim.HasBaro:
		f.Pressure, f.Warmth = b.baro.sample(s), s.kelvin
	case sim.HasGNSS:
		b.gnss.sample(s, &f.GNSS)
	case sim.HasBattery:
		f.Battery = b.battery.sample(f.Now)
	}
}

// force is what the board makes of its accelerometers.
func (b *Bank) force(s *scene) r3.Vec {
	force := forceAt(s.st, b.station, b.accel.Position)
	v := b.accel.sample(force, s, &force)
	if b.high.Rate > 0 {
		force = forceAt(s.st, b.station, b.high.Position)
		v = b.accel.clipped(v, b.high.sample(force, s, &force), &b.high.Mounting)
	}
	return v
}

// pass moves on to the first sample after now.
func (t *timer) pass(now sim.Time) {
	for t.next <= now {
		if t.even > 0 {
			t.next += t.even
			continue
		}
		t.k++
		t.next = instant(t.k, t.rate)
	}
}

// nanohertz gives a rate, too high by a share of itself, as a whole number, so that instants are exact:
// rates in whole thousandths of a hertz and at most 1 MHz, errors in whole millionths.
func nanohertz(hz, more float64) uint64 {
	if !(hz > 0) {
		return 0
	}
	const million = 1_000_000
	ppm := int64(math.RoundToEven(min(max(more, -0.5), 0.5) * million))
	return max(1, uint64(math.RoundToEven(min(hz, 1e6)*1000))) * uint64(million+ppm)
}

// period gives the time between samples in s.
func period(hz, more float64) float64 {
	if !(hz > 0) {
		return 1
	}
	return 1e9 / float64(nanohertz(hz, more))
}

// instant gives k / rate in whole nanoseconds, halves rounded up, by integers alone; rate in nHz, from
// 1000 on.
func instant(k, rate uint64) sim.Time {
	const twice = 2e18 // 1e9 ns times 1e9 nHz, doubled to round by halves
	high, low := bits.Mul64(k, twice)
	low, carry := bits.Add64(low, rate, 0)
	high += carry
	if high >= 2*rate {
		return sim.Never
	}
	ns, _ := bits.Div64(high, low, 2*rate)
	return sim.Time(min(ns, uint64(sim.Never)))
}
