package examine

import (
	"fmt"
	"math"
	"slices"

	"drystage/sim"
	"drystage/sim/flight"
)

const hard = 3 * 9.80665 // m/s2 of deceleration along the rocket that asks for an explanation

// braking looks at each hard deceleration on the way up that the accelerometer felt, and asks
// whether the air, the end of a motor or the sensor made it.
func (e *examiner) braking() error {
	a := e.accel[0]
	if a == nil || e.rise == nil || !slices.ContainsFunc(a.span(e.lift, e.top), func(x float64) bool { return x-e.accelOff < -hard }) {
		return nil
	}
	e.moments()
	if err := e.smooth(); err != nil {
		return err
	}
	e.learnDrag()
	for i := a.index(e.lift); i < len(a.x) && a.t[i] < e.top; i++ {
		if a.x[i]-e.accelOff > -hard || a.mask[i] || e.burning(a.t[i]) {
			continue
		}
		if s, ok := e.shockAt(a.t[i]); ok {
			i = a.index(s.until + ringOut)
			continue
		}
		j, most := i, 0.0
		for ; j < len(a.x) && a.x[j]-e.accelOff < -hard/2 && !e.burning(a.t[j]); j++ {
			most = min(most, a.x[j]-e.accelOff)
		}
		f := Finding{Kind: Deceleration, Part: sim.PartAccel, Axis: a.axis, From: a.t[i], Until: a.t[min(j, len(a.t)-1)], Within: 2 * a.step, Size: most, SizeWithin: 2 * a.sigma, Strength: -most / a.sigma}
		f.Explanations = e.whyBraked(&f)
		if f.Explanations[0].Cause == Sensor {
			e.shapeOf(&f)
		}
		e.found(f)
		i = j
	}
	e.res.Moments, e.res.Path, e.res.Checks = nil, Path{}, nil
	return nil
}

// shapeOf gives a deceleration that the sensor made up the shape of a fault: what it adds to the drag
// of that speed.
func (e *examiner) shapeOf(f *Finding) {
	a := e.accel[0]
	r := e.residual(a, nil)
	air := e.air()
	k, _, _ := e.dragNumber()
	for i, j := r.between(f.From-0.5, f.Until+0.5); i < j; i++ {
		h, _ := e.res.Path.at(r.t[i])
		v := e.airspeed(r.t[i])
		r.x[i] += k * air.At(h).Density / air.At(0).Density * v * v
	}
	from, until := f.From, f.Until
	for i, j := r.between(f.From, f.Until); i < j; i++ { // the air's own share goes on for longer
		if math.Abs(r.x[i]-e.accelOff) < hard/2 {
			if until = r.t[i]; until > from+2*a.step {
				break
			}
			from = until
		}
	}
	f.From, f.Until = from, until
	tries := []fitted{r.refine(shape{Spike, f.From - 2*a.step, f.Until + 2*a.step}), r.refine(shape{Step, f.From, f.Until})}
	if all := r.edges(f.From-0.05, f.Until+0.05); len(all) > 0 {
		tries = append(tries, r.explain(all))
	}
	if x := r.likeliest(tries); x.ok && !math.IsInf(x.b, 1) {
		f.Kind, f.From, f.Until, f.Size, f.SizeWithin = x.kind, x.a, x.b, x.size, 2*x.sd
		for i := range a.x {
			a.x[i] -= x.size * x.value(a.t[i])
		}
		if x.kind == Spike && !e.burning(x.a) {
			a.steep = append(a.steep, window{x.a - a.step, x.b + a.step})
		}
	}
}

// Near the speed of sound the drag coefficient of a slender body is greater than below, by half and more: Hoerner, Fluid-Dynamic
// Drag (1965), chapter 16 (from memory).
const (
	dragRises = 0.8 // Mach number from which it rises
	dragFalls = 1.5 // from which it has fallen again
	dragRise  = 0.5 // of it, one standard deviation
)

