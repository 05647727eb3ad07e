// Package phases finds the phases of a flight in what its sensors said: standing on the pad, burning,
// coasting, and the highest point. Phases are a hidden sequence with durations (a hidden semi-Markov
// model, Yu 2010), decided by the likelihood of the whole ascent: each segment has its own noise, whose
// variance is integrated out, so a loud motor and a quiet coast need no threshold between them.
//
// It never reads a log, never mends a channel, and never says what was odd.
package phases

import "math"

// Series is a channel against time. Samples marked bad tell nothing; Bad may be nil.
type Series struct {
	T, X []float64 // s and SI
	Bad  []bool
}

// Log is what there is to find phases in. Each series may be empty.
type Log struct {
	Accel      Series  // m/s2 felt along the rocket, positive on the pad
	Upward     Series  // m/s2, of what is felt the part upwards; empty when the tilt is not known
	Tilted     bool    // a gyro followed the tilt that Upward rests on
	Felt       Series  // m/s2, the size of all that is felt
	Height     Series  // m above the pad by pressure
	GNSSHeight Series  // m above the pad
	GNSSSpeed  Series  // m/s upwards
	Gravity    float64 // m/s2
	Begun      bool    // it begins in flight, and may have no pad
	Range      float64 // m/s2, where the accelerometer's ends, if it ran into it, and
	Clipped    float64 // s, for how long
}

// Kind is what a rocket does during a segment of its ascent.
type Kind uint8

// The kinds of segment.
const (
	Pad    Kind = iota // stands
	Boost              // a motor burns
	Tail               // the same motor goes on, in another way
	Coast              // no motor burns
	Apart              // coasts on as another rocket
	Brief              // coasts until something strikes at once
	Braked             // coasts, and is braked evenly by more than its own drag: by what opened, or by a sensor's own
	Shock              // something short: a blow, or a sensor's own
	kinds
)

var kindNames = [kinds]string{"pad", "boost", "tail", "coast", "apart", "brief", "braked", "shock"}

// String gives the word for a kind.
func (k Kind) String() string { return kindNames[k] }

// Segment is a stretch of the ascent.
type Segment struct {
	Kind        Kind
	From, Until float64 // s
	Level       float64 // m/s2, mean felt
	Noise       float64 // m/s2, one standard deviation of what its model leaves
	first, last int     // samples
}

// Edge is an instant with its standard deviation, in s.
type Edge struct{ At, SD float64 }

// Flight is what Find found.
type Flight struct {
	Ascent  []Segment // empty without an accelerometer
	Boosts  []Burn
	Steps   []Split // of the felt level in a coast
	Apogee  Edge
	ByEye   float64 // s, apogee as the channels voted, before it was refined
	Highest string  // what told the apogee
}

// Before says how many motors burned before a log that begins in flight, at least, and whether one burns as it begins.
func (f *Flight) Before() (motors int, lit bool) {
	if len(f.Ascent) == 0 || f.Ascent[0].Kind == Pad {
		return 0, false
	}
	if f.Ascent[0].Kind == Boost {
		return 0, true
	}
	return 1, false
}

// Burn is one motor's burn.
type Burn struct{ On, Off Edge }

// Find finds the phases. lift is about when the rocket leaves the pad, end is the log's last instant.
func Find(l Log, lift, end float64) *Flight {
	f := &Flight{}
	var a *axial
	if len(l.Accel.T) > 50 {
		a = newAxial(l.Accel, l.Gravity)
		if l.Begun {
			a.restAt(l.Gravity)
		}
	}
	if hangs := l.hangs(lift); !math.IsInf(hangs, 1) { // no height is the greatest from there on
		l.Height, l.GNSSHeight = l.Height.before(hangs+hangsOpens), l.GNSSHeight.before(hangs+hangsOpens)
	}
	f.ByEye = vote(l, a, lift, end)
	if a != nil {
		a.ascent(f, lift, f.ByEye)
		a.coasts(f)
		a.refine(f)
	}
	f.Apogee, f.Highest = apogee(l, f.ByEye, lift)
	if a != nil && !l.Begun && len(l.Height.T) > 0 && f.Highest != byReceiver {
		a.doubts(l, f, lift)
	}
	if a != nil && len(l.Height.T)+len(l.GNSSHeight.T)+len(l.GNSSSpeed.T) == 0 {
		if e, ok := a.alone(l, f, lift); ok {
			f.Apogee, f.Highest, f.ByEye = e, "the accelerometer alone", e.At
		}
	}
	return f
}

// Lift gives about when the rocket leaves the pad: the last instant at which the speed by the accelerometer
// is small, before the apogee that the channels vote for. ok is false without an accelerometer.
func Lift(l Log, end float64) (at float64, ok bool) {
	if len(l.Accel.T) <= 50 {
		return 0, false
	}
	a := newAxial(l.Accel, l.Gravity)
	top := vote(l, a, l.Accel.T[0], end)
	j := min(sorted(a.t, min(top, l.halfway(top))), len(a.t)-1)
	most, at := 0.0, a.t[0]
	for i := j; i >= 0; i-- {
		most = max(most, a.v[i])
	}
	for i := range j {
		if a.v[i] < smallSpeed+smallShare*most {
			at = a.t[i]
		}
		if a.v[i] > most/2 {
			break
		}
	}
	return at, most > smallest
}

// halfway gives when the height has risen to half of what it is at a time, for good; infinite where none tells. A rocket is fastest
// before it; what an accelerometer adds up of a booster that tumbles later is no speed.
func (l *Log) halfway(top float64) float64 {
	for _, s := range []Series{l.Height.good(), l.GNSSHeight.good()} {
		j := sorted(s.T, top)
		if j < 20 {
			continue
		}
		rest, high := median(s.X[:5]), median(s.X[j-5:j])
		for i := j - 5; high-rest > halfLeast && i > 0; i-- {
			if median(s.X[i:i+5]) < (rest+high)/2 {
				return s.T[i] + halfAfter
			}
		}
	}
	return math.Inf(1)
}

const (
	halfLeast = 50.0 // m: a lower flight, or a drift, tells nothing
	halfAfter = 1.0  // s, since air in a bay follows late
)

const (
	smallSpeed = 1.0  // m/s, more than bias and wind make of a rocket that stands for half a minute
	smallShare = 0.01 // of the greatest speed
	smallest   = 5.0  // m/s: slower is no flight
)
