package receiver

import (
	"context"
	"strings"
	"testing"
	"testing/synctest"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/sim"
	"drystage/sim/nmea"
)

const ms = sim.Millisecond

// frame is what a board is given at an instant: a fix every 100 ms.
func frame(at sim.Time) sim.Frame {
	f := sim.Frame{Now: at, Powered: true, GNSS: sim.Fix{Latitude: 0.8, Longitude: 0.1, Height: 500 + at.Seconds(), Kind: sim.Fix3D, Satellites: 9}}
	if at%(100*ms) == 0 {
		f.Has = sim.HasGNSS
	}
	return f
}

func TestWhatAReceiverSays(t *testing.T) {
	for _, c := range []struct {
		reason string
		spec   harness.NMEA
		spoil  func(f *sim.Frame)
		sets   int // in a second
		first  string
	}{
		{"each fix", harness.NMEA{Rate: 10}, nil, 10, "$GPGGA,120000.00,"},
		{"no rate: each fix", harness.NMEA{}, nil, 10, "$GPGGA,120000.00,"},
		{"every other", harness.NMEA{Rate: 5, Talker: "GN"}, nil, 5, "$GNGGA,120000.00,"},
		{"a rate that the receiver's is no multiple of", harness.NMEA{Rate: 3}, nil, 3, "$GPGGA,"},
		{"once a second, one sentence, a day of its own", harness.NMEA{Rate: 1, Sentences: []string{"RMC"}, Start: "2027-02-28T23:59:59.5Z"}, nil, 1, "$GPRMC,235959.50,A,"},
		{"a board without power has a silent receiver", harness.NMEA{Rate: 10}, func(f *sim.Frame) { f.Powered = f.Now >= 500*ms }, 5, "$GPGGA,120000.50,"},
		{"a fix that a fault took away", harness.NMEA{Rate: 10}, func(f *sim.Frame) {
			if f.Now < 200*ms {
				f.Has = 0
			}
		}, 8, "$GPGGA,120000.20,"},
		{"no fix", harness.NMEA{Rate: 10}, func(f *sim.Frame) { f.GNSS.Kind = sim.NoFix }, 10, "$GPGGA,120000.00,,,,,0,"},
	} {
		v, sets, first := newSentences(&c.spec), 0, ""
		for at := sim.Time(0); at < sim.Second; at += 5 * ms {
			f := frame(at)
			if c.spoil != nil {
				c.spoil(&f)
			}
			if text := string(v.append(nil, &f)); text != "" {
				sets++
				if first == "" {
					first = text
				}
				want := 4
				if n := len(c.spec.Sentences); n > 0 {
					want = n
				}
				require.Equal(t, want, strings.Count(text, "\r\n"), c.reason)
			}
		}
		assert.Equal(t, c.sets, sets, c.reason)
		assert.True(t, strings.HasPrefix(first, c.first), "%s: %s", c.reason, first)
	}
	f := frame(0)
	f.Twice = sim.HasGNSS
	v := newSentences(&harness.NMEA{})
	text := string(v.append(nil, &f))
	assert.Equal(t, text[:len(text)/2], text[len(text)/2:], "what is sent twice is said twice")
	assert.Len(t, harness.Sentences(), len([]nmea.Sentences{nmea.GGA, nmea.RMC, nmea.GSA, nmea.VTG}))
}

// mute is a board that does nothing.
type mute struct{ seen int }

func (m *mute) Finish(context.Context, *harness.Reply) error               { return nil }
func (m *mute) Exchange(context.Context, *sim.Frame, *harness.Reply) error { m.seen++; return nil }
func (m *mute) Health() harness.Health                                     { return harness.Health{Name: "mute"} }
func (m *mute) Close() error                                               { return nil }

// What is said is in the reply and on the line, byte for byte; and what is lost is marked.
func TestSpeaker(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		s, m := newSink(1000), &mute{}
		p := New(s, "unix:x")
		defer p.Close()
		b := Wrap(m, 1, &harness.NMEA{Port: "unix:x", Rate: 10}, p, true)
		var r harness.Reply
		for at := sim.Time(0); at < sim.Second; at += 5 * ms {
			f := frame(at)
			require.NoError(t, b.Exchange(t.Context(), &f, &r))
		}
		assert.Equal(t, 200, m.seen, "the board is given every frame")
		require.Len(t, r.NMEA, 10)
		said := ""
		for i, x := range r.NMEA {
			said += x.Text
			assert.Equal(t, [2]any{1, sim.Time(i) * 100 * ms}, [2]any{x.Bay, x.At})
			assert.False(t, x.Lost)
		}
		assert.Equal(t, said, s.text())
		h := b.Health()
		assert.Equal(t, "mute", h.Name)
		assert.Equal(t, harness.PortHealth{Address: "unix:x", Sent: 10}, h.Port)
	})
	synctest.Test(t, func(t *testing.T) {
		p := New(newSink(0), "unix:x")
		defer p.Close()
		b := Wrap(new(mute), 0, &harness.NMEA{Port: "unix:x", Rate: 10}, p, false)
		var r harness.Reply
		for at := sim.Time(0); at < 10*sim.Second; at += 100 * ms {
			f := frame(at)
			require.NoError(t, b.Exchange(t.Context(), &f, &r))
		}
		assert.Len(t, r.NMEA, 100)
		assert.True(t, r.NMEA[99].Lost, "there was no room for it")
		assert.False(t, r.NMEA[0].Lost)
		assert.Equal(t, 100, b.Health().Port.Lost)
	})
}

func TestText(t *testing.T) {
	rec := harness.Record{Plan: harness.Plan{Boards: make([]harness.Board, 1), Setup: sim.Setup{Bays: make([]sim.Bay, 1)}}}
	for at := sim.Time(0); at < sim.Second; at += 50 * ms {
		rec.Times, rec.Frames = append(rec.Times, at), append(rec.Frames, frame(at))
	}
	text, sets := Text(&rec, 0)
	assert.Equal(t, 10, sets, "without a port: of each fix")
	assert.Equal(t, 40, strings.Count(string(text), "*"))
	rec.Plan.Boards[0].NMEA = harness.NMEA{Port: "unix:x"}
	rec.NMEA = []harness.NMEASet{{Text: "one"}, {Text: "two", Lost: true}, {Bay: 1, Text: "other"}, {Text: "three"}}
	text, sets = Text(&rec, 0)
	assert.Equal(t, "onethree", string(text), "with one: what it was given and took")
	assert.Equal(t, 2, sets)
}
