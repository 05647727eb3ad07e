package record

import (
	"errors"
	"fmt"

	"drystage/harness"
	"drystage/sim"
)

// Source flies a record again: the same ticks, whatever the outputs do. The vehicle of a record can't
// answer a board, so what a board does on it is judged against the flight as it was.
type Source struct {
	rec   *harness.Record
	next  int // the tick to give
	event int // the first event not yet given
	did   int // the first injection not yet given
	tick  sim.Tick
}

var _ sim.Source = (*Source)(nil)

// NewSource makes a Source of a record that holds at least one tick. The record must not change while
// the Source is in use.
func NewSource(rec *harness.Record) (*Source, error) {
	if err := whole(rec); err != nil {
		return nil, fmt.Errorf("record: %w", err)
	}
	if rec.Ticks() == 0 {
		return nil, errors.New("record: it holds no tick, so that there is nothing to replay")
	}
	return &Source{rec: rec}, nil
}

// Step gives the next tick, and after the last one that one again. Each event comes with the first tick
// at or after it, the rest with the last tick; a record does not keep when an event was found, so that
// one which is known only afterwards (max_q) comes earlier than it did.
func (s *Source) Step([]sim.Output) (t *sim.Tick, ok bool) {
	i := min(s.next, s.rec.Ticks()-1)
	last := i == s.rec.Ticks()-1
	stages, bays := len(s.rec.Plan.Setup.Vehicle.Stages), len(s.rec.Plan.Setup.Bays)
	s.tick.Now, s.tick.Active = s.rec.Times[i], s.rec.Active[i]
	s.tick.States = append(s.tick.States[:0], s.rec.States[i*stages:(i+1)*stages]...)
	s.tick.Frames = append(s.tick.Frames[:0], s.rec.Frames[i*bays:(i+1)*bays]...)
	s.tick.Events = s.tick.Events[:0]
	for ; s.event < len(s.rec.Events) && (last || s.rec.Events[s.event].At <= s.tick.Now); s.event++ {
		s.tick.Events = append(s.tick.Events, s.rec.Events[s.event])
	}
	s.tick.Injected = s.tick.Injected[:0]
	for ; s.did < len(s.rec.Injected) && s.rec.Injected[s.did].At <= s.tick.Now; s.did++ {
		s.tick.Injected = append(s.tick.Injected, s.rec.Injected[s.did])
	}
	s.next = i + 1
	return &s.tick, !last
}
