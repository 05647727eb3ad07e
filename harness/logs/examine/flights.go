package examine

import (
	"fmt"
	"math"
	"strings"
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
