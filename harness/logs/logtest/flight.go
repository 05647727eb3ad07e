package logtest

import "math"

// Phase is an instant at which a phase of the flight begins.
type Phase struct {
	Event  string // liftoff, burnout, separation, ignition, apogee, deployment, landing
	Number int    // of boosts and deployments, from 1
	At     float64
	Soft   float64 // s that a long tail-off, an apogee's arc or a slow canopy leaves open
}

// Truth is what really happened. Times are what the log's own stamps say, from its first row on.
type Truth struct {
	Phases       []Phase
	Anomalies    []Anomaly
	Apogee       float64   // m above the pad
	TopSpeed     float64   // m/s
	LandingSpeed float64   // m/s, downwards
	Rates        []float64 // m/s downwards, under each canopy at its end
}

// When gives the time of a phase.
func (t *Truth) When(event string, number int) (float64, bool) {
	for _, p := range t.Phases {
		if p.Event == event && (p.Number == number || number == 0) {
			return p.At, true
		}
	}
	return 0, false
}

// air is a column of air over the pad: layers of 10 m, each in hydrostatic balance with the one below. It has a
// lapse rate of its own, damp air and perhaps an inversion near the ground, as no standard atmosphere does.
type air struct{ logp, temp []float64 }

const layer = 10.0 // m

func newAir(d dice) *air {
	a := &air{}
	t, p := d.in(268, 308), 101325*math.Exp(-d.in(0, 1500)/8400)
	lapse, damp, inversion := d.in(0.005, 0.008), d.in(0, 0.008), d.in(-3, 3)
	for h := 0.0; h < 12000; h += layer {
		here := t - lapse*h + inversion*math.Exp(-h/150)
		a.logp, a.temp = append(a.logp, math.Log(p)), append(a.temp, here)
		p *= math.Exp(-standardG * layer / (287.06 * here * (1 + 0.61*damp)))
	}
	return a
}

func (a *air) at(h float64) (pressure, temperature, density, sound float64) {
	x := min(max(h/layer, 0), float64(len(a.logp)-2))
	i := int(x)
	f := x - float64(i)
	if h < 0 {
		f = h / layer // below the pad, as steep as above it
	}
	p, t := math.Exp(a.logp[i]+f*(a.logp[i+1]-a.logp[i])), a.temp[i]+f*(a.temp[i+1]-a.temp[i])
	return p, t, p / (287.06 * t), math.Sqrt(1.4 * 287.06 * t)
}

// motor is one boost.
type motor struct {
	start, burn, thrust, propellant float64 // s, s, N mean, kg
	curve                           Curve
}

// force gives the thrust at a time after ignition, and how much of the propellant is gone.
func (m *motor) force(t float64) float64 {
	x := (t - m.start) / m.burn
	if x < 0 || x > 1 {
		return 0
	}
	y := 1.0
	switch m.curve {
	case Regressive:
		y = 1.3 - 0.6*x
	case Progressive:
		y = 0.7 + 0.6*x
	case LongTail:
		if x > 0.8 {
			y = math.Exp(-(x - 0.8) / 0.06)
		}
	case FirstPeak:
		if y = 0.9; x < 0.1 {
			y = 1.9
		}
	}
	return m.thrust * y * min(1, x*m.burn/0.02, (1-x)*m.burn/0.03)
}

// instant is the flight at a millisecond.
type instant struct {
	h, v    float64 // m above the pad, m/s upwards
	x, vx   float64 // m, m/s downrange
	felt    float64 // m/s2 along the rocket in ascent; the size of it in descent
	boost   float64 // thrust over its mean
	loose   float64 // 0: flies nose first; 1: tumbles or hangs
	airless float64 // Pa, dynamic pressure
	mach    float64
}

// shock is a blow that rings out.
type shock struct{ at, size, fade, hz float64 }

// tug is a pull of elastic lines: half a sine.
type tug struct{ at, size, length float64 }

// flight is a flown flight.
type flight struct {
	at     []instant // one a millisecond, from the log's beginning
	air    *air
	phases []Phase
	shocks []shock
	tugs   []tug
	fired  [3]float64 // s, when the ignition, drogue and main outputs went on; 0: never
	truth  Truth
	hangs  float64 // s from which on it hangs under a canopy
	ground float64 // s
}

const (
	tick       = 1e-3    // s
	usualTicks = 320_000 // room for a flight, so that few are moved while they are made
)

// rocket is what flies.
type rocket struct {
	dry, area, cd       float64 // kg, m2
	booster             float64 // kg dry, that is left behind
	motors              []motor
	separates           float64
	drogue, main        float64 // m2, drag areas
	mainHeight, waiting float64 // m, s after apogee
	tilt                float64 // rad from the vertical
}

