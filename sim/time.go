// Package sim holds the data types of a simulated flight: vehicle, weather, electronics bay, true state, frame,
// event, output, fault. They are plain data in SI units; the packages below this one work on them. It computes no
// flight, reads no clock and no file, and knows nothing of the harness.
package sim

import (
	"math"
	"strconv"
)

// Time is an instant or a span in nanoseconds since the run began. It is never a wall-clock time.
type Time int64

// The usual spans.
const (
	Microsecond Time = 1_000
	Millisecond Time = 1_000_000
	Second      Time = 1_000_000_000
)

// Never is later than any run.
const Never Time = math.MaxInt64

// Seconds converts seconds to a Time, rounded to the nanosecond.
func Seconds(s float64) Time { return Time(math.Round(s * 1e9)) }

// Seconds gives the time in seconds.
func (t Time) Seconds() float64 { return float64(t) / 1e9 }

// String prints seconds to the millisecond, as in "12.345 s".
func (t Time) String() string { return strconv.FormatFloat(t.Seconds(), 'f', 3, 64) + " s" }

// Exact prints the time in seconds with as many decimals as it has.
func (t Time) Exact() string { return strconv.FormatFloat(t.Seconds(), 'f', -1, 64) + " s" }
