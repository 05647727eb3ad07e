package logtest

import (
	"math"
)

// accel is what a tumbling, ringing, shaken and clipped accelerometer says.
func (m *maker) accel() {
	d := newDice(m.r.Seed, "accelerometer")
	var noise [3]*ring
	for i := range noise {
		hz, width := d.in(30, 300), d.in(10, 80)
		noise[i] = newRing(hz, width, m.r.Rate)
	}
	var x [3][]float64
	bias := [3]float64{d.in(-0.3, 0.3), d.in(-0.3, 0.3), d.in(-0.3, 0.3)}
	for i := range x {
		x[i] = make([]float64, len(m.t))
	}
	for i, t := range m.t {
		n := m.here(t)
		along := m.lies[min(int(t/tick), len(m.lies)-1)].shares()
		loud := m.r.Vibration*n.boost + 0.002*math.Sqrt(n.airless)
		for body := range 3 {
			a := n.felt*along[body] + bias[body] + m.r.AccelNoise*d.NormFloat64()
			shake := d.NormFloat64()
			if m.r.Coloured {
				shake = noise[body].next(d)
			}
			a += loud * shake * []float64{1, 0.7, 0.7}[body]
			a += m.blow(t) * []float64{1, 0.4, 0.3}[body]
			if m.r.Clip > 0 {
				a = min(max(a, -m.r.Clip), m.r.Clip)
			}
			x[body][i] = a
		}
	}
	m.clipped(x[0])
	for body := range 3 {
		axis, sign := (m.r.Axis+body)%3, 1.0
		if m.r.Down && body < 2 { // half a turn about the third axis
			sign = -1
		}
		if m.r.OneAxis && body > 0 {
			continue
		}
		for i := range x[body] {
			x[body][i] *= sign
		}
		m.add("accelerometer "+string("xyz"[axis]), "accelerometer", body, 1, x[body])
	}
}

// blow is what all shocks and tugs give at a time.
func (m *maker) blow(t float64) (a float64) {
	for _, s := range m.f.shocks {
		if x := t - s.at; x >= 0 && x < 12*s.fade {
			a += s.size * math.Exp(-x/s.fade) * math.Cos(2*math.Pi*s.hz*x)
		}
	}
	for _, s := range m.f.tugs {
		if x := t - s.at; x >= 0 && x < s.length {
			a += s.size * math.Sin(math.Pi*x/s.length)
		}
	}
	return a
}

// attitude is how the rocket lies to what it feels: the angle off its axis, the direction of that, and the rates at
// which they change, so that gyro and accelerometer tell the same story.
type attitude struct {
	angle, turn float64    // rad: off the axis, and about it
	rates       [3]float64 // rad/s, by body axis
}

// turning is an attitude with all that makes the next one.
type turning struct {
	attitude
	spun, way, lean     float64 // rad: spin on the way up, angle of the path, angle under the canopy
	hz, swing, roll, to float64 // Hz of tumbling and of swinging, rad/s, rad at rest on the ground
}

// attitudes gives it for every millisecond: nose first on the way up, with the spin of its fins and the path's bend;
// end over end after apogee, swinging below a canopy, at rest on the ground.
func attitudes(f *flight, seed uint64) []attitude {
	d := newDice(seed, "attitude")
	u := turning{lean: d.in(0.1, 0.7), hz: d.in(0.2, 1.2), swing: d.in(0.3, 1), roll: d.in(-0.6, 0.6), attitude: attitude{turn: d.in(0, 6)}, to: d.in(1.3, 1.7)}
	spin, rate, roll, out := d.in(-3, 3), 0.0, 0.0, make([]attitude, len(f.at))
	for i := range f.at {
		n, t := &f.at[i], float64(i)*tick
		turning, rolling := 2*math.Pi*u.hz*n.loose, u.roll*n.loose
		near := 2 * math.Pi * math.Round(u.angle/2/math.Pi)
		switch {
		case f.ground > 0 && t > f.ground:
			turning, rolling = (near+u.to-u.angle)/0.1, 0
		case f.hangs > 0 && t > f.hangs:
			turning = (near + u.lean + 0.3*math.Sin(2*math.Pi*u.swing*t) - u.angle) / 0.3
		}
		rate += (min(max(turning, -12), 12) - rate) * tick / 0.06 // no rocket turns at once
		turning = rate
		up := 1 - n.loose
		way := u.way
		if up == 1 && math.Hypot(n.v, n.vx) > 8 {
			way = math.Atan2(n.vx, n.v)
		}
		bend := 0.0
		if u.way != 0 {
			bend = min(max((way-u.way)/tick, -2), 2)
		}
		s, c := math.Sincos(u.turn)
		ss, sc := math.Sincos(u.spun)
		p := up * spin * min(max(n.v, 0), 100) / 100
		roll += (p - rolling - roll) * tick / 0.06
		u.rates = [3]float64{roll, turning*s + bend*sc, -turning*c - bend*ss}
		u.angle, u.turn, u.spun, u.way = u.angle+turning*tick, u.turn+rolling*tick, u.spun+p*tick, way
		out[i] = u.attitude
	}
	return out
}

// shares gives the share of what is felt on each of the rocket's axes.
func (u *attitude) shares() [3]float64 {
	s, c := math.Sincos(u.angle)
	sr, cr := math.Sincos(u.turn)
	return [3]float64{c, s * cr, s * sr}
}

// clipped notes each stretch of a boost that went beyond the range.
func (m *maker) clipped(x []float64) {
	from, until, n := -1, 0, 0
	end := func() {
		if n >= 4 {
			m.odd = append(m.odd, Anomaly{Kind: Clipped, Part: "accelerometer", At: m.t[from], Until: m.t[until], Size: m.r.Clip})
		}
		from, n = -1, 0
	}
	for i := range x {
		if from >= 0 && m.t[i]-m.t[until] > 0.5 {
			end()
		}
		if m.r.Clip > 0 && math.Abs(x[i]) >= m.r.Clip && m.here(m.t[i]).boost > 0.05 {
			if n++; from < 0 {
				from = i
			}
			until = i
		}
	}
	end()
}

func (m *maker) gyro() {
	d := newDice(m.r.Seed, "gyro")
	for body := range 3 {
		x := make([]float64, len(m.t))
		bias := d.in(-0.01, 0.01)
		sign := 1.0
		if m.r.Down && body < 2 { // turned with the accelerometer
			sign = -1
		}
		for i, t := range m.t {
			k := min(int(t/tick), len(m.lies)-2)
			before, after := m.lies[k].rates[body], m.lies[k+1].rates[body]
			n, w := m.here(t), sign*(before+(after-before)*(t/tick-float64(k)))
			x[i] = w + bias + (0.003+0.01*m.r.Vibration*n.boost/10)*d.NormFloat64()
		}
		m.add("gyro "+string("xyz"[(m.r.Axis+body)%3]), "gyro", body, 1, x)
	}
}
