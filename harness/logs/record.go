package logs

import (
	"errors"

	"drystage/harness"
	"drystage/sim"
)

// FromRecord takes what one board was given in a run, and what it did, as a log. Samples that a board
// without supply never got are left out.
func FromRecord(rec *harness.Record, bay int) (*Log, error) {
	if bay < 0 || bay >= len(rec.Plan.Setup.Bays) {
		return nil, errors.New("logs: no such board in the record")
	}
	b := newBuilder(rec.Plan.Name, 0)
	for _, c := range channels {
		if c.Word != "barometer height" && rec.Plan.Setup.Bays[bay].Sensors.Rate(c.Part) > 0 {
			b.want(c)
		}
	}
	b.first = false
	for i := range rec.Ticks() {
		f := rec.Frame(i, bay)
		b.now = f.Now
		if f.Commands != 0 {
			b.log.Commands = append(b.log.Commands, Command{At: f.Now, What: f.Commands})
		}
		if !f.Powered || f.Has == 0 {
			continue
		}
		b.frame(f)
		if err := b.row(harness.Place{File: rec.Plan.Name}); err != nil {
			return nil, err
		}
	}
	for _, o := range rec.Outputs {
		if o.Bay == bay {
			b.log.Outputs = append(b.log.Outputs, Output{Channel: o.Channel, Name: wireName(&rec.Plan.Setup.Bays[bay], o.Channel), On: o.On, At: o.At})
		}
	}
	if b.log.Samples() == 0 {
		return nil, errors.New("logs: the record holds no sample of this board")
	}
	return b.done(), nil
}

func wireName(b *sim.Bay, channel int) string {
	for _, w := range b.Wires {
		if w.Channel == channel {
			return w.Name
		}
	}
	return ""
}

// frame sets the channels of a frame's fresh samples.
func (b *builder) frame(f *sim.Frame) {
	put := func(p sim.Part, values ...float64) {
		for i, c := range channelsOf(p)[:len(values)] {
			if n, ok := c.counts(values[i]); ok {
				b.set(c, n)
			}
		}
	}
	for _, h := range []struct {
		has sim.Parts
		put func()
	}{
		{sim.HasAccel, func() { put(sim.PartAccel, f.Accel.X, f.Accel.Y, f.Accel.Z) }},
		{sim.HasGyro, func() { put(sim.PartGyro, f.Gyro.X, f.Gyro.Y, f.Gyro.Z) }},
		{sim.HasBaro, func() { put(sim.PartBaro, f.Pressure, f.Temperature) }},
		{sim.HasGNSS, func() {
			g := &f.GNSS
			put(sim.PartGNSS, g.Latitude, g.Longitude, g.Height, g.Velocity.X, g.Velocity.Y, g.Velocity.Z, float64(g.Kind), float64(g.Satellites))
		}},
		{sim.HasBattery, func() { put(sim.PartBattery, f.Battery) }},
	} {
		if f.Has&h.has != 0 {
			h.put()
		}
	}
}
