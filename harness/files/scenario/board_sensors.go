package scenario

import (
	"drystage/harness"
	"drystage/sim"
	"drystage/sim/quantity"
	"drystage/sim/r3"
)

// checkSensors reports keys of sensors that don't go together.
func (l *loader) checkSensors(o *object) {
	b := o.get("barometer").object()
	if lo, hi := b.get("min"), b.get("max"); lo.ok() && hi.ok() && lo.num() >= hi.num() {
		l.report(harness.Problem{Place: hi.at, Found: "max " + quantity.Text(hi.num(), quantity.Pressure), Wanted: "more than min, " + quantity.Text(lo.num(), quantity.Pressure)})
	}
	l.exclusive(b, "lag", "vents")
	for _, part := range []string{"accelerometer", "high_accelerometer", "gyro"} {
		l.exclusive(o.get(part).object(), "noise", "noise_density")
	}
	l.rising(b.get("ports"), "mach", quantity.Number)
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

// exclusive reports two keys of which one makes the other meaningless.
func (l *loader) exclusive(o *object, one, other string) {
	if o.get(one).given && o.get(other).given {
		l.report(harness.Problem{Place: o.get(other).at, Found: "both " + quote(one) + " and " + quote(other), Wanted: "one of them"})
	}
}

// usualVents are the holes of a bay that names neither vents nor a lag. Common practice, no source.
const usualVents = "three of 3 mm, 0.4 l of air behind them"

// sensors gives the parts of a board's file as the flight has them: a second accelerometer samples with the first, and
// every bay has ports that err near the speed of sound, and holes.
func sensors(s sim.Sensors) sim.Sensors {
	if b := &s.Baro; b.Rate > 0 {
		if len(b.Ports) == 0 {
			b.Ports = []sim.Port{{Mach: 0.8}, {Mach: 1, Cp: 0.05}, {Mach: 1.1, Cp: -0.03}, {Mach: 1.4}}
		}
		if b.Lag == 0 && b.Vents.Count == 0 {
			b.Vents = sim.Vents{Count: 3, Diameter: 3e-3, Volume: 0.4e-3}
		}
	}
	if s.High.Range > 0 {
		s.High.Rate, s.High.ClockError = s.Accel.Rate, s.Accel.ClockError
	}
	return s
}

func (v value) vec() r3.Vec { x, _ := v.x.(r3.Vec); return x }
