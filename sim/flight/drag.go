package flight

import (
	"math"

	"drystage/sim"
)

// dragPart is one drag coefficient of a body with its area. Drag acts along the body's axis against
// the axial speed, as half rho V u Cd S: at small angles of attack that is along the wind as well;
// flying broadside the crossflow of the parts takes over.
type dragPart struct {
	cd    *sim.Drag
	area  float64 // m2
	fixed float64 // m2, Cd times area without a table
	lines []dragLine
}

// dragLine is a stretch of a table of Cd from one row to the next, in m2, without and with a burning motor.
type dragLine struct {
	mach                  float64 // where it begins
	off, on               float64
	perMachOff, perMachOn float64
}

// newDragPart makes a coefficient ready for use.
func newDragPart(cd *sim.Drag, area float64) dragPart {
	d := dragPart{cd: cd, area: area, fixed: float64(float64(cd.Cd*cd.Factor()) * area)}
	for i := range cd.Points {
		a := &cd.Points[i]
		scale := float64(cd.Factor() * area)
		l := dragLine{mach: a.Mach, off: float64(a.Cd * scale), on: float64(reading(a, true) * scale)}
		if i+1 < len(cd.Points) {
			n := &cd.Points[i+1]
			if wide := n.Mach - a.Mach; wide > 0 {
				l.perMachOff, l.perMachOn = (float64(n.Cd*scale)-l.off)/wide, (float64(reading(n, true)*scale)-l.on)/wide
			}
		}
		d.lines = append(d.lines, l)
	}
	return d
}

// newDrags picks the coefficients of stages top to low: Drag of a stage alone; Stacked of the lowest
// with all stages above it, on the largest cross-section; else the sum of the stages' own.
func newDrags(stages []sim.Stage, top, low int) []dragPart {
	stacked := &stages[low].Stacked
	if top == 0 && low > 0 && (stacked.Cd != 0 || len(stacked.Points) > 0) {
		d := 0.0
		for i := top; i <= low; i++ {
			d = max(d, largest(&stages[i]))
		}
		return []dragPart{newDragPart(stacked, disc(d))}
	}
	var out []dragPart
	for i := top; i <= low; i++ {
		out = append(out, newDragPart(&stages[i].Drag, disc(largest(&stages[i]))))
	}
	return out
}

// machLimit is the Mach number up to which all the coefficients hold.
func machLimit(drags []dragPart) float64 {
	limit := highestMach
	for i := range drags {
		last := singleMach
		if p := drags[i].cd.Points; len(p) > 1 {
			last = max(last, p[len(p)-1].Mach)
		}
		limit = min(limit, last)
	}
	return limit
}

func disc(d float64) float64 { return math.Pi / 4 * d * d }

// largest gives a stage's largest diameter.
func largest(st *sim.Stage) float64 {
	d := st.Diameter
	for i := range st.Transitions {
		d = max(d, st.Transitions[i].Front, st.Transitions[i].Rear)
	}
	return d
}

// setDrag picks how the drag of stages top to low is found.
func (s *shape) setDrag(stages []sim.Stage, top, low int) {
	d := &stages[low].Drag
	if top == 0 && low > 0 {
		d = &stages[low].Stacked
	}
	if d.Built {
		s.built, s.builtScale, s.machLimit = newBuildup(stages, top, low, d.Roughness), d.Factor(), highestMach
		return
	}
	s.drags = newDrags(stages, top, low)
	for i := range s.drags {
		if c := s.drags[i].cd; c.Built { // a sum with one that has no coefficient
			s.built, s.builtScale, s.drags, s.machLimit = newBuildup(stages, top, low, c.Roughness), c.Factor(), nil, highestMach
			return
		}
	}
	s.machLimit = machLimit(s.drags)
}

// dragArea gives Cd*S in m2 in a flow.
func (s *shape) dragArea(fl *flow) float64 {
	if s.built != nil {
		return float64(s.builtScale * s.built.area(fl))
	}
	sum := 0.0
	for i := range s.drags {
		d := &s.drags[i]
		if len(d.lines) > 0 {
			sum += between(d.lines, fl.mach, fl.thrust > 0)
		} else {
			sum += d.fixed
		}
	}
	return sum
}

// between reads a table in m2, held constant outside; power says that a motor burns.
func between(lines []dragLine, mach float64, power bool) float64 {
	i := 0
	for i+1 < len(lines) && mach >= lines[i+1].mach {
		i++
	}
	l := &lines[i]
	past := max(0, mach-l.mach) // the last line is level
	if power {
		return l.on + float64(past*l.perMachOn)
	}
	return l.off + float64(past*l.perMachOff)
}

// reading is the coefficient of a row.
func reading(p *sim.DragPoint, power bool) float64 {
	if power && p.PowerOn > 0 {
		return p.PowerOn
	}
	return p.Cd
}
