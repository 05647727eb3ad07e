package clock

import (
	"cmp"
	"slices"

	"drystage/harness"
	"drystage/sim"
)

// unknown is how uncertain an edge is whose board has no clock that can be believed: it may have
// switched at any time since the board was last heard, which nobody bounds. Careful, no source.
const unknown = sim.Second

// Settle gives the edges of a real-time run their times: by the board's own stamps where a fit
// allows it, else by arrival. What it fitted is kept in the record.
func Settle(rec *harness.Record) {
	models := fitAll(rec)
	for i := range rec.Outputs {
		e := &rec.Outputs[i]
		if e.Basis == harness.ByTick {
			continue
		}
		e.At, e.Within, e.Basis = e.Came, unknown, harness.ByArrival
		m, ok := models[life{e.Bay, e.Life}]
		if !ok {
			continue
		}
		e.At, e.Within = m.At(e.Stamp)
		e.Basis = harness.ByClock
		if e.At > e.Came { // it can't come in before it happens
			e.At, e.Within = e.Came, e.Within+e.At-e.Came
		}
	}
	slices.SortStableFunc(rec.Outputs, func(a, b harness.Edge) int { return cmp.Compare(a.At, b.At) })
}

type life struct{ bay, life int }

// fitAll fits each life of each board on its own.
func fitAll(rec *harness.Record) map[life]Model {
	models := map[life]Model{}
	rec.Clocks = rec.Clocks[:0]
	var lives []life
	of := map[life][]harness.ClockReading{}
	for _, r := range rec.Readings {
		k := life{r.Bay, r.Life}
		if _, ok := of[k]; !ok {
			lives = append(lives, k)
		}
		of[k] = append(of[k], r)
	}
	slices.SortStableFunc(lives, func(a, b life) int { return cmp.Or(cmp.Compare(a.bay, b.bay), cmp.Compare(a.life, b.life)) })
	for _, k := range lives {
		m, err := Fit(of[k])
		if err != nil {
			m.Trouble = err.Error()
		} else {
			models[k] = m
		}
		rec.Clocks = append(rec.Clocks, m.BoardClock)
	}
	return models
}
