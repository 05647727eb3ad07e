package mock

// stuckDetector detects a part that repeats one value. A working part has noise, so its last digit changes. A part that
// has never changed much (with coarse steps or without noise) can't be judged and counts as good.
type stuckDetector struct {
	last           int64
	same           int // repeats in a row
	moved, samples int // while it wasn't stuck
	limit          int // repeats at which it counts as stuck
}

func (w *stuckDetector) add(v int64) {
	if v != w.last || w.samples == 0 {
		w.last, w.same = v, 0
		w.moved++
		w.samples++
		return
	}
	if w.same++; w.same < w.limit {
		w.samples++
	}
}

// hasNoise says that the part has shown noise, so that repeats are a fault.
func (w *stuckDetector) hasNoise() bool {
	return w.samples >= 2*w.limit && 3*w.moved >= 2*w.samples-2*w.limit
}

func (w *stuckDetector) stuck() bool { return w.same >= w.limit && w.hasNoise() }

// triadDetector is a detector for each of three axes.
type triadDetector [3]stuckDetector

func (t *triadDetector) add(x, y, z int32) {
	t[0].add(int64(x))
	t[1].add(int64(y))
	t[2].add(int64(z))
}

func (t *triadDetector) stuck() bool { return t[0].stuck() || t[1].stuck() || t[2].stuck() }

func newTriadDetector(limit int) triadDetector {
	w := stuckDetector{limit: limit}
	return triadDetector{w, w, w}
}
