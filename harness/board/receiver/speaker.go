package receiver

import (
	"cmp"
	"context"
	"math"
	"slices"
	"time"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/sim"
	"drystage/sim/nmea"
)

// speaker is a board whose receiver speaks on a port as well.
type speaker struct {
	board.Board
	bay      int
	voice    voice
	port     *Port
	lockstep bool
}

// Wrap lets the receiver of a board, the bay of that index in its plan, speak on a port: before each
// exchange in which a fix falls, so that both leave at the same instant. In lockstep the sentences are
// out before the board is asked. The port is not the board's: closing one leaves the other open.
func Wrap(b board.Board, bay int, spec *harness.NMEA, p *Port, lockstep bool) board.Board {
	p.begin()
	return &speaker{Board: b, bay: bay, voice: newVoice(spec), port: p, lockstep: lockstep}
}

// Exchange speaks, then does what the board does.
func (s *speaker) Exchange(ctx context.Context, f *sim.Frame, r *harness.Reply) error {
	text := s.voice.say(nil, f)
	if len(text) > 0 {
		left := s.port.say(text, f.Now, s.lockstep)
		r.NMEA = append(r.NMEA, harness.NMEASet{Bay: s.bay, At: f.Now, Text: string(text), Lost: !left})
	}
	return s.Board.Exchange(ctx, f, r)
}

// Health is the board's with the port's.
func (s *speaker) Health() harness.Health {
	h := s.Board.Health()
	h.Port = s.port.Health()
	return h
}

// voice makes sentences of frames at its rate.
type voice struct {
	encoder nmea.Encoder
	which   nmea.Sentences
	rate    float64
	last    int64 // the number of the last set, counted from time 0 at the rate
}

func newVoice(spec *harness.NMEA) voice {
	v := voice{encoder: nmea.Encoder{Talker: spec.Talker}, rate: spec.Rate, last: -1}
	for i, word := range harness.Sentences() {
		if len(spec.Sentences) == 0 || slices.Contains(spec.Sentences, word) {
			v.which |= 1 << i
		}
	}
	if t, err := time.Parse(time.RFC3339, cmp.Or(spec.Start, harness.DefaultStart)); err == nil {
		t = t.UTC()
		v.encoder.Start = nmea.Moment{Year: t.Year(), Month: int(t.Month()), Day: t.Day(), Hour: t.Hour(), Minute: t.Minute(), Second: t.Second(), Nanosecond: t.Nanosecond()}
	}
	return v
}

// say adds the sentences of a frame with a fresh fix, if their time has come; twice for a fix that is sent
// twice.
func (v *voice) say(dst []byte, f *sim.Frame) []byte {
	if !f.Powered || f.Has&sim.HasGNSS == 0 {
		return dst
	}
	if v.rate > 0 {
		n := int64(math.Floor(float64(f.Now.Seconds()*v.rate) + 1e-6))
		if n <= v.last {
			return dst
		}
		v.last = n
	}
	dst = v.encoder.Append(dst, f.Now, &f.GNSS, v.which)
	if f.Twice&sim.HasGNSS != 0 {
		dst = v.encoder.Append(dst, f.Now, &f.GNSS, v.which)
	}
	return dst
}

// Text gives the sentences of a board's receiver in a record: those that its port was given and took, or,
// of a board without a port, those of each fix that it was sent.
func Text(rec *harness.Record, bay int) (text []byte, sets int) {
	var spec harness.NMEA
	if bay < len(rec.Plan.Boards) {
		spec = rec.Plan.Boards[bay].NMEA
	}
	if spec.Port != "" {
		for i := range rec.NMEA {
			if s := &rec.NMEA[i]; s.Bay == bay && !s.Lost {
				text = append(text, s.Text...)
				sets++
			}
		}
		return text, sets
	}
	v := newVoice(&spec)
	for tick := range rec.Times {
		before := len(text)
		if text = v.say(text, rec.Frame(tick, bay)); len(text) > before {
			sets++
		}
	}
	return text, sets
}
