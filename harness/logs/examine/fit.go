package examine

import (
	"errors"
	"fmt"
	"io"
	"math"
	"slices"

	"drystage/sim"
	"drystage/sim/flight"
)

// Fit is how a log compares with the simulated flight of a vehicle, and by how much the vehicle's drag
// and thrust would have to be scaled for the two to agree.
type Fit struct {
	Drag, DragWithin     float64 // scale on every drag coefficient, expanded uncertainty (k = 2)
	Thrust, ThrustWithin float64 // scale on every thrust curve
	Measured             float64 // m, greatest height by the log
	Before, After        float64 // m, predicted by the vehicle as it is, and scaled
	RMSBefore, RMSAfter  float64 // m/s, of the speed on the way up
	Simulated, Corrected Track
}

// Track is a simulated flight in the log's time, up to apogee.
type Track struct{ T, Height, Speed, Accel []float64 } // Accel: m/s2 along the rocket, as an accelerometer reads

const fitStep = 0.05 // s

// fit scales drag and thrust so that the simulated speed agrees with the smoothed one, by least squares
// (Gauss-Newton with differences).
func (e *examiner) fit() error {
	if len(e.opt.Setup.Vehicle.Stages) <= e.opt.Stage || len(e.res.Path.T) == 0 {
		return errors.New("examine: no flight to hold against the vehicle's")
	}
	lift, ok := e.res.first(Liftoff)
	top, ok2 := e.res.first(Apogee)
	if !ok || !ok2 || top.At-lift.At < 1 {
		return errors.New("examine: without liftoff and apogee the log can't be held against a vehicle")
	}
	p := [2]float64{1, 1}
	f := &Fit{}
	f.Measured, _ = e.res.Path.greatest()
	f.Simulated = e.simulate(p, lift.At, top.At)
	r := e.speedResiduals(&f.Simulated, lift.At, top.At)
	if len(r) < 10 {
		return errors.New("examine: the vehicle does not fly like the log at all: is it the right one?")
	}
	f.RMSBefore, f.Before = rms(r), slices.Max(f.Simulated.Height)
	var n [2][2]float64
	for range 6 {
		var g [2]float64
		var j [2][]float64
		for k := range p {
			q := p
			q[k] += 0.01
			t := e.simulate(q, lift.At, top.At)
			j[k] = e.speedResiduals(&t, lift.At, top.At)
		}
		n = [2][2]float64{}
		for i := range r {
			if i >= len(j[0]) || i >= len(j[1]) {
				break
			}
			d := [2]float64{(j[0][i] - r[i]) / 0.01, (j[1][i] - r[i]) / 0.01}
			for a := range d {
				g[a] -= d[a] * r[i]
				for b := range d {
					n[a][b] += d[a] * d[b]
				}
			}
		}
		det := n[0][0]*n[1][1] - n[0][1]*n[1][0]
		if math.Abs(det) < 1e-9 {
			break
		}
		step := [2]float64{(g[0]*n[1][1] - g[1]*n[0][1]) / det, (g[1]*n[0][0] - g[0]*n[1][0]) / det}
		for k := range p {
			p[k] = min(max(p[k]+min(max(step[k], -0.2), 0.2), 0.2), 5)
		}
		f.Corrected = e.simulate(p, lift.At, top.At)
		r = e.speedResiduals(&f.Corrected, lift.At, top.At)
		if math.Abs(step[0]) < 1e-4 && math.Abs(step[1]) < 1e-4 {
			break
		}
	}
	f.Drag, f.Thrust, f.RMSAfter, f.After = p[0], p[1], rms(r), slices.Max(f.Corrected.Height)
	f.confidence(n)
	e.res.Fit = f
	return nil
}

// confidence takes what the fit leaves as the noise of the speed, alike over half a second, since a
// vehicle that is wrong is wrong for a while; and never less than 0.1 m/s.
func (f *Fit) confidence(n [2][2]float64) {
	det := n[0][0]*n[1][1] - n[0][1]*n[1][0]
	if det <= 0 {
		f.DragWithin, f.ThrustWithin = math.Inf(1), math.Inf(1)
		return
	}
	v := max(f.RMSAfter*f.RMSAfter, 0.01) * 0.5 / fitStep
	// The air, the mass and the tilt are not known to a percent either, which no fit of a speed shows.
	f.DragWithin, f.ThrustWithin = math.Hypot(2*math.Sqrt(v*n[1][1]/det), 0.02), math.Hypot(2*math.Sqrt(v*n[0][0]/det), 0.02)
}

