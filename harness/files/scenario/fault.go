package scenario

import (
	"fmt"
	"slices"
	"strings"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/quantity"
)

// faults builds all faults of a scenario.
func (s *planBuilder) faults(v value) []sim.Fault {
	var out []sim.Fault
	for _, o := range v.objects() {
		f := sim.Fault{Kind: sim.FaultKind(1 + slices.Index(sim.FaultKinds(), o.kind))}
		if o.kind == "" {
			continue
		}
		f.From = s.forwardAnchor(o.get("from"), true)
		f.Duration = o.get("for").time()
		s.repeat(o, &f)
		target := o.get(o.kind)
		switch {
		case !target.ok():
		case f.Kind.Layer() == sim.OnSensor:
			s.sensorFault(o, target, &f)
		case f.Kind.Layer() == sim.OnPower, f.Kind.Layer() == sim.OnLink:
			s.boardFault(o, target, &f)
		case f.Kind.Layer() == sim.OnWire:
			var ch harness.Channel
			ch, f.Bay = s.output(target)
			f.Channel = ch.Channel
		default:
			s.vehicleFault(target, &f)
			f.Value, f.Speed = o.get("by").num(), o.get("speed").num()
			f.Axis = sim.Axis(1 + max(0, words(sim.AxisNames()[1:]).index(o.get("axis"))))
			if f.Kind != sim.TipOff {
				f.Axis = sim.AllAxes
			}
			s.lighterThan(o, &f)
			f.Motor = s.ofCluster(o.get("motor"), f.Stage)
		}
		out = append(out, f)
	}
	return out
}

// repeat reads how often a fault comes.
func (s *planBuilder) repeat(o *object, f *sim.Fault) {
	v := o.get("repeat")
	r := v.object()
	if r == nil {
		return
	}
	f.Times, f.Every = int(r.get("times").num()), r.get("every").time()
	if long := o.get("for"); !atOnce(f.Kind) && !long.ok() {
		s.l.report(harness.Problem{Place: v.at, Found: "repeat without \"for\"", Wanted: "how long each of them lasts", Hint: "add `for`"})
	} else if every := r.get("every"); every.ok() && f.Every <= f.Duration {
		s.l.report(harness.Problem{Place: every.at, Found: "every " + f.Every.String(), Wanted: "more than it lasts, " + f.Duration.String()})
	}
}

// atOnce says that a fault of this kind is over when it has come.
func atOnce(k sim.FaultKind) bool { return k == sim.Restart || k == sim.TipOff }

func (s *planBuilder) boardFault(o *object, target value, f *sim.Fault) {
	f.Bay, f.Value = s.bay(target.at, target.text()), o.get("by").num()
	if f.Kind == sim.BrownOut && f.Bay >= 0 && s.outputsKnown[f.Bay] && s.plan.Setup.Bays[f.Bay].Sensors.Battery.Rate == 0 {
		s.l.report(harness.Problem{Place: target.at, Found: "a brown-out of " + quote(target.text()), Wanted: "a board with a battery", Hint: "its file names no battery"})
	}
}

func (s *planBuilder) vehicleFault(target value, f *sim.Fault) {
	switch f.Kind {
	case sim.SeparationStuck, sim.SeparationEarly:
		if f.Stage = s.c.stage(s.l, target.at, target.text()); f.Stage == 0 {
			s.l.report(harness.Problem{Place: target.at, Found: f.Kind.String() + " of " + quote(target.text()), Wanted: "a lower stage", Hint: "the top stage has none above it to let go of"})
		}
	case sim.DeviceDead, sim.DeviceEarly:
		stage, word, _ := strings.Cut(target.text(), ".")
		if f.Stage = s.c.stage(s.l, target.at, stage); f.Stage < 0 {
			return
		}
		f.Device = s.c.device(s.l, target.at, f.Stage, word)
	case sim.TipOff, sim.HighTilt:
		f.Stage = max(0, s.c.stage(s.l, target.at, target.text()))
	case sim.NoseLost:
		if f.Stage = s.c.stage(s.l, target.at, target.text()); f.Stage > 0 {
			s.l.report(harness.Problem{Place: target.at, Found: f.Kind.String() + " of " + quote(target.text()), Wanted: "the top stage, " + quote(s.c.stages[0]), Hint: "the nose is there"})
		}
	default:
		f.Stage = s.motor(target)
	}
}

