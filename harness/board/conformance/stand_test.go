package conformance

import (
	"bytes"
	"context"
	"errors"
	"slices"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/harness/board/mock"
)

// standing is a mock on a rig: pins see its outputs 1 to 3, and its supply can be switched.
type standing struct {
	board     *mock.Board
	enc       contract.Encoder
	askable   bool // it offers RESTART
	cutless   bool
	wrong     func(now uint16) uint16 // what the pins make of the outputs
	deadDrive bool                    // the drive switches somebody else's supply
	cutErr    error

	now, lit uint16
	loop     []bool
	cuts     int
	pulsed   uint16
}

func (b *standing) Feed(in, out []byte) []byte {
	for line := range bytes.SplitAfterSeq(b.board.Feed(in, nil), []byte{0}) {
		if len(line) == 0 {
			continue
		}
		raw, _ := unstuff(line[:len(line)-1])
		if raw[0] == uint8(contract.CodeWelcome) && !b.askable {
			raw[3] &^= uint8(contract.CanRestart)
			check := little(castagnoli(raw[:len(raw)-4]))
			line = stuff(append(raw[:len(raw)-4], check[:]...))
		}
		out = append(out, line...)
	}
	return out
}

func (b *standing) Loaded() uint16  { return 0b0111 }
func (b *standing) Watched() uint16 { return 0b0111 }

func (b *standing) Told(c uint8, on bool) {
	bit := uint16(1) << (c - 1)
	if b.now &^= bit; on {
		b.now |= bit
		b.lit |= bit
		b.pulsed |= bit
	}
}

func (b *standing) Shows(context.Context, uint16, uint16) (now, lit uint16) {
	now, lit = b.now&0b0111, b.lit&0b0111
	if b.lit = 0; b.wrong != nil {
		now = b.wrong(now)
		lit |= now
	}
	return now, lit
}

func (b *standing) Arming(on bool) error {
	if n := len(b.loop); n == 0 || b.loop[n-1] != on {
		b.loop = append(b.loop, on)
	}
	return nil
}

func (b *standing) CanCut() bool { return !b.cutless }

func (b *standing) Cut(context.Context) error {
	if b.cuts++; !b.deadDrive && b.cutErr == nil {
		b.board.Feed(b.enc.Restart([]byte{0}, &contract.Restart{}), nil)
		b.now = 0
	}
	return b.cutErr
}

func stand(t *testing.T, change func(*standing)) *standing {
	g, err := mock.New("")
	require.NoError(t, err)
	b := &standing{board: g}
	if change != nil {
		change(b)
	}
	return b
}

const (
	forReal  = "after a cut of its supply by the rig the board is dark, silent, and has started once more"
	pinsShow = "the pins show the outputs that the board tells"
)

func TestOnARig(t *testing.T) {
	for _, c := range []struct {
		reason string
		change func(*standing)
		want   harness.Answer
		fails  []string
		says   string
	}{
		{"a board that can't RESTART has its supply cut", nil, harness.Pass, nil, ""},
		{"one that can is asked, and cut for real as well", func(b *standing) { b.askable = true }, harness.Pass, nil, ""},
		{"without a switch it is not claimed", func(b *standing) { b.cutless = true }, harness.Unsure, nil, "does not offer RESTART"},
		{"the drive switches nothing", func(b *standing) { b.askable, b.deadDrive = true, true }, harness.Fail, []string{forReal}, "does the drive really switch this board's supply"},
		{"a stuck switch ends it", func(b *standing) { b.cutErr = errors.New("pin P5 is stuck") }, harness.Unsure, nil, "pin P5 is stuck"},
		{"a pin that never moves", func(b *standing) { b.wrong = func(uint16) uint16 { return 0 } }, harness.Fail, []string{pinsShow}, "the board tells outputs 0000000000000010, and the pins show 0000000000000000"},
		{"a pin that is on when nobody says so", func(b *standing) { b.wrong = func(n uint16) uint16 { return n | 0b0100 } }, harness.Fail, []string{pinsShow}, "and the pins show 0000000000000100"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			b := stand(t, c.change)
			r := Run(t.Context(), link.Memory(b), Options{Settings: mockSets, Stand: b})
			assert.Equal(t, c.want, r.Answer(), "%s", text(&r))
			assert.Equal(t, c.fails, named(&r, Fail))
			said := ""
			for _, p := range r.Points {
				said += p.Came + "; " + p.Why + "\n"
			}
			assert.Contains(t, said, c.says)
			require.NotEmpty(t, b.loop)
			assert.False(t, b.loop[len(b.loop)-1], "the arming loop is open at the end")
			assert.Zero(t, b.pulsed&^0b0111, "an output whose load nobody declares is left alone")
			if c.want == harness.Pass {
				assert.Contains(t, b.loop, true, "and was closed for arming")
				assert.Positive(t, b.cuts)
				assert.True(t, slices.ContainsFunc(r.Points, func(p Point) bool { return p.Name == forReal && p.Outcome == Pass }))
			}
		})
	}
	b := stand(t, nil)
	r := Run(t.Context(), link.Memory(b), Options{Settings: mockSets, Stand: b})
	for _, p := range r.Points {
		assert.NotContains(t, p.Sent, "RESTART", "%s: what was done is said", p.Name)
	}
}
