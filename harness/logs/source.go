package logs

import (
	"errors"

	"drystage/sim"
)

// Fill says what a board is given while a part of a log is silent. In every case its clock goes on.
type Fill uint8

// The ways to fill a gap.
const (
	FillNone Fill = iota // nothing, as it was
	FillHold             // the last sample again, at the part's usual rate
)

// Source plays a log to one board: the samples at their times, whatever the board does. It knows
// nothing of the truth, so its states are empty; what a board does on it can be judged by time only.
type Source struct {
	log    *Log
	fill   Fill
	cursor cursor
	tick   sim.Tick
	beat   sim.Time // the clock goes on at least this often
	period [sim.PartBattery + 1]sim.Time
	seen   [sim.PartBattery + 1]sim.Time // when a part last gave a sample, or had one filled in
	frame  sim.Frame
	events []sim.Event
	filled int
}

var _ sim.Source = (*Source)(nil)

// NewSource makes a Source of a log for a setup with one bay. Events are those that expectations may
// speak of, in order of time; of a log they are known by examining it.
func NewSource(l *Log, stages int, fill Fill, events []sim.Event) (*Source, error) {
	if l.Samples() == 0 {
		return nil, errors.New("logs: the log holds no sample, so that there is nothing to replay")
	}
	s := &Source{log: l, fill: fill, cursor: cursor{log: l}, beat: sim.Never, events: events}
	for p := range l.Streams {
		if t := l.Streams[p].Period(); t > 0 {
			s.period[p] = t
			s.beat = min(s.beat, t)
		}
	}
	if s.beat == sim.Never {
		s.beat = 10 * sim.Millisecond
	}
	s.beat = max(s.beat, sim.Millisecond)
	s.tick.States = make([]sim.State, stages)
	s.tick.Frames = make([]sim.Frame, 1)
	return s, nil
}

// Filled is the number of samples that were filled in so far.
func (s *Source) Filled() int { return s.filled }

// Step gives the next instant of the log.
func (s *Source) Step([]sim.Output) (t *sim.Tick, ok bool) {
	due := s.cursor.due()
	if due == sim.Never {
		return nil, false
	}
	// While all is silent, the clock goes on.
	now := due
	if silent := s.tick.Now + s.beat*5/2; due > silent {
		now = s.tick.Now + s.beat
	}
	f := &s.frame
	s.cursor.take(now, f)
	f.Due, f.Powered = true, true
	s.hold(now, f)
	s.tick.Now, s.tick.Frames[0] = now, *f
	s.tick.Events = s.tick.Events[:0]
	for len(s.events) > 0 && s.events[0].At <= now {
		s.tick.Events = append(s.tick.Events, s.events[0])
		s.events = s.events[1:]
	}
	return &s.tick, s.cursor.due() != sim.Never
}

// hold fills in what is due of a silent part.
func (s *Source) hold(now sim.Time, f *sim.Frame) {
	for p := sim.PartAccel; p <= sim.PartBattery; p++ {
		bit := sim.Parts(1) << (p - 1)
		switch {
		case f.Has&bit != 0:
			s.seen[p] = now
		case s.fill == FillHold && s.cursor.next[p] > 0 && s.cursor.next[p] < s.log.Streams[p].Len() && now >= s.seen[p]+s.period[p]*3/2:
			f.Has |= bit // the frame still holds the last sample
			s.seen[p] += s.period[p]
			s.filled++
		}
	}
}

// Sensors gives the parts of a log at their rates, for a bay that is to be fed with it.
func (l *Log) Sensors() (s sim.Sensors) {
	rate := func(p sim.Part) float64 {
		if t := l.Streams[p].Period(); t > 0 {
			return 1 / t.Seconds()
		}
		return 0
	}
	s.Accel.Rate, s.Gyro.Rate, s.Baro.Rate = rate(sim.PartAccel), rate(sim.PartGyro), rate(sim.PartBaro)
	s.GNSS.Rate, s.Battery.Rate = rate(sim.PartGNSS), rate(sim.PartBattery)
	return s
}
