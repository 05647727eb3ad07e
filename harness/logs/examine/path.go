package examine

import (
	"math"

	"drystage/sim"
)

// The smoother's state: height, speed, acceleration, the accelerometer's bias, and what GNSS reads
// too high. The acceleration is a random walk, wide enough for motors.
const (
	stHeight = iota
	stSpeed
	stAccel
	stBias
	stOffset
	states
)

const (
	fine   = 0.02 // s, step of the smoother in flight
	coarse = 0.2  // s, on the pad and under parachutes
	most   = 20000
)

// smooth runs the smoother over the flight and tests its innovations.
func (e *examiner) smooth() error {
	e.move()
	grid := e.grid()
	if len(grid) < 3 {
		return nil
	}
	var steps []Linear
	last := grid[0]
	next := [4]int{}
	for _, t := range grid {
		l := system(t-last, e.lively(t))
		e.measure(&l, last, t, &next)
		steps = append(steps, l)
		last = t
	}
	start, open := Vector{}, Vector{4, 0.01, 0.01, 0.04, 400}
	if e.begun {
		open = Vector{1e6, 1e5, 1e4, 0.25, 400}
	}
	s, err := Smooth(start, diagonal(open), steps)
	if err != nil {
		return err
	}
	p := &e.res.Path
	for k, t := range grid {
		p.T = append(p.T, t)
		p.Height, p.Speed, p.Accel = append(p.Height, s.X[k][stHeight]), append(p.Speed, s.X[k][stSpeed]), append(p.Accel, s.X[k][stAccel])
		p.HeightSD, p.SpeedSD = append(p.HeightSD, math.Sqrt(max(s.P[k][0][0], 0))), append(p.SpeedSD, math.Sqrt(max(s.P[k][1][1], 0)))
	}
	end := s.X[len(s.X)-1]
	p.AccelBias, p.GNSSOffset = end[stBias], end[stOffset]
	e.res.Checks = check(s.Innovations)
	return nil
}

// grid is the smoother's instants: fine around the powered flight, coarse elsewhere.
func (e *examiner) grid() []float64 {
	from := max(e.padEnd-2, 0)
	until := e.end
	if m, ok := e.res.first(Landing); ok {
		until = min(until, m.At+2)
	}
	f, c := fine, coarse
	if n := (e.top+5-from)/fine + (until-e.top)/coarse; n > most {
		f, c = fine*n/most, coarse*n/most
	}
	var g []float64
	for t := from; t < until; {
		g = append(g, t)
		if t > e.padEnd-0.5 && t < e.top+5 {
			t += f
		} else {
			t += c
		}
	}
	return g
}

// lively says that a motor may push, or a parachute open, within a little.
func (e *examiner) lively(t float64) bool {
	for _, m := range e.res.Moments {
		if m.Event != Apogee && math.Abs(t-m.At) < 0.5 {
			return true
		}
	}
	return t < e.top && t > e.lift
}

// system is the step of the state over dt, in which the jerk is white with the given density.
func system(dt float64, lively bool) Linear {
	f := diagonal(Vector{1, 1, 1, 1, 1})
	f[stHeight][stSpeed] = dt
	f[stHeight][stAccel] = dt * dt / 2
	f[stSpeed][stAccel] = dt
	q := 20.0 // (m/s3)2 s
	if lively {
		q = 20000
	}
	d := diagonal(Vector{stBias: 1e-5 * dt, stOffset: 1e-2 * dt})
	d[0][0] = q * math.Pow(dt, 5) / 20
	d[0][1] = q * math.Pow(dt, 4) / 8
	d[1][0] = d[0][1]
	d[0][2] = q * dt * dt * dt / 6
	d[2][0] = d[0][2]
	d[1][1] = q * dt * dt * dt / 3
	d[1][2] = q * dt * dt / 2
	d[2][1] = d[1][2]
	d[2][2] = q * dt
	return Linear{F: f, Q: d}
}

// measure adds what each sensor says between two instants. Several samples of one sensor are
// averaged, those of the accelerometer as its change of speed.
func (e *examiner) measure(l *Linear, from, until float64, next *[4]int) {
	if e.accel[0] != nil {
		a := e.accel[0]
		i, j := a.between(from, until)
		masked := false
		for k := i; k < j; k++ {
			masked = masked || a.mask[k]
		}
		if j-i > 0 && !masked && until-from > 0 {
			// The last samples, since the state is that of the end of the step.
			dt := min(until-from, 4*a.step)
			acc := (e.rise.at(until) - e.rise.at(until-dt)) / dt
			r := a.sd(until)*a.sd(until) + 0.02*0.02
			if e.lively(until) {
				r += 0.25
			}
			l.Z = append(l.Z, Measured{H: Vector{0, 0, 1, 1, 0}, Z: acc, R: r, Tag: int(sim.PartAccel)})
		}
	}
	add := func(g *signal, h Vector, which int, part sim.Part) {
		if g == nil {
			return
		}
		for next[which] < len(g.t) && g.t[next[which]] <= until {
			i := next[which]
			next[which]++
			if !g.mask[i] && g.t[i] > from {
				// The state is that of the end of the step; d before it, height was less by v d.
				z, d, at := g.x[i], until-g.t[i], h
				at[stSpeed] -= h[stHeight] * d
				at[stAccel] += h[stHeight]*d*d/2 - h[stSpeed]*d
				l.Z = append(l.Z, Measured{H: at, Z: z, R: max(g.sigma*g.sigma, 1e-6), Tag: int(part)})
			}
		}
	}
	height := sim.PartBaro
	if e.baro != nil {
		height = e.baro.part
	}
	late := 0.0
	if height == sim.PartBaro {
		late = e.lag.known()
	}
	add(e.baro, Vector{1, -late, 0, 0, 0}, 0, height)
	add(e.gnss[2], Vector{1, 0, 0, 0, 1}, 1, sim.PartGNSS)
	add(e.vup, Vector{0, 1, 0, 0, 0}, 2, sim.PartGNSS)
}

// check sums up the normalised innovations of each part.
func check(all []Innovation) []Check {
	var out []Check
	for p := sim.PartAccel; p <= sim.PartGNSS; p++ {
		c := Check{Part: p}
		var sum, sq float64
		for _, v := range all {
			if v.Tag == int(p) {
				z := v.Nu / math.Sqrt(v.S)
				c.N++
				sum += z
				sq += z * z
				if math.Abs(z) > 3 {
					c.Beyond++
				}
			}
		}
		if c.N > 0 {
			c.Mean, c.Variance, c.Beyond = sum/float64(c.N), sq/float64(c.N), c.Beyond/float64(c.N)
			out = append(out, c)
		}
	}
	return out
}

// at gives the smoothed flight at a time.
func (p *Path) at(t float64) (height, speed float64) {
	if len(p.T) == 0 {
		return 0, 0
	}
	h, v := signal{t: p.T, x: p.Height}, signal{t: p.T, x: p.Speed}
	return h.at(t), v.at(t)
}
