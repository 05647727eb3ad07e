package sensor

import (
	"drystage/sim"
	"drystage/sim/noise"
)

// barometer measures the pressure in its bay: that at the static ports, through the bay's vents.
type barometer struct {
	sim.Barometer
	random *noise.Stream
	ports  ports
	bay    bay
	drift  gaussMarkov
}

func newBarometer(p *sim.Barometer, random func(effect string) *noise.Stream) barometer {
	period := period(p.Rate, p.ClockError)
	return barometer{Barometer: *p, random: random(""), ports: newPorts(p), bay: newBay(p, period), drift: newGaussMarkov(p.Drift, period, random(".drift"))}
}

// sample gives Pa, between Min and Max when Max is above Min, and never below 0.
func (b *barometer) sample(s *input) float64 {
	p := b.bay.next(b.ports.pressure(s.st), s)
	if b.Thermal != 0 {
		p += float64(b.Thermal * (s.temperature - reference))
	}
	x := quantise(addNoise(p+b.drift.next()+b.Bias, b.Noise, b.random), b.Resolution)
	if b.Max > b.Min {
		x = min(max(x, b.Min), b.Max)
	}
	return max(x, 0)
}
