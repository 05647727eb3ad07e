package flight

import (
	"math"
	"slices"

	"drystage/sim"
)

// dragPart is one drag coefficient of a body with its area. Drag acts along the body's axis against
// the axial speed, as half rho V u Cd S. At small angles of attack that is also along the flow; at large ones
// the crossflow drag of the parts dominates.
type dragPart struct {
	cd   *sim.Drag
	area float64 // m2
}

// dragSegment is a straight segment of a body's drag area (m2) over Mach number, without and with a burning
// motor. During a step a body keeps its segment, even beyond the segment's ends, so that the equations are
// smooth; the step ends where the next segment begins.
type dragSegment struct {
	mach                  float64 // where it begins
	off, on               float64
	perMachOff, perMachOn float64
}

// newDragSegments sums coefficients; outside of its table each is constant.
func newDragSegments(drags []dragPart) []dragSegment {
	machs := []float64{0}
	for i := range drags {
		for _, p := range drags[i].cd.Points {
			machs = append(machs, max(0, p.Mach))
		}
	}
	slices.Sort(machs)
	machs = slices.Compact(machs)
	lines := make([]dragSegment, len(machs))
	for i := range lines {
		lines[i].mach = machs[i]
		for k := range drags {
			lines[i].add(&drags[k])
		}
	}
	return lines
}

// add adds one coefficient.
func (l *dragSegment) add(d *dragPart) {
	scale := float64(d.cd.Factor() * d.area)
	points := d.cd.Points
	if len(points) == 0 {
		l.off += float64(d.cd.Cd * scale)
		l.on += float64(d.cd.Cd * scale)
		return
	}
	i := 0
	for i+1 < len(points) && l.mach >= points[i+1].Mach {
		i++
	}
	a := &points[i]
	off, on := a.Cd, coefficient(a, true)
	if past := l.mach - a.Mach; past >= 0 && i+1 < len(points) {
		n := &points[i+1]
		perOff, perOn := (n.Cd-off)/(n.Mach-a.Mach), (coefficient(n, true)-on)/(n.Mach-a.Mach)
		l.perMachOff += float64(perOff * scale)
		l.perMachOn += float64(perOn * scale)
		off, on = off+float64(perOff*past), on+float64(perOn*past)
	}
	l.off += float64(off * scale)
	l.on += float64(on * scale)
}

// newDrags picks the coefficients of stages top to low: the Drag of a single stage; the Stacked drag of the
// lowest stage when all stages above it are joined to it, on the largest cross-section; else the sum of the
// stages' own.
func newDrags(stages []sim.Stage, top, low int) []dragPart {
	stacked := &stages[low].Stacked
	if top == 0 && low > 0 && (stacked.Cd != 0 || len(stacked.Points) > 0) {
		d := 0.0
		for i := top; i <= low; i++ {
			d = max(d, maxDiameter(&stages[i]))
		}
		return []dragPart{{stacked, circleArea(d)}}
	}
	var out []dragPart
	for i := top; i <= low; i++ {
		out = append(out, dragPart{&stages[i].Drag, circleArea(maxDiameter(&stages[i]))})
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

func circleArea(d float64) float64 { return float64(math.Pi / 4 * d * d) }

// maxDiameter gives a stage's largest diameter.
func maxDiameter(st *sim.Stage) float64 {
	d := st.Diameter
	for i := range st.Transitions {
		d = max(d, st.Transitions[i].Front, st.Transitions[i].Rear)
	}
	return d
}

// setDrag chooses between a drag buildup and coefficients for stages top to low.
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
		if c := s.drags[i].cd; c.Built { // one of the sum has no coefficient
			s.built, s.builtScale, s.drags, s.machLimit = newBuildup(stages, top, low, c.Roughness), c.Factor(), nil, highestMach
			return
		}
	}
	s.segments, s.machLimit = newDragSegments(s.drags), machLimit(s.drags)
}

// dragArea gives Cd*S in m2 in a flow, on the given segment.
func (s *shape) dragArea(fl *flow, line int) float64 {
	if s.built != nil {
		return float64(s.builtScale * s.built.area(fl))
	}
	l := &s.segments[line]
	past := fl.mach - l.mach
	if fl.thrust > 0 {
		return l.on + float64(past*l.perMachOn)
	}
	return l.off + float64(past*l.perMachOff)
}

// segmentAt gives the index of the segment for a Mach number.
func (s *shape) segmentAt(mach float64) int {
	i := 0
	for i+1 < len(s.segments) && mach >= s.segments[i+1].mach {
		i++
	}
	return i
}

// coefficient is the drag coefficient of a row of a table.
func coefficient(p *sim.DragPoint, power bool) float64 {
	if power && p.PowerOn > 0 {
		return p.PowerOn
	}
	return p.Cd
}
