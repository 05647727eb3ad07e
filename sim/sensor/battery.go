package sensor

import (
	"drystage/sim"
	"drystage/sim/noise"
)

// battery falls from Voltage in a straight line, Sag volts each hour, and never below 0. What a
// charge or an igniter draws is not felt.
type battery struct {
	sim.Battery
	chance *noise.Stream
}

// sample gives V at a time of the run.
func (b *battery) sample(now sim.Time) float64 {
	const hour = 3600
	volts := b.Voltage - float64(b.Sag*(now.Seconds()/hour))
	return max(steps(noisy(volts, b.Noise, b.chance), b.Resolution), 0)
}
