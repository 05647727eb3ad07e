package sensor

import (
	"math"

	"drystage/sim"
	"drystage/sim/noise"
	"drystage/sim/plain"
)

// vibration is what a part feels of the airframe's vibration: on each axis a first-order broadband process, and tones
// along the body's axis. All are computed behind the part's low-pass at the instants of its samples, exactly, so that
// what lies beyond half the rate folds into the band as it does in a part. Only while the sensing element may clip,
// which no closed form covers, the time between samples is divided into steps.
//
// Sizes are in shares of thrust over mass times the part's transmissibility.
type vibration struct {
	sim.Vibration
	transmissibility float64 // from thrust over mass to the part's unit
	clipsAt          float64 // of the sensing element; +Inf: never
	axes             [3]broadband
	tones            []tone
	axial            [3]float64 // share of the body's axis in each axis of the part; 0 for a gyro, which a push does not turn
	peak             float64    // the most that it may be
	rectified        [3]float64 // mean square of each axis, times the part's coefficient
	steps            int        // between samples, while it may clip
	filter           lag        // of the part, for a step
	settle           float64    // what is left of an excess after one sample
	random           *noise.Stream
	specific         [3]float64 // the force of the last sample
	out              [3]float64 // behind the low-pass, with force and vibration
	clipped          [3]float64 // what clipping has added to it
	excess           bool       // some of clipped isn't 0
	burning          bool
}

// newVibration gives nil for a part that feels none. turns says that the part is a gyro.
func newVibration(p *sim.Triad, v *sim.Vibration, turns bool, random func(effect string) *noise.Stream) *vibration {
	if !(p.Rate > 0) || !(p.Transmissibility > 0) || !(v.Share > 0) && len(v.Tones) == 0 {
		return nil
	}
	period := period(p.Rate, p.ClockError)
	w := &vibration{Vibration: *v, transmissibility: p.Transmissibility, clipsAt: math.Inf(1), random: random(".vibration")}
	if p.Range > 0 && p.Bandwidth > 0 {
		w.clipsAt = p.Range
	}
	rectification := p.Rectification
	if !turns {
		rectification = float64(p.Rectification * float64(p.Transmissibility*p.Transmissibility))
		w.axial = [3]float64{p.Mounting[0].X, p.Mounting[1].X, p.Mounting[2].X}
		random := random(".tones")
		for i := range v.Tones {
			w.tones = append(w.tones, newTone(&v.Tones[i], p.Bandwidth, period, random))
		}
	}
	// In a step neither the vibration nor the highest tone changes much: half a time constant, an eighth of a period.
	highest := float64(4 * math.Pi * v.Band)
	squares := 0.0
	for i := range w.tones {
		t := &w.tones[i]
		highest = max(highest, float64(8*t.Frequency*float64(t.orders())))
		for h := 1; h <= t.orders(); h++ {
			w.peak += float64(math.Sqrt2*t.Share) / float64(h)
			squares += float64(t.Share*t.Share) / float64(h*h)
		}
	}
	w.peak += float64(mostDeviations * v.Share)
	w.steps = int(min(max(math.Ceil(float64(period*highest)), 4), mostSteps))
	w.filter = lowPass(p.Bandwidth, period/float64(w.steps))
	if p.Bandwidth > 0 {
		w.settle = plain.Decay(period, 1/float64(2*math.Pi*p.Bandwidth))
	}
	for i, a := range w.axial {
		w.rectified[i] = float64(rectification * (float64(v.Share*v.Share) + float64(float64(a*a)*squares)))
		w.axes[i] = newBroadband(v.Band, p.Bandwidth, period, w.steps)
	}
	return w
}

const (
	mostDeviations = 4.5 // a normal number beyond it is one in 150,000
	mostSteps      = 128
)

// active says that the part feels vibration, or still what clipping has left.
func (w *vibration) active(st *sim.State) bool { return st.Thrust > 0 && st.Mass > 0 || w.excess }

