package phases

import (
	"math"
	"math/rand/v2"
)

// rocket is a flight straight up by equations of its own: constant gravity, an exponential atmosphere,
// drag in proportion to density and the square of the speed.
type rocket struct {
	burns     []burnt
	drag      float64 // 1/m
	rate      float64 // Hz
	vibration float64 // m/s2 rms while a motor burns
	colour    float64 // of the vibration: correlation of neighbours
	rail      float64 // m/s2, range of the accelerometer; 0 for none
	apart     float64 // s after the first burnout at which a stage drops off; 0: none
	kick      float64 // m/s2 of it
	brake     float64 // s after the last burnout at which 100 m/s2 brake it for 0.15 s; 0: nothing does
	made      bool    // that is the sensor's own
	seed      uint64
}

// burnt is one burn: its start after the end of the one before, how long it lasts, its level in m/s2, and its shape.
type burnt struct {
	after, lasts, level float64
	shape               int
}

func (b burnt) thrust(t float64) float64 {
	if t < 0 || t >= b.lasts {
		return 0
	}
	u := t / b.lasts
	switch b.shape {
	case 1: // regressive with a spike at the start
		return b.level * (1.4 - 0.8*u + 0.8*math.Exp(-u*25))
	case 2: // progressive with a ramp of a tenth down
		return b.level * (0.7 + 0.6*u) * min(1, (1-u)*10)
	case 3: // a hump
		return b.level * 4.5 * math.Pow(u, 0.3) * math.Pow(1-u, 0.8) * 0.45
	}
	return b.level * min(1, u*40, (1-u)*40)
}

// flown is what the sensors said, and when what happened.
type flown struct {
	log     Log
	on, off []float64
	apart   float64
	apogee  float64
	end     float64
}

const pad = 4.0 // s

func (r rocket) fly() flown {
	rng := rand.New(rand.NewPCG(r.seed, 99))
	f := flown{apogee: math.NaN(), apart: math.NaN()}
	t := pad
	for _, b := range r.burns {
		t += b.after
		f.on = append(f.on, t)
		t += b.lasts
		f.off = append(f.off, t)
	}
	if r.apart > 0 {
		f.apart = f.off[0] + r.apart
	}
	const dt = 1e-3
	h, v, last, shake := 0.0, 0.0, -1e9, 0.0
	drag := r.drag
	nextA, nextB, nextG := 0.0, 0.0, 0.0
	for t := 0.0; t < 400; t += dt {
		if t >= f.apart {
			drag = r.drag * 0.6
		}
		push := 0.0
		burning := false
		for i, b := range r.burns {
			push += b.thrust(t - f.on[i])
			burning = burning || t >= f.on[i] && t < f.off[i]
		}
		felt := push - drag*math.Exp(-h/8400)*v*math.Abs(v)
		extra := 0.0
		if u := t - f.off[len(f.off)-1] - r.brake; r.brake > 0 && u >= 0 && u < 0.15 {
			if extra = -100; !r.made {
				felt += extra
			}
		}
		if !math.IsNaN(f.apogee) { // a parachute
			felt = 9.8 * min(v*v/400, 6)
		}
		if h <= 0 && felt < 9.81 {
			felt, h, v = 9.81, 0, 0
			if !math.IsNaN(f.apogee) && math.IsInf(last, 0) == false && f.end == 0 {
				f.end = t + 2
			}
		}
		was := v
		v += (felt - 9.81) * dt
		h += (v + was) / 2 * dt
		if was > 0 && v <= 0 && math.IsNaN(f.apogee) {
			f.apogee = t
		}
		if f.end > 0 && t > f.end {
			break
		}
		if t >= nextA {
			nextA += 1 / r.rate
			s := felt + 0.06*rng.NormFloat64() + 0.15
			if r.made {
				s += extra
			}
			if burning {
				shake = r.colour*shake + math.Sqrt(1-r.colour*r.colour)*rng.NormFloat64()
				s += r.vibration * shake
			}
			if t >= f.apart && t < f.apart+0.03 {
				s += r.kick * math.Sin((t-f.apart)*400)
			}
			if r.rail > 0 {
				s = min(max(s, -r.rail), r.rail)
			}
			f.log.Accel.T, f.log.Accel.X = append(f.log.Accel.T, t), append(f.log.Accel.X, s)
		}
		if t >= nextB {
			nextB += 0.02
			f.log.Height.T, f.log.Height.X = append(f.log.Height.T, t), append(f.log.Height.X, h+0.3*rng.NormFloat64())
		}
		if t >= nextG {
			nextG += 0.1
			f.log.GNSSSpeed.T, f.log.GNSSSpeed.X = append(f.log.GNSSSpeed.T, t), append(f.log.GNSSSpeed.X, v+0.1*rng.NormFloat64())
		}
	}
	f.log.Gravity = 9.81
	return f
}
