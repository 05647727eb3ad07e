package flight

import (
	"testing"

	"drystage/sim"
)

// BenchmarkTwoStage flies the two-stage model in ideal flight with a call every 5 ms.
func BenchmarkTwoStage(b *testing.B) {
	s := dunlin()
	b.ReportAllocs()
	var flown sim.Time
	calls := 0
	for b.Loop() {
		f := NewIdeal(s)
		for !f.Landed() {
			f.To(f.now + 5*sim.Millisecond)
			f.States()
			calls++
		}
		flown += f.now
	}
	b.ReportMetric(flown.Seconds()/b.Elapsed().Seconds(), "x-realtime")
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(calls), "ns/call")
}

// BenchmarkNew measures how long a flight takes to set up.
func BenchmarkNew(b *testing.B) {
	s := dunlin()
	b.ReportAllocs()
	for b.Loop() {
		New(s)
	}
}
