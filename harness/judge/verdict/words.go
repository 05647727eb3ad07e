package verdict

import (
	"fmt"
	"math"
	"strconv"

	"drystage/sim"
)

// unit is how a quantity is printed: the unit's symbol, and the factor from SI.
type unit struct {
	sign   string
	factor float64
}

var second = unit{"s", 1}

// units of the quantities, in the order of their constants.
var units = [...]unit{
	sim.NoQuantity:      {"", 1},
	sim.Height:          {"m", 1},
	sim.Airspeed:        {"m/s", 1},
	sim.Speed:           {"m/s", 1},
	sim.Climb:           {"m/s", 1},
	sim.Descent:         {"m/s", 1},
	sim.Tilt:            {"deg", 180 / math.Pi},
	sim.Mach:            {"", 1},
	sim.Acceleration:    {"m/s2", 1},
	sim.DynamicPressure: {"Pa", 1},
}

// Shown gives how reports print a quantity: the unit's symbol, and the factor from SI.
func Shown(q sim.Quantity) (symbol string, factor float64) {
	if int(q) >= len(units) {
		return "", 1
	}
	return units[q].sign, units[q].factor
}

// show prints an SI value in the unit with three decimals, or six for small values.
func (u unit) show(si float64) string {
	x := si * u.factor
	digits := 3
	if x != 0 && math.Abs(x) < 0.01 {
		digits = 6
	}
	s := strconv.FormatFloat(x, 'f', digits, 64)
	if u.sign != "" {
		s += " " + u.sign
	}
	return s
}

// within prints limits, as in "at most 20.000 deg".
func (u unit) within(l limits) string {
	low, high := !math.IsInf(l.least, -1), !math.IsInf(l.most, 1)
	switch {
	case low && high:
		return u.show(l.least) + " to " + u.show(l.most)
	case low:
		return "at least " + u.show(l.least)
	case high:
		return "at most " + u.show(l.most)
	}
	return "any"
}

// span prints a time.
func span(t sim.Time) string { return second.show(t.Seconds()) }

// String prints a measured time with its uncertainty, if it has one.
func (i instant) String() string {
	if i.within == 0 {
		return i.at.String()
	}
	return i.at.String() + " +- " + strconv.FormatFloat(i.within.Seconds()*1e3, 'g', 2, 64) + " ms"
}

// between prints the interval from a to b; both may be open.
func between(a, b sim.Time) string {
	switch {
	case a <= -sim.Never && b >= sim.Never:
		return "ever"
	case a <= -sim.Never:
		return "up to " + b.String()
	case b >= sim.Never:
		return "from " + a.String() + " on"
	}
	return a.String() + " to " + b.String()
}

// missing says that the event of a window isn't in the record.
func (j *judge) missing(event string) string {
	if j.rec.Complete() {
		return fmt.Sprintf("the event %q did not happen in this run", event)
	}
	return fmt.Sprintf("the event %q had not happened when the record ended at %s", event, j.end)
}

// endWord says how and when the record ends.
func (j *judge) endWord() string {
	if j.rec.Complete() {
		return "the run ended at " + j.end.String()
	}
	return "the record was cut short at " + j.end.String()
}
