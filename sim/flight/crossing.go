package flight

import (
	"math"

	"drystage/sim"
)

// zeroCrossing is an event that a body's state causes in its step: a function of the state changes its sign.
type zeroCrossing struct {
	at    sim.Time
	kind  crossingKind
	index int // of the threshold, or of the next drag segment
}

// crossingKind is a kind of zero crossing.
type crossingKind uint8

const (
	liftoffCrossing     crossingKind = iota // thrust exceeds weight on the pad
	foreGuideCrossing                       // the fore guide leaves the rail
	railExitCrossing                        // the rail's end
	padCrossing                             // the body is back on the pad
	apogeeCrossing                          // apogee
	groundCrossing                          // the ground
	sideCrossing                            // a body that falls over lies on its side
	thresholdCrossing                       // a quantity passes the value of a threshold
	dragSegmentCrossing                     // the Mach number leaves the segment of the drag curve
)

// searchParts is the number of parts of a step that are searched for a change of sign.
const searchParts = 4

// padDepth is how far below its start a body must be to count as back on the pad, in m.
const padDepth = 1e-9

// findCrossing finds the first zero crossing in the part of a body's step that hasn't been searched yet.
func (f *Flight) findCrossing(b *body) {
	b.crossing = zeroCrossing{at: sim.Never}
	a := b.fraction(b.searchedTo)
	if f.findJump(b, a) {
		return
	}
	step := float64((1 - a) / searchParts)
	for i := 1; i <= searchParts; i++ {
		z := a + float64(step*float64(i))
		if i == searchParts {
			z = 1
		}
		f.searchPart(b, z-step, z)
		if b.crossing.at != sim.Never {
			return
		}
	}
}

// findJump finds a change of sign that a jump of the state between two steps has caused.
func (f *Flight) findJump(b *body, x float64) bool {
	if b.mode == free && !b.pastApogee {
		if climb := b.interpolateOne(x, 5); climb > 0 {
			b.climbing = true
		} else if b.climbing {
			b.crossing = zeroCrossing{at: b.searchedTo, kind: apogeeCrossing}
			return true
		}
	}
	for i := range f.thresholds {
		w := &f.thresholds[i]
		if w.ignores(b) {
			continue
		}
		beyond := w.excess(f.quantityAt(b, w.spec.Quantity, x)) > 0
		if beyond && !w.beyondNow {
			b.crossing = zeroCrossing{at: b.searchedTo, kind: thresholdCrossing, index: i}
			return true
		}
		w.beyondNow, w.beyondNext = beyond, beyond
	}
	return false
}

// searchPart searches between fractions a and z of the step.
func (f *Flight) searchPart(b *body, a, z float64) {
	switch b.mode {
	case onRail:
		b.searchRail(a, z)
	case free:
		climb := b.interpolateOne(z, 5)
		if climb <= 0 && b.climbing && !b.pastApogee {
			b.keepEarliest(zeroCrossing{at: b.root(func(x float64) float64 { return -b.interpolateOne(x, 5) }, a, z), kind: apogeeCrossing})
		}
		if b.interpolateOne(z, 2) < 0 && climb < 0 {
			b.keepEarliest(zeroCrossing{at: b.root(func(x float64) float64 { return -b.interpolateOne(x, 2) }, a, z), kind: groundCrossing})
		}
	case onGround:
		if !b.contact.lying && b.sideOff(z) > 0 {
			b.keepEarliest(zeroCrossing{at: b.root(b.sideOff, a, z), kind: sideCrossing})
		}
	}
	if b.nearSegmentEnd {
		b.searchDrag(a, z)
	}
	for i := range f.thresholds {
		w := &f.thresholds[i]
		if w.ignores(b) {
			continue
		}
		excess := func(x float64) float64 { return w.excess(f.quantityAt(b, w.spec.Quantity, x)) }
		beyond := excess(z) > 0
		if beyond && !w.beyondNext {
			b.keepEarliest(zeroCrossing{at: b.root(excess, a, z), kind: thresholdCrossing, index: i})
		}
		w.beyondNext = beyond
	}
}

