package mock

// watch recognises a part that repeats itself. A working part has noise, so its last digit moves; a
// part that has never moved much (a coarse or noise-free one) can't be judged and is believed.
type watch struct {
	last           int64
	same           int // repeats in a row
	moved, samples int // while it wasn't stuck
	patience       int // repeats that say stuck
}

func (w *watch) take(v int64) {
	if w.samples > 0 && v == w.last {
		w.same++
	} else {
		w.same = 0
		w.moved++
	}
	if w.same < w.patience {
		w.samples++
	}
	w.last = v
}

// live says that the part has shown noise, so that repeats mean something.
func (w *watch) live() bool {
	return w.samples >= 2*w.patience && 3*w.moved >= 2*w.samples-2*w.patience
}

func (w *watch) stuck() bool { return w.same >= w.patience && w.live() }

// triad watches the three axes of a part.
type triad [3]watch

func (t *triad) take(x, y, z int32) {
	t[0].take(int64(x))
	t[1].take(int64(y))
	t[2].take(int64(z))
}

func (t *triad) stuck() bool { return t[0].stuck() || t[1].stuck() || t[2].stuck() }

func newTriad(patience int) triad {
	w := watch{patience: patience}
	return triad{w, w, w}
}
