package sensor

import (
	"math"
	"sort"

	"drystage/sim"
	"drystage/sim/plain"
)

// ports are the static ports: holes evenly spaced around the body.
type ports struct {
	rows []sim.Port
	// Pressure coefficients at an angle from where the flow across the body meets it: mean + swing (cos + cos 2).
	// It is 1 where the flow meets the body, and the mean again behind it. Around n even holes the mean of cos k is
	// 0, unless n divides k: from three holes on only the mean is left.
	mean, swing float64
	holes       int
	y, z        float64 // direction of the first hole
}

func newPorts(b *sim.Barometer) ports {
	p := ports{rows: b.Ports, mean: b.Crossflow, holes: b.Vents.Count}
	if b.Crossflow != 0 {
		p.swing = (1 - b.Crossflow) / 2
	}
	p.z, p.y = plain.Sincos(b.Vents.Clock)
	return p
}

// pressure gives the mean pressure at the holes in Pa. Its error is that of the flow along the body, by Mach number,
// plus that of the flow across it, each with its own dynamic pressure: so a body in a crosswind or at an angle of
// attack has both, and one that tumbles swings between them.
func (p *ports) pressure(st *sim.State) float64 {
	a := &st.Air
	along, across := float64(a.X*a.X), float64(a.Y*a.Y)+float64(a.Z*a.Z)
	if along+across <= 0 {
		return st.Pressure
	}
	halfDensity := st.Dynamic / (along + across)
	sum := 0.0
	if len(p.rows) > 0 {
		sum = float64(portError(p.rows, st.Mach) * along)
	}
	sum += float64(p.mean * across)
	if p.swing != 0 && (p.holes == 1 || p.holes == 2) {
		toward := float64(a.Y*p.y) + float64(a.Z*p.z)
		ring := float64(2*float64(toward*toward)) - across // cos 2
		if p.holes == 1 {
			ring += float64(toward * math.Sqrt(across)) // cos
		}
		sum += float64(p.swing * ring)
	}
	return st.Pressure + float64(halfDensity*sum)
}

// portError gives Cp at a Mach number.
func portError(rows []sim.Port, mach float64) float64 {
	i := sort.Search(len(rows), func(i int) bool { return rows[i].Mach >= mach })
	switch {
	case i == 0:
		return rows[0].Cp
	case i == len(rows):
		return rows[i-1].Cp
	}
	a, b := rows[i-1], rows[i]
	return a.Cp + float64((b.Cp-a.Cp)*((mach-a.Mach)/(b.Mach-a.Mach)))
}
