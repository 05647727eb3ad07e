package flight

import (
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
	case loosening:
		f.cut(b)
		b.tipping = true
		f.plan(b)
	case leaving:
		f.cut(b)
		b.mode, b.left, b.tipping = free, true, false
		if !f.happened(sim.EventRailExit) {
			f.emit(sim.EventRailExit, f.now)
		}
		f.plan(b)
		if b.top == 0 && !f.record.exit.Left {
			f.leaveRail(b)
		}
	case sinking:
		f.cut(b)
		b.rest(onPad)
		b.y.setVec(atPosition, r3.Vec{})
		b.end = b.y
		f.plan(b)
	case bending:
		try := b.try
		f.cut(b)
		b.line, b.lined, b.try = found.watch, true, try
		f.plan(b)
	case topping:
		f.top(b)
		f.rescan(b)
	case touching:
		f.touch(b)
	case passing:
		w := &f.watches[found.watch]
		w.done = true
		f.tell(w.spec.Stage, w.spec.Name)
		f.rescan(b)
	}
}

// leaveRail notes how the rocket is when it leaves the rail.
func (f *Flight) leaveRail(b *body) {
	f.record.leave(b, f.gravity.ground, f.now)
	e := &f.record.exit
	if e.Speed < exitSpeed {
		f.doubts.once(sim.SlowExit, 0, f.now, e.Speed, exitSpeed)
	}
	if e.Alpha > exitAlpha {
		f.doubts.once(sim.ExitAngle, 0, f.now, e.Alpha, exitAlpha)
	}
	if tilt := f.setup.Vehicle.Rail.Tilt; tilt > tiltLimit {
		f.doubts.once(sim.RailTilt, 0, f.now, tilt, tiltLimit)
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
	f.gauge(b, f.now)
	b.topped = true
	b.fillShare(b.share(f.now), &f.probe)
	f.tell(b.top, f.stages[b.top].apogee)
	if b.top == 0 {
		f.emit(sim.EventApogee, f.now)
		f.record.fill(0, 0, &f.probe)
		f.tellPeak()
	}
}

// touch is a body's landing.
func (f *Flight) touch(b *body) {
	f.cut(b)
	l := b.landing(f.now)
	f.record.landings = append(f.record.landings, l)
	if l.Speed > hardLanding {
		f.doubts.once(sim.HardLanding, b.top, f.now, l.Speed, hardLanding)
	}
	b.fillShare(0, &f.probe)
	if b.top == 0 {
		f.tellPeak()
	}
	for i := b.top; i <= b.low; i++ {
		f.tell(i, f.stages[i].landing)
	}
	f.record.fill(b.top, b.low, &f.probe)
	b.rest(landed)
	b.y[2], b.end[2] = 0, 0
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
		f.record.repeat()
	}
}

// dynamic gives the dynamic pressure at a share of the step, in Pa.
func (b *body) dynamic(x float64) float64 {
	c, in := b.air.cell(b.mixOne(x, 2))
	return float64(0.5 * cubic(&c.density, in) * b.air2(x))
}

// tellPeak makes the greatest dynamic pressure an event, once, if the rocket has moved.
func (f *Flight) tellPeak() {
	r := &f.record
	if !r.told && f.lifted && r.q.value > 0 {
		r.told = true
		f.emit(sim.EventMaxQ, r.q.at)
		r.qState.normalise()
		fl := flow{turn: r.qState.rotation()}
		f.breathe(&r.qState, &fl)
		fl.fill(&r.qState, &f.probe)
		r.fill(0, 0, &f.probe)
	}
}
