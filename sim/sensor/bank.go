// Package sensor simulates the sensors of a board. From the true state of a flight it computes the samples of
// each part: at the part's own rate, on its own mounting, with the errors of its data sheet and of its position
// in the rocket. Each family of parts has a file.
//
// Each part has its own random stream, named BAY.PART, and each effect of a part another, named
// BAY.PART.EFFECT, so a new effect doesn't change the random numbers of the others.
//
// It doesn't compute flights, injects no faults, and doesn't allocate once a Bank is made.
package sensor

import (
	"math"
	"math/bits"

	"drystage/sim"
	"drystage/sim/noise"
	"drystage/sim/r3"
)

// Bank is all the sensors of one bay.
type Bank struct {
	station     float64 // m aft of the stage's front end
	accel       triad
	high        triad
	gyro        triad
	baro        barometer
	gnss        receiver
	battery     battery
	mag         magnetometer
	temperature boardTemperature
	shock       *sim.Shock               // of the bay's stage
	shockAt     func(sim.Time) sim.Shock // and before; nil: nobody knows
	felt        [2]shockMean             // of accelerometers and gyro
	timers      []timer                  // of the parts that are fitted; parts that are always due together share one
	next        sim.Time
	warmed      bool // an inertial part depends on the board's temperature
}

// timer tells when parts are due.
type timer struct {
	parts       sim.Parts
	rate        uint64   // nHz
	wholePeriod sim.Time // ns between samples, if that is a whole number; else 0
	k           uint64   // number of the next sample
	next        sim.Time
}

// New makes the sensors of bay number bay of s, all due at time 0 for the first time. Zero values of a part
// mean: no limit, no resolution step, no noise, axes along the body's, and with rate 0 no part.
func New(seed uint64, s *sim.Setup, bay int) *Bank {
	b := &s.Bays[bay]
	p := &b.Sensors
	random := func(part string) func(string) *noise.Stream {
		return func(effect string) *noise.Stream { return noise.New(seed, b.Name+"."+part+effect) }
	}
	high := p.High
	if high.Rate > 0 { // it is sampled together with the other one
		high.Rate, high.ClockError = p.Accel.Rate, p.Accel.ClockError
	}
	shaking := &s.Vehicle.Vibration
	bank := &Bank{
		shock:       new(sim.Shock),
		station:     b.Station,
		accel:       newTriad(&p.Accel, shaking, false, random(sim.PartAccel.String())),
		high:        newTriad(&high, shaking, false, random("high_"+sim.PartAccel.String())),
		gyro:        newTriad(&p.Gyro, shaking, true, random(sim.PartGyro.String())),
		baro:        newBarometer(&p.Baro, random(sim.PartBaro.String())),
		gnss:        newReceiver(&p.GNSS, s, random(sim.PartGNSS.String())),
		battery:     battery{Battery: p.Battery, random: random(sim.PartBattery.String())(""), wait: s.Pad.Wait},
		mag:         newMagnetometer(&p.Mag, &s.Vehicle.Site, random(sim.PartMag.String())),
		temperature: boardTemperature{p.Heating, s.Pad.Warmth, s.Vehicle.Site.Temperature, s.Pad.Wait},
	}
	bank.warmed = !bank.accel.plain || !bank.high.plain || !bank.gyro.plain
	rates := [...][2]float64{{p.Accel.Rate, p.Accel.ClockError}, {p.Gyro.Rate, p.Gyro.ClockError}, {p.Baro.Rate, p.Baro.ClockError}, {p.GNSS.Rate, 0}, {p.Battery.Rate, 0}, {p.Mag.Rate, p.Mag.ClockError}}
	bank.next = sim.Never
	for i, r := range rates {
		bank.addTimer(1<<i, nanohertz(r[0], r[1]))
	}
	return bank
}

// addTimer lets a part be due at a rate in nHz from now on; 0: never.
func (b *Bank) addTimer(part sim.Parts, rate uint64) {
	if rate == 0 {
		return
	}
	b.next = 0
	for i := range b.timers {
		if b.timers[i].rate == rate {
			b.timers[i].parts |= part
			return
		}
	}
	t := timer{parts: part, rate: rate}
	if whole := uint64(1e18); whole%rate == 0 { // 1e9 ns times 1e9 nHz
		t.wholePeriod = sim.Time(whole / rate)
	}
	b.timers = append(b.timers, t)
}

