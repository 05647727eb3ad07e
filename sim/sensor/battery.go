package sensor

import (
	"drystage/sim"
	"drystage/sim/noise"
)

// battery falls from Voltage in a straight line, Sag volts each hour, and never below 0. What the
// outputs draw through their loads it loses over its inner resistance, by Ohm's law; the board's own
// current is part of Voltage. It gives no less after a charge than before.
type battery struct {
	sim.Battery
	chance *noise.Stream
	load   float64 // 1/ohm, of all outputs that are on
	lost   float64 // V, to faults
}

// rail gives V at the board's terminals.
func (b *battery) rail(now sim.Time) float64 {
	const hour = 3600
	volts := b.Voltage - float64(b.Sag*(now.Seconds()/hour))
	if b.load > 0 && b.Resistance > 0 {
		volts /= 1 + float64(b.Resistance*b.load)
	}
	return volts - b.lost
}

// sample gives V at a time of the run.
func (b *battery) sample(now sim.Time) float64 {
	return max(steps(noisy(b.rail(now), b.Noise, b.chance), b.Resolution), 0)
}
