package flight

// Stability is the static stability of a body at small angles of attack. It is stable when its centre of
// pressure is behind its centre of gravity.
type Stability struct {
	CP, CG   float64 // m aft of the body's front end
	Slope    float64 // m2, normal force over dynamic pressure and angle, per radian
	Diameter float64 // m, the calibre: the body's largest diameter
	Margin   float64 // calibres from CG back to CP; below 0 it is unstable; 0 when there is no normal force
}

// Stability gives it for the body of a stage, at the present and at its Mach number.
func (f *Flight) Stability(stage int) Stability {
	b := f.bodyOf(stage)
	if b == nil {
		return Stability{}
	}
	x := b.fraction(f.now)
	return b.stability(b.conditionAt(x).mach, x)
}

// stability computes it at a Mach number and a fraction of the step.
func (b *body) stability(mach, x float64) Stability {
	var p massProperties
	b.massProperties(b.secondsAt(x), &p)
	s := Stability{CG: p.cg, Diameter: b.shape.calibre}
	first := 0.0
	cell, in := machCell(mach)
	for i := range b.shape.parts {
		n := &b.shape.parts[i]
		fin, place := n.fin, n.place
		if n.machTable != nil {
			fin *= cubic(&n.machTable[cell].slope, in)
			place += cubic(&n.machTable[cell].shift, in)
		}
		slope := 2 * (n.body + fin)
		s.Slope += slope
		first += float64(slope * place)
	}
	if s.Slope == 0 || s.Diameter <= 0 {
		return s
	}
	s.CP = first / s.Slope
	s.Margin = (s.CP - s.CG) / s.Diameter
	return s
}
