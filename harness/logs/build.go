package logs

import (
	"fmt"
	"math"
	"slices"

	"drystage/harness"
	"drystage/sim"
)

const (
	mostNotes = 100
	ahead     = 60 * sim.Second // a leap of the clock that is noted
	anew      = sim.Second      // a fall of the clock that is taken for a new beginning
)

// builder puts samples together, row by row.
type builder struct {
	log    *Log
	most   int
	cells  [sim.PartBattery + 1][]int32
	some   [sim.PartBattery + 1]bool
	wanted [sim.PartBattery + 1]bool

	now, last, step sim.Time
	first           bool
	origin          float64
	shift           sim.Time // added since the clock began anew
	unit            float64  // s that the clock's counter counts; 0: it doesn't count
	bits            int      // of the counter that wrapped
	repeats, late   int
	notes           int
}

func newBuilder(name string, most int) *builder {
	if most == 0 {
		most = MostSamples
	}
	b := &builder{log: &Log{Name: name}, most: most, first: true}
	for p := range b.log.Streams {
		b.log.Streams[p].Part = sim.Part(p)
	}
	return b
}

// want makes room for a channel.
func (b *builder) want(c Channel) {
	s := &b.log.Streams[c.Part]
	n := len(channelsOf(c.Part))
	if s.Data == nil {
		s.Data, b.cells[c.Part] = make([][]int32, n), make([]int32, n)
		for i := range b.cells[c.Part] {
			b.cells[c.Part][i] = Missing
		}
	}
	s.Data[c.Index] = []int32{}
	b.wanted[c.Part] = true
}

// set sets a channel's value in the present row.
func (b *builder) set(c Channel, n int32) { b.cells[c.Part][c.Index], b.some[c.Part] = n, true }

// state notes what state the board says it is in, where that is another one than before.
func (b *builder) state(word []byte) {
	s := &b.log.Own.States
	if n := len(*s); n < mostStates && (n == 0 || (*s)[n-1].Word != string(word)) {
		*s = append(*s, State{At: b.now, Word: string(word)})
	}
}

const mostStates = 10000

// speed takes what the board says of its speed, in m/s.
func (b *builder) speed(x float64) {
	o := &b.log.Own
	r := math.Round(x * 1e3)
	if n := len(o.Times); math.Abs(r) < math.MaxInt32 && len(o.Times) < MostSamples/4 && (n == 0 || o.Times[n-1] < b.now) {
		o.Times, o.Speed = append(o.Times, b.now), append(o.Speed, int32(r))
	}
}

func (b *builder) note(at harness.Place, kind NoteKind, text string) {
	if b.notes++; b.notes <= mostNotes {
		b.log.Notes = append(b.log.Notes, Note{Place: at, Kind: kind, At: b.now, Text: text})
	}
}

// stamp turns what the clock says into the log's time. ok is false for a row that comes too late.
func (b *builder) stamp(raw float64, at harness.Place) (t sim.Time, ok bool) {
	if b.first {
		b.first, b.log.Origin, b.origin = false, raw, raw
	}
	if d := raw - b.origin; d > 1e9 || d < -1e9 { // beyond what a Time holds, far beyond a log
		b.note(at, Damage, "a time more than 30 years from the first one; left out")
		return 0, false
	}
	t = sim.Seconds(raw-b.origin) + b.shift
	if t < 0 && b.last == 0 { // before the start that the mapping sets
		return 0, false
	}
	if w := b.wrapped(b.last-t, raw); w > 0 {
		b.note(at, Wrapped, fmt.Sprintf("the clock went from %s of its %d bits back to 0; the rows after it go on", w, b.bits))
		b.shift += w
		t += w
	}
	switch {
	case t < b.last-anew:
		to := b.last + max(b.step, sim.Millisecond)
		b.note(at, Backward, fmt.Sprintf("the clock fell back by %s, as after a restart; the rows after it are taken to go on at %s", b.last-t, to))
		b.shift += to - t
		t = to
	case t < b.last:
		if b.late++; b.late == 1 {
			b.note(at, Backward, fmt.Sprintf("a row %s older than the one before; such rows are left out", b.last-t))
		}
		return 0, false
	case t > b.last+ahead && b.last > 0:
		b.note(at, Forward, fmt.Sprintf("the clock leapt ahead by %s", t-b.last))
	case t == b.last && b.log.Samples() > 0:
		if b.repeats++; b.repeats == 1 {
			b.note(at, Repeated, "a row with the time of the one before; of two samples of a part at one time the later counts")
		}
	}
	if t > b.last {
		b.step = t - b.last
	}
	b.now, b.last = t, t
	return t, true
}