// next takes what the sensing element feels of the body's motion at a sample, and the same clipped and behind the
// low-pass, and gives what comes out of the low-pass with vibration.
func (w *vibration) next(in, filtered *[3]float64, st *sim.State) [3]float64 {
	if !w.active(st) {
		w.burning = false
		return *filtered
	}
	if !w.burning && !w.excess {
		w.specific, w.out = *in, *filtered
	}
	push := 0.0
	if st.Thrust > 0 && st.Mass > 0 {
		push = st.Thrust / st.Mass
		if !w.burning {
			w.begin()
		}
	}
	w.burning = push > 0
	most := 0.0
	for i := range in {
		most = max(most, math.Abs(in[i]), math.Abs(w.specific[i]))
	}
	level := float64(push * w.transmissibility)
	if w.burning && most+float64(level*w.peak) > w.clipsAt {
		w.nextInSteps(in, filtered, level)
	} else {
		w.nextAtOnce(filtered, level)
	}
	w.specific = *in
	out := w.out
	for i := range out {
		out[i] += float64(float64(push*push) * w.rectified[i])
	}
	return out
}

// begin draws the state of all processes when a motor begins to burn.
func (w *vibration) begin() {
	for i := range w.axes {
		w.axes[i].begin(w.random)
	}
}

// nextAtOnce advances by one sample; what clipping has added dies away behind the low-pass.
func (w *vibration) nextAtOnce(filtered *[3]float64, level float64) {
	sound := 0.0
	for i := range w.tones {
		w.tones[i].advance()
		sound += w.tones[i].filtered()
	}
	w.excess = false
	for i, a := range w.axial {
		shaken := 0.0
		if level > 0 {
			w.axes[i].advance(w.random)
			shaken = float64(level * (float64(w.Share*w.axes[i].filtered) + float64(a*sound)))
		}
		w.clipped[i] = float64(w.clipped[i] * w.settle)
		if math.Abs(w.clipped[i]) < 1e-9 {
			w.clipped[i] = 0
		}
		w.excess = w.excess || w.clipped[i] != 0
		w.out[i] = filtered[i] + shaken + w.clipped[i]
	}
}

// nextInSteps advances by one sample in steps: what the sensing element feels is clipped in each, and then filtered.
func (w *vibration) nextInSteps(in, filtered *[3]float64, level float64) {
	for i := range w.tones {
		w.tones[i].beginSteps()
	}
	per := 1 / float64(w.steps)
	var low [3]lag
	for i := range low {
		low[i] = w.filter
		low[i].x, low[i].y, low[i].started = limited(w.felt(i, w.specific[i], level, w.sound()), w.clipsAt), w.out[i], true
	}
	for k := 1; k <= w.steps; k++ {
		x := float64(k) * per
		for i := range w.tones {
			w.tones[i].step(x)
		}
		sound := w.sound()
		for i := range low {
			w.axes[i].advanceStep(w.random)
			force := w.specific[i] + float64(x*(in[i]-w.specific[i]))
			low[i].next(limited(w.felt(i, force, level, sound), w.clipsAt))
		}
	}
	filteredSound := 0.0
	for i := range w.tones {
		filteredSound += w.tones[i].filtered()
	}
	w.excess = true
	for i := range low {
		w.out[i] = low[i].y
		w.clipped[i] = w.out[i] - filtered[i] - float64(level*(float64(w.Share*w.axes[i].filtered)+float64(w.axial[i]*filteredSound)))
	}
}

// felt is what the sensing element of an axis feels at an instant.
func (w *vibration) felt(axis int, force, level, sound float64) float64 {
	return force + float64(level*(float64(w.Share*w.axes[axis].x)+float64(w.axial[axis]*sound)))
}

// sound is the sum of all tones at an instant.
func (w *vibration) sound() float64 {
	sum := 0.0
	for i := range w.tones {
		sum += w.tones[i].now()
	}
	return sum
}
