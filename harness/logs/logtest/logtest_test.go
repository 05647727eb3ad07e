package logtest

import (
	"bytes"
	"math"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

func index(l *Log, at float64) int {
	i, _ := slices.BinarySearch(l.T, at)
	return min(i, len(l.T)-1)
}

// TestTruthIsInTheLog: what the truth tells can be seen in the columns by plain arithmetic.
func TestTruthIsInTheLog(t *testing.T) {
	for seed := range uint64(12) {
		r := Draw(seed)
		r.Vibration, r.Clip, r.OneAxis, r.Charge, r.GNSS = 0, 0, false, 0, true
		r.Jitter, r.Lag, r.BaroNoise = 0, 0.005, 1
		l := Fly(r)
		var order []string
		for _, p := range l.Truth.Phases {
			order = append(order, p.Event)
		}
		want := []string{"liftoff", "burnout", "apogee", "deployment", "landing"}
		if r.Stages == 2 {
			want = []string{"liftoff", "burnout", "separation", "ignition", "burnout", "apogee", "deployment", "landing"}
		}
		require.Equal(t, want, slices.Compact(order), "seed %d", seed)
		assert.True(t, slices.IsSortedFunc(l.Truth.Phases, func(a, b Phase) int { return int(math.Copysign(1, a.At-b.At)) }), "seed %d", seed)

		lift, _ := l.Truth.When("liftoff", 0)
		top, _ := l.Truth.When("apogee", 0)
		land, _ := l.Truth.When("landing", 0)
		along := l.Column("accelerometer " + string("xyz"[r.Axis]))
		sign := 1.0
		if r.Down {
			sign = -1
		}
		before, after := sign*along[index(l, lift-0.1)], sign*along[index(l, lift+0.2)]
		assert.InDelta(t, standardG, before, 2, "seed %d: one g on the pad", seed)
		assert.Greater(t, after, 3*standardG, "seed %d: thrust after liftoff", seed)
		height, most, at := l.Column("gnss height"), 0.0, 0
		for i, h := range height {
			if h-height[0] > most {
				most, at = h-height[0], i
			}
		}
		assert.InDelta(t, l.Truth.Apogee, most, 20, "seed %d: apogee", seed)
		assert.InDelta(t, top, l.T[at], 3, "seed %d: apogee", seed)
		assert.Greater(t, land, top+5)
		assert.Greater(t, l.Truth.LandingSpeed, 3.0)
	}
}

// TestAnomaliesAreInTheLog: the log with an anomaly differs from the same without it in its time.
func TestAnomaliesAreInTheLog(t *testing.T) {
	for _, c := range []struct {
		kind Kind
		part string // "": any one
	}{{Spike, ""}, {Step, ""}, {Stuck, ""}, {Dropout, ""}, {Drift, ""}, {Noise, ""}, {GNSSJump, "gnss"}, {GNSSLoss, "gnss"}, {Charge, "baro"}, {Sag, "batt"}, {Vent, "baro"}, {Latency, "gnss"}} {
		for seed := range uint64(2) {
			r := Draw(100 + seed)
			r.Rate, r.BaroEvery, r.GNSSEvery, r.BatteryEvery = 100, 1, 10, 1
			r.GNSS, r.Battery, r.Charge, r.Jitter, r.Vibration, r.Clip = true, true, 0, 0, 0, 0
			clean := Fly(r)
			r.Add(c.kind)
			odd := Fly(r)
			require.Len(t, odd.Truth.Anomalies, 1, "%s %d", c.kind, seed)
			a := odd.Truth.Anomalies[0]
			n := 0
			for k := range odd.Columns {
				x, y := odd.Columns[k].X, clean.Columns[k].X
				for i := range x {
					if x[i] == y[i] || math.IsNaN(x[i]) && math.IsNaN(y[i]) {
						continue
					}
					n++
					require.GreaterOrEqual(t, odd.T[i], a.At-0.01, "%s %d", c.kind, seed)
					if c.kind != Charge { // which fades, and fires with every canopy
						require.LessOrEqual(t, odd.T[i], a.Until+0.01, "%s %d", c.kind, seed)
					}
					if c.part != "" {
						require.Equal(t, c.part, odd.Columns[k].Is[:4])
					}
				}
			}
			assert.Positive(t, n, "%s %d", c.kind, seed)
			if c.kind == Spike {
				assert.Equal(t, 1, n)
			}
		}
	}
}

// TestSameSeedSameLog: a log is a function of its recipe and its shape.
func TestSameSeedSameLog(t *testing.T) {
	a, wantA := Fly(Draw(3)).Write(DrawShape(3))
	b, wantB := Fly(Draw(3)).Write(DrawShape(3))
	c, _ := Fly(Draw(4)).Write(DrawShape(3))
	assert.True(t, bytes.Equal(a, b))
	assert.Equal(t, wantA, wantB)
	assert.False(t, bytes.Equal(a, c))
}

// TestPlainNames: the plain shape has the words of mapping files and SI units.
func TestPlainNames(t *testing.T) {
	r := Draw(1)
	r.OneAxis, r.Axis, r.Gyro, r.GNSS, r.Own, r.Battery, r.Outputs = true, 0, false, false, false, true, true
	text, want := Fly(r).Write(Plain())
	head, _, _ := bytes.Cut(text, []byte("\n"))
	assert.Regexp(t, `^time \[s\],accelerometer x \[m/s2\],barometer pressure \[Pa\],.*battery voltage \[V\],output 3$`, string(head))
	assert.Equal(t, Want{"accelerometer x [m/s2]", "accelerometer x", "m/s2", true}, want[1])
}

// TestShapesDiffer: eighty seeds bring every separator, clock and place of units.
func TestShapesDiffer(t *testing.T) {
	got := map[any]bool{}
	for seed := range uint64(80) {
		s := DrawShape(seed)
		got[s.Delimiter], got[s.Time], got[s.Units], got[s.Comma] = true, true, true, true
		got["headless "+map[bool]string{true: "no", false: "yes"}[s.Header]] = true
	}
	assert.Len(t, got, 4+4+6+2+2)
}

// TestVibrationHasItsSize: what rings has the variance that was asked for, at any rate.
func TestVibrationHasItsSize(t *testing.T) {
	for _, rate := range []float64{20, 100, 1000} {
		g, d := newRing(85, 30, rate), newDice(1, "ring")
		sum := 0.0
		for range 200000 {
			x := g.next(d)
			sum += x * x
		}
		assert.InDelta(t, 1, sum/200000, 0.1, "%g Hz", rate)
	}
}

// TestGyroTellsTheSameStory: what is felt turns through the body axes as the gyro says, from apogee to the ground.
func TestGyroTellsTheSameStory(t *testing.T) {
	for seed := range uint64(3) {
		r := Draw(seed)
		f := fly(&r)
		lies := attitudes(f, seed)
		top := 0.0
		for _, p := range f.phases {
			if p.Event == "apogee" {
				top = p.At
			}
		}
		u := lies[int(top/tick)].shares()
		worst := 0.0
		for i := int(top / tick); i < len(lies)-1; i++ {
			w := lies[i+1].rates
			// du/dt = u x w, since the body turns under what is felt.
			du := [3]float64{u[1]*w[2] - u[2]*w[1], u[2]*w[0] - u[0]*w[2], u[0]*w[1] - u[1]*w[0]}
			next := lies[i+1].shares()
			for k := range u {
				worst = max(worst, math.Abs(u[k]+tick*du[k]-next[k]))
			}
			u = next
		}
		assert.Less(t, worst, 2e-3, "seed %d: share a millisecond", seed)
	}
}
