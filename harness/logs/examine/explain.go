package examine

import (
	"fmt"
	"math"
	"slices"

	"drystage/sim"
)

const backSigmas = 4.0 // standard deviations

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
	// The receiver has wandered since it stood on the pad.
	off, sd := h-g, math.Hypot(b.sigma/math.Sqrt(float64(n)), wander*math.Sqrt2)
	if math.Abs(off) < backSigmas*sd {
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
	e.res.Findings = slices.DeleteFunc(e.res.Findings, func(f Finding) bool {
		return f.Kind == Clipped && f.Until-f.From < shockAfter && e.inShock(f.From, f.Until) // a shock's peak says no more than that
	})
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
		// The channel is mended by now, so the others agree with it when the sensor made the break up. Below a canopy nobody
		// knows how it hangs.
		if smoother, ok := e.smoother(f); ok {
			text := fmt.Sprintf("without it, what all axes feel together is %.0f times as smooth: no swing and no canopy does that", smoother)
			sensor.For, real.Against = append(sensor.For, text), append(real.Against, text)
			lReal -= min(math.Log(smoother), parityMost)
		} else if got, sd := e.speedTold(f.From, f.Until, f.Size); sd > 0 {
			lSensor, lReal = lSensor+student(got/sd), lReal+student((got-made)/sd)
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

// smoother is by how many times the variance of what all axes feel together is greater with a break of the axis along the
// rocket than without it, on the way down; false where it is not, or can't be told.
func (e *examiner) smoother(f *Finding) (times float64, ok bool) {
	a := e.accel[0]
	if f.From < e.top || e.axes() < 3 || f.Until >= e.end {
		return 0, false
	}
	w := e.calm(f.Until, grownMost+grownSpan)
	i, j := a.between(w.from, w.until)
	back := fitted{shape: shape{f.Kind, f.From, f.Until}, size: -f.Size} // the channel is mended
	with, without := e.felt3(i, j, a, back, settles), e.felt3(i, j, nil, back, settles)
	if without <= 0 || leanShare*with < without {
		return 0, false
	}
	return with / without, true
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
	if v, ok := e.nearSound(f.From, f.Until); ok && math.Abs(f.Size) < 3*transonicBump && f.Kind != Drift && f.Until-f.From < transonicLast {
		gas.For = append(gas.For, fmt.Sprintf("at %.0f m/s, near the speed of sound, shocks of the air wander over the static ports", v))
		lGas = transonicNats
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
	if f.Part == sim.PartBattery && (f.Kind == Step || f.Kind == Spike) {
		f.Explanations = e.whySagged(f)
		return
	}
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