// lighterThan reports a lost nose that has nearly all of its stage's mass.
func (s *planBuilder) lighterThan(o *object, f *sim.Fault) {
	if by := o.get("by"); f.Kind == sim.NoseLost && f.Stage == 0 && by.ok() && len(s.plan.Setup.Vehicle.Stages) > 0 {
		if has := s.plan.Setup.Vehicle.Stages[0].Mass; has > 0 && f.Value > 0.9*has {
			s.l.report(harness.Problem{Place: by.at, Found: "a nose of " + quantity.Text(f.Value, quantity.Mass), Wanted: "at most nine tenths of the stage's " + quantity.Text(has, quantity.Mass)})
		}
	}
}

// motor gives the stage whose motor is named.
func (s *planBuilder) motor(v value) int {
	i := s.c.stage(s.l, v.at, v.text())
	if i >= 0 && !s.c.motors[i] {
		s.l.report(harness.Problem{Place: v.at, Found: "stage " + quote(v.text()) + ", which has no motor", Wanted: "a stage with a motor"})
	}
	return i
}

// ofCluster gives the motor of a cluster that a fault names; 0 for all.
func (s *planBuilder) ofCluster(v value, stage int) int {
	if v.ok() && stage >= 0 && stage < len(s.plan.Setup.Vehicle.Stages) {
		if has := s.plan.Setup.Vehicle.Stages[stage].Mount.Motors(); int(v.num()) > has {
			s.l.report(harness.Problem{Place: v.at, Found: fmt.Sprintf("motor %d", int(v.num())), Wanted: fmt.Sprintf("one from 1 to %d", has), Hint: "the stage's motor has no more in its cluster"})
		}
	}
	return int(v.num())
}

func (s *planBuilder) sensorFault(o *object, target value, f *sim.Fault) {
	board, word, _ := strings.Cut(target.text(), ".")
	i := slices.Index(sim.PartNames(), word)
	if i < 0 {
		s.l.report(harness.Problem{Place: target.at, Found: "unknown part " + quote(word), Wanted: choices(sim.PartNames()), Hint: nearest(word, sim.PartNames())})
		return
	}
	f.Part = sim.Part(i + 1)
	if f.Bay = s.bay(target.at, board); f.Bay >= 0 && s.outputsKnown[f.Bay] && s.plan.Setup.Bays[f.Bay].Sensors.Rate(f.Part) <= 0 {
		s.l.report(harness.Problem{Place: target.at, Found: "a fault of " + quote(target.text()), Wanted: "a part that the board has", Hint: "its file names no " + word})
	}
	if !f.Kind.AppliesTo(f.Part) {
		s.l.report(harness.Problem{Place: target.at, Found: f.Kind.String() + " of " + quote(target.text()), Wanted: "a part that it can spoil", Hint: "`drystage explain " + f.Kind.String() + "` lists them"})
		return
	}
	p := parts[f.Part]
	axis := o.get("axis")
	f.Axis = sim.Axis(words(sim.AxisNames()).index(axis))
	if axis.given && f.Axis != sim.AllAxes && !p.axes {
		s.l.report(harness.Problem{Place: axis.at, Found: "axis " + axis.text(), Wanted: "no axis", Hint: fmt.Sprintf("a %s has no axes", word)})
	}
	switch f.Kind {
	case sim.Spike, sim.Step, sim.Drift, sim.NoiseBurst, sim.Clipped:
		f.Value, _ = s.l.amount(o.get("by"), amountOf(f.Kind, f.Part))
	case sim.Extreme:
		f.Value = 1
		if o.get("to").text() == "lowest" {
			f.Value = -1
		}
	default:
		f.Value = o.get("by").num()
	}
}

// amountOf gives what the size of a fault of a part may be.
func amountOf(k sim.FaultKind, part sim.Part) quantityShape {
	p := parts[part]
	switch k {
	case sim.Drift:
		return quantityShape{p.rate, -p.most, p.most}
	case sim.NoiseBurst, sim.Clipped:
		return quantityShape{p.dim, 0, p.most}
	}
	return quantityShape{p.dim, -p.most, p.most}
}
