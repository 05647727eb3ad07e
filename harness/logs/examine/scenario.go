package examine

import (
	"fmt"
	"math"
	"path"
	"slices"
	"strings"

	"drystage/harness/logs"
	"drystage/sim"
	"drystage/sim/flight"
	"drystage/sim/quantity"
)

// Events gives the moments as the events that scenarios speak of, for a board on a stage of a vehicle.
// Motors and devices are told apart by their order; what the vehicle has no word for is left out.
func (r *Result) Events(v *sim.Vehicle, stage int) []sim.Event {
	var out []sim.Event
	for _, m := range r.Moments {
		for _, name := range namesOf(m, v, stage) {
			out = append(out, sim.Event{Name: name, At: sim.Seconds(m.At)})
		}
	}
	return out
}

// namesOf lists the event names of a moment; the one that scenarios would use comes first.
func namesOf(m Moment, v *sim.Vehicle, stage int) []string {
	name := v.Stages[stage].Name
	motor := len(v.Stages) - max(m.Number, 1) // the lowest stage burns first
	switch m.Event {
	case Liftoff:
		return []string{sim.EventLiftoff}
	case Ignition, Burnout:
		if motor >= 0 && motor >= stage {
			return []string{v.Stages[motor].Name + "." + map[string]string{Ignition: sim.StageIgnition, Burnout: sim.StageBurnout}[m.Event]}
		}
	case Separation:
		if len(v.Stages) > 1 {
			return []string{sim.EventSeparation}
		}
	case Apogee:
		if stage == 0 {
			return []string{sim.EventApogee, name + "." + sim.StageApogee}
		}
		return []string{name + "." + sim.StageApogee}
	case Deployment:
		if d := v.Stages[stage].Recovery; m.Number >= 1 && m.Number <= len(d) {
			return []string{name + "." + d[m.Number-1].Name}
		}
	case Landing:
		return []string{name + "." + sim.StageLanding}
	}
	return nil
}

// Faults turns the findings that the sensors made up into faults of the library, anchored to the
// moments before them, so that they can be varied. A silence of every part is a cut of the supply that was
// shorter by the board's boot. What no fault can play is left out.
func (r *Result) Faults(v *sim.Vehicle, bay, stage int, boot sim.Time) (faults []sim.Fault, of []Finding) {
	for _, f := range r.Findings {
		kind := f.Kind.Fault()
		if kind == sim.NoFault || f.Real() || f.From < 0 {
			continue
		}
		x := sim.Fault{Kind: kind, Bay: bay, Part: f.Part, Axis: f.Axis, From: r.anchor(f.From, v, stage), Value: rounded(r.inChannel(&f))}
		if r.Path.T == nil || f.Until < r.end()-0.1 {
			x.Duration = sim.Seconds(math.Round(1e3*max(f.Until-f.From, 0.001)) / 1e3)
		}
		if kind == sim.Delayed { // found on the way up, and there all along
			x.From, x.Duration = sim.Anchor{}, 0
		}
		if x.Part == sim.PartBaro || x.Part == sim.PartBattery {
			x.Axis = sim.AllAxes
		}
		if f.Part == sim.NoPart { // the boot of the board is not part of the cut
			x.Kind, x.Axis, x.Value = sim.PowerCut, sim.AllAxes, 0
			x.Duration = max(x.Duration-boot, sim.Millisecond)
		}
		faults, of = append(faults, x), append(of, f)
	}
	return faults, of
}

func (r *Result) end() float64 {
	_, to := r.Log.Span()
	return to.Seconds()
}

// rounded keeps three digits, which is more than a fit knows.
func rounded(x float64) float64 {
	if x == 0 {
		return 0
	}
	p := math.Pow(10, 2-math.Floor(math.Log10(math.Abs(x))))
	if p >= 1 {
		return math.Round(x*p) / p
	}
	return math.Round(x*p) * math.Round(1/p)
}

// anchor tells a time by the moment before it, to the millisecond.
func (r *Result) anchor(t float64, v *sim.Vehicle, stage int) sim.Anchor {
	best := sim.Anchor{Offset: sim.Seconds(math.Round(t*1e3) / 1e3)}
	for _, m := range r.Moments {
		names := namesOf(m, v, stage)
		if m.At <= t+min(max(0.002, m.Within), 0.02) && len(names) > 0 { // known to that
			best = sim.Anchor{Event: names[0], Offset: max(0, sim.Seconds(math.Round((t-m.At)*1e3)/1e3))}
		}
	}
	return best
}

