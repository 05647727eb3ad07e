package logtest

import (
	"math"
	"slices"
)

// Column is one channel of a log in SI, a value a row. NaN: no sample there.
type Column struct {
	Is    string // as mapping files say it; "" for what is none of the parts'
	Key   string // of what is none of the parts': speed, state, turn
	X     []float64
	Words []string // in place of X
}

// Log is a log before anybody has written it down.
type Log struct {
	Recipe  Recipe
	Truth   Truth
	T       []float64 // s, the rows' stamps; the first is 0
	Columns []Column
}

// Column gives a channel; nil when the log lacks it.
func (l *Log) Column(is string) []float64 {
	for i := range l.Columns {
		if l.Columns[i].Is == is {
			return l.Columns[i].X
		}
	}
	return nil
}

// Fly flies a recipe and keeps its log.
func Fly(r Recipe) *Log {
	f := fly(&r)
	l := &Log{Recipe: r, Truth: f.truth}
	d := newDice(r.Seed, "rows")
	end := float64(len(f.at)-1) * tick
	var when []float64 // true times of the rows
	for i := 0; ; i++ {
		t := (float64(i) + r.Jitter*d.in(-0.5, 0.5)) / r.Rate
		if t > end {
			break
		}
		when = append(when, max(t, 0))
	}
	m := &maker{f: f, r: &r, l: l, t: when, lies: attitudes(f, r.Seed)}
	m.anomalies()
	m.log()
	m.stamps()
	return l
}

// maker puts a log together.
type maker struct {
	f    *flight
	r    *Recipe
	l    *Log
	t    []float64 // s, true
	lies []attitude
	odd  []Anomaly // with At and Until in true time
}

// here gives the flight at a true time, between two milliseconds.
func (m *maker) here(t float64) instant {
	i := min(int(t/tick), len(m.f.at)-2)
	a, b, f := &m.f.at[i], &m.f.at[i+1], t/tick-float64(i)
	mix := func(x, y float64) float64 { return x + f*(y-x) }
	return instant{mix(a.h, b.h), mix(a.v, b.v), mix(a.x, b.x), mix(a.vx, b.vx), mix(a.felt, b.felt), mix(a.boost, b.boost), mix(a.loose, b.loose), mix(a.airless, b.airless), mix(a.mach, b.mach)}
}

func (m *maker) log() {
	if m.r.Accel {
		m.accel()
	}
	if m.r.Gyro {
		m.gyro()
	}
	if m.r.Baro {
		m.baro()
	}
	if m.r.GNSS {
		m.gnss()
	}
	if m.r.Battery {
		m.battery()
	}
	m.rest()
}

// add adds a channel, with its part's anomalies done to it.
func (m *maker) add(is, part string, axis, every int, x []float64) {
	m.spoil(part, axis, every, x)
	for i := range x {
		if i%every != 0 {
			x[i] = math.NaN()
		}
	}
	m.l.Columns = append(m.l.Columns, Column{Is: is, X: x})
}

// baro is the pressure in a bay whose air follows late, and into which charges may leak.
func (m *maker) baro() {
	d := newDice(m.r.Seed, "barometer")
	lag := m.r.Lag
	vent := m.find(Vent)
	if vent != nil {
		lag = vent.Size
	}
	port := d.in(-0.01, 0.01) // of the dynamic pressure
	bump := m.find(Transonic)
	p0, t0, _, _ := m.f.air.at(0)
	inside, sample := p0, 0
	x := make([]float64, len(m.t))
	for k := range m.f.at {
		t := float64(k) * tick
		n := &m.f.at[k]
		p, _, _, _ := m.f.air.at(n.h)
		p += port * n.airless * (1 - n.loose)
		if bump != nil {
			p += bump.Size * math.Exp(-math.Pow((n.mach-0.97)/0.06, 2))
		}
		inside += (p - inside) * (1 - math.Exp(-tick/lag))
		for ; sample < len(m.t) && m.t[sample] < t+tick; sample++ {
			x[sample] = inside + m.charge(t) + m.r.BaroNoise*d.NormFloat64()
		}
	}
	if m.r.BaroHeight { // the board's own, by the standard atmosphere's law
		for i := range x {
			x[i] = 44330 * (1 - math.Pow(x[i]/p0, 0.1903))
		}
		m.add("barometer height", "barometer", 0, m.r.BaroEvery, x)
		return
	}
	m.add("barometer pressure", "barometer", 0, m.r.BaroEvery, x)
	if d.maybe(0.5) {
		w := make([]float64, len(m.t))
		for i, t := range m.t {
			w[i] = t0 + 4 - 0.01*t + 0.02*d.NormFloat64()
		}
		m.add("barometer temperature", "barometer temperature", 0, m.r.BaroEvery, w)
	}
}

