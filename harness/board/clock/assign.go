package clock

import (
	"cmp"
	"slices"

	"drystage/harness"
	"drystage/sim"
)

const (
	// noClockUncertainty is the uncertainty of an edge whose board has no usable clock: it may have happened at any
	// time since the board was last heard. A careful value, no source.
	noClockUncertainty = sim.Second
	// maxReportDelay is how long the message of an edge may take; the contract demands it at once. An older time
	// stamp is not used. Common practice, no source.
	maxReportDelay = 200 * sim.Millisecond
)

// AssignTimes sets the times of the edges of a real-time run: from the board's time stamps if its clock could be
// fitted, else from the arrival. The fits are stored in the record.
func AssignTimes(rec *harness.Record) {
	models := fitEachBoot(rec)
	type output struct{ bay, channel int }
	last := map[output]sim.Time{}
	for i := range rec.Outputs {
		e := &rec.Outputs[i]
		if e.Basis != harness.ByTick {
			m, ok := models[bootKey{e.Bay, e.Life}]
			assignTime(e, &m, ok && e.Basis == harness.ByClock)
		}
		before, ok := last[output{e.Bay, e.Channel}]
		if ok && e.At < before { // an output's edges arrive in their order
			e.At, e.Within = before, e.Within+before-e.At
		}
		last[output{e.Bay, e.Channel}] = e.At
	}
	slices.SortStableFunc(rec.Outputs, func(a, b harness.Edge) int { return cmp.Compare(a.At, b.At) })
}

// assignTime sets the time of one edge.
func assignTime(e *harness.Edge, m *Model, stamped bool) {
	e.At, e.Within, e.Basis = e.Came, noClockUncertainty, harness.ByArrival
	if !stamped {
		return
	}
	switch at, within := m.At(e.Stamp); {
	case at+within < e.Came-maxReportDelay:
		e.Within = max(noClockUncertainty, e.Came-at+within)
	case at > e.Came: // it can't arrive before it happens
		e.Within, e.Basis = within+at-e.Came, harness.ByClock
	default:
		e.At, e.Within, e.Basis = at, within, harness.ByClock
	}
}

type bootKey struct{ bay, life int }

// fitEachBoot fits each start of each board separately.
func fitEachBoot(rec *harness.Record) map[bootKey]Model {
	models := map[bootKey]Model{}
	rec.Clocks = rec.Clocks[:0]
	var lives []bootKey
	of := map[bootKey][]harness.ClockReading{}
	add := func(k bootKey, rs ...harness.ClockReading) {
		if _, ok := of[k]; !ok {
			lives = append(lives, k)
		}
		of[k] = append(of[k], rs...)
	}
	for _, r := range rec.Readings {
		add(bootKey{r.Bay, r.Life}, r)
	}
	stamps := map[bootKey][]sim.Time{}
	for _, e := range rec.Outputs {
		k := bootKey{e.Bay, e.Life}
		if e.Basis != harness.ByTick {
			add(k) // a start without readings is listed too
		}
		if e.Basis == harness.ByClock {
			stamps[k] = append(stamps[k], e.Stamp)
		}
	}
	slices.SortStableFunc(lives, func(a, b bootKey) int { return cmp.Or(cmp.Compare(a.bay, b.bay), cmp.Compare(a.life, b.life)) })
	for _, k := range lives {
		m, err := Fit(of[k], stamps[k]...)
		m.Bay, m.Life = k.bay, k.life
		if err != nil {
			m.Trouble = err.Error()
		} else {
			models[k] = m
		}
		rec.Clocks = append(rec.Clocks, m.BoardClock)
	}
	return models
}
