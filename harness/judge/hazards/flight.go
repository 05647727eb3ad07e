package hazards

import (
	"math"
	"slices"
	"sort"

	"drystage/harness"
	"drystage/sim"
)

const (
	steep     = 20 * math.Pi / 180 // rad
	slow      = 40                 // m/s, airspeed below which fins hold a rocket badly; common practice, no source
	low       = 60                 // m
	fast      = 20                 // m/s, at the ground
	hard      = 10.67              // m/s, see sim.HardLanding
	longPulse = 5 * sim.Second
)

// Of gives the hazards that a judged flight shows. All but the last few are facts of the flight, whatever the verdict.
func Of(rec *harness.Record, v *harness.Verdict) (s Set) {
	for b := range rec.Plan.Setup.Bays {
		for _, w := range rec.Plan.Setup.Bays[b].Wires {
			if w.Effect.Kind != sim.Nothing {
				s |= ofOutput(rec, b, &w)
			}
		}
	}
	for i := range rec.Plan.Setup.Vehicle.Stages {
		s |= ofLanding(rec, i)
	}
	for i := range v.Findings {
		if i < len(rec.Plan.Expect) && v.Findings[i].Answer == harness.Fail {
			s |= ofFinding(rec, &rec.Plan.Expect[i])
		}
	}
	return s
}

// ofOutput looks at each time that an output was on.
func ofOutput(rec *harness.Record, bay int, w *sim.Wire) (s Set) {
	times := 0
	for i, e := range rec.Outputs {
		if e.Bay != bay || e.Channel != w.Channel || !e.On {
			continue
		}
		off := slices.IndexFunc(rec.Outputs[i:], func(o harness.Edge) bool { return o.Bay == bay && o.Channel == w.Channel && !o.On })
		length := rec.Times[len(rec.Times)-1] - e.At
		if off > 0 {
			length = rec.Outputs[i+off].At - e.At
			s.add(TooShort, length < pulseOf(&rec.Plan.Setup, w.Effect))
		}
		s.add(StaysOn, length > longPulse)
		times++
		s.add(Again, times > 1)
		s |= whenOn(rec, bay, w, e.At)
	}
	return s
}

// pulseOf is how long an output must be on for what hangs on it.
func pulseOf(setup *sim.Setup, e sim.Effect) sim.Time {
	stage := &setup.Vehicle.Stages[e.Stage]
	switch e.Kind {
	case sim.Ignite:
		return stage.Mount.Igniter.Pulse
	case sim.Deploy:
		return stage.Recovery[e.Device].Pulse
	}
	return 0
}

// whenOn looks at the instant at which an output switches on.
func whenOn(rec *harness.Record, bay int, w *sim.Wire, at sim.Time) (s Set) {
	stage := &rec.Plan.Setup.Vehicle.Stages[w.Effect.Stage]
	before := func(event string) bool { t, ok := sim.Anchor{Event: event}.In(rec.Events); return !ok || at < t }
	s.add(OnPad, before(sim.EventLiftoff))
	s.add(AfterLanding, !before(stage.Name+"."+sim.StageLanding))
	s.add(Disarmed, !armed(rec, bay, at))
	tick := max(0, sort.Search(len(rec.Times), func(i int) bool { return rec.Times[i] > at })-1)
	st := rec.State(tick, w.Effect.Stage)
	switch {
	case st.OnPad || st.Landed:
	case w.Effect.Kind == sim.Ignite:
		s.add(OffVertical, st.Tilt() > steep)
		s.add(SlowOrLow, st.Airspeed < slow || st.Height() < low)
		if below := w.Effect.Stage + 1; below < len(rec.Plan.Setup.Vehicle.Stages) {
			s.add(WhileBurning, before(rec.Plan.Setup.Vehicle.Stages[below].Name+"."+sim.StageBurnout))
		}
	case w.Effect.Kind == sim.Deploy:
		device := &stage.Recovery[w.Effect.Device]
		rated := device.SafeSpeed()
		drogue := w.Effect.Device == 0 && len(stage.Recovery) > 1
		s.add(DrogueAtSpeed, drogue && st.Airspeed > rated)
		s.add(MainAtSpeed, !drogue && st.Airspeed > rated)
		s.add(MainTooHigh, w.Effect.Device > 0 && before(stage.Name+"."+stage.Recovery[0].Name) || w.Effect.Device > 0 && withDrogue(rec, bay, w, at))
	}
	return s
}

// withDrogue says that another output of the same stage's recovery fired less than a second before.
func withDrogue(rec *harness.Record, bay int, main *sim.Wire, at sim.Time) bool {
	return slices.ContainsFunc(rec.Plan.Setup.Bays[bay].Wires, func(w sim.Wire) bool {
		return w.Effect.Kind == sim.Deploy && w.Effect.Stage == main.Effect.Stage && w.Effect.Device == 0 &&
			slices.ContainsFunc(rec.Outputs, func(e harness.Edge) bool {
				return e.Bay == bay && e.Channel == w.Channel && e.On && e.At <= at && at-e.At < sim.Second
			})
	})
}

// armed says that the operator's last command to a board before an instant was to arm.
func armed(rec *harness.Record, bay int, at sim.Time) (is bool) {
	last := sim.Time(math.MinInt64)
	for _, c := range rec.Plan.Setup.Commands {
		t, ok := c.At.In(rec.Events)
		if ok && (c.Bay < 0 || c.Bay == bay) && c.What&(sim.CommandArm|sim.CommandDisarm) != 0 && t <= at && t >= last {
			last, is = t, c.What&sim.CommandArm != 0
		}
	}
	return is
}

// ofLanding looks at how fast a body with parachutes came down.
func ofLanding(rec *harness.Record, stage int) (s Set) {
	v := &rec.Plan.Setup.Vehicle.Stages[stage]
	t, ok := sim.Anchor{Event: v.Name + "." + sim.StageLanding}.In(rec.Events)
	if !ok || len(v.Recovery) == 0 {
		return 0
	}
	tick := max(0, sort.Search(len(rec.Times), func(i int) bool { return rec.Times[i] >= t })-1)
	descent := -rec.State(tick, stage).Velocity.Z
	s.add(NothingOpens, descent > fast)
	s.add(DrogueOnly, descent > hard && descent <= fast)
	return s
}

// ofFinding says what an expectation that fails shows, beyond facts of the flight.
func ofFinding(rec *harness.Record, e *harness.Expectation) (s Set) {
	fired := slices.ContainsFunc(rec.Outputs, func(o harness.Edge) bool { return o.Bay == e.Output.Bay && o.Channel == e.Output.Channel && o.On })
	igniter := false
	if e.Output.Bay >= 0 && e.Output.Bay < len(rec.Plan.Setup.Bays) {
		igniter = slices.ContainsFunc(rec.Plan.Setup.Bays[e.Output.Bay].Wires, func(w sim.Wire) bool {
			return w.Channel == e.Output.Channel && w.Effect.Kind == sim.Ignite
		})
	}
	switch e.Kind {
	case harness.Never:
		s.add(MotorRefused, igniter && fired)
	case harness.Fires:
		s.add(MotorCold, igniter && !fired)
		s.add(Late, !igniter || fired)
	case harness.Reaction:
		s.add(Late, true)
	case harness.Happens:
		s.add(Late, true)
	case harness.Reports, harness.Alive:
		s.add(WrongData, true)
	}
	return s
}
