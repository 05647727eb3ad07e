package examine

import "math"

// hang is what a rocket feels that hangs or tumbles at a steady speed: a level, of one g at least, and how far swings and gusts
// spread around it.
type hang struct{ level, spread float64 }

// hangs is that by time, in blocks of hangBlock.
type hangs struct {
	from float64
	x    []hang
}

// hanging tells it of a fall. A canopy that opens is over in less than the time over which it is told.
func (e *examiner) hanging(f []float64, from, until float64) hangs {
	a := e.accel[0]
	h := hangs{from: from}
	for t := from; t < until; t += hangBlock {
		i, j := a.between(t-hangSpan, t)
		i = max(i, a.index(from))
		x := hang{level: e.g}
		if j-i >= hangLeast {
			level := median(f[i:j])
			off := make([]float64, 0, j-i)
			for k := i; k < j; k++ {
				off = append(off, math.Abs(f[k]-level))
			}
			x = hang{max(level, e.g), median(off) / 0.6745}
		}
		h.x = append(h.x, x)
	}
	return h
}

func (h hangs) at(t float64) hang {
	if len(h.x) == 0 {
		return hang{gravity, 0}
	}
	return h.x[min(max(int((t-h.from)/hangBlock), 0), len(h.x)-1)]
}

const (
	hangBlock  = 0.5 // s
	hangSpan   = 8.0 // s before an instant that tell what is usual at it
	hangLeast  = 20  // samples
	hangSigmas = 4.0 // of the spread, that a canopy which opens exceeds
)
