package flight

import (
	"math"

	"drystage/sim"
)

// dragPart is one drag coefficient of a body with its area. Drag acts along the body's axis against
// the axial speed, as half rho V u Cd S: at small angles of attack that is along the wind as well;
// flying broadside the crossflow of the parts takes over.
type dragPart struct {
	cd   *sim.Drag
	area float64 // m2
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
		return []dragPart{{stacked, disc(d)}}
	}
	var out []dragPart
	for i := top; i <= low; i++ {
		out = append(out, dragPart{&stages[i].Drag, disc(largest(&stages[i]))})
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
		cd := d.cd.Cd
		if len(d.cd.Points) > 0 {
			cd = between(d.cd.Points, fl.mach, fl.thrust > 0)
		}
		sum += float64(float64(cd*d.cd.Factor()) * d.area)
	}
	return sum
}

// between reads a table of Cd, held constant outside; power says that a motor burns.
func between(points []sim.DragPoint, mach float64, power bool) float64 {
	n := len(points)
	if mach <= points[0].Mach {
		return reading(&points[0], power)
	}
	for i := 1; i < n; i++ {
		a, b := &points[i-1], &points[i]
		if mach < b.Mach {
			low := reading(a, power)
			return low + float64((reading(b, power)-low)*((mach-a.Mach)/(b.Mach-a.Mach)))
		}
	}
	return reading(&points[n-1], power)
}

// reading is the coefficient of a row.
func reading(p *sim.DragPoint, power bool) float64 {
	if power && p.PowerOn > 0 {
		return p.PowerOn
	}
	return p.Cd
}
