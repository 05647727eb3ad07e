package logs

import (
	"bytes"

	"drystage/sim/quantity"
)

// ticker reads the times of a log, in s.
type ticker struct {
	unit   string
	factor float64 // s per unit or tick; of a row without a clock
	start  float64
	day    float64 // s added since midnight passed
	last   float64
}

func newTicker(c *Clock) ticker {
	t := ticker{unit: c.Unit, factor: 1}
	switch c.Unit {
	case "ms":
		t.factor = 1e-3
	case "us":
		t.factor = 1e-6
	case "min":
		t.factor = 60
	}
	if hz, err := quantity.Parse(c.Rate, quantity.Frequency); err == nil && (c.Unit == "ticks" || c.Column == "") {
		t.factor = 1 / hz
	}
	t.start, _ = quantity.Parse(c.Start, quantity.Time)
	return t
}

// row gives the time of a row in a log without a clock.
func (t *ticker) row(n int) float64 { return float64(n) * t.factor }

func (t *ticker) read(b []byte, comma bool) (float64, bool) {
	if t.unit == "clock" {
		x, ok := timeOfDay(b, comma)
		if !ok {
			return 0, false
		}
		if x < t.last-43200 { // midnight
			t.day += 86400
		}
		t.last = x
		return x + t.day, true
	}
	x, ok := number(b, comma)
	switch t.unit { // whole milliseconds and microseconds become the nearest seconds
	case "ms":
		return x / 1e3, ok
	case "us":
		return x / 1e6, ok
	}
	return x * t.factor, ok
}

// timeOfDay reads hh:mm:ss with decimals, alone or at the end of a date as in 2026-11-25T10:20:30.5Z.
func timeOfDay(b []byte, comma bool) (float64, bool) {
	if i := bytes.LastIndexAny(b, "T "); i >= 0 {
		b = b[i+1:]
	}
	b = bytes.TrimSuffix(b, []byte("Z"))
	p := bytes.Split(b, []byte(":"))
	if len(p) != 3 {
		return 0, false
	}
	h, ok1 := number(p[0], comma)
	m, ok2 := number(p[1], comma)
	s, ok3 := number(p[2], comma)
	return h*3600 + m*60 + s, ok1 && ok2 && ok3 && h >= 0 && h < 24 && m >= 0 && m < 60 && s >= 0 && s < 61
}
