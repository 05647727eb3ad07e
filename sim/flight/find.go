package flight

import (
	"math"

	"drystage/sim"
)

// finding is the first thing a body will run into in its step.
type finding struct {
	at    sim.Time
	what  encounter
	watch int // for passing; the next line for bending
}

// encounter is a kind of finding.
type encounter uint8

const (
	lifting   encounter = iota // thrust exceeds weight on the pad
	loosening                  // the fore guide leaves the rail
	leaving                    // the rail's end
	sinking                    // back onto the pad
	topping                    // apogee
	touching                   // the ground
	passing                    // a watched quantity passes its value
	bending                    // the end of a line of the drag
)

// cuts is into how many parts a step is cut to look for changes of sign.
const cuts = 4

// touch is how far below its seat a body is before it is back on the pad, in m.
const touch = 1e-9

// scan looks through the rest of a body's step, from what has been seen, for the first encounter.
func (f *Flight) scan(b *body) {
	b.found = finding{at: sim.Never}
	a := b.share(b.seen)
	if f.scanNow(b, a) {
		return
	}
	step := float64((1 - a) / cuts)
	for i := 1; i <= cuts; i++ {
		z := a + float64(step*float64(i))
		if i == cuts {
			z = 1
		}
		f.scanPart(b, z-step, z)
		if b.found.at != sim.Never {
			return
		}
	}
}

// scanNow looks for what has changed side by a jump of the state between two steps.
func (f *Flight) scanNow(b *body, x float64) bool {
	if b.mode == free && !b.topped {
		if climb := b.mixOne(x, 5); climb > 0 {
			b.climbing = true
		} else if b.climbing {
			b.found = finding{at: b.seen, what: topping}
			return true
		}
	}
	for i := range f.watches {
		w := &f.watches[i]
		if w.idle(b) {
			continue
		}
		side := w.beyond(f.measure(b, w.spec.Quantity, x)) > 0
		if side && !w.side {
			b.found = finding{at: b.seen, what: passing, watch: i}
			return true
		}
		w.side, w.ahead = side, side
	}
	return false
}

// scanPart looks between shares a and z of the step.
func (f *Flight) scanPart(b *body, a, z float64) {
	switch b.mode {
	case onRail:
		b.scanRail(a, z)
	case free:
		climb := b.mixOne(z, 5)
		if climb <= 0 && b.climbing && !b.topped {
			b.note(finding{at: b.root(func(x float64) float64 { return -b.mixOne(x, 5) }, a, z), what: topping})
		}
		if b.mixOne(z, 2) < 0 && climb < 0 {
			b.note(finding{at: b.root(func(x float64) float64 { return -b.mixOne(x, 2) }, a, z), what: touching})
		}
	}
	if b.bending {
		b.scanDrag(a, z)
	}
	for i := range f.watches {
		w := &f.watches[i]
		if w.idle(b) {
			continue
		}
		past := func(x float64) float64 { return w.beyond(f.measure(b, w.spec.Quantity, x)) }
		side := past(z) > 0
		if side && !w.ahead {
			b.note(finding{at: b.root(past, a, z), what: passing, watch: i})
		}
		w.ahead = side
	}
}

// scanRail looks between two shares of the step of a body on the rail. The whole rocket only has a fore
// guide.
func (b *body) scanRail(a, z float64) {
	travel := func(x float64) float64 { return b.travel(x) - b.rail.length }
	if travel(z) >= 0 {
		b.note(finding{at: b.root(travel, a, z), what: leaving})
	}
	if b.tipping {
		if slipping := func(x float64) float64 { return -b.speedAlong(x) }; slipping(z) > 0 {
			b.note(finding{at: b.root(slipping, a, z), what: leaving})
		}
		return
	}
	if b.whole && b.rail.tipping < b.rail.length {
		loose := func(x float64) float64 { return b.travel(x) - b.rail.tipping }
		if loose(z) >= 0 {
			b.note(finding{at: b.root(loose, a, z), what: loosening})
		}
	}
	down := func(x float64) float64 { return -b.travel(x) - touch }
	if down(z) > 0 && b.speedAlong(z) < 0 {
		b.note(finding{at: b.root(down, a, z), what: sinking})
	}
}

