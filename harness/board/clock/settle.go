package clock

import (
	"cmp"
	"slices"

	"drystage/harness"
	"drystage/sim"
)

const (
	// unknown is how uncertain an edge is whose board has no clock that can be believed: it may have
	// switched at any time since the board was last heard, which nobody bounds. Careful, no source.
	unknown = sim.Second
	// tardy is how long the news of an edge may take, which the contract wants sent at once. A stamp
	// that lies longer ago is not believed. Common practice, no source.
	tardy = 200 * sim.Millisecond
)

// AssignTimes gives the edges of a real-time run their times: by the board's own stamps where a fit
// allows it, else by arrival. What it fitted is kept in the record.
func AssignTimes(rec *harness.Record) {
	models := fitAll(rec)
	type output struct{ bay, channel int }
	last := map[output]sim.Time{}
	for i := range rec.Outputs {
		e := &rec.Outputs[i]
		if e.Basis != harness.ByTick {
			m, ok := models[life{e.Bay, e.Life}]
			settle(e, &m, ok && e.Basis == harness.ByClock)
		}
		before, ok := last[output{e.Bay, e.Channel}]
		if ok && e.At < before { // an output's edges came in the order in which they happened
			e.At, e.Within = before, e.Within+before-e.At
		}
		last[output{e.Bay, e.Channel}] = e.At
	}
	slices.SortStableFunc(rec.Outputs, func(a, b harness.Edge) int { return cmp.Compare(a.At, b.At) })
}

// settle gives one edge its time.
func settle(e *harness.Edge, m *Model, stamped bool) {
	e.At, e.Within, e.Basis = e.Came, unknown, harness.ByArrival
	if !stamped {
		return
	}
	switch at, within := m.At(e.Stamp); {
	case at+within < e.Came-tardy:
		e.Within = max(unknown, e.Came-at+within)
	case at > e.Came: // it can't come in before it happens
		e.Within, e.Basis = within+at-e.Came, harness.ByClock
	default:
		e.At, e.Within, e.Basis = at, within, harness.ByClock
	}
}

type life struct{ bay, life int }

// fitAll fits each life of each board on its own.
func fitAll(rec *harness.Record) map[life]Model {
	models := map[life]Model{}
	rec.Clocks = rec.Clocks[:0]
	var lives []life
	of := map[life][]harness.ClockReading{}
	add := func(k life, rs ...harness.ClockReading) {
		if _, ok := of[k]; !ok {
			lives = append(lives, k)
		}
		of[k] = append(of[k], rs...)
	}
	for _, r := range rec.Readings {
		add(life{r.Bay, r.Life}, r)
	}
	stamps := map[life][]sim.Time{}
	for _, e := range rec.Outputs {
		k := life{e.Bay, e.Life}
		if e.Basis != harness.ByTick {
			add(k) // a life without any reading is to be known for it
		}
		if e.Basis == harness.ByClock {
			stamps[k] = append(stamps[k], e.Stamp)
		}
	}
	slices.SortStableFunc(lives, func(a, b life) int { return cmp.Or(cmp.Compare(a.bay, b.bay), cmp.Compare(a.life, b.life)) })
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