func build(r *Recipe, d dice) *rocket {
	k := &rocket{dry: d.in(1.2, 6), cd: d.in(0.35, 0.65), tilt: d.in(0, 0.12), separates: math.Inf(1)}
	k.area = math.Pi / 4 * math.Pow(d.in(0.05, 0.1)*math.Cbrt(k.dry/3), 2)
	all := k.dry
	k.mainHeight, k.waiting = d.in(90, 250), d.in(0.05, 1.2)
	k.drogue = 2 * k.dry * standardG / (1.2 * math.Pow(d.in(14, 28), 2))
	k.main = 2 * k.dry * standardG / (1.2 * math.Pow(d.in(4, 8), 2))
	if r.Stages == 2 {
		k.booster = k.dry * d.in(0.6, 1.2)
		all += k.booster
	}
	burn := d.in(0.8, 3)
	m := motor{start: r.Pad, burn: burn, curve: r.Thrust[0], thrust: all * standardG * d.in(6, 14)}
	m.propellant = m.thrust * burn / 1900
	k.motors = append(k.motors, m)
	if r.Stages == 2 {
		k.separates = r.Pad + burn + d.in(0.3, 1.2)
		s := motor{start: k.separates + d.in(0.4, 1.5), burn: d.in(0.8, 2.5), curve: r.Thrust[1], thrust: k.dry * standardG * d.in(6, 12)}
		s.propellant = s.thrust * s.burn / 1900
		k.motors = append(k.motors, s)
	}
	return k
}

// mass gives the mass at a time, with propellant burnt at an even rate.
func (k *rocket) mass(t float64) float64 {
	m := k.dry
	if t < k.separates {
		m += k.booster
	}
	for _, x := range k.motors {
		m += x.propellant * (1 - min(max((t-x.start)/x.burn, 0), 1))
	}
	return m
}

// fly steps the flight by a midpoint rule in the vertical plane until some time after landing.
func fly(r *Recipe) *flight {
	d := newDice(r.Seed, "flight")
	f := &flight{air: newAir(newDice(r.Seed, "air"))}
	k := build(r, d)
	if r.Recovery == Single || r.Recovery == MainAtApogee {
		k.mainHeight = math.Inf(1)
	}
	if r.Recovery == Single {
		k.main *= d.in(0.3, 0.6)
	}
	s := &state{f: f, k: k, r: r, d: d}
	f.at = make([]instant, 0, usualTicks)
	for i := 0; ; i++ {
		t := float64(i) * tick
		f.at = append(f.at, s.step(t))
		if s.landed > 0 && t > s.landed+r.After || t > 900 || r.End > 0 && t > r.End {
			break
		}
	}
	f.ground = s.landed
	f.phases = s.phases
	return f
}

// state is the flight while it is flown.
type state struct {
	f                 *flight
	k                 *rocket
	r                 *Recipe
	d                 dice
	now               instant
	lift, top, landed float64
	drogueAt, mainAt  float64
	burnt, lit        int
	parted            bool
	brake             float64 // m2, drag area of the open air brake
	out               float64 // s, when the first charge fired
	phases            []Phase
}

func (s *state) mark(event string, number int, at, soft float64) {
	s.phases = append(s.phases, Phase{event, number, at, soft})
}

// open is how far a canopy is open, from 0 to 1.
func open(t, at float64) float64 {
	if at == 0 {
		return 0
	}
	x := min(max((t-at)/0.35, 0), 1)
	return x * x * (3 - 2*x)
}

// pull gives thrust and drag in N, both along the flight's path.
func (s *state) pull(t, h, v, vx float64) (thrust, drag, mach, q float64) {
	_, _, rho, sound := s.f.air.at(h)
	speed := math.Hypot(v, vx)
	mach, q = speed/sound, 0.5*rho*speed*speed
	for i := range s.k.motors {
		thrust += s.k.motors[i].force(t)
	}
	cd := s.k.cd * (1 + 0.7*math.Exp(-math.Pow((mach-1.05)/0.15, 2)) + 0.25/(1+math.Exp(-(mach-1)/0.05)))
	area := s.k.area * cd
	if s.apart() {
		area = s.k.area*8 + s.k.drogue*open(t, s.drogueAt) + s.k.main*open(t, s.mainAt)
	}
	if m := &s.k.motors[0]; s.r.Brake.Size > 0 && q > 0 {
		if x := t - m.start - m.burn - s.r.Brake.After; x >= 0 && x < s.r.Brake.Length {
			if s.brake == 0 {
				s.brake = s.r.Brake.Size * s.k.mass(t) / q
			}
			area += s.brake
		}
	}
	return thrust, q * area, mach, q
}

func (s *state) accel(t, h, v, vx float64) (a, ax, felt, mach, q, thrust float64) {
	thrust, drag, mach, q := s.pull(t, h, v, vx)
	m, speed := s.k.mass(t), math.Hypot(v, vx)
	up, along := math.Cos(s.k.tilt), math.Sin(s.k.tilt)
	if speed > 8 || s.apart() {
		up, along = v/max(speed, 1e-9), vx/max(speed, 1e-9)
	}
	felt = (thrust - drag) / m
	return felt*up - standardG, felt * along, felt, mach, q, thrust
}