// charge is the pressure that charges leave in the bay: up in a few milliseconds, and gone as fast as its vents let it out.
func (m *maker) charge(t float64) (p float64) {
	if m.r.Charge == 0 {
		return 0
	}
	stay := 0.03
	if m.r.ChargeStay > 0 {
		stay = m.r.ChargeStay
	}
	for _, at := range m.f.fired[1:] {
		if x := t - at; at > 0 && x > 0 && x < 13*stay {
			p += m.r.Charge * (1 - math.Exp(-x/0.004)) * math.Exp(-x/stay)
		}
	}
	return p
}

const metresOfDegree = 111195.0 // of a great circle on a ball of 6371 km

// gnss is a receiver's fixes: late, with errors that wander.
func (m *maker) gnss() {
	d := newDice(m.r.Seed, "gnss")
	lat, lon, site, away := d.in(-60, 60), d.in(-179, 179), d.in(0, 1500), d.in(0, 2*math.Pi)
	late := d.in(0, 0.08)
	if a := m.find(Latency); a != nil && a.Part == "gnss" {
		late = a.Size
	}
	n := len(m.t)
	var c [8][]float64
	for i := range c {
		c[i] = make([]float64, n)
	}
	var wander [3]float64
	for i := range wander {
		wander[i] = 2 * d.NormFloat64()
	}
	keep := math.Exp(-float64(m.r.GNSSEvery) / m.r.Rate / 20)
	for i, t := range m.t {
		if i%m.r.GNSSEvery == 0 {
			for k, sd := range []float64{1.2, 1.2, 2.5} {
				wander[k] = keep*wander[k] + sd*math.Sqrt(1-keep*keep)*d.NormFloat64()
			}
		}
		s := m.here(max(t-late, 0))
		east, north := s.x*math.Sin(away)+wander[0], s.x*math.Cos(away)+wander[1]
		c[0][i] = (lat + north/metresOfDegree) * math.Pi / 180
		c[1][i] = (lon + east/metresOfDegree/math.Cos(lat*math.Pi/180)) * math.Pi / 180
		c[2][i] = site + s.h + wander[2] + 0.2*d.NormFloat64()
		c[3][i], c[4][i] = s.vx*math.Sin(away)+0.1*d.NormFloat64(), s.vx*math.Cos(away)+0.1*d.NormFloat64()
		c[5][i], c[6][i], c[7][i] = s.v+0.15*d.NormFloat64(), 3, float64(8+d.n(2))
	}
	speeds, quality := d.maybe(0.5), d.maybe(0.5)
	for i, w := range []string{"latitude", "longitude", "height", "east", "north", "up", "fix", "satellites"} {
		if i >= 3 && i < 6 && !speeds || i >= 6 && !quality {
			continue
		}
		m.add("gnss "+w, "gnss", i, m.r.GNSSEvery, c[i])
	}
}

func (m *maker) battery() {
	d := newDice(m.r.Seed, "battery")
	full, sag := d.in(3.8, 12.5), m.find(Sag)
	x := make([]float64, len(m.t))
	for i, t := range m.t {
		x[i] = full - 1e-5*t*d.in(0.9, 1.1)
		if sag != nil && t >= sag.At && t < sag.Until {
			x[i] -= sag.Size
		}
		if m.r.VoltNoise > 0 {
			x[i] += m.r.VoltNoise * d.NormFloat64()
		} else {
			x[i] = math.Round(x[i]/0.01) * 0.01
		}
	}
	m.add("battery voltage", "battery", 0, m.r.BatteryEvery, x)
}

// rest adds what the board did and thought.
func (m *maker) rest() {
	if m.r.Outputs {
		for k, at := range m.f.fired {
			if at == 0 {
				continue
			}
			x := make([]float64, len(m.t))
			for i, t := range m.t {
				if t >= at && t < at+1 {
					x[i] = 1
				}
			}
			m.l.Columns = append(m.l.Columns, Column{Is: "output " + string("123"[k]), X: x})
		}
	}
	if !m.r.Own {
		return
	}
	d := newDice(m.r.Seed, "own")
	speed, turn, words := make([]float64, len(m.t)), make([]float64, len(m.t)), make([]string, len(m.t))
	for i, t := range m.t {
		n := m.here(t)
		speed[i], turn[i] = n.v+0.5*d.NormFloat64(), 5*n.loose*d.NormFloat64()
		words[i] = "pad"
		for _, p := range m.f.phases {
			if w := map[string]string{"liftoff": "boost", "burnout": "coast", "ignition": "boost", "apogee": "descent", "landing": "landed"}[p.Event]; w != "" && t > p.At+0.1 {
				words[i] = w
			}
		}
	}
	m.l.Columns = append(m.l.Columns, Column{Key: "speed", X: speed}, Column{Key: "state", Words: words})
	if d.maybe(0.5) {
		m.l.Columns = append(m.l.Columns, Column{Key: "turn", X: turn})
	}
}

// find gives the wanted anomaly of a kind; nil without one.
func (m *maker) find(k Kind) *Anomaly {
	if i := slices.IndexFunc(m.odd, func(a Anomaly) bool { return a.Kind == k }); i >= 0 {
		return &m.odd[i]
	}
	return nil
}
