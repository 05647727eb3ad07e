package flight

import (
	"math"

	"drystage/sim"
	"drystage/sim/noise"
	"drystage/sim/r3"
)

// swing is the unsteadiness of a body below its canopies: it swings with the canopy as one pendulum, spins on its
// lines, and its drag changes as vortices leave the canopy. These motions lie on those of the equations of motion, so
// that their steps stay long: what a sensor feels is the sum, with positions, speeds and accelerations that belong
// together. Crossings and the instant of landing are those without them.
type swing struct {
	canopies []swingingCanopy // each larger than the one before, which it takes over from
	seed     uint64
	stage    string
	current  lean
	interval interval
}

// swingingCanopy is the motion below one canopy.
type swingingCanopy struct {
	from        sim.Time
	area, lines float64
	spin        float64 // rad/s
	spinStep    float64 // rad/s, from that of the canopy before
	east, north tones   // of the Gibbs vector
	shake       tones   // m
}

// Canopies of solid cloth oscillate by 10 to 40 degrees, slotted and cross-shaped ones by less than 5 (Knacke, Parachute
// Recovery Systems Design Manual, NWC TP 6575, table 5-1, from memory). A canopy sheds vortices as a disc does, at
// 0.14 times its speed over its diameter (from memory). The rest is common practice, no source.
const (
	swingBand  = 0.15
	shakeBand  = 0.4
	shedding   = 0.14 // Strouhal number
	leastShake = 0.5  // Hz
	mostShake  = 2.0  // Hz
	swingTime  = 3 * sim.Second
	openCd     = 0.75 // of a canopy, on the area of its cloth
)

func newSwings(s *sim.Setup) []swing {
	list := make([]swing, len(s.Vehicle.Stages))
	for i := range list {
		st := &s.Vehicle.Stages[i]
		list[i] = swing{seed: s.Seed, stage: st.Name, canopies: make([]swingingCanopy, 0, len(st.Recovery))}
	}
	return list
}

// open begins the motion below a canopy at its line stretch; a canopy smaller than one that is open changes nothing.
func (w *swing) open(f *Flight, d *sim.Device, mass float64) {
	s := &d.Swing
	n := len(w.canopies)
	if *s == (sim.Swing{}) || n > 0 && w.canopies[n-1].area >= d.Area {
		return
	}
	random := noise.New(w.seed, "canopy."+w.stage+"."+d.Name)
	c := swingingCanopy{from: f.now, area: max(d.Area, 1e-4), lines: max(s.Lines, 1)}
	gravity := f.gravity.at(0)
	omega := math.Sqrt(gravity / c.lines)
	c.east = newTones(float64(0.5*s.Angle), omega, swingBand, random) // half: of the Gibbs vector
	c.north = newTones(float64(0.5*s.Angle), omega, swingBand, random)
	c.spin = float64(s.Spin * random.Normal())
	c.spinStep = c.spin
	if n > 0 {
		c.spinStep -= w.canopies[n-1].spin
	}
	speed := math.Sqrt(float64(2*mass*gravity) / float64(f.air.At(0).Density*c.area))
	shake := float64(2 * math.Pi * clamp(shedding*speed/math.Sqrt(c.area/openCd*(4/math.Pi)), leastShake, mostShake))
	c.shake = newTones(s.Shake*gravity/float64(shake*shake), shake, shakeBand, random)
	w.canopies = append(w.canopies, c)
}

// fill fills in the state of a body at the present, and says whether its canopies move.
func (w *swing) fill(f *Flight, b *body, st *sim.State) bool {
	if len(w.canopies) == 0 {
		return false
	}
	if !w.interval.covers(b, f.now) && !w.interval.next(f, b, w) {
		b.fillLeaning(b.fraction(f.now), w.lean(f.now), st)
		return true
	}
	w.interval.fill(f.now, st)
	return true
}

// land makes the motion at the present part of the state of a body that touches the ground, where it goes on.
func (w *swing) land(f *Flight, b *body) {
	if len(w.canopies) == 0 || len(b.canopies) == 0 {
		return
	}
	y, r := b.y, b.y.rotation()
	w.lean(f.now).apply(&y, &r, &accelerations{})
	if speed := y[5]; speed < 0 { // else it would not touch
		b.y, b.end = y, y
	}
}

// lean gives the motion at a time. Each canopy takes over from the one before within swingTime.
func (w *swing) lean(t sim.Time) *lean {
	l := &w.current
	*l = lean{way: r3.Vec{Z: 1}, arm: motion{x: -w.canopies[0].lines}}
	for i := range w.canopies {
		c := &w.canopies[i]
		next := smoothMotion(t, c.from, c.from+swingTime)
		l.spin = l.spin.plus(smoothTurn(t-c.from, swingTime).scaled(c.spinStep))
		l.arm = l.arm.plus(next.scaled(w.canopies[max(i-1, 0)].lines - c.lines))
		mine := next
		if i+1 < len(w.canopies) {
			n := w.canopies[i+1].from
			mine = next.times(motion{x: 1}.plus(smoothMotion(t, n, n+swingTime).scaled(-1)))
		}
		if mine == (motion{}) {
			continue
		}
		s := (t - c.from).Seconds()
		l.east = l.east.plus(c.east.at(s).times(mine))
		l.north = l.north.plus(c.north.at(s).times(mine))
		l.shift = l.shift.plus(c.shake.at(s).times(mine))
	}
	return l
}

// smoothTurn is the motion whose speed grows from 0 to 1 as smoothMotion does.
func smoothTurn(t, span sim.Time) motion {
	if t >= span {
		return motion{x: (t - span).Seconds() + 0.5*span.Seconds(), v: 1}
	}
	m := smoothMotion(t, 0, span)
	s := span.Seconds()
	x := max(0, t.Seconds()/s)
	x2 := float64(x * x)
	return motion{x: float64(s * float64(float64(x2*x2)*(2.5-float64(x*(3-x))))), v: m.x, a: m.v}
}
