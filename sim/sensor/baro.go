package sensor

import (
	"math"
	"sort"

	"drystage/sim"
	"drystage/sim/noise"
	"drystage/sim/plain"
)

// barometer measures the pressure in its bay. That is the static pressure of the air, with an error of the ports
// that depends on the Mach number and a lag of the vents. A charge adds a pulse.
type barometer struct {
	sim.Barometer
	random   *noise.Stream
	bayLag   lag
	drift    gaussMarkov
	chargeAt sim.Time // when the last charge fired; sim.Never before
}

func newBarometer(p *sim.Barometer, random func(effect string) *noise.Stream) barometer {
	tau := p.Lag
	if p.Vents.Count > 0 {
		tau = ventLag(&p.Vents)
	}
	period := period(p.Rate, p.ClockError)
	return barometer{Barometer: *p, random: random(""), bayLag: newLag(tau, period), drift: newGaussMarkov(p.Drift, period, random(".drift")), chargeAt: sim.Never}
}

// chargeFired sets the time of a charge.
func (b *barometer) chargeFired(at sim.Time) { b.chargeAt = at }

// sample gives Pa, between Min and Max when Max is above Min, and never below 0.
func (b *barometer) sample(s *input) float64 {
	p := s.st.Pressure
	if len(b.Ports) > 0 {
		p += float64(portError(b.Ports, s.st.Mach) * s.st.Dynamic)
	}
	p = b.bayLag.next(p)
	if s.now >= b.chargeAt && b.Ejection.Time > 0 {
		p += float64(b.Ejection.Peak * plain.Decay((s.now-b.chargeAt).Seconds(), b.Ejection.Time))
	}
	if b.Thermal != 0 {
		p += float64(b.Thermal * (s.temperature - reference))
	}
	x := quantise(addNoise(p+b.drift.next()+b.Bias, b.Noise, b.random), b.Resolution)
	if b.Max > b.Min {
		x = min(max(x, b.Min), b.Max)
	}
	return max(x, 0)
}

// portError gives Cp at a Mach number.
func portError(rows []sim.Port, mach float64) float64 {
	i := sort.Search(len(rows), func(i int) bool { return rows[i].Mach >= mach })
	switch {
	case i == 0:
		return rows[0].Cp
	case i == len(rows):
		return rows[i-1].Cp
	}
	a, b := rows[i-1], rows[i]
	return a.Cp + float64((b.Cp-a.Cp)*((mach-a.Mach)/(b.Mach-a.Mach)))
}

// ventLag gives the time constant of a bay in s. The pressure difference across a sharp-edged hole grows with the
// square of the flow (orifice equation with discharge coefficient 0.6, ISO 5167-2, from memory), so the lag is
// proportional to the climb rate. This is the lag at a climb of 100 m/s, with air of 15 degC outside and in the
// bay: (g w / 2) (V / (R T Cd A))^2.
func ventLag(v *sim.Vents) float64 {
	const climb, g, gas, kelvin, discharge = 100, 9.80665, 287.05287, 288.15, 0.6
	area := float64(v.Count) * math.Pi / 4 * v.Diameter * v.Diameter
	flow := v.Volume / (gas * kelvin * discharge * area)
	return g * climb / 2 * flow * flow
}
