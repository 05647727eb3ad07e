package examine

import (
	"fmt"
	"math"

	"drystage/sim"
)

const leastLatency = 0.1 // s: receivers of the trade are that late; common practice, no source

// late measures by how much GNSS speed lags behind the accelerometer's: where the speed changes, a
// delay shows as a difference in proportion to the acceleration. What is in proportion to the speed
// itself, a wrong scale or tilt, and what is constant are fitted beside it.
func (e *examiner) late() {
	if e.vup == nil || e.rise == nil {
		return
	}
	var m [3][3]float64
	var y [3]float64
	n, yy := 0, 0.0
	const span = 0.1
	i, j := e.vup.between(e.lift-1, e.top)
	for ; i < j; i++ {
		if e.vup.mask[i] {
			continue
		}
		t := e.vup.t[i]
		row := [3]float64{1, e.rise.at(t), (e.rise.at(t+span) - e.rise.at(t-span)) / (2 * span)}
		for r := range row {
			y[r] += row[r] * (e.rise.at(t) - e.vup.x[i])
			for c := range row {
				m[r][c] += row[r] * row[c]
			}
		}
		yy += (e.rise.at(t) - e.vup.x[i]) * (e.rise.at(t) - e.vup.x[i])
		n++
	}
	x, ok := solve3(m, y)
	if n < 20 || !ok || m[2][2] == 0 {
		return
	}
	tau, sd := x[2], 2*e.vup.sigma/math.Sqrt(m[2][2])
	// What is left must be noise, or something else than a delay is at work.
	left := (yy - x[0]*y[0] - x[1]*y[1] - x[2]*y[2]) / float64(max(n-3, 1))
	if all := yy / float64(max(n, 1)); !(tau > leastLatency) || tau < 6*sd || left > 6*e.vup.sigma*e.vup.sigma && left > 0.25*all {
		return
	}
	e.found(Finding{Kind: Latency, Part: sim.PartGNSS, Axis: sim.AllAxes, From: e.lift, Until: e.top, Within: 1, Size: tau, SizeWithin: 2 * sd, Strength: tau / sd,
		Explanations: []Explanation{{Cause: Sensor, Share: 0.95, For: []string{fmt.Sprintf("its speed follows the accelerometer's %.0f +- %.0f ms late, all the way up", 1e3*tau, 2e3*sd), "receivers filter and compute, and many stamp a fix when it is sent"}}}})
}

// comeBack compares where pressure and GNSS say that the rocket lies after landing: a barometer that has
// drifted does not come back. When it began can't be told, so all of the flight is named.
func (e *examiner) comeBack() {
	b, z := e.baro, e.gnss[2]
	if b == nil || z == nil || e.down == 0 || e.end-e.down < 0.5 {
		return
	}
	h, _, n := b.mean(e.down+0.3, e.end+1)
	g, _, m := z.mean(e.down+0.1, e.end+1)
	if n < 10 || m < 5 {
		return
	}
	off, sd := h-g, math.Hypot(b.sigma/math.Sqrt(float64(n)), z.sigma*math.Sqrt(1/float64(m)+1/20.0))
	if math.Abs(off) < 6*sd || math.Abs(off) < 8 {
		return
	}
	last := e.end - e.lift
	e.found(Finding{Kind: Drift, Part: sim.PartBaro, Axis: sim.AllAxes, From: e.lift, Until: e.end, Within: last / 2, Size: off / last, SizeWithin: 2 * sd / last, Strength: math.Abs(off) / sd,
		Explanations: []Explanation{
			{Cause: Sensor, Share: 0.8, For: []string{fmt.Sprintf("after landing it says %.1f m where GNSS says %.1f m, which are %.1f +- %.1f m of difference", h, g, off, 2*sd)}},
			{Cause: Pressured, Share: 0.2, For: []string{"the weather may have changed"}, Against: []string{fmt.Sprintf("by that much within %.0f s it rarely does", last)}},
		}})
}

// explain weighs what may have made the breaks that search found.
func (e *examiner) explain() {
	for i := range e.res.Findings {
		f := &e.res.Findings[i]
		if f.Explanations != nil {
			continue
		}
		switch f.Part {
		case sim.PartAccel:
			e.whyFelt(f)
		case sim.PartBaro:
			e.whyPressed(f)
		default:
			e.whyShifted(f)
		}
	}
}

