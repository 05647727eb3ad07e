// Package trace tells what faults did to samples: each sample as it truly was, as the part read it, what
// faults added, and what was sent. It never judges, and never changes a record.
package trace

import (
	"math"
	"slices"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/r3"
	"drystage/sim/sensor"
)

// Sample is one sample of one part. Of parts without axes X counts; of a GNSS receiver X, Y, Z are
// longitude and latitude in rad and the height in m.
type Sample struct {
	At      sim.Time
	True    r3.Vec // what a part without any error would have read at its place; NaN where nobody knows
	Read    r3.Vec // as the part read it, with its own errors, before faults
	Sent    r3.Vec // as the board was given it
	Faults  uint64 // bit i: fault i changed it
	Dropped bool   // it was taken away, so that nothing was sent
	Twice   bool   // it was sent twice
	Fix     sim.FixKind
}

// Injected is what faults added.
func (s *Sample) Injected() r3.Vec { return r3.Sub(s.Sent, s.Read) }

// Samples lists all samples of a board's part in a record, in order of time, those included that faults took
// away. What the battery truly gave isn't known afterwards, nor anything of a log that was played.
func Samples(rec *harness.Record, bay int, part sim.Part) (list []Sample) {
	ideal := newIdeal(rec, bay)
	has := sim.Parts(1) << (part - 1)
	next := 0 // of the injections
	for tick, now := range rec.Times {
		f := rec.Frame(tick, bay)
		truth := ideal.at(rec, tick, part)
		s := Sample{At: now, True: truth, Sent: f.Sample(part), Twice: f.Twice&has != 0, Fix: f.GNSS.Kind}
		s.Read = s.Sent
		for ; next < len(rec.Injected) && rec.Injected[next].At <= now; next++ {
			x := &rec.Injected[next]
			if x.At != now || x.Bay != bay || x.Part != part {
				continue
			}
			if s.Faults == 0 {
				s.Read = x.Was
			}
			s.Faults |= 1 << uint(x.Fault)
			s.Sent, s.Dropped = x.Is, s.Dropped || x.Dropped
		}
		if f.Powered && (f.Has&has != 0 || s.Dropped) {
			list = append(list, s)
		}
	}
	return list
}

// longest is the longest run whose truth is worked out again; no run is longer than an hour.
const longest = 3600 * sim.Second

// ideal is a board's sensors without errors, each in its place and on its mounting.
type ideal struct {
	bank  *sensor.Bank
	bay   int
	stage int
	frame sim.Frame
}

func newIdeal(rec *harness.Record, bay int) *ideal {
	i := &ideal{bay: bay, stage: rec.Plan.Setup.Bays[bay].Stage}
	if rec.Plan.Log.File != "" || len(rec.Times) > 0 && slices.Max(rec.Times) > longest {
		return i
	}
	s := rec.Plan.Setup
	b := s.Bays[bay]
	p := b.Sensors
	plain := func(t sim.Triad) sim.Triad {
		return sim.Triad{Rate: t.Rate, ClockError: t.ClockError, Mounting: t.Mounting, Position: t.Position}
	}
	b.Sensors = sim.Sensors{
		Accel: plain(p.Accel), Gyro: plain(p.Gyro), Baro: sim.Barometer{Rate: p.Baro.Rate, ClockError: p.Baro.ClockError},
		GNSS: sim.Receiver{Rate: p.GNSS.Rate}, Battery: sim.Battery{Rate: p.Battery.Rate}, Mag: sim.Magnetometer{Triad: plain(p.Mag.Triad)},
	}
	s.Bays = make([]sim.Bay, bay+1)
	s.Bays[bay] = b
	i.bank = sensor.New(s.Seed, &s, bay)
	return i
}

// at gives the truth of a part at a tick; ticks come in order.
func (i *ideal) at(rec *harness.Record, tick int, part sim.Part) r3.Vec {
	nan := math.NaN()
	if i.bank == nil || part == sim.PartBattery {
		return r3.Vec{X: nan, Y: nan, Z: nan}
	}
	i.frame.Now = rec.Times[tick]
	i.bank.Sample(rec.State(tick, i.stage), &i.frame)
	return i.frame.Sample(part)
}

// axes is how many numbers a sample of a part has.
func axes(p sim.Part) int {
	if p.Axes() || p == sim.PartGNSS {
		return 3
	}
	return 1
}

// unit is that of a part's numbers as they are written, and what it takes to get from SI there.
func unit(p sim.Part, axis int) (symbol string, per float64) {
	switch p {
	case sim.PartAccel:
		return "m/s2", 1
	case sim.PartGyro:
		return "deg/s", 180 / math.Pi
	case sim.PartBaro:
		return "Pa", 1
	case sim.PartGNSS:
		if axis < 2 {
			return "deg", 180 / math.Pi
		}
		return "m", 1
	case sim.PartMag:
		return "uT", 1e6
	}
	return "V", 1
}

// component is one number of a sample.
func component(v r3.Vec, axis int) float64 { return [...]float64{v.X, v.Y, v.Z}[axis] }
