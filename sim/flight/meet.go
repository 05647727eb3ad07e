package flight

import (
	"math"

	"drystage/sim"

	"gonum.org/v1/gonum/spatial/r3"
)

// meet lets happen what a body has run into.
func (f *Flight) meet(b *body) {
	found := b.found
	b.found = finding{at: sim.Never}
	switch found.what {
	case lifting:
		f.cut(b)
		f.leavePad(b)
		f.plan(b)
	case leaving:
		f.cut(b)
		b.mode, b.left = free, true
		if !f.happened(sim.EventRailExit) {
			f.emit(sim.EventRailExit, f.now)
		}
		f.plan(b)
	case sinking:
		f.cut(b)
		b.rest(onPad)
		b.y.setVec(atPosition, r3.Vec{})
		b.end = b.y
		f.plan(b)
	case topping:
		f.top(b)
		f.rescan(b)
	case touching:
		f.touch(b)
	case passing:
		w := &f.watches[found.watch]
		w.done = true
		f.emit(w.spec.Name, f.now)
		f.rescan(b)
	}
}

// rescan looks at the rest of a step after something that changed nothing in it.
func (f *Flight) rescan(b *body) {
	b.seen = f.now
	if b.mode == landed {
		f.scanRest(b)
		return
	}
	f.scan(b)
}

// top is the apogee of a body.
func (f *Flight) top(b *body) {
	b.topped = true
	f.emit(f.stages[b.top].apogee, f.now)
	if b.top == 0 {
		f.emit(sim.EventApogee, f.now)
		f.peak.through(b, f.now)
		f.tellPeak()
	}
}

// touch is a body's landing.
func (f *Flight) touch(b *body) {
	f.cut(b)
	b.rest(landed)
	b.y[2], b.end[2] = 0, 0
	if b.top == 0 {
		f.tellPeak()
	}
	for i := b.top; i <= b.low; i++ {
		f.emit(f.stages[i].landing, f.now)
	}
	f.plan(b)
}

// checkDown ends the flight when the last body is down: landed, or left behind on the pad.
func (f *Flight) checkDown() {
	if f.downed {
		return
	}
	some := false
	for i := range f.bodies {
		b := &f.bodies[i]
		some = some || b.mode == landed
		if b.mode == free || b.mode == onRail || len(b.burns) > 0 {
			return
		}
	}
	if some {
		f.downed = true
		f.emit(sim.EventLanding, f.now)
	}
}

// peak finds the greatest dynamic pressure of the body with the nose, up to its apogee.
type peak struct {
	at     sim.Time
	value  float64
	told   bool
	cached sim.Time
}

// through takes account of a body's step from where it has been taken account of until t.
func (p *peak) through(b *body, t sim.Time) {
	if p.told || (b.mode != free && b.mode != onRail) || b.to <= b.from {
		return
	}
	a := b.share(max(p.cached, b.from))
	z := b.share(t)
	p.cached = t
	if z <= a {
		return
	}
	step := float64((z - a) / cuts)
	best, value := -1.0, p.value
	for i := 0; i <= cuts; i++ {
		x := a + float64(step*float64(i))
		if q := b.dynamic(x); q > value {
			best, value = x, q
		}
	}
	if best < 0 {
		return
	}
	best, value = b.climb(max(a, best-step), min(z, best+step))
	if value > p.value {
		p.value = value
		p.at = b.from + sim.Time(math.Round(float64(best*float64(b.to-b.from))))
	}
}

// climb finds the maximum of the dynamic pressure between two shares of the step by golden section.
func (b *body) climb(a, z float64) (at, value float64) {
	const golden = 0.6180339887498949
	l, r := z-float64(golden*(z-a)), a+float64(golden*(z-a))
	ql, qr := b.dynamic(l), b.dynamic(r)
	for i := 0; i < 40; i++ {
		if ql >= qr {
			z, r, qr = r, l, ql
			l = z - float64(golden*(z-a))
			ql = b.dynamic(l)
		} else {
			a, l, ql = l, r, qr
			r = a + float64(golden*(z-a))
			qr = b.dynamic(r)
		}
	}
	at, value = l, ql
	for _, x := range [...]float64{a, z} {
		if q := b.dynamic(x); q > value {
			at, value = x, q
		}
	}
	return at, value
}

// dynamic gives the dynamic pressure at a share of the step, in Pa.
func (b *body) dynamic(x float64) float64 {
	height := b.mixOne(x, 2)
	c, in := b.air.cell(height)
	east, north := b.wind.at(height)
	vx, vy, vz := b.mixOne(x, 3)-east, b.mixOne(x, 4)-north, b.mixOne(x, 5)
	return float64(0.5 * cubic(&c.density, in) * (float64(vx*vx) + float64(vy*vy) + float64(vz*vz)))
}

// tellPeak makes the greatest dynamic pressure an event, once, if the rocket has moved.
func (f *Flight) tellPeak() {
	if !f.peak.told && f.lifted && f.peak.value > 0 {
		f.peak.told = true
		f.emit(sim.EventMaxQ, f.peak.at)
	}
}