// apart is by how much of it the square of the Mach number is beyond a line's end when the body changes
// to the next line: a body that stays at an end doesn't change for ever.
const apart = 1e-9

// nearBend says that the Mach number may pass an end of the body's line of drag in the step. It changes by no
// more than the greater acceleration at the ends of the step makes it; in rough air there is no saying.
func (b *body) nearBend() bool {
	lines := b.shape.lines
	if len(lines) < 2 {
		return false
	}
	if b.wind.rough() {
		return true
	}
	faster := 0.0
	for i := atVelocity; i < atAttitude; i++ {
		faster += max(math.Abs(b.k[i]), math.Abs(b.endSlope[i]))
	}
	mach := b.arrival.mach
	reach := float64(float64(faster*b.span)*(1.0/200)) + 0.01 // sound is never as slow as 200 m/s
	return mach-reach < lines[b.line].mach || b.line+1 < len(lines) && mach+reach > lines[b.line+1].mach
}

// scanDrag looks between shares a and z of the step for an end of the body's line of drag.
func (b *body) scanDrag(a, z float64) {
	lines := b.shape.lines
	mach2 := b.pace(z)[1]
	if low := float64(square(lines[b.line].mach) * (1 - apart)); b.line > 0 && mach2 < low {
		b.note(finding{at: b.root(func(x float64) float64 { return low - b.pace(x)[1] }, a, z), what: bending, watch: b.line - 1})
	}
	if b.line+1 == len(lines) {
		return
	}
	if high := float64(square(lines[b.line+1].mach) * (1 + apart)); mach2 > high {
		b.note(finding{at: b.root(func(x float64) float64 { return b.pace(x)[1] - high }, a, z), what: bending, watch: b.line + 1})
	}
}

// note keeps the earliest finding.
func (b *body) note(x finding) {
	if x.at < b.found.at {
		b.found = x
	}
}

// root finds the instant between shares a and z of the step where g, positive at z, becomes positive.
// It gives the first whole nanosecond after it.
func (b *body) root(g func(float64) float64, a, z float64) sim.Time {
	ga, gz := g(a), g(z)
	if ga > 0 {
		z = a
	}
	length := float64(b.to - b.from)
	for i := 0; i < 80 && float64((z-a)*length) > 0.25; i++ {
		m := 0.5 * (a + z)
		if i%3 != 2 && gz > ga { // regula falsi, bisection every third time
			m = clamp(a+float64((z-a)*(-ga/(gz-ga))), a+float64(1e-3*(z-a)), z-float64(1e-3*(z-a)))
		}
		if gm := g(m); gm > 0 {
			z, gz = m, gm
		} else {
			a, ga = m, gm
		}
	}
	at := b.from + sim.Time(math.Ceil(float64(z*length)))
	return max(b.seen, min(at, b.to))
}

// travel is how far up the rail a body has moved, in m.
func (b *body) travel(x float64) float64 {
	return float64(b.mixOne(x, 0)*b.rail.along.X) + float64(b.mixOne(x, 1)*b.rail.along.Y) + float64(b.mixOne(x, 2)*b.rail.along.Z)
}

func (b *body) speedAlong(x float64) float64 {
	return float64(b.mixOne(x, 3)*b.rail.along.X) + float64(b.mixOne(x, 4)*b.rail.along.Y) + float64(b.mixOne(x, 5)*b.rail.along.Z)
}

// scanPad looks for liftoff until the next corner of a motor's curve.
func (f *Flight) scanPad(b *body) {
	b.found = finding{at: sim.Never}
	if len(b.burns) == 0 {
		return
	}
	if b.excess(0) > 0 {
		b.note(finding{at: b.from, what: lifting})
		return
	}
	length := (b.to - b.from).Seconds()
	for i := 1; i <= cuts; i++ {
		z := float64(float64(i) / cuts)
		held := func(x float64) float64 { return b.excess(float64(x * length)) }
		if held(z) > 0 {
			b.note(finding{at: b.root(held, z-(1.0/cuts), z), what: lifting})
			return
		}
	}
}

// scanRest looks for watched quantities that jumped when a body came to rest.
func (f *Flight) scanRest(b *body) {
	b.found = finding{at: sim.Never}
	f.scanNow(b, 0)
}
