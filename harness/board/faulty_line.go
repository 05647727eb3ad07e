package board

import (
	"bytes"

	"drystage/harness/board/contract"
	"drystage/sim"
)

// mostHeld is the most instants whose samples a stalled line holds; what comes after them is lost.
const mostHeld = 4096

// wire is the line to a board as the plan's faults make it.
type wire struct {
	held   []sim.Frame
	work   []byte
	shadow *contract.Decoder // what a board that counts well has seen; nil while no fault has come
	dice   uint64
}

// wake begins to count, with what was sent last and how many frames went another way since, when a fault comes
// for the first time.
func (w *wire) wake(l *sim.Line, before []byte, skipped uint8) {
	if w.shadow == nil && *l != (sim.Line{}) {
		w.shadow = contract.NewDecoder(contract.FromHost)
		w.see(before)
		w.shadow.Skip(skipped)
	}
}

// holds says whether the line does anything but carry a frame's samples.
func (w *wire) holds(f *sim.Frame) bool { return f.Line != (sim.Line{}) || len(w.held) > 0 }

// hold keeps a frame's samples back.
func (w *wire) hold(f *sim.Frame) {
	if f.Has != 0 && len(w.held) < mostHeld {
		w.held = append(w.held, *f)
	}
}

// spoil does to the frames behind out[:from] what the line does, and puts a delimiter behind them, so
// that what follows is not drawn in.
func (w *wire) spoil(out []byte, from int, l *sim.Line) []byte {
	if l.Cut <= 0 && l.Lose <= 0 && l.Flip <= 0 {
		return out
	}
	w.dice = l.Random
	w.work = append(w.work[:0], out[from:]...)
	out = out[:from]
	for in := w.work; len(in) > 0; {
		n := len(in)
		if end := bytes.IndexByte(in, 0); end >= 0 {
			n = end + 1
		}
		frame := in[:n]
		in = in[n:]
		if l.Cut > 0 && w.hit(l.Cut) {
			frame = frame[:w.roll()%uint64(len(frame))]
		}
		out = w.carry(out, frame, l)
	}
	return append(out, 0)
}

// carry appends the bytes that get through.
func (w *wire) carry(out, frame []byte, l *sim.Line) []byte {
	for _, b := range frame {
		if l.Lose > 0 && w.hit(l.Lose) {
			continue
		}
		if l.Flip > 0 && w.hit(l.Flip) {
			b ^= 1 << (w.roll() & 7)
		}
		out = append(out, b)
	}
	return out
}

// see lets the shadow see what goes out.
func (w *wire) see(out []byte) {
	if w.shadow == nil {
		return
	}
	for ok := true; ok; {
		_, out, ok = w.shadow.Next(out)
	}
}

// hit says yes in a share of cases.
func (w *wire) hit(share float32) bool { return float32(w.roll()>>40)*0x1p-24 < share }

// roll gives 64 bits of chance, by SplitMix64 (Steele, Lea, Flood, OOPSLA 2014, from memory).
func (w *wire) roll() uint64 {
	w.dice += 0x9e3779b97f4a7c15
	z := w.dice
	z = (z ^ z>>30) * 0xbf58476d1ce4e5b9
	z = (z ^ z>>27) * 0x94d049bb133111eb
	return z ^ z>>31
}
