package sim

// MotorFigures are the figures of a motor's data sheet, computed from its thrust curve.
type MotorFigures struct {
	Impulse float64 // N s, total
	Peak    float64 // N
	// Burn is the time from the first to the last instant at which thrust is at least 5 % of the peak, as
	// makers define the burn time (NFPA 1125, from memory). Whole is the length of the curve.
	Burn, Whole Time
	Average     float64 // N, Impulse over Burn
}

// Figures computes them. Without a curve all are 0.
func (m *Motor) Figures() MotorFigures {
	var f MotorFigures
	p := m.Thrust
	for i := range p {
		f.Peak = max(f.Peak, p[i].Thrust)
		if i > 0 {
			f.Impulse += float64(0.5 * (p[i].T - p[i-1].T) * (p[i].Thrust + p[i-1].Thrust))
		}
	}
	if len(p) < 2 || f.Peak <= 0 {
		return MotorFigures{}
	}
	least := float64(0.05 * f.Peak)
	begin, end := -1.0, 0.0
	for i := range p {
		if i > 0 && (p[i].Thrust >= least) != (p[i-1].Thrust >= least) {
			at := p[i-1].T + float64((p[i].T-p[i-1].T)*((least-p[i-1].Thrust)/(p[i].Thrust-p[i-1].Thrust)))
			if begin < 0 {
				begin = at
			}
			end = at
		}
		if p[i].Thrust >= least {
			if begin < 0 {
				begin = p[i].T
			}
			end = p[i].T
		}
	}
	f.Burn, f.Whole = Seconds(end-begin), Seconds(p[len(p)-1].T)
	if f.Burn > 0 {
		f.Average = f.Impulse / (end - begin)
	}
	return f
}
