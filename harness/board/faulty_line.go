package board

import (
	"bytes"

	"drystage/harness/board/contract"
	"drystage/sim"
)

// maxHeld is how many instants of samples a stalled line keeps; later ones are lost.
const maxHeld = 4096

// faultyLine is the line to a board with the plan's faults.
type faultyLine struct {
	held    []sim.Frame
	scratch []byte
	shadow  *contract.Decoder // a decoder that counts what a correct board must count; nil before the first fault
	random  uint64
}

// startShadow begins to count at the first fault. before is what was sent last; skipped frames have passed by the
// direct way since.
func (w *faultyLine) startShadow(l *sim.Line, before []byte, skipped uint8) {
	if w.shadow == nil && l.Faulty() {
		w.shadow = contract.NewDecoder(contract.FromHost)
		w.observe(before)
		w.shadow.Skip(skipped)
	}
}

// active says whether the line does anything but carry a frame's samples.
func (w *faultyLine) active(f *sim.Frame) bool { return f.Line.Faulty() || len(w.held) > 0 }

// keep holds a frame's samples back.
func (w *faultyLine) keep(f *sim.Frame) {
	if f.Has != 0 && len(w.held) < maxHeld {
		w.held = append(w.held, *f)
	}
}

// corrupt applies the line's faults to the frames in out[from:], and appends a delimiter, so that the next frame is
// not affected.
func (w *faultyLine) corrupt(out []byte, from int, l *sim.Line) []byte {
	if l.Cut <= 0 && l.Lose <= 0 && l.Flip <= 0 {
		return out
	}
	w.random = l.Random
	w.scratch = append(w.scratch[:0], out[from:]...)
	out = out[:from]
	for in := w.scratch; len(in) > 0; {
		n := len(in)
		if end := bytes.IndexByte(in, 0); end >= 0 {
			n = end + 1
		}
		frame := in[:n]
		in = in[n:]
		if l.Cut > 0 && w.chance(l.Cut) {
			frame = frame[:w.next()%uint64(len(frame))]
		}
		out = w.transmit(out, frame, l)
	}
	return append(out, 0)
}

// transmit appends the bytes that get through.
func (w *faultyLine) transmit(out, frame []byte, l *sim.Line) []byte {
	for _, b := range frame {
		if l.Lose > 0 && w.chance(l.Lose) {
			continue
		}
		if l.Flip > 0 && w.chance(l.Flip) {
			b ^= 1 << (w.next() & 7)
		}
		out = append(out, b)
	}
	return out
}

// observe decodes what is sent.
func (w *faultyLine) observe(out []byte) {
	if w.shadow == nil {
		return
	}
	for ok := true; ok; {
		_, out, ok = w.shadow.Next(out)
	}
}

// chance is true with a probability of share.
func (w *faultyLine) chance(share float32) bool { return float32(w.next()>>40)*0x1p-24 < share }

// next gives 64 random bits, by SplitMix64 (Steele, Lea, Flood, OOPSLA 2014, from memory).
func (w *faultyLine) next() uint64 {
	w.random += 0x9e3779b97f4a7c15
	z := w.random
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}
