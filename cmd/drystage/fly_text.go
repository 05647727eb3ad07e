package main

import (
	"fmt"
	"math"
	"strings"

	"drystage/sim"
	"drystage/sim/flight"
)

const (
	degrees         = 180 / math.Pi
	standardGravity = 9.80665 // m/s2
)

// flightReport writes the figures of a flight.
type flightReport struct {
	strings.Builder
	*flightInput
	*idealFlight
}

// flightText describes a flight in a table and lines. Times count from the launch.
func flightText(j *flightInput, o *idealFlight) string {
	t := &flightReport{flightInput: j, idealFlight: o}
	t.heading()
	t.eventTable()
	t.figures()
	for i := range o.set.Vehicle.Stages {
		t.stage(i)
	}
	t.warnings()
	return t.String()
}

func (t *flightReport) printf(format string, a ...any) { fmt.Fprintf(t, format, a...) }

// line writes a line with its name in front.
func (t *flightReport) line(name, format string, a ...any) {
	t.printf("  %-14s  "+format+"\n", append([]any{name}, a...)...)
}

// clock gives seconds since the launch.
func (o *idealFlight) clock(at sim.Time) float64 { return (at - o.set.Launch).Seconds() }

func (t *flightReport) heading() {
	s, v := t.idealFlight.set, &t.idealFlight.set.Vehicle
	t.printf("%s", v.Name)
	if t.scenario != "" {
		t.printf(", as in %q", t.scenario)
	}
	t.printf(", seed %d\n", s.Seed)
	air := "calm"
	if speed, height, from := surface(&s.Wind); speed > 0 {
		air = fmt.Sprintf("wind %.1f m/s at %.0f m from %03.0f deg", speed, height, bearing(from))
	}
	if n := len(s.Wind.Aloft); n > 0 {
		air += " by a table of " + count(n, "row")
	}
	if n := len(s.Wind.Gusts); n > 0 {
		air += " and " + count(n, "gust")
	}
	if s.Wind.Turbulence.On {
		air += ", with turbulence"
	}
	t.printf("Rail %.1f m, %.1f deg off vertical towards %03.0f deg; %.1f degC and %.0f hPa at the pad;\n%s.\n", v.Rail.Length, v.Rail.Tilt*degrees,
		bearing(v.Rail.Azimuth), v.Site.Temperature-273.15, v.Site.Pressure/100, air)
	t.printf("No board takes part: all happens when the vehicle's file means it to.\nTimes count from the launch")
	if t.scenario != "" {
		t.printf(", %s into the scenario's run", s.Launch)
	}
	t.printf(".\n")
	if t.faults > 0 {
		t.printf("The scenario's %s left out.\n", []string{"fault is", "faults are"}[min(t.faults-1, 1)])
	}
}

// bearing gives whole degrees clockwise from north, 0 to 359.
func bearing(rad float64) float64 {
	d := math.Mod(math.Round(rad*degrees), 360)
	if d < 0 {
		d += 360
	}
	return d + 0 // no -0
}

func (t *flightReport) eventTable() {
	t.printf("\n%8s  %8s  %9s  %6s  %8s  %8s  %s\n", "time s", "height m", "speed m/s", "Mach", "q kPa", "tilt deg", "event")
	for i := range t.sum.Rows {
		r := &t.sum.Rows[i]
		if r.At < t.idealFlight.set.Launch {
			continue
		}
		t.printf("%8.3f  %8.1f  %9.1f  %6.3f  %8.3f  %8.1f  %s\n", t.clock(r.At), flat(r.Height, 0.05), r.Speed, r.Mach, r.Dynamic/1000, r.Tilt*degrees, r.Name)
	}
	t.printf("Speed is over the ground; Mach and q, dynamic pressure, are through the air.\n")
}

// flat takes the sign off numbers that are printed as 0.
func flat(x, half float64) float64 {
	if math.Abs(x) < half {
		return 0
	}
	return x
}

// surface gives the steady wind near the ground: as it is given, or that of the table of winds aloft at 10 m.
func surface(w *sim.Wind) (speed, height, from float64) {
	if len(w.Aloft) == 0 {
		return w.Speed, w.Height, w.From
	}
	speed, from = flight.SteadyWind(w, 10)
	return speed, 10, from
}

// figures describes the whole rocket: rail exit, stability, greatest values.
func (t *flightReport) figures() {
	t.printf("\nthe rocket\n")
	e, m := &t.sum.Exit, &t.sum.Extremes
	if !e.Left {
		t.line("rail exit", "never")
		return
	}
	t.line("rail exit", "%.1f m/s at %.3f s, thrust %.1f times the weight,", e.Speed, t.clock(e.At), e.ThrustWeight)
	t.line("", "angle of attack %.1f deg, tilt %.1f deg, turning at %.1f deg/s", e.Alpha*degrees, e.Tilt*degrees, e.Rate*degrees)
	if e.Stability.Slope > 0 {
		t.line("static margin", "%.2f calibres at rail exit (%.0f mm; CP %.0f mm, CG %.0f mm from the nose)", e.Stability.Margin,
			e.Stability.Diameter*1000, e.Stability.CP*1000, e.Stability.CG*1000)
	} else {
		t.line("static margin", "none: nothing pushes across at small angles")
	}
	if !math.IsNaN(m.Margin) {
		t.line("", "%.2f calibres at %.3f s, the least to apogee above 100 Pa", m.Margin, t.clock(m.MarginAt))
	}
	t.line("greatest", "Mach %.3f at %.3f s, dynamic pressure %.3f kPa at %.3f s,", m.Mach, t.clock(m.MachAt), m.Dynamic/1000, t.clock(m.QAt))
	t.line("", "felt acceleration %.1f m/s2 (%.1f g0) at %.3f s", m.Acceleration, m.Acceleration/standardGravity, t.clock(m.AccelerationAt))
	v := &t.sum.Solver
	t.line("solver", "%s, the error of each below %.0e of what it moves; %d tried again shorter, %d taken all the same", count(v.Steps, "step"), v.Tolerance, v.Rejected, v.Forced)
	b := &t.sum.Baro
	t.line("barometer", "one that assumes the standard day shows %.1f m at the greatest height, %.1f m: %+.1f m off", b.Shown, b.Height, b.Error)
}

