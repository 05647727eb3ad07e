package loop_test

import (
	"os"
	"strings"
	"sync"
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
	"drystage/harness/board/receiver"
	"drystage/harness/judge/verdict"
	"drystage/harness/run/loop"
	"drystage/sim"
	"drystage/sim/world"
)

// tap is a link that keeps what was written to the board, and when.
type tap struct {
	link.Link
	now func() sim.Time
	at  []sim.Time
	out [][]byte
}

func (p *tap) Write(b []byte) (int, error) {
	p.at, p.out = append(p.at, p.now()), append(p.out, append([]byte(nil), b...))
	return p.Link.Write(b)
}

// Instant is that of the link.
func (p *tap) Instant() bool { return link.Instant(p.Link) }

// arrived is one sample as the board got it.
type arrived struct{ taken, came sim.Time }

// samples decodes the acceleration samples that got through whole, as a board does.
func (p *tap) samples(t *testing.T) (list []arrived, counts contract.Counts) {
	d := contract.NewDecoder(contract.FromHost)
	for i, in := range p.out {
		for {
			f, rest, ok := d.Next(in)
			if !ok {
				break
			}
			if in = rest; f.Code == contract.CodeIMU {
				var m contract.IMU
				require.NoError(t, m.Decode(f.Payload))
				list = append(list, arrived{contract.FromMicros(m.Time), p.at[i]})
			}
		}
	}
	return list, d.Counts
}

// TestLineFaultsInRealTime flies each fault of the line against the boards' own clocks: it does to the
// bytes what it says, the record knows of it, and the verdict is that of lockstep.
func TestLineFaultsInRealTime(t *testing.T) {
	for _, c := range []struct {
		scenario string
		kind     sim.FaultKind
		from, to string // events between which it lasts
		long     sim.Time
		bad      bool // frames come corrupt
		lost     bool // frames are missing
	}{
		{"link-bits-flipped.yaml", sim.BitsFlipped, "liftoff", "", 12 * sim.Second, true, true},
		{"link-bytes-lost.yaml", sim.BytesLost, "sustainer.ignition", "", 1200 * sim.Millisecond, true, true},
		{"link-frames-cut.yaml", sim.FramesCut, "sustainer.ignition", "", 1200 * sim.Millisecond, true, true},
		{"link-stalled.yaml", sim.LinkStalled, "sustainer.ignition", "", 1500 * sim.Millisecond, false, false},
	} {
		t.Run(c.kind.String(), func(t *testing.T) {
			if raceOn && c.kind != sim.FramesCut {
				t.Skip("make suite flies the others")
			}
			p := shipped(t, c.scenario)
			lock := flown(t, p, "", nil, nil)
			synctest.Test(t, func(t *testing.T) {
				pacer := loop.NewSoftTime(loop.DefaultLimit)
				line := new(tap)
				rec := timed(t, p, pacer, func(i int, l link.Link) link.Link {
					if i > 0 {
						return l
					}
					*line = tap{Link: l, now: pacer.Now}
					return line
				}, nil)
				require.True(t, rec.Complete(), rec.Cause)
				require.Positive(t, rec.FaultTicks(0), "it came")
				from, ok := sim.Anchor{Event: c.from}.In(rec.Events)
				require.True(t, ok)
				got, counts := line.samples(t)
				h := rec.Health[0]
				assert.Equal(t, c.bad, h.SpoiltBad > 0, "corrupt by the fault")
				assert.Equal(t, c.lost, h.SpoiltLost > 0, "missing by the fault")
				assert.Equal(t, [2]int{h.SpoiltBad, h.SpoiltLost}, [2]int{counts.Bad(), counts.Lost}, "as the bytes on the line say")
				assert.Equal(t, [2]int{h.SpoiltBad, h.SpoiltLost}, [2]int{h.BoardBad, h.BoardLost}, "and the board")
				assert.True(t, rec.Health[1].Faultless() && rec.Health[1].SpoiltBad+rec.Health[1].SpoiltLost == 0, "the other board's line is sound")
				late, during := 0, 0
				for _, s := range got {
					if s.taken >= from && s.taken < from+c.long {
						during++
					}
					if s.came > s.taken+20*sim.Millisecond {
						late++
						require.InDelta(t, float64(from+c.long), float64(s.came), float64(10*sim.Millisecond), "what waited comes when the line goes on")
					}
				}
				all := int(c.long / (5 * sim.Millisecond))
				if c.kind == sim.LinkStalled {
					assert.InDelta(t, all, during, 2, "nothing is lost")
					assert.InDelta(t, all, late, 5, "but late, all at once")
				} else {
					assert.Less(t, during, all*99/100, "some samples don't get through")
					assert.Greater(t, during, all/10, "and some do")
					assert.Zero(t, late)
				}
				want, v := verdict.Judge(lock), verdict.Judge(rec)
				assert.Equal(t, want.Answer, v.Answer)
				for i, f := range want.Findings {
					assert.Equal(t, f.Answer, v.Findings[i].Answer, "%s: %s", f.Text, v.Findings[i].Reason)
				}
			})
		})
	}
}