// Next gives the next instant at which any part is due; sim.Never when none is fitted.
func (b *Bank) Next() sim.Time { return b.next }

// Sample takes the samples that are due at f.Now from the state of the bay's stage, and sets f.Has to
// those. It doesn't change the rest of the frame, so a part that isn't due keeps its last value there. Samples
// that were due between the last call and now are skipped.
func (b *Bank) Sample(st *sim.State, f *sim.Frame) {
	f.Has = 0
	if b.next > f.Now {
		return
	}
	now, next, has := f.Now, sim.Never, sim.Parts(0)
	for i := range b.timers {
		t := &b.timers[i]
		if t.next <= now {
			has |= t.parts
			t.advance(now)
		}
		next = min(next, t.next)
	}
	b.next, f.Has = next, has
	s := input{now: now, st: st}
	if b.warmed || has&sim.HasBaro != 0 {
		s.temperature = b.temperature.at(now, st)
	}
	b.read(&s, f)
}

// SupplyVoltage gives the voltage of the board's supply at a time: that of the battery under the load of the
// outputs that are on, minus the voltage drop of faults.
func (b *Bank) SupplyVoltage(now sim.Time) float64 { return b.battery.terminalVoltage(now) }

// SetLoad sets the conductance in 1/ohm of the loads on the outputs that are on, and the voltage drop of faults.
func (b *Bank) SetLoad(siemens, lost float64) { b.battery.load, b.battery.lost = siemens, lost }

// ChargeFired tells that a charge fires in the bay's own stage at a time; its barometer measures the pulse.
func (b *Bank) ChargeFired(at sim.Time) { b.baro.bay.chargeFired(at) }

// SetShock tells where what short pulses do to the bay's stage is kept, which must be as new as the state at each Sample;
// and what gives that of earlier instants.
func (b *Bank) SetShock(s *sim.Shock, before func(sim.Time) sim.Shock) {
	b.shock, b.shockAt = s, before
}

// read puts the samples that are due into the frame. Each part has random streams of its own, so that their order
// doesn't matter.
func (b *Bank) read(s *input, f *sim.Frame) {
	if f.Has&sim.HasAccel != 0 {
		in, m := s, &b.felt[0]
		if b.shock.Changes != m.changes {
			b.clipShock(m.at, s)
			in = m.apply(s, b.shock)
		}
		m.at = s.now
		f.Accel = b.specificForce(in)
	}
	if f.Has&sim.HasGyro != 0 {
		var force r3.Vec
		in, m := s, &b.felt[1]
		if b.shock.Changes != m.changes {
			b.clipTurn(m.at, s)
			in = m.apply(s, b.shock)
		}
		m.at = s.now
		if b.gyro.GSensitivity != 0 {
			force = specificForceAt(in.st, b.station, b.gyro.Position)
		}
		f.Gyro = b.gyro.sample(in.st.Rates, in, &force)
	}
	if f.Has&^(sim.HasAccel|sim.HasGyro) == 0 {
		return
	}
	if f.Has&sim.HasBaro != 0 {
		f.Pressure, f.Temperature = b.baro.sample(s), s.temperature
	}
	if f.Has&sim.HasGNSS != 0 {
		b.gnss.sample(s, &f.GNSS)
	}
	if f.Has&sim.HasBattery != 0 {
		f.Battery = b.battery.sample(f.Now)
	}
	if f.Has&sim.HasMag != 0 {
		f.Mag = b.mag.sample(s, b.battery.current(f.Now))
	}
}

// specificForce combines the board's accelerometers.
func (b *Bank) specificForce(s *input) r3.Vec {
	force := specificForceAt(s.st, b.station, b.accel.Position)
	v := b.accel.sample(force, s, &force)
	if b.high.Rate > 0 {
		force = specificForceAt(s.st, b.station, b.high.Position)
		v = b.accel.useHighRange(v, b.high.sample(force, s, &force), &b.high.Mounting)
	}
	return v
}

// advance goes on to the first sample after now.
func (t *timer) advance(now sim.Time) {
	for t.next <= now {
		if t.wholePeriod > 0 {
			t.next += t.wholePeriod
			continue
		}
		t.k++
		t.next = instant(t.k, t.rate)
	}
}

// nanohertz gives a rate with a relative error as a whole number, so that instants are exact. Rates are in whole
// thousandths of a hertz and at most 1 MHz, errors in whole millionths.
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
