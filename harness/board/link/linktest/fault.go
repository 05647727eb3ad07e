package linktest

import "drystage/harness/board/link"

// Direction is one direction of a link.
type Direction uint8

// The two directions.
const (
	ToBoard Direction = iota
	FromBoard
)

// Fault damages one part of one direction. Its place is counted in bytes of that direction.
type Fault struct {
	Kind      Kind
	Direction Direction
	At        int    // bytes that pass undamaged before it
	Size      int    // bytes that it damages or adds; at least 1
	Bits      uint64 // which bits flip, or the seed of the added bytes
}

// Kind is what a fault does.
type Kind uint8

// The kinds of fault.
const (
	Flipped  Kind = iota // bits flip in Size bytes, at least one in the first
	Lost                 // Size bytes are missing
	CutShort             // the rest of the frame is missing, but not its delimiter
	CutOff               // the rest of the frame is missing, and its delimiter
	Doubled              // Size bytes come twice
	Added                // Size bytes come that nobody sent
	Muted                // nothing comes any more
)

// String gives the kind's word.
func (k Kind) String() string {
	return [...]string{"flipped bits", "lost bytes", "cut short", "cut off", "doubled bytes", "added bytes", "muted"}[k]
}

// Inject makes a link with faults, in each direction in the order of their places.
func Inject(l link.Link, accidents ...Fault) *FaultyLink {
	s := &FaultyLink{base: base{l}}
	for _, a := range accidents {
		w := &s.streams[a.Direction]
		a.Size = max(a.Size, 1)
		i := len(w.faults)
		for i > 0 && w.faults[i-1].At > a.At {
			i--
		}
		w.faults = append(w.faults[:i], append([]Fault{a}, w.faults[i:]...)...)
	}
	return s
}

// FaultyLink is a link with faults.
type FaultyLink struct {
	base
	streams [2]stream
	pending []byte // read, but not yet passed on
	buf     []byte
}

// BytesAffected counts the bytes that were changed, lost or added so far.
func (s *FaultyLink) BytesAffected() int {
	return s.streams[ToBoard].affected + s.streams[FromBoard].affected
}

// Write sends what the faults leave of b, and reports that all of it was sent.
func (s *FaultyLink) Write(b []byte) (int, error) {
	out := s.streams[ToBoard].pass(b)
	if len(out) == 0 {
		return len(b), nil
	}
	if _, err := s.Link.Write(out); err != nil {
		return 0, err
	}
	return len(b), nil
}

// Read gives what the faults leave of the link's bytes.
func (s *FaultyLink) Read(b []byte) (int, error) {
	for len(s.pending) == 0 {
		if s.buf == nil {
			s.buf = make([]byte, 4096)
		}
		n, err := s.Link.Read(s.buf)
		if s.pending = s.streams[FromBoard].pass(s.buf[:n]); err != nil && len(s.pending) == 0 {
			return 0, err
		}
	}
	n := copy(b, s.pending)
	s.pending = s.pending[n:]
	return n, nil
}

// stream is one direction: what has passed, and the faults to come.
type stream struct {
	faults   []Fault
	passed   int // bytes passed so far
	affected int
	losing   int  // bytes still to be lost
	cut      bool // losing up to a delimiter
	keep     bool // that delimiter comes through
	mute     bool
	out      []byte
	twice    int // bytes that still come before all of copied comes again
	copied   []byte
	twist    int    // bytes still to be flipped
	bits     uint64 // of those
}

// pass gives what comes out at the far end, valid until the next call.
func (w *stream) pass(in []byte) []byte {
	if !w.mute && w.losing == 0 && !w.cut && w.twist == 0 && w.twice == 0 && (len(w.faults) == 0 || w.faults[0].At >= w.passed+len(in)) {
		w.passed += len(in)
		return in
	}
	w.out = w.out[:0]
	for _, c := range in {
		for len(w.faults) > 0 && w.faults[0].At <= w.passed {
			w.begin(w.faults[0])
			w.faults = w.faults[1:]
		}
		w.passed++
		w.byte(c)
	}
	return w.out
}

// begin starts a fault in front of the next byte.
func (w *stream) begin(a Fault) {
	switch a.Kind {
	case Flipped:
		w.twist, w.bits = a.Size, a.Bits
		if w.bits&0xFF == 0 {
			w.bits |= 1 << (a.Bits >> 8 % 8)
		}
	case Lost:
		w.losing = a.Size
	case CutShort, CutOff:
		w.cut, w.keep = true, a.Kind == CutShort
	case Doubled:
		w.twice = a.Size
	case Added:
		for range a.Size {
			a.Bits = a.Bits*6364136223846793005 + 1442695040888963407 // Knuth, TAOCP 2, 3.3.4, table 1
			w.out = append(w.out, byte(a.Bits>>56))
		}
		w.affected += a.Size
	case Muted:
		w.mute = true
	}
}

func (w *stream) byte(c byte) {
	switch {
	case w.mute:
	case w.cut:
		w.cut = c != 0
		if c == 0 && w.keep {
			w.out = append(w.out, c)
			return
		}
	case w.losing > 0:
		w.losing--
	case w.twist > 0:
		w.twist--
		w.out = append(w.out, c^byte(w.bits))
		if w.bits&0xFF == 0 {
			w.affected--
		}
		w.bits >>= 8
	default:
		w.out = append(w.out, c)
		w.copy(c)
		return
	}
	w.affected++
}

// copy keeps a byte that is to be repeated, and repeats all of them when there are enough.
func (w *stream) copy(c byte) {
	if w.twice == 0 {
		return
	}
	w.copied = append(w.copied, c)
	if w.twice--; w.twice == 0 {
		w.out = append(w.out, w.copied...)
		w.affected += len(w.copied)
		w.copied = w.copied[:0]
	}
}