// whyFelt weighs sensor against rocket for a break of the accelerometer.
func (e *examiner) whyFelt(f *Finding) {
	sensor, real := Explanation{Cause: Sensor}, Explanation{Cause: Drag}
	if f.Size > 0 {
		real.Cause = Shock
	}
	lSensor, lReal := 0.0, -2.0
	if e.accel[0] != nil && f.Axis == axisOf(e.accel[0]) {
		s := shape{f.Kind, f.From, f.Until}
		made := f.Size * e.upward(s)
		// The channel is mended by now, so the others agree with it when the sensor made the break up.
		if got, sd := e.parity(f.From, f.Until); sd > 0 {
			zSensor, zReal := got/sd, (got-made)/sd
			lSensor, lReal = lSensor-0.5*zSensor*zSensor, lReal-0.5*zReal*zReal
			text := fmt.Sprintf("a real one would have changed the speed by %.1f m/s; the other sensors saw %.1f +- %.1f m/s of it", made, got, 2*sd)
			sensor.For, real.Against = append(sensor.For, text), append(real.Against, text)
		}
		e.couldDrag(f, &real, &lReal)
	} else {
		sensor.For = append(sensor.For, "the gyro turned no faster or slower for it")
		lReal--
	}
	sensor.For = append(sensor.For, fmt.Sprintf("the rest of the signal goes on as before under a %s of %.3g m/s2", f.Kind, f.Size))
	w := shares(lSensor, lReal)
	sensor.Share, real.Share = w[0], w[1]
	f.Explanations = []Explanation{sensor, real}
	if w[1] > w[0] {
		f.Explanations = []Explanation{real, sensor}
	}
}

// couldDrag asks whether drag at that speed, with this mass and area, could brake so hard.
func (e *examiner) couldDrag(f *Finding, real *Explanation, l *float64) {
	k, sd, from := e.dragNumber()
	if f.Size >= 0 || k <= 0 {
		return
	}
	air := e.air()
	h, _ := e.res.Path.at(f.From)
	v := e.airspeed(f.From)
	q := air.At(h).Density / air.At(0).Density * v * v
	z := (-f.Size - k*q) / math.Hypot(sd*q, 0.1*k*q)
	text := fmt.Sprintf("drag of %s at %.0f m/s brakes by %.1f +- %.1f m/s2, all of it felt already; %.1f more were read", from, v, k*q, 2*math.Hypot(sd*q, 0.1*k*q), -f.Size)
	if z > 3 {
		real.Against = append(real.Against, text)
		*l -= min(0.5*z*z, 10)
	} else {
		real.For = append(real.For, text)
	}
}

// whyPressed weighs the part against real pressure: an ejection charge, or gas, near the barometer.
func (e *examiner) whyPressed(f *Finding) {
	sensor, gas := Explanation{Cause: Sensor}, Explanation{Cause: Pressured}
	lGas := -2.0
	sensor.For = append(sensor.For, fmt.Sprintf("a rocket can't be %.1f m elsewhere for %.2f s without a speed of it in the other sensors", f.Size, f.Until-f.From))
	for _, m := range e.res.Moments {
		if (m.Event == Deployment || m.Event == Apogee || m.Event == Separation) && f.From > m.At-0.6 && f.From < m.At+0.3 && f.Until-f.From < 1 {
			gas.For = append(gas.For, fmt.Sprintf("it begins %+.2f s from %s, when a charge may fire", f.From-m.At, m.Name()))
			lGas = 0.5
			if f.Size > 0 {
				gas.Against = append(gas.Against, "a charge in the same bay raises the pressure, which would read as lower, not higher")
				lGas = -1
			}
		}
	}
	if len(gas.For) == 0 {
		gas.Against = append(gas.Against, "no separation or deployment is near")
	}
	w := shares(0, lGas)
	sensor.Share, gas.Share = w[0], w[1]
	f.Explanations = []Explanation{sensor, gas}
	if w[1] > w[0] {
		f.Explanations = []Explanation{gas, sensor}
	}
}

// whyShifted is for parts whose own second sensor or slow nature denies the break.
func (e *examiner) whyShifted(f *Finding) {
	sensor, shock := Explanation{Cause: Sensor, Share: 0.9}, Explanation{Cause: Shock, Share: 0.1}
	switch f.Part {
	case sim.PartGNSS:
		sensor.For = append(sensor.For, "the receiver's own velocity, and the other sensors, know nothing of it")
		shock.Against = append(shock.Against, "no rocket moves so without a speed")
	case sim.PartGyro:
		sensor.For = append(sensor.For, "the accelerometer felt nothing at either end of it")
		shock.Against = sensor.For
	case sim.PartBattery:
		sensor.For = append(sensor.For, "a battery's voltage sags slowly and under load")
		shock.For = append(shock.For, "an output under load pulls a battery down")
		sensor.Share, shock.Share = 0.6, 0.4
		shock.Cause = Supply
	}
	f.Explanations = []Explanation{sensor, shock}
}