// learnDrag fits the deceleration against density times speed squared over the coasts: what the air
// does to this very rocket. Stretches with a break are left out by the median.
func (e *examiner) learnDrag() {
	air := e.air()
	rho0 := air.At(0).Density
	var k []float64
	for n, m := range e.res.Moments {
		if m.Event != Burnout {
			continue
		}
		until := e.top - 1
		for _, o := range e.res.Moments[n+1:] {
			if o.Event == Ignition || o.Event == Separation {
				until = min(until, o.At-0.05)
			}
		}
		k = append(k[:0], e.dragOver(m.At+0.1, min(until, m.At+4), air, rho0)...)
	}
	if len(k) < 10 {
		return
	}
	slices.Sort(k)
	e.coast = k[len(k)/2]
	e.coastSD = max((k[len(k)*84/100]-k[len(k)*16/100])/2/math.Sqrt(float64(len(k))/10), 0.02*e.coast)
}

func (e *examiner) dragOver(from, until float64, air *flight.Air, rho0 float64) (k []float64) {
	a := e.accel[0]
	i, j := a.between(from, until)
	for ; i < j; i++ {
		h, _ := e.res.Path.at(a.t[i])
		v := e.airspeed(a.t[i])
		if q := air.At(h).Density / rho0 * v * v; !a.mask[i] && v > 20 {
			k = append(k, -(a.x[i]-e.accelOff)/q)
		}
	}
	return k
}

// airspeed is the speed along the rocket, in still air.
func (e *examiner) airspeed(t float64) float64 {
	_, v := e.res.Path.at(t)
	c := e.tilt[min(e.accel[0].index(t), len(e.tilt)-1)]
	return v / max(c, 0.2)
}

// whyBraked weighs what may explain a hard deceleration that no break of the sensor was found to.
func (e *examiner) whyBraked(f *Finding) []Explanation {
	a := e.accel[0]
	v := e.airspeed(f.From)
	h, _ := e.res.Path.at(f.From)
	air := e.air()
	q := air.At(h).Density / air.At(0).Density * v * v
	var out []Explanation
	drag, sensor := Explanation{Cause: Drag}, Explanation{Cause: Sensor}
	zDrag := math.Inf(1)
	if k, sd, from := e.dragNumber(); k > 0 {
		want := k * q
		off := math.Hypot(sd*q, 0.1*want)
		if mach := v / air.At(h).Sound; -f.Size > want && mach > dragRises && mach < dragFalls {
			off = math.Hypot(off, dragRise*want)
		}
		zDrag = math.Abs(-f.Size-want) / off
		text := fmt.Sprintf("at %.0f m/s the drag of %s gives %.0f +- %.0f m/s2; felt are %.0f", v, from, want, 2*off, -f.Size)
		if zDrag < 3 {
			drag.For = append(drag.For, text)
		} else {
			drag.Against, sensor.For = append(drag.Against, text), append(sensor.For, text)
		}
	}
	i, j := a.between(f.From, f.Until)
	felt := 0.0
	for ; i < j; i++ {
		felt += (a.x[i] - e.accelOff) * a.step
	}
	from, until, made := e.beyondDrag(f)
	// That a sensor fails is rare, and may be any size: that costs it; and so is that something opens which brakes beyond
	// the drag of the body. How much speed was lost tells them apart.
	lBody, lOpened, lSensor := -0.5*min(zDrag*zDrag, 25), -rareBrake, -rareBrake
	if got, sd := e.speedTold(from, until, -f.Size); sd > 0 {
		lReal := student(got / sd)
		lBody, lOpened, lSensor = lBody+lReal, lOpened+lReal, lSensor+student((got+made)/sd)
		text := fmt.Sprintf("the accelerometer felt %.1f m/s lost in %.2f s; the other sensors differ from that by %.1f +- %.1f m/s", -felt, f.Until-f.From, math.Abs(got), 2*sd)
		if lReal > student(3) {
			drag.For, sensor.Against = append(drag.For, text), append(sensor.Against, text)
		} else {
			drag.Against, sensor.For = append(drag.Against, text), append(sensor.For, text)
		}
	}
	end := Explanation{Cause: MotorEnd, Against: []string{"the end of thrust leaves the drag, and nothing beyond it"}}
	if m, ok := e.res.nearest(Burnout, f.From); ok && math.Abs(m.At-f.From) < 0.3 {
		drag.For = append(drag.For, fmt.Sprintf("it begins within %.2f s of the burnout at %.2f s, when drag is greatest", math.Abs(f.From-m.At), m.At))
	}
	w := shares(either(lBody, lOpened), lSensor, lBody-3)
	drag.Share, sensor.Share, end.Share = w[0], w[1], w[2]
	out = append(out, drag, sensor, end)
	slices.SortStableFunc(out, func(x, y Explanation) int { return int(math.Copysign(1, y.Share-x.Share)) })
	return out
}

