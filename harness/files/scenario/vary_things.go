package scenario

import (
	"fmt"
	"math"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/quantity"
)

// thing is something that can vary in one flight, with what it may be there.
type thing struct {
	harness.Vary
	is    qty
	lacks string // why it can't vary here; empty: it can
}

// things lists all that can vary in a flight, and what a flight could have but this one hasn't.
func (s *script) things(o *object) (list []thing) {
	set := &s.plan.Setup
	for _, f := range variedForms() {
		add := func(name string, index int, is qty, lacks string) {
			list = append(list, thing{Vary: harness.Vary{Name: name, What: f.what, Index: index, Unit: quantity.Units(is.dim)[0]}, is: is, lacks: lacks})
		}
		_, word := cutLast(f.form)
		switch f.what {
		case harness.WindSpeed, harness.WindFrom:
			add(f.form, 0, s.windLimits(o, f), s.noWind(o))
		case harness.BatteryVoltage:
			for i := range set.Bays {
				is, lacks := s.batteryLimits(i, f.is)
				add(set.Bays[i].Name+"."+word, i, is, lacks)
			}
		case harness.FaultFrom, harness.FaultBy:
			list = append(list, s.faultThings(o, f)...)
		case harness.Temperature, harness.Pressure, harness.RailTilt, harness.RailAzimuth:
			add(f.form, 0, f.is, "")
		default:
			if f.form == "vehicle.drag" {
				add(f.form, harness.AllStages, f.is, "")
				continue
			}
			for i, name := range s.c.stages {
				is, lacks := s.stageLimits(i, f)
				add(name+"."+word, i, is, lacks)
			}
		}
	}
	return list
}

// cutLast cuts a dotted name before its last word.
func cutLast(name string) (before, word string) {
	for i := len(name) - 1; i >= 0; i-- {
		if name[i] == '.' {
			return name[:i], name[i+1:]
		}
	}
	return "", name
}

// noWind says why the wind can't vary.
func (s *script) noWind(o *object) string {
	w := o.get("weather").object().get("wind")
	switch {
	case !w.given:
		return "the weather has no wind; give it `wind: {speed: 4 m/s, from: 270 deg}`"
	case w.object().get("aloft").given:
		return "the wind is a table of winds aloft, which has no one speed and direction"
	}
	return ""
}

// windLimits keeps a wind that turbulence takes its strength from above a calm.
func (s *script) windLimits(o *object, f variedForm) qty {
	t := o.get("weather").object().get("wind").object().get("turbulence").object()
	if is := f.is; f.what == harness.WindSpeed && t != nil && !t.get("w20").given {
		is.min = 0.1
		return is
	}
	return f.is
}

// stageLimits gives what something of a stage may be: no mass but near the written one, no centre of
// gravity outside, and no nose that weighs all that its stage does.
func (s *script) stageLimits(i int, f variedForm) (is qty, lacks string) {
	st := &s.plan.Setup.Vehicle.Stages[i]
	is = f.is
	switch f.what {
	case harness.StageMass:
		is.min, is.max = max(is.min, st.Mass/2), min(is.max, st.Mass*2)
		for _, x := range s.plan.Setup.Faults {
			if x.Kind == sim.NoseLost && x.Stage == i && x.Value <= 0.9*st.Mass {
				is.min = max(is.min, x.Value/0.9)
			}
		}
	case harness.CGShift:
		is.min, is.max = max(is.min, -st.CG), min(is.max, st.Length-st.CG)
	case harness.ImpulseScale, harness.BurnTimeScale, harness.IgniterDelay:
		if !s.c.motors[i] {
			lacks = "stage " + st.Name + " has no motor"
		}
	}
	is.min, is.max = legible(is.min), legible(is.max)
	return is, lacks
}

// legible leaves off the digits behind a millionth, which only a computer's halving and subtracting made.
func legible(x float64) float64 { return math.Round(x*1e6) / 1e6 }

func (s *script) batteryLimits(i int, is qty) (qty, string) {
	b := &s.plan.Setup.Bays[i].Sensors.Battery
	if b.Voltage == 0 && s.wired[i] {
		return is, "board " + s.plan.Setup.Bays[i].Name + " has no battery in its file"
	}
	if b.BrownOut > 0 {
		is.min = max(is.min, legible(b.BrownOut+0.01)) // or the board would never start
	}
	return is, ""
}

// faultThings lists what can vary of the faults: of one of its kind by the kind alone, else with its
// number among its kind.
func (s *script) faultThings(o *object, f variedForm) (list []thing) {
	of, n := map[string]int{}, map[string]int{}
	blocks := o.get("faults").objects()
	for _, b := range blocks {
		of[b.kind]++
	}
	i := 0
	for _, b := range blocks {
		if b.kind == "" {
			continue
		}
		x := &s.plan.Setup.Faults[i]
		n[b.kind]++
		name := b.kind
		if of[b.kind] > 1 {
			name = fmt.Sprintf("%s.%d", b.kind, n[b.kind])
		}
		t := thing{Vary: harness.Vary{Name: name + ".from", What: f.what, Index: i}, is: f.is}
		if f.what == harness.FaultFrom {
			t.From, t.is = s.fromLimits(b.get("from"), f.is)
		} else {
			t.Name = name + ".by"
			t.is, t.lacks = s.byLimits(b, x)
		}
		t.Unit = quantity.Units(t.is.dim)[0]
		list = append(list, t)
		i++
	}
	return list
}

// fromLimits gives what a fault's span is added to, and what the span may be: nothing comes before the
// start of the run, and only what a rehearsal knows can be looked ahead to.
func (s *script) fromLimits(v value, is qty) (sim.Anchor, qty) {
	w, _ := v.x.(when)
	a, _ := s.c.anchor(s.l, v)
	a.Offset = 0
	launch := s.plan.Setup.Launch
	switch {
	case a.Event == sim.EventLaunch:
		a = sim.Anchor{Event: sim.EventStart, Offset: launch}
		is.min = max(is.min, -launch.Seconds())
	case a.Event == sim.EventStart || a.Event == "" || !w.crosses && s.isDeed(w.event):
		is.min = 0
	case a.Event == sim.EventMaxQ:
		is.max = -0.001
	}
	return a, is
}

// isDeed says that an event is what a board or the operator does, which no rehearsal knows.
func (s *script) isDeed(event string) bool {
	for _, m := range s.c.deeds {
		if m.Name == event {
			return true
		}
	}
	return false
}

// byLimits gives what the size of a fault may be.
func (s *script) byLimits(b *object, x *sim.Fault) (qty, string) {
	for _, t := range faultShape.tables {
		if t.rows[0].key != b.kind {
			continue
		}
		for _, r := range t.rows[1:] {
			if r.key != "by" {
				continue
			}
			switch is := r.is.(type) {
			case amount:
				return amountOf(x.Kind, x.Part), ""
			case number:
				if is.whole {
					return qty{}, "the size of a " + b.kind + " is a count"
				}
				return qty{quantity.Number, is.min, is.max}, ""
			case qty:
				if st := s.plan.Setup.Vehicle.Stages; x.Kind == sim.NoseLost && len(st) > 0 {
					is.max = min(is.max, legible(0.45*st[0].Mass)) // nine tenths of the lightest that can be drawn
				}
				return is, ""
			}
		}
	}
	return qty{}, "a " + b.kind + " has no size"
}
