package flight

import (
	"math"
	"strconv"
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
			f.AdvanceTo(f.now + 5*sim.Millisecond)
			f.States()
			calls++
		}
		flown += f.now
	}
	b.ReportMetric(flown.Seconds()/b.Elapsed().Seconds(), "x-realtime")
	b.ReportMetric(float64(b.Elapsed().Nanoseconds())/float64(calls), "ns/call")
}

// BenchmarkWorkPrecision flies the transonic vehicle of sixdof_test.go to its apogee at several tolerances;
// setting it up isn't counted.
func BenchmarkWorkPrecision(b *testing.B) {
	best := untilApogee(swift(), 1e-12).Summary().Extremes.Height
	for _, tolerance := range []float64{1e-4, 1e-5, 1e-6, 1e-8, 1e-10} {
		b.Run(strconv.FormatFloat(tolerance, 'g', -1, 64), func(b *testing.B) {
			s := swift()
			var f *Flight
			for range b.N {
				b.StopTimer()
				f = NewIdeal(s)
				f.tolerance = tolerance
				b.StartTimer()
				f.AdvanceTo(25 * sim.Second)
			}
			m := f.Summary()
			b.ReportMetric(math.Abs(m.Extremes.Height-best), "m-error")
			b.ReportMetric(float64(m.Solver.Evaluations), "evaluations")
		})
	}
}

// BenchmarkDerivative measures one right-hand side of the equations of motion.
func BenchmarkDerivative(b *testing.B) {
	f := NewIdeal(dunlin())
	f.AdvanceTo(8 * sim.Second)
	var k vector
	y := f.bodies[0].y
	b.ReportAllocs()
	for b.Loop() {
		f.bodies[0].derivative(0, &y, &k)
	}
}

// BenchmarkTurbulence flies it through turbulence, its drawing included.
func BenchmarkTurbulence(b *testing.B) {
	s := roughDunlin()
	var flown sim.Time
	for b.Loop() {
		f := NewIdeal(s)
		for !f.Landed() {
			f.AdvanceTo(f.now + 5*sim.Millisecond)
			f.States()
		}
		flown += f.now
	}
	b.ReportMetric(flown.Seconds()/b.Elapsed().Seconds(), "x-realtime")
}

// BenchmarkNewTurbulence draws a field.
func BenchmarkNewTurbulence(b *testing.B) {
	w := rough()
	for b.Loop() {
		newWind(&w, 1)
	}
}

// BenchmarkNew measures how long a flight takes to set up.
func BenchmarkNew(b *testing.B) {
	s := dunlin()
	b.ReportAllocs()
	for b.Loop() {
		New(s)
	}
}
