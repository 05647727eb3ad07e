// Package sensor turns the true state of a flight into what the parts on a board say: each at its own
// rate, on its own mounting, with bias, noise, steps and limits. One file per family of parts.
//
// Noise is white and each part has a stream of its own, named BAY.PART. Bias is constant. Of what
// real parts do besides, scale and cross-axis errors, drift of the bias, delay, filtering and a
// barometer's answer to wind and shock waves are left out; faults can play some of them.
//
// It never computes a flight, spoils a sample on purpose, or allocates once a Bank is made.
package sensor

import (
	"math"
	"math/bits"

	"drystage/sim"
	"drystage/sim/noise"
)

// Bank is all the sensors of one bay.
type Bank struct {
	station float64 // m aft of the stage's front end
	accel   triad
	gyro    triad
	baro    barometer
	gnss    receiver
	battery battery
	timers  [5]timer // in order of the parts
	next    sim.Time
}

// timer tells when a part is due.
type timer struct {
	has  sim.Parts
	rate uint64 // mHz; 0: not fitted
	k    uint64 // number of the next sample
	next sim.Time
}

// New makes the sensors of bay number bay of s, all due at time 0 for the first time. Zero values in
// a part mean: no limit, no step, no noise, axes along the body's, and at rate 0 no part.
func New(seed uint64, s *sim.Setup, bay int) *Bank {
	b := &s.Bays[bay]
	p := &b.Sensors
	chance := func(part sim.Part) *noise.Stream { return noise.New(seed, b.Name+"."+part.String()) }
	bank := &Bank{
		station: b.Station,
		accel:   newTriad(&p.Accel, chance(sim.PartAccel)),
		gyro:    newTriad(&p.Gyro, chance(sim.PartGyro)),
		baro:    barometer{p.Baro, chance(sim.PartBaro)},
		gnss:    newReceiver(&p.GNSS, &s.Vehicle.Site, chance(sim.PartGNSS)),
		battery: battery{p.Battery, chance(sim.PartBattery)},
	}
	rates := [...]float64{p.Accel.Rate, p.Gyro.Rate, p.Baro.Rate, p.GNSS.Rate, p.Battery.Rate}
	bank.next = sim.Never
	for i, hz := range rates {
		t := timer{has: 1 << i, rate: millihertz(hz), next: sim.Never}
		if t.rate > 0 {
			t.next, bank.next = 0, 0
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
	for i := range b.timers {
		t := &b.timers[i]
		if t.next <= f.Now {
			f.Has |= t.has
			b.read(t.has, st, f)
			t.pass(f.Now)
		}
		b.next = min(b.next, t.next)
	}
}

// read puts one part's sample into the frame.
func (b *Bank) read(part sim.Parts, st *sim.State, f *sim.Frame) {
	switch part {
	case sim.HasAccel:
		f.Accel = b.accel.sample(forceAt(st, b.station))
	case sim.HasGyro:
		f.Gyro = b.gyro.sample(st.Rates)
	case sim.HasBaro:
		f.Pressure, f.Warmth = b.baro.sample(st), st.Ambient
	case sim.HasGNSS:
		b.gnss.sample(st, &f.GNSS)
	case sim.HasBattery:
		f.Battery = b.battery.sample(f.Now)
	}
}

// pass moves on to the first sample after now.
func (t *timer) pass(now sim.Time) {
	for t.next <= now {
		t.k++
		t.next = instant(t.k, t.rate)
	}
}

// millihertz gives a rate as whole thousandths of a hertz, at most 1 MHz, so that instants are exact.
func millihertz(hz float64) uint64 {
	if !(hz > 0) {
		return 0
	}
	return max(1, uint64(math.RoundToEven(min(hz, 1e6)*1000)))
}

// instant gives k / rate in whole nanoseconds, halves rounded up, by integers alone; rate in mHz.
func instant(k, rate uint64) sim.Time {
	const twice = 2e12 // 1e9 ns times 1000 mHz, doubled to round by halves
	high, low := bits.Mul64(k, twice)
	low, carry := bits.Add64(low, rate, 0)
	high += carry
	if high >= 2*rate {
		return sim.Never
	}
	ns, _ := bits.Div64(high, low, 2*rate)
	return sim.Time(min(ns, uint64(sim.Never)))
}
