package phases

import "math"

// A height that rises while what is felt is one g, steadily, rises by the barometer's own drift: under a canopy a rocket feels one g, and
// so it does at rest, but never near its highest point, where it falls freely.

const (
	hangsBlock = 1.0  // s of which a median is one force
	hangsFor   = 4    // blocks in which it stays: drag that goes through one g is beyond the bound sooner at less than 300 m/s
	hangsNear  = 0.10 // of g by which it may differ
	leavesBy   = 0.30 // of g by which it differs before, in flight
	hangsOpens = 0.5  // s from the highest point to one g at least
)

// hangs gives when a rocket that has left begins to feel one g and goes on with it; infinity when it does not.
func (l *Log) hangs(lift float64) float64 {
	s := l.Felt.good()
	flown, run := false, 0
	for t := lift; ; t += hangsBlock {
		i, j := sorted(s.T, t), sorted(s.T, t+hangsBlock)
		if i >= len(s.T) {
			return math.Inf(1)
		}
		if j-i < 3 {
			run = 0
			continue
		}
		off := math.Abs(median(s.X[i:j])/l.Gravity - 1)
		switch {
		case off > hangsNear:
			flown, run = flown || off > leavesBy, 0
		case flown:
			if run++; run == hangsFor {
				return t - (hangsFor-1)*hangsBlock
			}
		}
	}
}

// before cuts a series at an instant.
func (s Series) before(at float64) Series {
	n := sorted(s.T, at)
	o := Series{T: s.T[:n], X: s.X[:n]}
	if s.Bad != nil {
		o.Bad = s.Bad[:n]
	}
	return o
}
