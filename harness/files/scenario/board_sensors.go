package scenario

import (
	"gonum.org/v1/gonum/spatial/r3"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/quantity"
)

// sensible reports keys of sensors that don't go together.
func (l *loader) sensible(o *object) {
	b := o.get("barometer").object()
	if lo, hi := b.get("min"), b.get("max"); lo.ok() && hi.ok() && lo.num() >= hi.num() {
		l.report(harness.Problem{Place: hi.at, Found: "max " + quantity.Text(hi.num(), quantity.Pressure), Wanted: "more than min, " + quantity.Text(lo.num(), quantity.Pressure)})
	}
	l.either(b, "lag", "vents")
	for _, part := range []string{"accelerometer", "high_accelerometer", "gyro"} {
		l.either(o.get(part).object(), "noise", "noise_density")
	}
	last := -1.0
	for _, p := range b.get("ports").objects() {
		m := p.get("mach")
		if m.ok() && m.num() <= last {
			l.report(harness.Problem{Place: m.at, Found: "mach " + quantity.Text(m.num(), quantity.Number), Wanted: "more than the row before, " + quantity.Text(last, quantity.Number)})
		}
		last = max(last, m.num())
	}
	low, high := o.get("accelerometer"), o.get("high_accelerometer")
	if high.given && !low.given {
		l.report(harness.Problem{Place: high.at, Found: "a high_accelerometer alone", Wanted: "an accelerometer beside it", Hint: "a single one is an `accelerometer`, whatever its range"})
	}
	if r, s := low.object().get("range"), high.object().get("range"); r.ok() && s.ok() && s.num() <= r.num() {
		l.report(harness.Problem{Place: s.at, Found: "range " + quantity.Text(s.num(), quantity.Acceleration), Wanted: "more than that of the accelerometer, " + quantity.Text(r.num(), quantity.Acceleration)})
	}
	p := o.get("battery").object()
	if v, least := p.get("voltage"), p.get("brown_out"); v.ok() && least.ok() && least.num() >= v.num() {
		l.report(harness.Problem{Place: least.at, Found: "brown_out " + quantity.Text(least.num(), quantity.Voltage), Wanted: "less than the battery's voltage, " + quantity.Text(v.num(), quantity.Voltage), Hint: "the board would never start"})
	}
}

// either reports two keys of which one makes the other meaningless.
func (l *loader) either(o *object, one, other string) {
	if o.get(one).given && o.get(other).given {
		l.report(harness.Problem{Place: o.get(other).at, Found: "both " + quote(one) + " and " + quote(other), Wanted: "one of them"})
	}
}

func sensors(o *object) sim.Sensors {
	s := sim.Sensors{
		Accel:   triad(o.get("accelerometer").object()),
		High:    triad(o.get("high_accelerometer").object()),
		Gyro:    triad(o.get("gyro").object()),
		Baro:    barometer(o.get("barometer").object()),
		GNSS:    receiver(o.get("gnss").object()),
		Battery: battery(o.get("battery").object()),
	}
	if s.High.Range > 0 {
		s.High.Rate, s.High.ClockError = s.Accel.Rate, s.Accel.ClockError
	}
	h := o.get("heating").object()
	s.Heating = sim.Heating{Rise: h.get("rise").num(), Time: h.get("time").num()}
	return s
}

func triad(o *object) sim.Triad {
	if o == nil {
		return sim.Triad{}
	}
	t := sim.Triad{
		Rate: o.get("rate").num(), Range: o.get("range").num(), Resolution: o.get("resolution").num(), Noise: o.get("noise").num(),
		Bias: o.get("bias").vec(), ClockError: o.get("clock_error").num(), Bandwidth: o.get("bandwidth").num(), Density: o.get("noise_density").num(),
		Drift: wander(o.get("drift")), Scale: o.get("scale").vec(), CrossAxis: o.get("cross_axis").num(), Thermal: o.get("thermal").vec(),
		GSensitivity: o.get("g_sensitivity").num(), Position: o.get("position").vec(), Vibration: o.get("vibration").num(),
	}
	t.Mounting, _ = o.get("mounting").x.([3]r3.Vec)
	return t
}

func (v value) vec() r3.Vec { x, _ := v.x.(r3.Vec); return x }

func wander(v value) sim.Wander {
	return sim.Wander{Sigma: v.object().get("sigma").num(), Time: v.object().get("time").num()}
}

func barometer(o *object) sim.Barometer {
	b := sim.Barometer{
		Rate: o.get("rate").num(), Min: o.get("min").num(), Max: o.get("max").num(),
		Resolution: o.get("resolution").num(), Noise: o.get("noise").num(), Bias: o.get("bias").num(),
		ClockError: o.get("clock_error").num(), Lag: o.get("lag").num(), Thermal: o.get("thermal").num(), Drift: wander(o.get("drift")),
	}
	v, e := o.get("vents").object(), o.get("ejection").object()
	b.Vents = sim.Vents{Count: int(v.get("count").num()), Diameter: v.get("diameter").num(), Volume: v.get("volume").num()}
	b.Ejection = sim.Pulse{Peak: e.get("peak").num(), Time: e.get("time").num()}
	for _, p := range o.get("ports").objects() {
		b.Ports = append(b.Ports, sim.Port{Mach: p.get("mach").num(), Cp: p.get("cp").num()})
	}
	return b
}

func receiver(o *object) sim.Receiver {
	return sim.Receiver{
		Rate: o.get("rate").num(), PositionNoise: o.get("position_noise").num(),
		HeightNoise: o.get("height_noise").num(), VelocityNoise: o.get("velocity_noise").num(),
		Latency: o.get("latency").num(), PositionDrift: wander(o.get("position_drift")), HeightDrift: wander(o.get("height_drift")),
		ColdStart: o.get("cold_start").num(), WarmStart: o.get("warm_start").num(),
		MostForce: o.get("most_force").num(), MostSpeed: o.get("most_speed").num(), MostHeight: o.get("most_height").num(),
	}
}

func battery(o *object) sim.Battery {
	return sim.Battery{
		Rate: o.get("rate").num(), Voltage: o.get("voltage").num(), Sag: o.get("sag").num(),
		Noise: o.get("noise").num(), Resolution: o.get("resolution").num(),
		Resistance: o.get("resistance").num(), BrownOut: o.get("brown_out").num(), HoldUp: o.get("hold_up").num(),
	}
}
