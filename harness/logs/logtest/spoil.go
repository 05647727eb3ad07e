package logtest

import "math"

// Add wants an anomaly of a kind with everything else drawn: part, axis, time, length and size.
func (r *Recipe) Add(k Kind) {
	d := newDice(r.Seed, "anomaly "+string(k)+string(rune('a'+len(r.Anomalies))))
	a := Anomaly{Kind: k, Axis: -1, Event: pick(d, "liftoff", "burnout", "apogee"), Offset: d.in(0.4, 2), Length: d.in(0.3, 2)}
	baro := r.Baro && (!r.Accel || d.maybe(0.5))
	a.Part = "accelerometer"
	if baro {
		a.Part = "barometer"
	}
	switch size := d.sign(); k {
	case Spike:
		a.Size, a.Length = size*d.in(60, 150), 0
		if baro {
			a.Size = size * d.in(2000, 10000)
		}
		a.Axis, a.Event = 0, pick(d, "burnout", "apogee")
	case Step, Drift:
		a.Size, a.Length, a.Axis = size*d.in(10, 40), d.in(0.5, 3), 0
		if baro {
			a.Size = size * d.in(800, 4000)
		}
		if k == Drift {
			a.Event = "apogee"
		}
	case Noise:
		a.Size, a.Axis = d.in(8, 40), 0
		if baro {
			a.Size = d.in(200, 1000)
		}
		a.Event = "burnout"
	case Latency:
		a.Part, a.Size, a.Event = "gnss", d.in(0.25, 1.2), ""
	case Gap:
		a.Part = "log"
	case Jump:
		a.Part, a.Size, a.Length, a.Event = "clock", d.in(1, 5), 0, pick(d, "burnout", "apogee")
	case Wrap16:
		a.Part, a.Size, a.Length = "clock", 65.536, 0
	case GNSSJump:
		a.Part, a.Size, a.Axis, a.Length, a.Event = "gnss", size*d.in(40, 150), 2, d.in(1, 4), "apogee"
	case GNSSLoss:
		a.Part, a.Length = "gnss", d.in(1.5, 6)
	case Vent:
		a.Part, a.Size, a.Event = "barometer", d.in(0.4, 1.5), ""
	case Charge:
		a.Part, a.Size, a.Event, a.Length = "barometer", d.in(2000, 15000), "deployment", 0.05
		r.Charge = a.Size
	case Sag:
		a.Part, a.Size, a.Event, a.Length = "battery", d.in(0.3, 1.2), "deployment", d.in(0.05, 0.5)
	case Transonic:
		a.Part, a.Size, a.Event = "barometer", size*d.in(800, 2500), ""
	}
	r.Anomalies = append(r.Anomalies, a)
}

// anomalies gives each wanted anomaly its time. One whose event the flight lacks is left out.
func (m *maker) anomalies() {
	for _, a := range m.r.Anomalies {
		at, ok := 0.0, a.Event == ""
		for _, p := range m.f.phases {
			if !ok && p.Event == a.Event {
				at, ok = p.At, true
			}
		}
		if !ok || a.Kind == Transonic && m.f.truth.TopSpeed < 330 {
			continue
		}
		a.At = at + a.Offset
		if a.Kind == Charge || a.Kind == Sag {
			a.At = m.f.fired[1]
			if a.At == 0 {
				a.At = m.f.fired[2]
			}
		}
		a.Until = a.At + a.Length
		if a.Event == "" { // all the way
			a.At, a.Until = 0, m.t[len(m.t)-1]
		}
		m.odd = append(m.odd, a)
	}
}

// spoil does to a channel what its part's anomalies do.
func (m *maker) spoil(part string, axis, every int, x []float64) {
	for k := range m.odd {
		a := &m.odd[k]
		if a.Part != part || a.Axis >= 0 && a.Axis != axis {
			continue
		}
		m.spoilt(a, axis, every, x)
	}
}

func (m *maker) spoilt(a *Anomaly, axis, every int, x []float64) {
	name := "spoil " + string(a.Kind)
	if a.Axis < 0 && axis > 0 { // each axis has noise of its own
		name += string(rune('0' + axis))
	}
	d := newDice(m.r.Seed, name)
	held, began := math.NaN(), false
	for i := 0; i < len(x); i += every {
		t := m.t[i]
		if t < a.At {
			held = x[i]
			continue
		}
		if a.Kind == Spike {
			x[i], a.Until = x[i]+a.Size, t
			a.At = t
			return
		}
		if t > a.Until {
			return
		}
		if !began {
			began, held = true, x[i]
		}
		switch a.Kind {
		case Step, GNSSJump:
			x[i] += a.Size
		case Drift:
			x[i] += a.Size * (t - a.At) / a.Length
		case Noise:
			x[i] += a.Size * d.NormFloat64()
		case Stuck:
			x[i] = held
		case Dropout, GNSSLoss:
			x[i] = math.NaN()
		}
	}
}

// stamps turns true times into the log's own: its first row is 0, its clock may jump, and rows may be lost.
func (m *maker) stamps() {
	first := m.t[0]
	stamp := func(t float64) float64 {
		s := t - first
		for _, a := range m.odd {
			if a.Kind == Jump && t >= a.At {
				s += a.Size
			}
		}
		return s
	}
	var keep []int
	for i, t := range m.t {
		lost := false
		for _, a := range m.odd {
			lost = lost || a.Kind == Gap && t > a.At && t < a.Until
		}
		if !lost {
			keep = append(keep, i)
			m.l.T = append(m.l.T, stamp(t))
		}
	}
	if len(keep) < len(m.t) {
		for c := range m.l.Columns {
			col := &m.l.Columns[c]
			for n, i := range keep {
				if col.Words != nil {
					col.Words[n] = col.Words[i]
				} else {
					col.X[n] = col.X[i]
				}
			}
			if col.Words != nil {
				col.Words = col.Words[:len(keep)]
			} else {
				col.X = col.X[:len(keep)]
			}
		}
	}
	for _, p := range m.f.phases {
		p.At = stamp(p.At)
		m.l.Truth.Phases = append(m.l.Truth.Phases, p)
	}
	for _, a := range m.odd {
		a.At, a.Until = stamp(a.At), stamp(a.Until)
		m.l.Truth.Anomalies = append(m.l.Truth.Anomalies, a)
	}
}
