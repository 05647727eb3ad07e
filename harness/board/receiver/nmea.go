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

// nmeaBoard is a board whose receiver also sends on a port.
type nmeaBoard struct {
	board.Board
	bay       int
	sentences sentences
	port      *Port
	lockstep  bool
}

// Wrap lets a board's GNSS receiver send NMEA 0183 on a port; bay is the board's bay in the plan. The sentences of a
// fix are sent before the exchange with that fix. In lockstep they are out before the board is asked. Closing the
// board leaves the port open.
func Wrap(b board.Board, bay int, spec *harness.NMEA, p *Port, lockstep bool) board.Board {
	p.begin()
	return &nmeaBoard{Board: b, bay: bay, sentences: newSentences(spec), port: p, lockstep: lockstep}
}

// Exchange sends the sentences, then makes the board's exchange.
func (s *nmeaBoard) Exchange(ctx context.Context, f *sim.Frame, r *harness.Reply) error {
	text := s.sentences.append(nil, f)
	if len(text) > 0 {
		queued := s.port.send(text, f.Now, s.lockstep)
		r.NMEA = append(r.NMEA, harness.NMEASet{Bay: s.bay, At: f.Now, Text: string(text), Lost: !queued})
	}
	return s.Board.Exchange(ctx, f, r)
}

// Health is the board's health with the port's.
func (s *nmeaBoard) Health() harness.Health {
	h := s.Board.Health()
	h.Port = s.port.Health()
	return h
}

// sentences makes NMEA sentences of frames at their rate.
type sentences struct {
	encoder nmea.Encoder
	which   nmea.Sentences
	rate    float64
	last    int64 // number of the last set, from time 0 on
}

func newSentences(spec *harness.NMEA) sentences {
	v := sentences{encoder: nmea.Encoder{Talker: spec.Talker, Geoid: spec.Geoid}, rate: spec.Rate, last: -1}
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

// append appends the sentences of a new fix, if they are due; twice if the fix is sent twice.
func (v *sentences) append(dst []byte, f *sim.Frame) []byte {
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

// Text gives the NMEA sentences of a board in a record: those that its port took or, without a port, those of each
// fix sent to the board.
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
	v := newSentences(&spec)
	for tick := range rec.Times {
		before := len(text)
		if text = v.append(text, rec.Frame(tick, bay)); len(text) > before {
			sets++
		}
	}
	return text, sets
}
