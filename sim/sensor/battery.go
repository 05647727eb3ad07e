package sensor

import (
	"drystage/sim"
	"drystage/sim/noise"
)

// battery is the supply. Its voltage falls linearly from Voltage by Sag volts each hour. The current of the
// outputs lowers it by Ohm's law over the internal resistance; the board's own current is included in Voltage.
// Firing a charge doesn't discharge it.
type battery struct {
	sim.Battery
	random *noise.Stream
	load   float64  // 1/ohm, of all outputs that are on
	lost   float64  // V, to faults
	wait   sim.Time // since the battery was fresh, at the start of the run
}

// terminalVoltage gives the voltage in V at the board's terminals.
func (b *battery) terminalVoltage(now sim.Time) float64 {
	const hour = 3600
	volts := b.Voltage - float64(b.Sag*((now+b.wait).Seconds()/hour))
	if b.load > 0 && b.Resistance > 0 {
		volts /= 1 + float64(b.Resistance*b.load)
	}
	return volts - b.lost
}

// sample gives V at a time of the run.
func (b *battery) sample(now sim.Time) float64 {
	return max(quantise(addNoise(b.terminalVoltage(now), b.Noise, b.random), b.Resolution), 0)
}
