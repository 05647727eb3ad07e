package fault

import "drystage/sim"

// keep remembers a sample, as far back as the fault looks.
func (it *item) keep(f *sim.Frame) {
	it.past[it.kept%len(it.past)] = take(f, it.Part)
	it.kept++
}

// back gives the k-th sample before the last one; the oldest that is kept when it has fallen out.
func (it *item) back(k int) *reading {
	k = min(k, it.kept-1, len(it.past)-1)
	return &it.past[(it.kept-1-k)%len(it.past)]
}

// delay gives the sample that was the last one then.
func (it *item) delay(f *sim.Frame) bool {
	then := f.Now - sim.Seconds(it.Value)
	k := 0
	for k < min(it.kept, len(it.past))-1 && it.back(k).at > then {
		k++
	}
	r := *it.back(k)
	return put(f, it.Part, &r)
}

// jitter gives the sample as it would have been a little earlier.
func (it *item) jitter(f *sim.Frame) bool {
	then := f.Now - sim.Seconds(float64(it.Value*it.chance.Uniform()))
	for k := 1; k < min(it.kept, len(it.past)); k++ {
		a, b := it.back(k), it.back(k-1)
		if a.at <= then && b.at > a.at {
			r := between(a, b, (then-a.at).Seconds()/(b.at-a.at).Seconds())
			return put(f, it.Part, &r)
		}
	}
	return false
}

// stale lets one of Value samples through and repeats it.
func (it *item) stale(f *sim.Frame) bool {
	n := max(1, int(min(it.Value, 1e6)))
	if it.count%n == 0 {
		it.held = take(f, it.Part)
	}
	it.count++
	return put(f, it.Part, &it.held)
}

// reorder gives the samples of each pair the other way round: the second at its own time, the first at
// that of the next one.
func (it *item) reorder(f *sim.Frame) bool {
	it.count++
	if it.count%2 == 0 {
		return false
	}
	r := *it.back(2)
	return put(f, it.Part, &r)
}
