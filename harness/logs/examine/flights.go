package examine

import (
	"fmt"
	"math"
	"strings"

	"drystage/sim"
)

// A logger that is not emptied holds several flights one after the other. Each of them leaves the ground fast, comes back down to
// about where it began, and lies there; the next one begins later.

const (
	flightBlock = 0.5  // s of which a median is one height
	flightRise  = 20.0 // m within steepSpan from a ground that is lain on: no wind, and no hand, does it
	flightHigh  = 30.0 // m that a flight reaches at least
	flightLies  = 5.0  // s that it lies on the ground at least, and
	flightLevel = 4.0  // m by which heights may differ meanwhile
	flightBack  = 0.25 // of the height reached, at which what is lain on is no more the ground of before
	flightPad   = 6.0  // s before the next flight rises, in which its rocket stands on the pad
	flightAhead = 3.0  // s before the next flight rises, at which the one before ends
)

// flights lists where each flight of a log begins and ends; nil where it holds one at most.
func (e *examiner) flights() []window {
	t, h := e.blockHeights()
	if len(t) == 0 {
		return e.flightsFelt()
	}
	lies, span := int(flightLies/flightBlock), int(steepSpan/flightBlock)
	var out []window
	ground, top, landed := 0.0, 0.0, 0.0 // of the flight that is on or was last
	aloft := false
	for i := range h {
		switch {
		case !aloft && i+span < len(h) && h[i+span]-h[i] > flightRise && (len(out) == 0 || math.Abs(h[i]-ground) < flightHigh):
			from := e.in.from
			if n := len(out); n > 0 {
				from = max(landed, t[i]-flightPad)
				out[n-1].until = max(t[i]-flightAhead, landed)
			}
			aloft, ground, top = true, h[i], h[i]
			out = append(out, window{from, e.in.until})
		case aloft:
			top = max(top, h[i])
			if i >= lies && swing(h[i-lies:i+1]) < flightLevel && top-ground > flightHigh && math.Abs(h[i]-ground) < flightBack*(top-ground) {
				aloft, ground, landed = false, h[i], t[i]
			}
		}
	}
	if len(out) < 2 {
		return nil
	}
	return out
}

// flightsFelt is flights of a log without heights: a motor that pushes a rocket which has lain still begins a flight, and lying
// still again ends it. What hangs below a canopy may be still, too, but nothing pushes it so long.
func (e *examiner) flightsFelt() []window {
	a := &e.log.Streams[sim.PartAccel]
	var axes []*signal
	for axis := range 3 {
		if a.Len() > 100 && a.Has(axis) {
			axes = append(axes, take(a, axis, sim.AxisX+sim.Axis(axis), e.in))
		}
	}
	if len(axes) == 0 || len(axes[0].t) == 0 {
		return nil
	}
	var out []window
	still, landed, lay, pushed, began := 0, 0.0, 0.0, 0.0, 0.0
	aloft := false
	var was []float64
	for t := axes[0].t[0]; t < axes[0].t[len(axes[0].t)-1]; t += flightBlock {
		felt, moved, now := 0.0, 0.0, []float64(nil)
		for k, g := range axes {
			m := median(g.span(t, t+flightBlock))
			if felt, now = math.Hypot(felt, m), append(now, m); was != nil {
				moved = max(moved, math.Abs(m-was[k]))
			}
		}
		was = now
		if still++; moved > stillMoves || math.Abs(felt/e.g-1) > stillNear {
			still = 0
		}
		if pushed == 0 {
			began = t
		}
		if pushed += (felt - e.g) * flightBlock; felt < flightPush*e.g {
			pushed = 0
		}
		switch {
		case !aloft && pushed > flightSpeed:
			from := e.in.from
			if n := len(out); n > 0 {
				from = max(landed, began-flightPad)
				out[n-1].until = max(min(began-flightAhead, lay), landed)
			}
			aloft = true
			out = append(out, window{from, e.in.until})
		case aloft && float64(still)*flightBlock > flightLies:
			aloft, landed = false, t
		}
		if !aloft && still > 0 && lay >= t-1.5*flightBlock || aloft { // until somebody picks it up
			lay = t
		}
	}
	if len(out) < 2 {
		return nil
	}
	return out
}

const (
	stillMoves  = 0.4  // m/s2 by which what an axis feels changes from block to block at most, where a rocket lies still
	stillNear   = 0.15 // of g by which all axes together may differ from it there
	flightPush  = 2.0  // times g that a motor makes a rocket feel at least, without a pause, until it has made
	flightSpeed = 30.0 // m/s, more than a canopy takes; common practice, no source
)

func swing(h []float64) float64 {
	lo, hi := math.Inf(1), math.Inf(-1)
	for _, x := range h {
		lo, hi = min(lo, x), max(hi, x)
	}
	return hi - lo
}

// blockHeights gives the median height of each block of the log that has one.
func (e *examiner) blockHeights() (t, h []float64) {
	g := e.roughHeight()
	if g == nil {
		return nil, nil
	}
	for i := 0; i < len(g.x); {
		j := i + 1
		for j < len(g.x) && g.t[j] < g.t[i]+flightBlock {
			j++
		}
		t, h = append(t, g.t[i]), append(h, median(g.x[i:j]))
		i = j
	}
	return t, h
}

// chooseFlight narrows what is looked at to one of several flights.
func (e *examiner) chooseFlight() error {
	all := e.flights()
	k := max(e.opt.Flight, 1)
	if k > max(len(all), 1) {
		return fmt.Errorf("examine: flight %d is asked for, and the log holds %d", k, max(len(all), 1))
	}
	if all == nil {
		return nil
	}
	var from []string
	for _, w := range all {
		from = append(from, fmt.Sprintf("%.1f s", w.from))
	}
	e.in = all[k-1]
	e.end = e.in.until
	e.res.Untold = append(e.res.Untold, fmt.Sprintf("other flights: the log holds %d, from %s on; this is flight %d, and --flight tells another", len(all), strings.Join(from, ", from "), k))
	return nil
}
