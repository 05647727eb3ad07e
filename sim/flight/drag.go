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

func disc(d float64) float64 { return math.Pi / 4 * d * d }

// largest gives a stage's largest diameter.
func largest(st *sim.Stage) float64 {
	d := st.Diameter
	for i := range st.Transitions {
		d = max(d, st.Transitions[i].Front, st.Transitions[i].Rear)
	}
	return d
}

// dragArea gives Cd*S in m2 at the square of a Mach number.
func (s *shape) dragArea(mach2 float64) float64 {
	sum := 0.0
	for i := range s.drags {
		d := &s.drags[i]
		cd := d.cd.Cd
		if len(d.cd.Points) > 0 {
			cd = between(d.cd.Points, math.Sqrt(mach2))
		}
		sum += float64(cd * d.area)
	}
	return sum
}

// between reads a table of Cd, held constant outside.
func between(points []sim.DragPoint, mach float64) float64 {
	n := len(points)
	if mach <= points[0].Mach {
		return points[0].Cd
	}
	for i := 1; i < n; i++ {
		a, b := &points[i-1], &points[i]
		if mach < b.Mach {
			return a.Cd + float64((b.Cd-a.Cd)*((mach-a.Mach)/(b.Mach-a.Mach)))
		}
	}
	return points[n-1].Cd
}