// inChannel gives a finding's size in the channel's own unit and direction: findings of the barometer
// are in m of height, those of turned axes along the body.
func (r *Result) inChannel(f *Finding) float64 {
	if f.Kind == Latency {
		return f.Size
	}
	switch f.Part {
	case sim.PartAccel, sim.PartGyro:
		if f.Axis >= sim.AxisX {
			return f.Size * r.turned[f.Axis-sim.AxisX]
		}
	case sim.PartBaro:
		if !r.Log.Streams[sim.PartBaro].Has(logs.Pressure) {
			return f.Size
		}
		g := r.Ground
		air := flight.NewAir(sim.Site{Elevation: g.Elevation, Pressure: g.Pressure, Temperature: g.Temperature})
		at, d := (f.From+f.Until)/2, 1.0
		if f.Kind == Drift {
			at, d = f.Until, f.Until-f.From
		}
		h, _ := r.Path.at(at)
		if f.Kind == NoiseBurst {
			return f.Size * air.At(h).Density * 9.80665
		}
		return (air.At(h+f.Size*d).Pressure - air.At(h).Pressure) / d
	}
	return f.Size
}

var amounts = map[sim.Part][2]quantity.Dimension{ // of a value, and of a drift
	sim.PartAccel: {quantity.Acceleration, quantity.Jerk}, sim.PartGyro: {quantity.AngularRate, quantity.AngularAcceleration},
	sim.PartBaro: {quantity.Pressure, quantity.PressureRate}, sim.PartGNSS: {quantity.Length, quantity.Speed}, sim.PartBattery: {quantity.Voltage, quantity.VoltageRate},
}

// Written says what a written scenario needs to know besides the result.
type Written struct {
	Like    string // the scenario that the flight was meant as, relative to the new file
	LogFile string // relative to the new file
	Mapping string // relative to the new file; may be empty
	Setup   *sim.Setup
	Bay     int
	Board   string // the board's file, relative to the new file
	Setting string // over those of the board's file, as a YAML flow mapping; may be empty
}

// FaultScenario writes a simulated flight in which the findings are faults of the library. A fault that would change
// nothing in that flight, or with which the flight would not show the finding again, is refused, with the reason. The
// text is empty when there is nothing that a fault could play.
func (r *Result) FaultScenario(w Written) (text string, refused []string) {
	role, stage := w.Setup.Bays[w.Bay].Name, w.Setup.Bays[w.Bay].Stage
	faults, findings := r.Faults(&w.Setup.Vehicle, w.Bay, stage, w.Setup.Bays[w.Bay].Boot)
	for i := range faults {
		w.oneSample(&faults[i])
	}
	faults, findings, refused = w.tryOut(faults, findings)
	if len(faults) == 0 {
		return "", refused
	}
	var b strings.Builder
	fmt.Fprintf(&b, "# Written from the flight log %s. Kind, time and size of each fault were fitted to it.\n", path.Base(w.LogFile))
	for _, f := range r.Findings {
		if f.Kind.Fault() == sim.NoFault || f.Real() {
			fmt.Fprintf(&b, "# Not played: %s at %.3f s, put down to %s.\n", f.Kind, f.From, f.Explanations[0].Cause)
		}
	}
	for _, x := range refused {
		fmt.Fprintf(&b, "# Left out: %s.\n", x)
	}
	fmt.Fprintf(&b, "drystage: scenario\nlike: %s\ntitle: What the log %s showed\n", w.Like, short(path.Base(w.LogFile)))
	b.WriteString("story: >\n  A simulated flight with what a flight log showed as faults, so that it can be varied.\nfaults:\n")
	for i, x := range faults {
		f := findings[i]
		target, of := role, "every part"
		if x.Part != sim.NoPart {
			of = sim.PartNames()[x.Part-1]
			target += "." + of
		}
		fmt.Fprintf(&b, "  # %s of %s, %.3f +- %.3f s to %.3f s of the log", f.Kind, of, f.From, f.Within, f.Until)
		if x.Value != 0 {
			within := math.Abs(r.inChannel(&Finding{Kind: f.Kind, Part: f.Part, Axis: f.Axis, From: f.From, Until: f.Until, Size: f.SizeWithin}))
			fmt.Fprintf(&b, "; size known to %s", quantity.Text(rounded(within), unitOf(x)))
		}
		fmt.Fprintf(&b, "; %s, %.0f %% of belief\n", f.Explanations[0].Cause, 100*f.Explanations[0].Share)
		fmt.Fprintf(&b, "  - {%s: %s", x.Kind, target)
		if x.Axis != sim.AllAxes {
			fmt.Fprintf(&b, ", axis: %s", x.Axis)
		}
		fmt.Fprintf(&b, ", from: %s", x.From)
		if x.Duration > 0 {
			fmt.Fprintf(&b, ", for: %s", quantity.Text(x.Duration.Seconds(), quantity.Time))
		}
		if x.Value != 0 {
			fmt.Fprintf(&b, ", by: %s", quantity.Text(x.Value, unitOf(x)))
		}
		b.WriteString("}\n")
	}
	return b.String(), refused
}