// timed flies a plan in real time on the honest board, with what is done to links and boards.
func timed(t *testing.T, p harness.Plan, pacer *loop.RealTime, wire func(int, link.Link) link.Link, wrap func(int, board.Board) board.Board) *harness.Record {
	var boards []board.Board
	for i, b := range p.Boards {
		g, err := mock.New("")
		require.NoError(t, err)
		l := link.Memory(g)
		if wire != nil {
			l = wire(i, l)
		}
		x := board.Board(board.NewRealTime(l, b, &p.Setup.Bays[i], board.Options{}, pacer.Now))
		if wrap != nil {
			x = wrap(i, x)
		}
		boards = append(boards, x)
	}
	rec := &harness.Record{Plan: p}
	require.NoError(t, loop.Run(t.Context(), world.New(&p.Setup), boards, pacer, rec))
	for _, b := range boards {
		require.NoError(t, b.Close())
	}
	return rec
}

// ear is a link that keeps what it is given, and when; it hears nothing more after deaf.
type ear struct {
	now    func() sim.Time
	deaf   sim.Time
	closed chan struct{}

	mu  sync.Mutex
	at  []sim.Time
	got []string
}

func (e *ear) Write(b []byte) (int, error) {
	if e.now() >= e.deaf {
		<-e.closed
		return 0, os.ErrClosed
	}
	e.mu.Lock()
	defer e.mu.Unlock()
	e.at, e.got = append(e.at, e.now()), append(e.got, string(b))
	return len(b), nil
}

func (e *ear) Read([]byte) (int, error)        { <-e.closed; return 0, os.ErrClosed }
func (e *ear) Close() error                    { close(e.closed); return nil }
func (e *ear) SetReadDeadline(time.Time) error { return nil }

// TestAReceiverSpeaksInRealTime: each set of sentences leaves when its fix is due; a port that is no longer
// read makes no frame late, and the run unsure.
func TestAReceiverSpeaksInRealTime(t *testing.T) {
	for _, c := range []struct {
		reason string
		deaf   sim.Time
		want   harness.Answer
	}{{"read to the end", sim.Never, harness.Pass}, {"no longer read", 20 * sim.Second, harness.Unsure}} {
		synctest.Test(t, func(t *testing.T) {
			p := shipped(t, "stays-on-rail.yaml")
			p.Boards[0].NMEA = harness.NMEA{Port: "unix:x", Rate: 5}
			pacer := loop.NewSoftTime(loop.DefaultLimit)
			e := &ear{now: pacer.Now, deaf: c.deaf, closed: make(chan struct{})}
			port := receiver.New(e, "unix:x")
			rec := timed(t, p, pacer, nil, func(i int, b board.Board) board.Board {
				if i > 0 {
					return b
				}
				return receiver.Wrap(b, 0, &p.Boards[0].NMEA, port, false)
			})
			require.NoError(t, port.Close())
			require.True(t, rec.Complete(), rec.Cause)
			require.Greater(t, len(rec.NMEA), 100)
			for i, text := range e.got {
				s := rec.NMEA[i]
				require.Equal(t, s.Text, text)
				require.Equal(t, s.At, e.at[i], "%s: at the instant of its fix", c.reason)
				require.LessOrEqual(t, s.At, min(c.deaf, rec.Times[len(rec.Times)-1]))
			}
			for _, late := range rec.Late {
				require.Zero(t, late, c.reason)
			}
			v := verdict.Judge(rec)
			assert.Equal(t, c.want, v.Answer, c.reason)
			h := rec.Health[0].Port
			assert.Equal(t, len(rec.NMEA), h.Sent+h.Lost)
			assert.Equal(t, len(e.got), h.Sent)
			if c.want == harness.Unsure {
				last := v.Findings[len(v.Findings)-1]
				assert.True(t, strings.HasPrefix(last.Text, "sustainer: its receiver's port unix:x"), last.Text)
			}
		})
	}
}