// searchRail searches between two fractions of the step of a body on the rail. Only the complete rocket has a
// fore guide.
func (b *body) searchRail(a, z float64) {
	travel := func(x float64) float64 { return b.railTravel(x) - b.rail.length }
	if travel(z) >= 0 {
		b.keepEarliest(zeroCrossing{at: b.root(travel, a, z), kind: railExitCrossing})
	}
	if b.onAftGuide {
		if slipping := func(x float64) float64 { return -b.railSpeed(x) }; slipping(z) > 0 {
			b.keepEarliest(zeroCrossing{at: b.root(slipping, a, z), kind: railExitCrossing})
		}
		return
	}
	if b.allStages && b.rail.foreGuideTravel < b.rail.length {
		loose := func(x float64) float64 { return b.railTravel(x) - b.rail.foreGuideTravel }
		if loose(z) >= 0 {
			b.keepEarliest(zeroCrossing{at: b.root(loose, a, z), kind: foreGuideCrossing})
		}
	}
	down := func(x float64) float64 { return -b.railTravel(x) - padDepth }
	if down(z) > 0 && b.railSpeed(z) < 0 {
		b.keepEarliest(zeroCrossing{at: b.root(down, a, z), kind: padCrossing})
	}
}

// machMargin is the hysteresis of a change of drag segment, relative to the square of the Mach number: without
// it a body that stays at the end of a segment would change segments for ever.
const machMargin = 1e-9

// mayLeaveDragSegment says that the Mach number may pass an end of the body's drag segment in the step. The
// larger acceleration of the two ends of the step limits how much it changes; in unsteady wind nothing does.
func (b *body) mayLeaveDragSegment() bool {
	lines := b.shape.segments
	if len(lines) < 2 {
		return false
	}
	if b.wind.unsteady() {
		return true
	}
	faster := 0.0
	for i := atVelocity; i < atAttitude; i++ {
		faster += max(math.Abs(b.k[i]), math.Abs(b.endDerivative[i]))
	}
	mach := b.endAirData.mach
	reach := float64(float64(faster*b.span)*(1.0/200)) + 0.01 // sound is never as slow as 200 m/s
	return mach-reach < lines[b.dragSegment].mach || b.dragSegment+1 < len(lines) && mach+reach > lines[b.dragSegment+1].mach
}

// searchDrag searches between fractions a and z of the step for an end of the body's drag segment.
func (b *body) searchDrag(a, z float64) {
	lines := b.shape.segments
	mach2 := b.peakTermsAt(z)[1]
	if low := float64(square(lines[b.dragSegment].mach) * (1 - machMargin)); b.dragSegment > 0 && mach2 < low {
		b.keepEarliest(zeroCrossing{at: b.root(func(x float64) float64 { return low - b.peakTermsAt(x)[1] }, a, z), kind: dragSegmentCrossing, index: b.dragSegment - 1})
	}
	if b.dragSegment+1 == len(lines) {
		return
	}
	if high := float64(square(lines[b.dragSegment+1].mach) * (1 + machMargin)); mach2 > high {
		b.keepEarliest(zeroCrossing{at: b.root(func(x float64) float64 { return b.peakTermsAt(x)[1] - high }, a, z), kind: dragSegmentCrossing, index: b.dragSegment + 1})
	}
}

// keepEarliest keeps the earliest finding.
func (b *body) keepEarliest(x zeroCrossing) {
	if x.at < b.crossing.at {
		b.crossing = x
	}
}

// root finds the instant between fractions a and z of the step where g becomes positive; g is positive at z.
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
	return max(b.searchedTo, min(at, b.to))
}

// railTravel is how far up the rail a body has moved, in m.
func (b *body) railTravel(x float64) float64 {
	return float64(b.interpolateOne(x, 0)*b.rail.axis.X) + float64(b.interpolateOne(x, 1)*b.rail.axis.Y) + float64(b.interpolateOne(x, 2)*b.rail.axis.Z)
}

func (b *body) railSpeed(x float64) float64 {
	return float64(b.interpolateOne(x, 3)*b.rail.axis.X) + float64(b.interpolateOne(x, 4)*b.rail.axis.Y) + float64(b.interpolateOne(x, 5)*b.rail.axis.Z)
}

// findLiftoff looks for liftoff until the next corner of a motor's curve.
func (f *Flight) findLiftoff(b *body) {
	b.crossing = zeroCrossing{at: sim.Never}
	if len(b.burns) == 0 {
		return
	}
	if b.liftoffExcess(0) > 0 {
		b.keepEarliest(zeroCrossing{at: b.from, kind: liftoffCrossing})
		return
	}
	length := (b.to - b.from).Seconds()
	for i := 1; i <= searchParts; i++ {
		z := float64(float64(i) / searchParts)
		held := func(x float64) float64 { return b.liftoffExcess(float64(x * length)) }
		if held(z) > 0 {
			b.keepEarliest(zeroCrossing{at: b.root(held, z-(1.0/searchParts), z), kind: liftoffCrossing})
			return
		}
	}
}

// findJumpAtRest finds thresholds that were crossed by the jump of the state when a body came to rest.
func (f *Flight) findJumpAtRest(b *body) {
	b.crossing = zeroCrossing{at: sim.Never}
	f.findJump(b, 0)
}
