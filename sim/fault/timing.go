package fault

import "drystage/sim"

// remember stores a sample.
func (it *item) remember(f *sim.Frame) {
	it.past[it.stored%len(it.past)] = take(f, it.Part)
	it.stored++
}

// previous gives the k-th sample before the last one, or the oldest stored one.
func (it *item) previous(k int) *reading {
	k = min(k, it.stored-1, len(it.past)-1)
	return &it.past[(it.stored-1-k)%len(it.past)]
}

// delay gives the sample that was the last one Value seconds ago.
func (it *item) delay(f *sim.Frame) bool {
	then := f.Now - sim.Seconds(it.Value)
	k := 0
	for k < min(it.stored, len(it.past))-1 && it.previous(k).at > then {
		k++
	}
	r := *it.previous(k)
	return put(f, it.Part, &r)
}

// jitter gives the sample at a random instant up to Value seconds earlier, by interpolation.
func (it *item) jitter(f *sim.Frame) bool {
	then := f.Now - sim.Seconds(float64(it.Value*it.random.Uniform()))
	for k := 1; k < min(it.stored, len(it.past)); k++ {
		a, b := it.previous(k), it.previous(k-1)
		if a.at <= then && b.at > a.at {
			r := between(a, b, (then-a.at).Seconds()/(b.at-a.at).Seconds())
			return put(f, it.Part, &r)
		}
	}
	return false
}

// stale passes one of Value samples and repeats it.
func (it *item) stale(f *sim.Frame) bool {
	n := max(1, int(min(it.Value, 1e6)))
	if it.count%n == 0 {
		it.held = take(f, it.Part)
	}
	it.count++
	return put(f, it.Part, &it.held)
}

// reorder swaps the samples of each pair: the second comes at its own time, the first at that of the next one.
func (it *item) reorder(f *sim.Frame) bool {
	it.count++
	if it.count%2 == 0 {
		return false
	}
	r := *it.previous(2)
	return put(f, it.Part, &r)
}