const (
	parityMost = 9.0 // nats that the smoothness of what all axes feel counts at most for a sensor's fault
	rareBrake  = 6.0 // nats against a fault of the sensor in a stretch of the flight, and against something that opens: 1 in 400
)

// student is the logarithm of the likelihood of an error in standard deviations, whose tails are those of Student's
// distribution with 10 degrees of freedom, up to a constant: no standard deviation is known so well that its normal tails hold.
func student(z float64) float64 { return -5.5 * math.Log1p(z*z/10) }

// either is the logarithm of the sum of two likelihoods.
func either(a, b float64) float64 {
	return max(a, b) + math.Log1p(math.Exp(-math.Abs(a-b)))
}

// beyondDrag is the part of a deceleration that is more than the drag of that speed, and the speed upwards that a sensor
// would have made up with it; all of it where the drag is not known.
func (e *examiner) beyondDrag(f *Finding) (from, until, made float64) {
	a, air := e.accel[0], e.air()
	k, _, _ := e.dragNumber()
	from, until = f.From, f.Until
	rho0, first := air.At(0).Density, true
	for i, j := a.between(f.From, f.Until); i < j && k > 0; i++ {
		h, _ := e.res.Path.at(a.t[i])
		v := e.airspeed(a.t[i])
		x := a.x[i] - e.accelOff + k*air.At(h).Density/rho0*v*v
		if x > -hard/2 {
			continue
		}
		if first {
			from, first = a.t[i], false
		}
		until, made = a.t[i]+a.step, made+x*e.tilt[i]*a.step
	}
	return from, until, made
}

// dragNumber gives deceleration over speed squared at the pad's density, by the vehicle or by the
// rocket's own coast.
func (e *examiner) dragNumber() (k, sd float64, from string) {
	if s := e.opt.Setup; s != nil && e.opt.Stage < len(s.Vehicle.Stages) {
		st := &s.Vehicle.Stages[e.opt.Stage]
		area := math.Pi / 4 * st.Diameter * st.Diameter
		cd := st.Drag.Cd
		if len(st.Drag.Points) > 0 {
			cd = st.Drag.Points[0].Cd
		}
		mass := st.Mass + st.Mount.Motor.Case
		if mass > 0 {
			k = 0.5 * e.air().At(0).Density * area * cd / mass
			return k, 0.15 * k, fmt.Sprintf("the vehicle (Cd %.2f, %.2f kg)", cd, mass)
		}
	}
	return e.coast, e.coastSD, "its own coast"
}

func (r *Result) nearest(event string, t float64) (best Moment, ok bool) {
	for _, m := range r.Moments {
		if m.Event == event && (!ok || math.Abs(m.At-t) < math.Abs(best.At-t)) {
			best, ok = m, true
		}
	}
	return best, ok
}

// shares turns log-likelihoods into shares of belief between 0.01 and 0.99.
func shares(l ...float64) []float64 {
	top := slices.Max(l)
	sum := 0.0
	w := make([]float64, len(l))
	for i, x := range l {
		w[i] = math.Exp(max(x-top, -20))
		sum += w[i]
	}
	for i := range w {
		w[i] = math.Round(1000*min(max(w[i]/sum, 0.005), 0.99)) / 1000
	}
	return w
}
