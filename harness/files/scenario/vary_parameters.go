package scenario

import (
	"math"
	"slices"

	"drystage/harness"
	"drystage/harness/vary"
	"drystage/sim"
	"drystage/sim/quantity"
)

// parameter is something that can vary in this scenario, with its range.
type parameter struct {
	harness.Vary
	is      quantityShape
	missing string // why it can't vary here; empty: it can
}

// parameters lists all that can vary in this scenario, and what could vary in others with the reason why not here.
func (s *planBuilder) parameters(o *object) (list []parameter) {
	set := &s.plan.Setup
	for _, f := range parameterForms() {
		add := func(name string, index int, is quantityShape, lacks string) {
			list = append(list, parameter{Vary: harness.Vary{Name: name, What: f.what, Index: index, Unit: quantity.Units(is.dim)[0]}, is: is, missing: lacks})
		}
		_, word := splitLast(f.form)
		switch f.what {
		case harness.WindSpeed, harness.WindFrom:
			add(f.form, 0, s.windLimits(o, f), s.windMissing(o))
		case harness.BatteryVoltage:
			for i := range set.Bays {
				is, lacks := s.batteryLimits(i, f.is)
				add(set.Bays[i].Name+"."+word, i, is, lacks)
			}
		case harness.FaultFrom, harness.FaultBy:
			list = append(list, s.faultParameters(o, f)...)
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

// splitLast splits a dotted name before its last word.
func splitLast(name string) (before, word string) {
	for i := len(name) - 1; i >= 0; i-- {
		if name[i] == '.' {
			return name[:i], name[i+1:]
		}
	}
	return "", name
}

// windMissing says why the wind can't vary.
func (s *planBuilder) windMissing(o *object) string {
	w := o.get("weather").object().get("wind")
	switch {
	case !w.given:
		return "the weather has no wind; give it `wind: {speed: 4 m/s, from: 270 deg}`"
	case w.object().get("aloft").given:
		return "the wind is a table of winds aloft, which has no one speed and direction"
	}
	return ""
}

// windLimits gives the range of the wind's speed: above 0 when turbulence takes its intensity from it.
func (s *planBuilder) windLimits(o *object, f parameterForm) quantityShape {
	t := o.get("weather").object().get("wind").object().get("turbulence").object()
	if is := f.is; f.what == harness.WindSpeed && t != nil && !t.get("w20").given {
		is.min = 0.1
		return is
	}
	return f.is
}

// stageLimits gives the range of a parameter of a stage: its mass from half to twice the written one and well above
// that of a nose that is lost, its centre of gravity inside the stage.
func (s *planBuilder) stageLimits(i int, f parameterForm) (is quantityShape, lacks string) {
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
	is.min, is.max = roundMicro(is.min), roundMicro(is.max)
	return is, lacks
}

// roundMicro rounds to a millionth, so that a limit that was worked out reads well.
func roundMicro(x float64) float64 { return math.Round(x*1e6) / 1e6 }

func (s *planBuilder) batteryLimits(i int, is quantityShape) (quantityShape, string) {
	b := &s.plan.Setup.Bays[i].Sensors.Battery
	if b.Voltage == 0 && s.outputsKnown[i] {
		return is, "board " + s.plan.Setup.Bays[i].Name + " has no battery in its file"
	}
	if b.BrownOut > 0 {
		is.min = max(is.min, roundMicro(b.BrownOut+0.01)) // or the board would never start
	}
	return is, ""
}

// faultParameters lists what can vary of the faults: of one of its kind by the kind alone, else with its
// number among its kind.
func (s *planBuilder) faultParameters(o *object, f parameterForm) (list []parameter) {
	names := vary.FaultNames(s.plan.Setup.Faults, nil)
	i := 0
	for _, b := range o.get("faults").objects() {
		if b.kind == "" {
			continue
		}
		x, name := &s.plan.Setup.Faults[i], names[i]
		t := parameter{Vary: harness.Vary{Name: name + ".from", What: f.what, Index: i}, is: f.is}
		if f.what == harness.FaultFrom {
			t.From, t.is = s.fromLimits(b.get("from"), f.is)
		} else {
			t.Name = name + ".by"
			t.is, t.missing = s.byLimits(b, x)
		}
		if slices.Contains(s.leftOut, name) {
			t.missing = "`without` leaves this fault out"
		}
		t.Unit = quantity.Units(t.is.dim)[0]
		list = append(list, t)
		i++
	}
	return list
}

// fromLimits gives the event that a fault's span is added to, and the span's range: not before the start of the run,
// and below 0 only for events that a rehearsal knows.
func (s *planBuilder) fromLimits(v value, is quantityShape) (sim.Anchor, quantityShape) {
	w, _ := v.x.(writtenAnchor)
	a, _ := s.c.anchor(s.l, v)
	a.Offset = 0
	launch := s.plan.Setup.Launch
	switch {
	case a.Event == sim.EventLaunch:
		a = sim.Anchor{Event: sim.EventStart, Offset: launch}
		is.min = max(is.min, -launch.Seconds())
	case a.Event == sim.EventStart || a.Event == "" || !w.crosses && s.isAction(w.event):
		is.min = 0
	case a.Event == sim.EventMaxQ:
		is.max = -0.001
	}
	return a, is
}

// isAction says that an event is what a board or the operator does, which no rehearsal knows.
func (s *planBuilder) isAction(event string) bool {
	for _, m := range s.c.actions {
		if m.Name == event {
			return true
		}
	}
	return false
}

// byLimits gives the range of a fault's size.
func (s *planBuilder) byLimits(b *object, x *sim.Fault) (quantityShape, string) {
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
					return quantityShape{}, "the size of a " + b.kind + " is a count"
				}
				return quantityShape{quantity.Number, is.min, is.max}, ""
			case quantityShape:
				if st := s.plan.Setup.Vehicle.Stages; x.Kind == sim.NoseLost && len(st) > 0 {
					is.max = min(is.max, roundMicro(0.45*st[0].Mass)) // nine tenths of the lightest that can be drawn
				}
				return is, ""
			}
		}
	}
	return quantityShape{}, "a " + b.kind + " has no size"
}
