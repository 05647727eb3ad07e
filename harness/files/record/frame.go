package record

import (
	"math"

	"drystage/sim"
)

// The columns of a sim.Frame.
const (
	frameNow = iota // after the tick's own time
	frameBay        // and its circuits
	flags
	skew
	flip
	lose
	cut
	random
	accelX
	accelY
	accelZ
	gyroX
	gyroY
	gyroZ
	baro
	temperature
	latitude
	longitude
	height
	trackX
	trackY
	trackZ
	satellites
	battery
	magX // of a bay with a magnetometer only
	magY
	magZ
	frameColumns
)

// circuitsAt is the first bit of what a continuity check reads; below it is the number of the bay.
const circuitsAt = 32

// frameTraits are what is known of the columns of a board's frames: its sensors read in steps.
func frameTraits(s *sim.Sensors) []trait {
	t := make([]trait, frameColumns)
	for _, k := range []int{frameNow, frameBay, flags, skew, flip, lose, cut, random, satellites} {
		t[k].whole = true
	}
	for k := range 3 {
		t[accelX+k].step, t[gyroX+k].step, t[magX+k].step = s.Accel.Resolution, s.Gyro.Resolution, s.Mag.Resolution
	}
	t[baro].step, t[battery].step = s.Baro.Resolution, s.Battery.Resolution
	if s.Mag.Rate == 0 {
		t = t[:magX]
	}
	return t
}

// putFrame puts a frame into a row, which is of a tick at a time.
func putFrame(g *grid, row int, f *sim.Frame, now sim.Time) {
	g[frameNow][row], g[frameBay][row], g[skew][row] = uint64(f.Now-now), uint64(f.Bay)|uint64(f.Circuits.Open)<<circuitsAt|uint64(f.Circuits.Short)<<(circuitsAt+16), uint64(f.Skew)
	g[flags][row] = bit(f.Due, 0) | bit(f.Powered, 1) | bit(f.Line.Stall, 2) |
		uint64(f.Has)<<8 | uint64(f.Twice)<<16 | uint64(f.Commands)<<24 | uint64(f.GNSS.Kind)<<32
	g[flip][row], g[lose][row] = uint64(math.Float32bits(f.Line.Flip)), uint64(math.Float32bits(f.Line.Lose))
	g[cut][row], g[random][row] = uint64(math.Float32bits(f.Line.Cut)), f.Line.Random
	putVec(g, accelX, row, &f.Accel)
	putVec(g, gyroX, row, &f.Gyro)
	putVec(g, trackX, row, &f.GNSS.Velocity)
	g[baro][row], g[temperature][row], g[battery][row] = math.Float64bits(f.Pressure), math.Float64bits(f.Temperature), math.Float64bits(f.Battery)
	g[latitude][row], g[longitude][row] = math.Float64bits(f.GNSS.Latitude), math.Float64bits(f.GNSS.Longitude)
	g[height][row], g[satellites][row] = math.Float64bits(f.GNSS.Height), uint64(f.GNSS.Satellites)
}

// frame gives the frame of a row.
func frame(g *grid, row int, now sim.Time) sim.Frame {
	x, w := func(column int) float64 { return at(g, column, row) }, g[flags][row]
	return sim.Frame{
		Now: now + sim.Time(g[frameNow][row]), Bay: int(g[frameBay][row] & (1<<circuitsAt - 1)), Due: w&1 != 0, Powered: w&2 != 0,
		Has: sim.Parts(w >> 8), Twice: sim.Parts(w >> 16), Commands: sim.Commands(w >> 24), Skew: sim.Time(g[skew][row]),
		Line: sim.Line{
			Flip: math.Float32frombits(uint32(g[flip][row])), Lose: math.Float32frombits(uint32(g[lose][row])),
			Cut: math.Float32frombits(uint32(g[cut][row])), Stall: w&4 != 0, Random: g[random][row],
		},
		Accel: vec(g, accelX, row), Gyro: vec(g, gyroX, row), Pressure: x(baro), Temperature: x(temperature), Battery: x(battery),
		Circuits: sim.Circuits{Open: uint16(g[frameBay][row] >> circuitsAt), Short: uint16(g[frameBay][row] >> (circuitsAt + 16))},
		GNSS: sim.Fix{
			Latitude: x(latitude), Longitude: x(longitude), Height: x(height), Velocity: vec(g, trackX, row),
			Kind: sim.FixKind(w >> 32), Satellites: int(g[satellites][row]),
		},
	}
}
