package flight

import (
	"drystage/sim"
	"drystage/sim/plain"
)

// buildup is the drag of a body built up from its shape: skin friction of body and fins at the flight's
// Reynolds number, and pressure drag of nose, shoulders, boat-tails, fin edges and base in a table over Mach
// number, with and without a burning motor. Rail guides, screws and hatches are not included.
type buildup struct {
	skin   *skin
	wetted []wettedArea
	table  []buildCell // cells of buildWidth in Mach number
}

// wettedArea is a wetted area with its Reynolds length. The area includes form and interference factors.
type wettedArea struct{ area, length, limit float64 }

// buildCell holds cubics across one cell: pressure drag areas (m2) without and with a burning motor, the
// compressibility factor of skin friction, and roughRise.
type buildCell struct{ off, on, factor, rough [4]float64 }

const (
	buildWidth = 0.05
	buildCells = 100 // to Mach 5
	// finInterference is the interference factor of fins and body (Raymer gives 1.04 to 1.05 for tails; from
	// memory).
	finInterference = 1.05
)

// newBuildup works out the drag of stages top to low.
func newBuildup(stages []sim.Stage, top, low int, grain float64) *buildup {
	d := &buildup{skin: newSkin()}
	length, wet, wide := 0.0, 0.0, 0.0
	for i := top; i <= low; i++ {
		st := &stages[i]
		length += st.Length
		wet += stageSkin(st)
		wide = max(wide, maxDiameter(st))
		for k := range st.Fins {
			d.addFins(&st.Fins[k], grain)
		}
	}
	f := length / max(wide, 1e-3)
	form := 1 + 60/float64(f*float64(f*f)) + f/400 // a body of fineness f (Raymer; from memory)
	d.wetted = append(d.wetted, wettedArea{area: wet * min(form, 2), length: length, limit: roughLimit(length, grain)})
	d.table = make([]buildCell, buildCells)
	var at [buildCells + 1][4]float64
	for i := range at {
		m := float64(buildWidth * float64(i))
		p := pressureDrag(stages, top, low, m)
		factor := plain.Pow(1+float64(0.144*float64(m*m)), -0.65) // turbulent (Raymer; from memory)
		at[i] = [4]float64{p.off, p.on, factor, roughRise(m)}
	}
	slope := func(i, k int) float64 {
		return (at[min(i+1, buildCells)][k] - at[max(i-1, 0)][k]) / float64(min(i+1, buildCells)-max(i-1, 0))
	}
	for i := range d.table {
		c := &d.table[i]
		for k, to := range []*[4]float64{&c.off, &c.on, &c.factor, &c.rough} {
			*to = hermite(at[i][k], at[i+1][k], slope(i, k), slope(i+1, k))
		}
	}
	return d
}

// addFins adds the wetted area of a set of fins, with a form factor of 1 + 2 t/c + 60 (t/c)^4 (Hoerner; from
// memory).
func (d *buildup) addFins(f *sim.Fins, grain float64) {
	chord := (f.Root + f.Tip) / 2
	if f.Count <= 0 || f.Span <= 0 || chord <= 0 {
		return
	}
	t := min(f.Thickness/chord, 0.3)
	form := 1 + float64(2*t) + float64(60*square(float64(t*t)))
	d.wetted = append(d.wetted, wettedArea{area: 2 * float64(f.Count) * f.Span * chord * form * finInterference, length: chord, limit: roughLimit(chord, grain)})
}

// area gives Cd*S in m2.
func (d *buildup) area(fl *flow) float64 {
	i, x := machCell(fl.mach)
	c := &d.table[i]
	perMetre := float64(fl.density*fl.speed) / viscosity(fl.temperature)
	friction, rough := 0.0, max(1, cubic(&c.rough, x))
	for i := range d.wetted {
		s := &d.wetted[i]
		friction += float64(s.area * d.skin.at(float64(perMetre*s.length), float64(rough*s.limit)))
	}
	pressure := &c.off
	if fl.thrust > 0 {
		pressure = &c.on
	}
	return float64(friction*cubic(&c.factor, x)) + cubic(pressure, x)
}

// pressureArea is pressure drag in m2, without and with a burning motor.
type pressureArea struct{ off, on float64 }

func (p *pressureArea) add(area float64) { p.off += area; p.on += area }

// pressureDrag adds up the parts' pressure drag at a Mach number.
func pressureDrag(stages []sim.Stage, top, low int, mach float64) pressureArea {
	var p pressureArea
	impact, base := float64(flatFace*impactRatio(mach)), baseDrag(mach)
	before := 0.0
	for i := top; i <= low; i++ {
		st := &stages[i]
		if i == top && st.Nose.Length > 0 {
			before = noseBase(st)
			p.add(float64(circleArea(before) * waveDrag(mach, st.Nose.Length/before)))
		}
		step := frontDiameter(st)
		if i == top && st.Nose.Length > 0 {
			step = before
		}
		p.add(stepDrag(before, step, impact, base))
		for k := range st.Transitions {
			p.add(coneDrag(&st.Transitions[k], mach, base))
		}
		for k := range st.Fins {
			p.add(edgeDrag(&st.Fins[k], mach, impact, base))
		}
		before = rearDiameter(st)
	}
	p.add(float64(base * circleArea(before)))
	m := &stages[low].Mount
	p.on -= float64(base * min(circleArea(before), float64(m.Motors())*circleArea(m.Motor.Diameter)))
	return p
}

// stepDrag is the drag area of a sudden change of diameter.
func stepDrag(front, rear, impact, base float64) float64 {
	if change := circleArea(rear) - circleArea(front); change > 0 {
		return impact * change
	}
	return base * (circleArea(front) - circleArea(rear))
}

// coneDrag is the pressure drag area of a shoulder or a boat-tail.
func coneDrag(t *sim.Transition, mach, base float64) float64 {
	grow := t.Rear - t.Front
	if grow >= 0 {
		return (circleArea(t.Rear) - circleArea(t.Front)) * waveDrag(mach, t.Length/max(grow, 1e-6))
	}
	return (circleArea(t.Front) - circleArea(t.Rear)) * base * tailSeparation(plain.Atan2(-grow/2, t.Length))
}

// edgeDrag is the pressure drag area of a set of fins. A square leading edge has the impact pressure of the
// flow normal to it; a square trailing edge has base pressure; fins without a square leading edge have the
// wave drag of their thickness.
func edgeDrag(f *sim.Fins, mach, impact, base float64) float64 {
	chord := (f.Root + f.Tip) / 2
	if f.Count <= 0 || f.Span <= 0 || chord <= 0 {
		return 0
	}
	face := float64(f.Count) * f.Span * f.Thickness
	sweep := f.Span * f.Span / (square(f.Span) + square(f.Sweep)) // cos^2 of the leading edge
	area := 0.0
	if f.Profile == sim.SquareEdges {
		area += float64(face * impact * sweep)
	} else {
		area += float64(float64(f.Count) * f.Span * chord * thinWave(mach, min(f.Thickness/chord, 0.3)))
	}
	if f.Profile != sim.Streamlined {
		area += float64(face * base)
	}
	return area
}
