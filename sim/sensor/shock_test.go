package sensor

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"gonum.org/v1/gonum/num/quat"

	"drystage/sim"
	"drystage/sim/r3"
)

// struck gives what a half-sine push of the length T to a speed V from a time on has done at t, and reads it with a part
// at 200 Hz, standing on the pad. It gives the sum of the samples beyond one g, in m/s.
func struck(p sim.Triad, from, length sim.Time, speed float64) (sum, most float64) {
	const g = 9.8
	p.Rate = 200
	shock := &sim.Shock{}
	at := func(t sim.Time) (s sim.Shock) {
		x := min(max((t-from).Seconds()/length.Seconds(), 0), 1)
		s.Velocity.X = speed * 0.5 * (1 - math.Cos(math.Pi*x))
		if x > 0 && x < 1 {
			s.Force.X = speed * math.Pi / 2 / length.Seconds() * math.Sin(math.Pi*x)
		}
		return s
	}
	b := New(1, setup(sim.Sensors{Accel: p}), 0)
	b.SetShock(shock, at)
	for b.Next() < from+length+sim.Second {
		f := sim.Frame{Now: b.Next()}
		changes := shock.Changes
		*shock = at(f.Now)
		shock.Changes = changes + 1
		shock.Most = speed * math.Pi / 2 / length.Seconds()
		st := sim.State{Attitude: quat.Number{Real: 1}, Force: r3.Vec{X: g + shock.Force.X}}
		b.Sample(&st, &f)
		sum += (f.Accel.X - g) / p.Rate
		most = max(most, f.Accel.X)
	}
	return sum, most
}

// A sensing element at the end of its range loses a part of a shock before anything takes a mean or filters it. Closed form: of a
// half sine of peak P over T on one g, what is above the range R is lost, from t0 = T/pi asin((R - g)/P) to T - t0; left
// are (R - g)(T - 2 t0) + 2 P T/pi (1 - cos(pi t0/T)).
func TestShocksAreClippedBeforeTheMean(t *testing.T) {
	const r, g = 160.0, 9.8
	left := func(speed float64, length sim.Time) float64 {
		long := length.Seconds()
		peak := speed * math.Pi / 2 / long
		t0 := long / math.Pi * math.Asin(min(1, (r-g)/peak))
		return (r-g)*(long-2*t0) + 2*peak*long/math.Pi*(1-math.Cos(math.Pi*t0/long))
	}
	for _, c := range []struct {
		reason string
		part   sim.Triad
		from   sim.Time // of the shock
		length sim.Time
		speed  float64
		want   float64
	}{
		{"3 ms, all inside of one sample period: the mean is far below the range", sim.Triad{Range: r}, 1001 * sim.Millisecond, 3 * sim.Millisecond, 0.6, left(0.6, 3*sim.Millisecond)},
		{"20 ms, over five samples", sim.Triad{Range: r}, 1002 * sim.Millisecond, 20 * sim.Millisecond, 3, left(3, 20*sim.Millisecond)},
		{"behind a low-pass nothing comes back", sim.Triad{Range: r, Bandwidth: 80}, 1001 * sim.Millisecond, 3 * sim.Millisecond, 0.6, left(0.6, 3*sim.Millisecond)},
		{"an axis that reads 10 % too much clips sooner", sim.Triad{Range: r * 1.1, Scale: r3.Vec{X: 0.1}}, 1001 * sim.Millisecond, 3 * sim.Millisecond, 0.6, 1.1 * left(0.6, 3*sim.Millisecond)},
		{"a part of ten times the range loses nothing", sim.Triad{Range: 10 * r}, 1001 * sim.Millisecond, 3 * sim.Millisecond, 0.6, 0.6},
		{"nor does one without a limit", sim.Triad{}, 1001 * sim.Millisecond, 3 * sim.Millisecond, 0.6, 0.6},
	} {
		got, most := struck(c.part, c.from, c.length, c.speed)
		if c.part.Scale.X != 0 { // the part's one g is too large, too
			got -= 0.1 * g * float64(1+int((c.from+c.length+sim.Second)/(5*sim.Millisecond))) / 200
		}
		assert.InDelta(t, c.want, got, 2e-3*c.speed, c.reason)
		assert.True(t, c.part.Range == 0 || most <= c.part.Range, c.reason)
	}
	short, _ := struck(sim.Triad{Range: r}, 1001*sim.Millisecond, 3*sim.Millisecond, 0.6)
	assert.Less(t, short, 0.45, "a third is lost though the mean over 5 ms never comes near the range")
}

func TestShocksDoNotAllocate(t *testing.T) {
	shock := sim.Shock{Most: 5000}
	b := New(1, setup(sim.Sensors{Accel: sim.Triad{Rate: 200, Range: 160}, Gyro: sim.Triad{Rate: 200, Range: 30}}), 0)
	b.SetShock(&shock, func(t sim.Time) (s sim.Shock) { s.Velocity.X = 1000 * t.Seconds(); return s })
	st, f := sim.State{}, sim.Frame{}
	assert.Zero(t, testing.AllocsPerRun(200, func() { f.Now = b.Next(); shock.Changes++; b.Sample(&st, &f) }))
}