// stage describes one stage from its motor to the ground.
func (t *flightReport) stage(i int) {
	st := &t.idealFlight.set.Vehicle.Stages[i]
	t.printf("\n%s\n", st.Name)
	motors := 0
	for _, b := range t.sum.Motors {
		if b.Stage != i {
			continue
		}
		motors++
		name := "motor"
		if st.Mount.Motors() > 1 {
			name = fmt.Sprintf("motor %d", b.Motor+1)
		}
		t.line(name, "from %.3f s for %.2f s: %.1f N s, mean %.1f N, peak %.1f N", t.clock(b.Lit), b.Time.Seconds(), b.Impulse, b.Average, b.Peak)
	}
	if motors == 0 && len(st.Mount.Motor.Thrust) > 0 {
		t.line("motor", "never burns")
	}
	if p := t.fastest(i); p.speed > 0.05 {
		t.line("greatest speed", "%.1f m/s at %.3f s", p.speed, t.clock(p.at))
	}
	if r := t.row(st.Name + "." + sim.StageApogee); r != nil {
		t.line("apogee", "%.1f m at %.3f s, at %.1f m/s", r.Height, t.clock(r.At), r.Speed)
	}
	landing := t.landing(i)
	for k := range st.Recovery {
		t.device(i, k, landing)
	}
	if landing == nil {
		if t.neverLifted[i] {
			t.line("stays", "on the pad")
		} else {
			t.line("lands", "not before %.0f s", t.clock(t.end))
		}
		return
	}
	t.line("lands", "at %.3f s, %.1f m east and %.1f m north of the pad:", t.clock(landing.At), flat(landing.East, 0.05), flat(landing.North, 0.05))
	with := ""
	if landing.Top != landing.Low {
		with = ", joined with others"
	}
	t.line("", "%.1f m away, bearing %03.0f deg, at %.1f m/s with %.3f kg%s: %.1f J", landing.Distance, bearing(landing.Bearing),
		landing.Speed, landing.Mass, with, landing.Energy)
}

// fastest gives the greatest speed of a stage on its way up and down; the flight knows best about the one with
// the nose up to apogee.
func (o *idealFlight) fastest(stage int) peak {
	p := o.peaks[stage]
	if m := &o.sum.Extremes; stage == 0 && m.Speed >= p.speed {
		return peak{m.Speed, m.SpeedAt}
	}
	return p
}

// row finds the state at an event; nil if it did not happen.
func (o *idealFlight) row(event string) *flight.Row {
	for i := range o.sum.Rows {
		if r := &o.sum.Rows[i]; r.Name == event {
			return r
		}
	}
	return nil
}

// landing finds the landing of a stage's body; nil when it isn't down.
func (o *idealFlight) landing(stage int) *flight.Landing {
	for i := range o.sum.Landings {
		if l := &o.sum.Landings[i]; l.Top <= stage && stage <= l.Low {
			return l
		}
	}
	return nil
}

// device describes how a recovery device opens and where the body drifts.
func (t *flightReport) device(stage, which int, l *flight.Landing) {
	st := &t.idealFlight.set.Vehicle.Stages[stage]
	name := st.Recovery[which].Name
	r := t.row(st.Name + "." + name)
	for i := range t.sum.Openings {
		o, d := &t.sum.Openings[i], &t.sum.Drifts[i]
		if o.Stage != stage || o.Device != which || r == nil {
			continue
		}
		t.line(name, "opens at %.3f s, %.1f m, airspeed %.1f m/s; fills in %.2f s", t.clock(o.At), r.Height, o.Speed, o.Filling.Seconds())
		load := fmt.Sprintf("opening load %.1f N", o.Load)
		if l != nil && l.Mass > 0 {
			load += fmt.Sprintf(" (%.1f times the weight)", o.Load/(l.Mass*standardGravity))
		}
		load += fmt.Sprintf(" at %.3f s", t.clock(o.LoadAt))
		if o.Snatch > 0 {
			load += fmt.Sprintf(", line snatch %.1f N", o.Snatch)
		}
		t.line("", "%s", load)
		t.line("", "drift %.1f m towards %03.0f deg in %.1f s, at last %.1f m/s down", math.Hypot(d.East, d.North),
			bearing(math.Atan2(d.East, d.North)), (d.Until - d.From).Seconds(), t.descent(stage, d, l))
		return
	}
	t.line(name, "never opens")
}

// descent is how fast a body comes down at the end of a drift.
func (o *idealFlight) descent(stage int, d *flight.Drift, l *flight.Landing) float64 {
	if l != nil && d.Until >= l.At {
		return l.Descent
	}
	for i := range o.sum.Rows {
		if r := &o.sum.Rows[i]; r.At == d.Until && r.Stage == stage {
			return -r.Climb
		}
	}
	return 0
}
