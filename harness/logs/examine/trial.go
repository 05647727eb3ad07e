package examine

import (
	"fmt"
	"math"

	"drystage/harness"
	"drystage/harness/logs"
	"drystage/sim"
	"drystage/sim/fault"
	"drystage/sim/flight"
	"drystage/sim/sensor"
)

// trial is a simulated flight of one board with faults, as the vehicle's file intends it, without the board.
type trial struct {
	log     *logs.Log
	changed uint64 // bit i: fault i changed a sample
	events  []sim.Event
	end     sim.Time
}

// fly flies the setup of a scenario that is to be written with faults, until its end.
func (w *Written) fly(faults []sim.Fault) (t trial, err error) {
	s := *w.Setup
	s.Faults = faults
	f, bank, set := flight.NewIdeal(&s), sensor.New(s.Seed, &s, w.Bay), fault.New(&s)
	stage := s.Bays[w.Bay].Stage
	bank.SetShock(&f.Shocks()[stage], func(t sim.Time) sim.Shock { return f.ShockAt(stage, t) })
	rec := harness.Record{Plan: harness.Plan{Name: "trial", Setup: s}}
	rec.Plan.Setup.Bays = s.Bays[w.Bay : w.Bay+1]
	frame := sim.Frame{Bay: w.Bay}
	for now := bank.Next(); now < s.Limit; now = bank.Next() {
		f.AdvanceTo(now)
		t.events, t.end = f.Events(), now
		if until, ok := s.Until.In(t.events); ok && now >= until {
			break
		}
		st := &f.States()[stage]
		frame.Now, frame.Due, frame.Powered = now, true, true
		bank.Sample(st, &frame)
		changed, _ := set.Apply(&frame, st, t.events)
		t.changed |= changed
		for i := range faults {
			if x := &faults[i]; x.Kind == sim.PowerCut && x.Bay == w.Bay {
				if from, ok := x.From.In(t.events); ok && now >= from && now < from+x.Duration+s.Bays[w.Bay].Boot {
					frame.Powered, t.changed = false, t.changed|1<<i
				}
			}
		}
		own := frame
		own.Bay = 0
		rec.Times, rec.Frames = append(rec.Times, now), append(rec.Frames, own)
	}
	t.log, err = logs.FromRecord(&rec, 0)
	return t, err
}

// shows says why a flight with a fault does not show what the log did; "" when it does.
func (t *trial) shows(i int, x *sim.Fault, f *Finding, again *Result, w *Written) string {
	from, ok := x.From.In(t.events)
	rate := 0.0
	if x.Part != sim.NoPart {
		rate = w.Setup.Bays[w.Bay].Sensors.Rate(x.Part)
	}
	switch {
	case x.Part != sim.NoPart && rate <= 0:
		return fmt.Sprintf("the scenario's board has no %s", sim.PartNames()[x.Part-1])
	case !ok:
		return fmt.Sprintf("the scenario's flight has no %s", x.From.Event)
	case from >= t.end:
		return fmt.Sprintf("the scenario ends at %s, before it begins at %s", t.end, from)
	case t.changed&(1<<i) == 0 && x.Duration > 0 && x.Duration.Seconds()*rate < 1:
		return fmt.Sprintf("no sample falls into its %s, since the scenario's board takes %.4g a second", x.Duration, rate)
	case t.changed&(1<<i) == 0:
		return "it would change no sample of the scenario's flight"
	case again == nil:
		return ""
	}
	slack := againTime + againShare*(f.Until-f.From)
	for k := range again.Findings {
		g := &again.Findings[k]
		near := x.Kind == sim.Delayed || math.Abs(g.From-from.Seconds()) < slack+g.Within
		if near && g.Kind == f.Kind && g.Part == f.Part && (g.Axis == f.Axis || g.Axis == sim.AllAxes || f.Axis == sim.AllAxes || x.Axis == sim.AllAxes) && !g.Real() {
			return ""
		}
	}
	return fmt.Sprintf("it is lost: a simulated flight with it shows no %s there", f.Kind)
}

const (
	againTime  = 0.05 // s by which a fault's beginning may differ when it is found again
	againShare = 0.3  // of its length, besides
)

// tryOut leaves out of some faults those that a simulated flight does not show again, with the reason for each.
func (w *Written) tryOut(faults []sim.Fault, of []Finding) (kept []sim.Fault, keptOf []Finding, refused []string) {
	if len(faults) == 0 {
		return nil, nil, nil
	}
	t, err := w.fly(faults)
	if err != nil {
		return nil, nil, []string{"nothing is played: the scenario's flight can't be simulated: " + err.Error()}
	}
	again, err := Examine(t.log, Options{Temperature: w.Setup.Vehicle.Site.Temperature})
	for i := range faults {
		why := t.shows(i, &faults[i], &of[i], again, w)
		if why == "" && err != nil {
			why = "whether a simulated flight shows it again can't be told: " + err.Error()
		}
		if why != "" {
			refused = append(refused, fmt.Sprintf("%s at %.3f s is not played: %s", of[i].Kind, of[i].From, why))
			continue
		}
		kept, keptOf = append(kept, faults[i]), append(keptOf, of[i])
	}
	return kept, keptOf, refused
}

// oneSample makes a fault that is shorter than two samples of the scenario's part a shift of exactly one sample: a bump
// would be met anywhere on its flanks.
func (w *Written) oneSample(x *sim.Fault) {
	rate := 0.0
	if x.Part != sim.NoPart {
		rate = w.Setup.Bays[w.Bay].Sensors.Rate(x.Part)
	}
	if x.Kind == sim.Spike && rate > 0 && x.Duration.Seconds()*rate < 2 {
		x.Kind, x.Duration = sim.Step, sim.Seconds(1/rate)
	}
}