// unitOf is what a fault's value measures.
func unitOf(x sim.Fault) quantity.Dimension {
	switch x.Kind {
	case sim.Delayed:
		return quantity.Time
	case sim.Drift:
		return amounts[x.Part][1]
	}
	return amounts[x.Part][0]
}

func short(s string) string {
	if len(s) > 60 {
		return s[:60]
	}
	return s
}

// ReplayScenario writes a scenario that plays the log to the board again and expects each output when
// the log tells it, give or take tolerance.
func (r *Result) ReplayScenario(w Written, tolerance float64) string {
	bay := &w.Setup.Bays[w.Bay]
	var b strings.Builder
	fmt.Fprintf(&b, "# Written from the flight log %s: the board must do on it again what the log tells that it did.\n", path.Base(w.LogFile))
	fmt.Fprintf(&b, "drystage: scenario\ntitle: The log %s again\n", short(path.Base(w.LogFile)))
	fmt.Fprintf(&b, "story: >\n  The samples of a flight log are played to the board as they were; the vehicle only gives its stages.\nlike: %s\nboards:\n  %s: {file: %s, stage: %s", w.Like, bay.Name, w.Board, w.Setup.Vehicle.Stages[bay.Stage].Name)
	if w.Setting != "" {
		fmt.Fprintf(&b, ", settings: %s", w.Setting)
	}
	fmt.Fprintf(&b, "}\nfaults: []\nlog: {file: %s", w.LogFile)
	if w.Mapping != "" {
		fmt.Fprintf(&b, ", mapping: %s", w.Mapping)
	}
	end := math.Floor(10*r.end()) / 10
	fmt.Fprintf(&b, "}\nuntil: start + %s\nlimit: %s\n", quantity.Text(end, quantity.Time), quantity.Text(math.Ceil(end+10), quantity.Time))
	if len(r.Log.Commands) > 0 {
		b.WriteString("commands: []   # those of the log are given\n")
	} else {
		b.WriteString("# The log tells of no command, so the board is armed here; say when it was, if it matters.\ncommands:\n  - {at: start + 100 ms, give: arm}\n")
	}
	b.WriteString("expect:\n")
	for _, wire := range bay.Wires {
		ons := r.ons(wire.Channel)
		name := bay.Name + "." + wire.Name
		switch {
		case len(ons) == 0 && len(r.Log.Outputs) > 0:
			fmt.Fprintf(&b, "  - {never: %s}   # dark all along the log\n", name)
		case len(ons) > 0:
			from, to := math.Max(ons[0]-tolerance, 0), ons[0]+tolerance
			fmt.Fprintf(&b, "  # on at %.3f s of the log\n  - {fires: %s, from: start + %s, to: start + %s}\n", ons[0], name, quantity.Text(math.Round(from*1e3)/1e3, quantity.Time), quantity.Text(math.Round(to*1e3)/1e3, quantity.Time))
			if len(ons) == 1 {
				fmt.Fprintf(&b, "  - {once: %s}\n", name)
			}
		}
	}
	if len(r.Log.Outputs) == 0 {
		b.WriteString("  # The log tells of no output: add what the board should have done, such as {fires: BOARD.OUTPUT, from: apogee, to: apogee + 1 s}\n")
	}
	fmt.Fprintf(&b, "  - {alive: %s}\n", bay.Name)
	return b.String()
}

// ons lists the times at which an output of the log switched on, in s.
func (r *Result) ons(channel int) (t []float64) {
	for _, o := range r.Log.Outputs {
		if o.Channel == channel && o.On {
			t = append(t, o.At.Seconds())
		}
	}
	slices.Sort(t)
	return t
}
