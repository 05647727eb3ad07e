package rig

import (
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
)

func TestDebounce(t *testing.T) {
	const ms = time.Millisecond
	start := time.Unix(1000, 0)
	for _, c := range []struct {
		reason   string
		hold     time.Duration
		edges    []time.Duration // each turns the level over
		want     []time.Duration // the edges that count
		glitches int
	}{
		{"one clean edge counts from its own time", 2 * ms, []time.Duration{5 * ms}, []time.Duration{5 * ms}, 0},
		{"5 ms of bouncing are one edge, from the first touch", 2 * ms,
			[]time.Duration{0, 1 * ms, 2 * ms, 3 * ms, 3500 * time.Microsecond, 4 * ms, 5 * ms}, []time.Duration{0}, 0},
		{"a short touch is a glitch", 2 * ms, []time.Duration{3 * ms, 4 * ms}, nil, 1},
		{"a pulse that stands is two edges", 2 * ms, []time.Duration{0, 20 * ms}, []time.Duration{0, 20 * ms}, 0},
		{"bouncing on both sides of a pulse", 2 * ms, []time.Duration{0, 1 * ms, 1500 * time.Microsecond, 30 * ms, 31 * ms, 32 * ms}, []time.Duration{0, 30 * ms}, 0},
		{"without hold every edge counts", 0, []time.Duration{0, 1, 2}, []time.Duration{0, 1, 2}, 0},
		{"a glitch long before an edge does not move it", 2 * ms, []time.Duration{0, 1 * ms, 50 * ms}, []time.Duration{50 * ms}, 1},
	} {
		d := debouncer{hold: c.hold}
		var got []time.Duration
		level := false
		at := time.Duration(0)
		look := func(until time.Duration) {
			for ; at <= until; at += 100 * time.Microsecond {
				if e, ok := d.settle(start.Add(at)); ok {
					got = append(got, e.at.Sub(start))
				}
			}
		}
		for _, e := range c.edges {
			look(e)
			level = !level
			d.edge(start.Add(e), level)
			if e, ok := d.settle(start.Add(e)); ok {
				got = append(got, e.at.Sub(start))
			}
		}
		look(at + time.Second)
		assert.Equal(t, c.want, got, c.reason)
		assert.Equal(t, c.glitches, d.glitches, c.reason)
		assert.False(t, d.unsettled, c.reason)
	}
}