// wrapped gives by how much the clock has to be set forward when its counter has begun again at 0: it fell by
// nearly all that 16, 24 or 32 bits count, from the top of them to the bottom. 0 when it has not.
func (b *builder) wrapped(fall sim.Time, raw float64) sim.Time {
	if fall <= 0 || b.unit == 0 {
		return 0
	}
	for _, b.bits = range []int{16, 24, 32} {
		all := math.Ldexp(b.unit, b.bits)
		whole, near := sim.Seconds(all), 20*max(b.step, sim.Millisecond)
		if raw < all && fall < whole && whole-fall < near && sim.Seconds(raw) < near {
			return whole
		}
	}
	return 0
}

// reserve makes room for so many times the samples that there are, so that long columns need not be moved as
// they grow.
func (b *builder) reserve(times float64) {
	for p := range b.log.Streams {
		s := &b.log.Streams[p]
		more := min(int(1.02*times*float64(s.Len())), b.most) - s.Len()
		if more <= 0 {
			continue
		}
		s.Times = slices.Grow(s.Times, more)
		for i := range s.Data {
			if s.Data[i] != nil {
				s.Data[i] = slices.Grow(s.Data[i], more)
			}
		}
	}
}

// row ends a row: each part with a value gets a sample.
func (b *builder) row(at harness.Place) error {
	for p := range b.cells {
		if !b.some[p] {
			continue
		}
		b.some[p] = false
		s := &b.log.Streams[p]
		if n := s.Len(); n > 0 && s.Times[n-1] == b.now {
			b.drop(s)
		}
		s.Times = append(s.Times, b.now)
		for i := range s.Data {
			if s.Data[i] != nil {
				s.Data[i] = append(s.Data[i], b.cells[p][i])
			}
			b.cells[p][i] = Missing
		}
		if b.most--; b.most < 0 {
			return harness.Problem{Place: at, Found: fmt.Sprintf("more than %d samples", b.log.Samples()-1), Wanted: "a log that fits the memory set aside for it", Hint: "cut the time on the pad off"}
		}
	}
	return nil
}

func (b *builder) drop(s *Stream) {
	n := s.Len() - 1
	s.Times = s.Times[:n]
	for i := range s.Data {
		if s.Data[i] != nil {
			s.Data[i] = s.Data[i][:n]
		}
	}
	b.most++
}

// done gives the log, with counts of what was noted only once.
func (b *builder) done() *Log {
	for _, c := range []struct {
		n    int
		kind NoteKind
		text string
	}{{b.repeats, Repeated, "rows repeat a time"}, {b.late, Backward, "rows came too late and were left out"}} {
		if c.n > 1 {
			b.log.Notes = append(b.log.Notes, Note{Place: harness.Place{File: b.log.Name}, Kind: c.kind, Text: fmt.Sprintf("%d %s in all", c.n, c.text)})
		}
	}
	if b.notes > mostNotes {
		b.log.Notes = append(b.log.Notes, Note{Place: harness.Place{File: b.log.Name}, Kind: Damage, Text: fmt.Sprintf("and %d more notes", b.notes-mostNotes)})
	}
	for p := range b.log.Streams {
		if s := &b.log.Streams[p]; s.Len() == 0 {
			s.Data = nil
		}
	}
	slices.SortStableFunc(b.log.Outputs, func(x, y Output) int { return int(x.At - y.At) })
	return b.log
}
