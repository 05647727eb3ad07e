// Package clock fits a board's own clock to the bench's clock, from SYNC and SYNCED, and converts the board's time
// stamps to times of the run, each with its uncertainty.
//
// It never reads a clock, and never gives a time without an uncertainty: readings that allow no fit are an error.
package clock

import (
	"cmp"
	"errors"
	"fmt"
	"math"
	"slices"

	"drystage/harness"
	"drystage/sim"
)

const (
	minReadings = 8    // readings
	bins        = 48   // the run is divided into so many intervals; the shortest delay of each is used
	delayFactor = 2.0  // readings with more than this times the median delay are left out
	maxDrift    = 0.02 // beyond it the board counts in a wrong unit; no resonator is so inaccurate
)

// Why a fit is not possible.
var (
	ErrFew   = errors.New("too few answers")
	ErrDrift = errors.New("the board's clock does not count microseconds")
)

// Model is a straight line through the difference between a board's clock and the bench's.
type Model struct {
	harness.BoardClock
	middle float64 // s of the bench's clock, the mean of the readings used
	offset float64 // s, at middle
	u      struct{ residual, n, sxx, delay, step, beyond float64 }
}

// Fit fits one start of a board; stamps are other times that the board gave since that start. It uses the readings
// with the shortest delays, spread over the run. Each board time is compared with the middle between question and
// answer (as in RFC 5905, section 8), and a straight line is fitted to the differences by least squares.
//
// The uncertainty has four parts: the standard error of the line at a time; the unknown asymmetry of the delay, a
// rectangle of half the longest delay used (JCGM 100:2008, 4.3.7); the resolution of the board's clock, a rectangle
// of one step either way, since questions may be synchronous with it; and, added linearly, how far any reading lies
// outside the time between its question and its answer, which is impossible for a steady clock.
func Fit(rs []harness.ClockReading, stamps ...sim.Time) (Model, error) {
	var m Model
	m.Readings = len(rs)
	if len(rs) > 0 {
		m.Bay, m.Life = rs[0].Bay, rs[0].Life
	}
	used := shortest(rs)
	if m.Used = len(used); m.Used < minReadings {
		return m, fmt.Errorf("clock: %w: %d usable, at least %d are needed", ErrFew, m.Used, minReadings)
	}
	var x, y []float64
	for _, r := range used {
		x, y = append(x, middle(&r)), append(y, r.Board.Seconds()-middle(&r))
		m.u.delay = max(m.u.delay, delay(&r).Seconds())
	}
	m.Delay = delay(&used[0])
	m.u.step = step(rs, stamps).Seconds()
	m.line(x, y)
	if !(math.Abs(m.Drift) < maxDrift) {
		return m, fmt.Errorf("clock: %w: it runs %.4g times as fast as the bench's", ErrDrift, 1+m.Drift)
	}
	for i := range rs {
		m.u.beyond = max(m.u.beyond, m.outside(&rs[i]))
	}
	m.Offset, m.Within = sim.Seconds(m.offset), sim.Seconds(m.within(m.middle))
	return m, nil
}

// line fits the line, and its residual standard deviation.
func (m *Model) line(x, y []float64) {
	m.middle, m.offset = mean(x), mean(y)
	sxy := 0.0
	for i := range x {
		x[i] -= m.middle
		m.u.sxx += x[i] * x[i]
		sxy += x[i] * (y[i] - m.offset)
	}
	m.Drift = sxy / m.u.sxx
	sum := 0.0
	for i := range x {
		d := y[i] - m.offset - m.Drift*x[i]
		sum += d * d
	}
	m.u.n = float64(len(x))
	m.u.residual = math.Sqrt(sum / (m.u.n - 2))
}

func mean(x []float64) (sum float64) {
	for _, v := range x {
		sum += v
	}
	return sum / float64(len(x))
}

// outside is how far the line leaves the time in which a reading must have been taken.
func (m *Model) outside(r *harness.ClockReading) float64 {
	at := m.bench(r.Board)
	return max(r.Sent.Seconds()-at, at-r.Came.Seconds(), 0)
}

// bench is the bench's time, in s, of a board's time stamp.
func (m *Model) bench(stamp sim.Time) float64 {
	return m.middle + (stamp.Seconds()-m.middle-m.offset)/(1+m.Drift)
}

// within is the expanded uncertainty (k = 2) at a time of the bench, in s.
func (m *Model) within(t float64) float64 {
	far := t - m.middle
	line := m.u.residual * math.Sqrt(1/m.u.n+far*far/m.u.sxx)
	return 2*math.Hypot(line, math.Hypot(m.u.delay/2, m.u.step)/math.Sqrt(3)) + m.u.beyond
}

// At converts a board's time stamp to a time of the run, with its expanded uncertainty (k = 2).
func (m *Model) At(stamp sim.Time) (t, within sim.Time) {
	at := m.bench(stamp)
	return sim.Seconds(at), sim.Seconds(m.within(at))
}

// step is the resolution of the board's clock: the greatest step that divides all differences.
func step(rs []harness.ClockReading, stamps []sim.Time) (a sim.Time) {
	divide := func(b sim.Time) {
		for b != 0 {
			a, b = b, a%b
		}
	}
	for i := range rs {
		divide(rs[i].Board - rs[0].Board)
	}
	for _, s := range stamps {
		divide(s - rs[0].Board)
	}
	return max(a, -a)
}

func middle(r *harness.ClockReading) float64 { return (r.Sent.Seconds() + r.Came.Seconds()) / 2 }

func delay(r *harness.ClockReading) sim.Time { return r.Came - r.Sent }

func byDelay(a, b harness.ClockReading) int { return cmp.Compare(delay(&a), delay(&b)) }

// shortest gives the reading with the shortest delay of each interval of the run, without intervals in which every
// answer was slow.
func shortest(rs []harness.ClockReading) (out []harness.ClockReading) {
	if len(rs) == 0 {
		return nil
	}
	first, last := rs[0].Sent, rs[0].Sent
	for _, r := range rs {
		first, last = min(first, r.Sent), max(last, r.Sent)
	}
	best := make([]*harness.ClockReading, bins)
	for i := range rs {
		r := &rs[i]
		k := int(float64(bins) * float64(r.Sent-first) / (float64(last-first) + 1))
		if b := best[k]; b == nil || delay(r) < delay(b) {
			best[k] = r
		}
	}
	for _, b := range best {
		if b != nil {
			out = append(out, *b)
		}
	}
	slices.SortStableFunc(out, byDelay)
	limit := delayFactor * float64(delay(&out[len(out)/2]))
	return slices.DeleteFunc(out, func(r harness.ClockReading) bool { return float64(delay(&r)) > limit })
}
