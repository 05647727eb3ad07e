package world

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"gonum.org/v1/gonum/num/quat"

	"drystage/sim"
	"drystage/sim/r3"
)

// shaken is heron with all that pushes for milliseconds, and with boards whose parts have no errors.
func shaken(hz float64) *sim.Setup {
	s := heron()
	shock := sim.Pyroshock{Push: 4 * ms, Peak: 400, Ring: 170, Decay: 8 * ms, Offset: 0.002}
	for i := range s.Vehicle.Stages {
		st := &s.Vehicle.Stages[i]
		for k := range st.Recovery {
			st.Recovery[k].Shock, st.Recovery[k].Snatch = shock, sim.Snatch{Mass: 0.05, Speed: 8, Stiffness: 600}
		}
	}
	s.Vehicle.Stages[1].Separation.Shock = sim.Pyroshock{Push: 50 * ms, Peak: 300, Ring: 120, Decay: 6 * ms}
	s.Vehicle.Site.Ground = sim.Ground{Stiffness: 50000, Friction: 0.5}
	for i := range s.Bays {
		s.Bays[i].Sensors = sim.Sensors{Accel: sim.Triad{Rate: hz}, Gyro: sim.Triad{Rate: hz}}
	}
	s.Until.Offset = 4 * sim.Second
	return s
}

// toWorld turns a vector from body axes.
func toWorld(st *sim.State, v r3.Vec) r3.Vec {
	q := quat.Mul(quat.Mul(st.Attitude, quat.Number{Imag: v.X, Jmag: v.Y, Kmag: v.Z}), quat.Conj(st.Attitude))
	return r3.Vec{X: q.Imag, Y: q.Jmag, Z: q.Kmag}
}

// What an accelerometer reads, summed up, is what the velocity of its place has changed by: through the parting, the
// charges, the snatch of the lines and the landing with the fall onto the side, at the sample rates of slow and fast
// parts. Turned with the true attitude and without gravity; half a sample of a step of the force is lost.
func TestAccelerometersSumUpToTheChangeOfVelocity(t *testing.T) {
	for _, hz := range []float64{100, 200, 1000} {
		s := shaken(hz)
		w := New(s)
		type row struct {
			at  sim.Time
			v   [2]r3.Vec // of the board's place
			sum [2]r3.Vec
		}
		var rows []row
		events := map[string]sim.Time{}
		var outs []sim.Output
		var last [2]r3.Vec
		for ok := true; ok; {
			var tick *sim.Tick
			tick, ok = w.Step(outs)
			outs = outs[:0]
			for _, e := range tick.Events {
				if events[e.Name] == 0 {
					events[e.Name] = e.At
				}
				if o, found := flyer[e.Name]; found {
					outs = append(outs, o)
				}
			}
			r := row{at: tick.Now}
			for i := range 2 {
				st := &tick.States[s.Bays[i].Stage]
				arm := r3.Vec{X: st.CG - st.Front - s.Bays[i].Station}
				r.v[i] = r3.Add(st.Velocity, toWorld(st, r3.Cross(st.Rates, arm)))
				f := r3.Add(toWorld(st, tick.Frames[i].Accel), r3.Vec{Z: -9.8067})
				if n := len(rows); n > 0 {
					r.sum[i] = r3.Add(rows[n-1].sum[i], r3.Scale(0.5/hz, r3.Add(f, last[i])))
				}
				last[i] = f
			}
			rows = append(rows, r)
		}
		for _, c := range []struct {
			bay           int
			event         string
			before, after sim.Time
			least         float64 // m/s, of the change beside gravity
		}{
			{0, "separation", 20 * ms, 150 * ms, 0.3},
			{1, "separation", 20 * ms, 150 * ms, 0.3},
			{0, "apogee", 10 * ms, 90 * ms, 0.3}, // the drogue's charge
			{0, "sustainer.drogue", 20 * ms, 150 * ms, 0.3},
			{0, low, 10 * ms, 90 * ms, 0.3}, // the main's charge
			{1, "booster.streamer", 20 * ms, 150 * ms, 0.3},
			{1, "booster.landing", 20 * ms, 3 * sim.Second, 3},
			{0, "sustainer.landing", 20 * ms, 3 * sim.Second, 3},
		} {
			at := events[c.event]
			require.Positive(t, at, c.event)
			var a, z *row
			for i := range rows {
				if rows[i].at >= at-c.before && a == nil {
					a = &rows[i]
				}
				if rows[i].at <= at+c.after {
					z = &rows[i]
				}
			}
			change, felt := r3.Sub(z.v[c.bay], a.v[c.bay]), r3.Sub(z.sum[c.bay], a.sum[c.bay])
			assert.Greater(t, r3.Norm(change), c.least, "%s at %g Hz: something happens", c.event, hz)
			assert.LessOrEqual(t, r3.Norm(r3.Sub(change, felt)), 0.04+10/hz, "%s of bay %d at %g Hz: changed by %v, felt %v", c.event, c.bay, hz, change, felt)
		}
	}
}
