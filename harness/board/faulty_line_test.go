package board_test

import (
	"context"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/sim"
)

// tally is a board that only counts, by the contract's own decoder, and keeps the times of its barometer.
type tally struct {
	dec   *contract.Decoder
	enc   contract.Encoder
	times []uint32
	can   uint16 // besides lockstep
}

func (y *tally) Feed(in, out []byte) []byte {
	for {
		f, rest, ok := y.dec.Next(in)
		if !ok {
			return out
		}
		in = rest
		switch f.Code {
		case contract.CodeHello:
			var m contract.Hello
			_ = m.Decode(f.Payload)
			out = y.enc.Welcome(out, &contract.Welcome{Version: contract.Version, Capabilities: contract.CanLockstep | y.can, Channels: 4, Nonce: m.Nonce, Boots: 1})
		case contract.CodeBaro:
			var m contract.Baro
			_ = m.Decode(f.Payload)
			y.times = append(y.times, m.Time)
		case contract.CodeTick:
			var m contract.Tick
			_ = m.Decode(f.Payload)
			out = y.enc.Done(out, &contract.Done{Time: m.Time, Bad: uint16(y.dec.Counts.Bad()), Lost: uint16(y.dec.Counts.Lost)})
		}
	}
}

// flyLine gives what the board received in instants of 5 ms over a line, and its health.
func flyLine(t require.TestingT, instants int, line func(k int) sim.Line) (*tally, harness.Health) {
	y := &tally{dec: contract.NewDecoder(contract.FromHost)}
	bay := sim.Bay{Sensors: sim.Sensors{Baro: sim.Barometer{Rate: 200}}}
	c := board.NewClient(link.Memory(y), harness.Board{Role: "sustainer"}, &bay, board.Options{})
	var reply harness.Reply
	for k := range instants {
		f := sim.Frame{Now: sim.Time(k) * 5 * sim.Millisecond, Due: true, Powered: true, Has: sim.HasAccel | sim.HasGyro | sim.HasBaro | sim.HasGNSS, Line: line(k)}
		f.Accel.X, f.Pressure, f.GNSS.Kind = 9.8+float64(k), 96000-float64(k), sim.Fix3D
		reply.Reset()
		require.NoError(t, c.Exchange(context.Background(), &f, &reply))
	}
	return y, c.Health()
}

// Whatever the line does to samples, every TICK arrives, and the client knows what a correct board has counted: such
// a run is without fault.
func TestTheClientKnowsWhatTheLineTook(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		share := rapid.Float32Range(0, 0.2)
		l := sim.Line{Flip: share.Draw(t, "flip"), Lose: share.Draw(t, "lose"), Cut: share.Draw(t, "cut")}
		seed := rapid.Uint64().Draw(t, "seed")
		y, h := flyLine(t, 60, func(k int) sim.Line {
			if k < 20 || k >= 40 {
				return sim.Line{}
			}
			m := l
			m.Random = seed + uint64(k)
			return m
		})
		require.Equal(t, 60, h.RoundTrips)
		require.Equal(t, y.dec.Counts.Bad(), h.SpoiltBad)
		require.Equal(t, y.dec.Counts.Lost, h.SpoiltLost)
		require.True(t, h.Faultless())
		require.Subset(t, times(0, 20), y.times[:min(20, len(y.times))], "before it, all got through")
	})
}

func times(from, to int) (list []uint32) {
	for k := from; k < to; k++ {
		list = append(list, uint32(k)*5000)
	}
	return list
}

func TestEachFaultOfTheLine(t *testing.T) {
	during := func(l sim.Line) func(k int) sim.Line {
		return func(k int) sim.Line {
			if k < 100 || k >= 200 {
				return sim.Line{}
			}
			m := l
			m.Random = uint64(k)
			return m
		}
	}
	for _, c := range []struct {
		reason    string
		line      sim.Line
		got       int // barometer samples of 300, within 3.3 standard deviations of the binomial law
		bad, lost bool
	}{
		{"a sound line", sim.Line{}, 300, false, false},
		{"half of the frames cut", sim.Line{Cut: 0.5}, 225, true, true}, // 25 % more: a frame without its end draws in the next
		{"1 % of bytes lost, of frames of 19 bytes", sim.Line{Lose: 0.01}, 282, true, true},
		{"1 % of bytes flipped", sim.Line{Flip: 0.01}, 282, true, true},
	} {
		y, h := flyLine(t, 300, during(c.line))
		assert.InDelta(t, c.got, len(y.times), 30, c.reason)
		assert.Equal(t, c.bad, h.BoardBad > 0, c.reason)
		assert.Equal(t, c.lost, h.BoardLost > 0, c.reason)
		assert.True(t, h.Faultless(), c.reason)
	}
	y, h := flyLine(t, 300, during(sim.Line{Stall: true}))
	assert.Equal(t, times(0, 300), y.times, "a stalled line loses nothing, and keeps the order")
	assert.Equal(t, harness.Health{Boots: 1, RoundTrips: 300}, h)
	_, again := flyLine(t, 300, during(sim.Line{Flip: 0.01}))
	_, twice := flyLine(t, 300, during(sim.Line{Flip: 0.01}))
	assert.Equal(t, again, twice, "the same chance hits the same bytes")
}
