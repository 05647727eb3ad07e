package examine

import (
	"fmt"
	"math"
	"strings"

	"drystage/sim"
)

const (
	planRate   = 0.2  // of a descent rate by which canopies differ from their drag area; common practice, no source
	planHeight = 0.1  // of the predicted height
	planLate   = 0.25 // s by which an ignition may differ from its plan
	settled    = 3.0  // s after an opening in which the rate is not yet steady; common practice, no source
)

// plan holds the flight against what its vehicle was to do: openings, rates of descent, landing speed,
// ignitions, height.
func (e *examiner) plan() {
	s := e.opt.Setup
	if s == nil || e.opt.Stage >= len(s.Vehicle.Stages) {
		return
	}
	st := &s.Vehicle.Stages[e.opt.Stage]
	e.planIgnitions(s)
	if f := e.res.Fit; f != nil && f.Before > 0 && math.Abs(f.Measured/f.Before-1) > planHeight {
		e.plans("greatest height %.0f m, where the vehicle gives %.0f m", f.Measured, f.Before)
	}
	land, landed := e.res.first(Landing)
	if !landed || len(st.Recovery) == 0 {
		return
	}
	var open []Moment
	for _, m := range e.res.Moments {
		if m.Event == Deployment {
			open = append(open, m)
		}
	}
	if len(open) < len(st.Recovery) {
		e.plans("%d of the vehicle's %d canopies are seen to open", len(open), len(st.Recovery))
	}
	for i, m := range open[:min(len(open), len(st.Recovery))] {
		until := land.At - 0.3
		if i+1 < len(open) {
			until = open[i+1].At - 0.3
		}
		if from := max(m.At+settled, until-6); until-from > 2 {
			e.planRate(st, i, e.fall(from, until), m)
		}
	}
	want := e.terminal(st, len(st.Recovery), 0)
	if v := e.res.Touchdown; v.Speed > 0 && math.Abs(v.Speed-want) > planRate*want+v.Within {
		e.plans("it lands at %.1f +- %.1f m/s, where the vehicle's canopies give %.1f m/s", v.Speed, v.Within, want)
	}
}

// planRate holds a rate of descent against the first canopies, and names those that it fits.
func (e *examiner) planRate(st *sim.Stage, i int, rate float64, m Moment) {
	h, _ := e.res.Path.at(m.At)
	want := e.terminal(st, i+1, h/2)
	if rate <= 0 || math.Abs(rate-want) <= planRate*want {
		return
	}
	text := fmt.Sprintf("after %s it falls at %.1f m/s, where %s gives %.1f m/s", m.Name(), rate, st.Recovery[i].Name, want)
	for n := i + 2; n <= len(st.Recovery); n++ {
		if w := e.terminal(st, n, h/2); math.Abs(rate-w) < planRate*w {
			text += fmt.Sprintf(", but %s too %.1f m/s: it opened early", st.Recovery[n-1].Name, w)
		}
	}
	e.res.Plan = append(e.res.Plan, text)
}

// terminal is the steady speed of fall under the first n canopies, where drag is weight.
func (e *examiner) terminal(st *sim.Stage, n int, height float64) float64 {
	area := 0.0
	for _, d := range st.Recovery[:n] {
		area += d.Area
	}
	mass := st.Mass + st.Mount.Motor.Case
	return math.Sqrt(2 * mass * e.g / (e.air().At(height).Density * area))
}

// planIgnitions holds ignitions against vehicles that say when their motors are lit.
func (e *examiner) planIgnitions(s *sim.Setup) {
	for _, m := range e.res.Moments {
		i := len(s.Vehicle.Stages) - m.Number
		if m.Event != Ignition || i < 0 {
			continue
		}
		lit := s.Vehicle.Stages[i].Mount.Lit
		if !strings.HasSuffix(lit.Event, "."+sim.StageBurnout) {
			continue
		}
		for _, b := range e.res.Moments {
			if late := m.At - b.At - lit.Offset.Seconds(); b.Event == Burnout && b.Number == m.Number-1 && math.Abs(late) > planLate+m.Within+b.Within {
				e.plans("%s is %+.2f s off its plan", m.Name(), late)
			}
		}
	}
}

func (e *examiner) plans(format string, args ...any) {
	e.res.Plan = append(e.res.Plan, fmt.Sprintf(format, args...))
}
