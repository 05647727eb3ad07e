package record

import (
	"gonum.org/v1/gonum/spatial/r3"

	"drystage/harness"
	"drystage/sim"
)

// packed is a sim.Frame in fixed sizes.
type packed struct {
	Now          sim.Time
	Bay          int32
	Due, Powered bool
	Has, Twice   sim.Parts
	Skew         sim.Time
	Line         sim.Line
	Commands     sim.Commands
	Accel, Gyro  r3.Vec
	Pressure     float64
	Temperature  float64
	Latitude     float64
	Longitude    float64
	Height       float64
	Velocity     r3.Vec
	Kind         sim.FixKind
	Satellites   int32
	Battery      float64
}

// pack packs the frames of a stretch of ticks.
func pack(rec *harness.Record, from, to int) []packed {
	bays := len(rec.Plan.Setup.Bays)
	out := make([]packed, 0, (to-from)*bays)
	for _, f := range rec.Frames[from*bays : to*bays] {
		out = append(out, packed{
			f.Now, int32(f.Bay), f.Due, f.Powered, f.Has, f.Twice, f.Skew, f.Line, f.Commands, f.Accel, f.Gyro, f.Pressure, f.Temperature,
			f.GNSS.Latitude, f.GNSS.Longitude, f.GNSS.Height, f.GNSS.Velocity, f.GNSS.Kind, int32(f.GNSS.Satellites), f.Battery,
		})
	}
	return out
}

// unpack puts frames into a record, from a tick on.
func unpack(rec *harness.Record, from int, frames []packed) {
	first := from * len(rec.Plan.Setup.Bays)
	for i := range frames {
		rec.Frames[first+i] = frames[i].frame()
	}
}

func (p *packed) frame() sim.Frame {
	return sim.Frame{
		Now: p.Now, Bay: int(p.Bay), Due: p.Due, Powered: p.Powered, Has: p.Has, Twice: p.Twice, Skew: p.Skew, Line: p.Line, Commands: p.Commands,
		Accel: p.Accel, Gyro: p.Gyro, Pressure: p.Pressure, Temperature: p.Temperature, Battery: p.Battery,
		GNSS: sim.Fix{
			Latitude: p.Latitude, Longitude: p.Longitude, Height: p.Height, Velocity: p.Velocity,
			Kind: p.Kind, Satellites: int(p.Satellites),
		},
	}
}