func (s *state) step(t float64) instant {
	n := &s.now
	a, ax, felt, mach, q, thrust := s.accel(t, n.h, n.v, n.vx)
	switch {
	case s.lift == 0 && a <= 0: // stands on the pad
		return instant{felt: standardG}
	case s.landed > 0:
		return instant{h: n.h, felt: standardG, loose: 1, x: n.x}
	case s.lift == 0:
		s.lift = t
		s.mark("liftoff", 0, t, 0)
	}
	half := tick / 2
	a, ax, _, _, _, _ = s.accel(t+half, n.h+half*n.v, n.v+half*a, n.vx+half*ax)
	n.h, n.x = n.h+tick*(n.v+half*a), n.x+tick*(n.vx+half*ax)
	n.v, n.vx = n.v+tick*a, n.vx+tick*ax
	mean := s.k.motors[min(s.lit, len(s.k.motors)-1)].thrust
	n.felt, n.mach, n.airless, n.boost = felt, mach, q, thrust/mean
	if s.apart() {
		n.felt = math.Abs(felt)
		n.loose = min(1, n.loose+tick/0.4)
	}
	s.events(t)
	return *n
}

// events notes what begins at this millisecond.
func (s *state) events(t float64) {
	n, k := &s.now, s.k
	if s.burnt < len(k.motors) {
		m := &k.motors[s.burnt]
		end, soft := m.start+m.burn, 0.03
		if m.curve == LongTail { // 5 % of the mean are left after 0.06 ln 20 of the burn
			end, soft = m.start+m.burn*(0.8+0.06*math.Log(20)), m.burn*0.06*math.Log(20)
		}
		if t >= end {
			s.burnt++
			s.mark("burnout", s.burnt, end, soft)
		}
	}
	if !s.parted && t >= k.separates {
		s.parted = true
		s.mark("separation", 0, t, 0)
		s.hit(t, s.d.in(60, 300), s.d.in(0.004, 0.02))
	}
	if s.lit+1 < len(k.motors) && t >= k.motors[s.lit+1].start {
		s.lit++
		s.f.fired[0] = t - s.d.in(0.05, 0.3)
		s.mark("ignition", s.lit+1, t, 0.02)
	}
	if s.top == 0 && n.v <= 0 {
		s.top, s.f.truth.Apogee = t, n.h
		s.mark("apogee", 0, t, 0)
	}
	s.f.truth.TopSpeed = max(s.f.truth.TopSpeed, math.Hypot(n.v, n.vx))
	if s.top > 0 || s.r.Early > 0 && s.burnt == len(k.motors) && n.v < standardG*s.r.Early {
		s.canopies(t)
	}
}

// apart says that the rocket no longer flies nose first: it is past its apogee, or in pieces.
func (s *state) apart() bool { return s.top > 0 || s.out > 0 }

// canopies opens what the way down has, and ends the flight on the ground.
func (s *state) canopies(t float64) {
	n, k := &s.now, s.k
	had := s.r.Recovery == Dual || s.r.Recovery == MainAtApogee
	first := t > s.top+k.waiting
	if s.r.Early > 0 {
		first = true
	}
	if had && s.drogueAt == 0 && first {
		s.drogueAt, s.f.fired[1] = t+s.r.Pack, t-0.02
		s.deploy(t)
	}
	if had {
		first = s.top > 0 && t > s.top+k.waiting+0.8
	}
	if s.r.Recovery != Ballistic && s.mainAt == 0 && n.h < k.mainHeight && first {
		s.mainAt, s.f.fired[2] = t+s.r.Pack, t-0.02
		s.deploy(t)
	}
	if n.h <= 0 && s.landed == 0 {
		s.landed, n.h = t, 0
		s.f.truth.LandingSpeed = -n.v
		s.f.truth.Rates = append(s.f.truth.Rates, -n.v)
		s.mark("landing", 0, t, 0.05)
		s.hit(t, s.d.in(60, 250), s.d.in(0.01, 0.03))
		n.v, n.vx = 0, 0
	}
}

// deploy fires a charge, whose pack opens some time later.
func (s *state) deploy(t float64) {
	at := t + s.r.Pack
	if s.out == 0 {
		s.out = t
	}
	if s.f.hangs == 0 {
		s.f.hangs = at + 0.3
	} else {
		s.f.truth.Rates = append(s.f.truth.Rates, -s.now.v)
	}
	number := 1
	for _, p := range s.phases {
		if p.Event == "deployment" {
			number++
		}
	}
	s.mark("deployment", number, at, 0.2)
	s.hit(t, s.d.in(40, 200), s.d.in(0.008, 0.03))
	if s.r.Pack > 0 {
		s.f.tugs = append(s.f.tugs, tug{at, s.d.in(20, 70) * s.d.sign(), s.d.in(0.06, 0.2)})
	}
}

func (s *state) hit(t, size, fade float64) {
	s.f.shocks = append(s.f.shocks, shock{t, size * s.d.sign(), fade, s.d.in(40, 160)})
}
