package linktest

import "drystage/harness/board/link"

// Direction is one direction of a link.
type Direction uint8

// The two directions.
const (
	ToBoard Direction = iota
	FromBoard
)

// Fault spoils one stretch of one direction. Its place is counted in bytes of that direction.
type Fault struct {
	Kind      Kind
	Direction Direction
	At        int    // bytes that pass unspoilt before it
	Size      int    // bytes that it spoils, or adds; at least 1
	Bits      uint64 // which bits flip, or what the added bytes are
}

// Kind is what an accident does.
type Kind uint8

// The kinds of accident.
const (
	Flipped  Kind = iota // bits are turned over in Size bytes, at least one in the first
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

// Inject has accidents happen to a link, in each direction in the order of their places.
func Inject(l link.Link, accidents ...Fault) *FaultyLink {
	s := &FaultyLink{base: base{l}}
	for _, a := range accidents {
		w := &s.ways[a.Direction]
		a.Size = max(a.Size, 1)
		i := len(w.todo)
		for i > 0 && w.todo[i-1].At > a.At {
			i--
		}
		w.todo = append(w.todo[:i], append([]Fault{a}, w.todo[i:]...)...)
	}
	return s
}

// FaultyLink is a link that accidents happen to.
type FaultyLink struct {
	base
	ways [2]way
	left []byte // read and not yet handed on
	buf  []byte
}

// BytesAffected counts the bytes that were changed, lost or added so far.
func (s *FaultyLink) BytesAffected() int { return s.ways[ToBoard].spoilt + s.ways[FromBoard].spoilt }

// Write sends what is left of b, and says that all of it was sent.
func (s *FaultyLink) Write(b []byte) (int, error) {
	out := s.ways[ToBoard].pass(b)
	if len(out) == 0 {
		return len(b), nil
	}
	if _, err := s.Link.Write(out); err != nil {
		return 0, err
	}
	return len(b), nil
}

// Read gives what is left of what the link gives.
func (s *FaultyLink) Read(b []byte) (int, error) {
	for len(s.left) == 0 {
		if s.buf == nil {
			s.buf = make([]byte, 4096)
		}
		n, err := s.Link.Read(s.buf)
		if s.left = s.ways[FromBoard].pass(s.buf[:n]); err != nil && len(s.left) == 0 {
			return 0, err
		}
	}
	n := copy(b, s.left)
	s.left = s.left[n:]
	return n, nil
}

// way is one direction: what has passed, and what is still to happen.
type way struct {
	todo   []Fault
	n      int // bytes that came to this place
	spoilt int
	lose   int  // bytes still to be lost
	cut    bool // losing up to a delimiter
	keep   bool // that delimiter comes through
	mute   bool
	out    []byte
	twice  int // bytes that still come before all of copied comes again
	copied []byte
	twist  int    // bytes still to be flipped
	bits   uint64 // of those
}

// pass gives what comes out at the far end, valid until the next call.
func (w *way) pass(in []byte) []byte {
	if !w.mute && w.lose == 0 && !w.cut && w.twist == 0 && w.twice == 0 && (len(w.todo) == 0 || w.todo[0].At >= w.n+len(in)) {
		w.n += len(in)
		return in
	}
	w.out = w.out[:0]
	for _, c := range in {
		for len(w.todo) > 0 && w.todo[0].At <= w.n {
			w.begin(w.todo[0])
			w.todo = w.todo[1:]
		}
		w.n++
		w.byte(c)
	}
	return w.out
}

// begin starts an accident in front of the bytes to come.
func (w *way) begin(a Fault) {
	switch a.Kind {
	case Flipped:
		w.twist, w.bits = a.Size, a.Bits
		if w.bits&0xFF == 0 {
			w.bits |= 1 << (a.Bits >> 8 % 8)
		}
	case Lost:
		w.lose = a.Size
	case CutShort, CutOff:
		w.cut, w.keep = true, a.Kind == CutShort
	case Doubled:
		w.twice = a.Size
	case Added:
		for range a.Size {
			a.Bits = a.Bits*6364136223846793005 + 1442695040888963407 // Knuth, TAOCP 2, 3.3.4, table 1
			w.out = append(w.out, byte(a.Bits>>56))
		}
		w.spoilt += a.Size
	case Muted:
		w.mute = true
	}
}

func (w *way) byte(c byte) {
	switch {
	case w.mute:
	case w.cut:
		w.cut = c != 0
		if c == 0 && w.keep {
			w.out = append(w.out, c)
			return
		}
	case w.lose > 0:
		w.lose--
	case w.twist > 0:
		w.twist--
		w.out = append(w.out, c^byte(w.bits))
		if w.bits&0xFF == 0 {
			w.spoilt--
		}
		w.bits >>= 8
	default:
		w.out = append(w.out, c)
		w.copy(c)
		return
	}
	w.spoilt++
}

// copy keeps a byte that is to come again, and lets all of them come when there are enough.
func (w *way) copy(c byte) {
	if w.twice == 0 {
		return
	}
	w.copied = append(w.copied, c)
	if w.twice--; w.twice == 0 {
		w.out = append(w.out, w.copied...)
		w.spoilt += len(w.copied)
		w.copied = w.copied[:0]
	}
}