func rms(x []float64) float64 { return math.Sqrt(dot(x, x) / float64(max(len(x), 1))) }

// speedResiduals are simulated minus smoothed speeds from liftoff to apogee.
func (e *examiner) speedResiduals(t *Track, from, until float64) (r []float64) {
	for i := range t.T {
		if t.T[i] > from && t.T[i] < until {
			_, v := e.res.Path.at(t.T[i])
			r = append(r, t.Speed[i]-v)
		}
	}
	return r
}

// simulate flies the vehicle with drag and thrust scaled, its motors lit when the log's were, and gives
// the track of the stage with the board in the log's time.
func (e *examiner) simulate(scale [2]float64, lift, until float64) Track {
	s := *e.opt.Setup
	s.Faults = nil
	s.Vehicle.Stages = slices.Clone(s.Vehicle.Stages)
	for i := range s.Vehicle.Stages {
		st := &s.Vehicle.Stages[i]
		st.Drag, st.Stacked = scaled(st.Drag, scale[0]), scaled(st.Stacked, scale[0])
		m := &st.Mount.Motor
		m.Thrust = slices.Clone(m.Thrust)
		for k := range m.Thrust {
			m.Thrust[k].Thrust *= scale[1]
		}
	}
	e.light(&s)
	f := flight.NewIdeal(&s)
	var t Track
	began := -1.0
	for k := 0; k < 12000; k++ {
		now := sim.Seconds(float64(k) * fitStep)
		f.AdvanceTo(now)
		if began < 0 {
			if x, ok := when(f.Events(), sim.EventLiftoff); ok {
				began = x
			}
			continue
		}
		st := &f.States()[e.opt.Stage]
		at := now.Seconds() - began + lift
		if at > until+2 || st.Landed {
			break
		}
		t.T, t.Height, t.Speed, t.Accel = append(t.T, at), append(t.Height, st.Position.Z), append(t.Speed, st.Velocity.Z), append(t.Accel, st.Force.X)
	}
	if len(t.T) == 0 {
		t = Track{T: []float64{lift}, Height: []float64{0}, Speed: []float64{0}, Accel: []float64{0}}
	}
	return t
}

func when(events []sim.Event, name string) (float64, bool) {
	for _, x := range events {
		if x.Name == name {
			return x.At.Seconds(), true
		}
	}
	return 0, false
}

func scaled(d sim.Drag, by float64) sim.Drag {
	d.Cd *= by
	d.Points = slices.Clone(d.Points)
	for i := range d.Points {
		d.Points[i].Cd *= by
	}
	return d
}

// light lights upper motors as long after the burnout before them as the log tells, and opens no
// device on the way up.
func (e *examiner) light(s *sim.Setup) {
	for _, m := range e.res.Moments {
		i := len(s.Vehicle.Stages) - m.Number
		if m.Event != Ignition || i < 0 || i+1 >= len(s.Vehicle.Stages) {
			continue
		}
		for _, b := range e.res.Moments {
			if b.Event == Burnout && b.Number == m.Number-1 {
				s.Vehicle.Stages[i].Mount.Lit = sim.Anchor{Event: s.Vehicle.Stages[i+1].Name + "." + sim.StageBurnout, Offset: sim.Seconds(m.At - b.At)}
			}
		}
	}
}

func (f *Fit) text(w io.Writer) {
	fmt.Fprintf(w, "\nagainst the vehicle: greatest height %.1f m predicted, %.1f m by the log; speed on the way up off by %.1f m/s rms\n", f.Before, f.Measured, f.RMSBefore)
	fmt.Fprintf(w, "  scaled to fit: drag x %.3f +- %.3f, thrust x %.3f +- %.3f; then %.1f m are predicted, off by %.1f m/s rms\n", f.Drag, f.DragWithin, f.Thrust, f.ThrustWithin, f.After, f.RMSAfter)
}
