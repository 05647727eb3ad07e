package board_test

import (
	"testing"
	"testing/synctest"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/sim"
)

// What a board says of being armed is compared with the operator's commands: a letter for each frame.
var consents = []struct {
	reason string
	does   string // a arm, d disarm, b both, r without power
	says   string // 1: DONE says armed
	want   int    // answers that nothing explains
	first  int    // the frame of the first of them
}{
	{"armed by the command", ".a...", ".1111", 0, 0},
	{"armed once it has tested itself", ".a......", "....1111", 0, 0},
	{"it refuses", ".a...", ".....", 0, 0},
	{"armed from the start", "....", "1111", 4, 0},
	{"armed before the command", "...a.", ".1111", 2, 1},
	{"disarmed by the command", ".a.d..", ".11...", 0, 0},
	{"it stays armed", ".a.d..", ".11111", 3, 3},
	{"it arms itself after it was disarmed", ".a.d...", ".11..1.", 1, 5},
	{"armed, disarmed, and armed again", ".a.d.a.", ".11..11", 0, 0},
	{"disarming comes after arming at one instant", ".b..", ".1..", 1, 1},
	{"armed over a restart, as its memory of a flight has it", ".a.rr....", ".11..1111", 0, 0},
	{"unarmed by a restart, and armed again", ".a.rr....a.", ".11......11", 0, 0},
	{"unarmed by a restart, and armed by itself", ".a.rr.....", ".11....111", 3, 7},
	{"armed by a restart", "..rr....", ".....111", 3, 5},
	{"it falls out of being armed, and back", ".a.....", ".11..11", 2, 5},
	{"and is armed again", ".a....a.", ".11...11", 0, 0},
	{"armed twice is armed", ".a.a..", ".11111", 0, 0},
}

// script is a board whose DONE says what the test wants.
type script struct {
	*talker
	says string
	at   int
}

func newScript(says string) *script {
	s := &script{says: says}
	s.talker = newTalker(func(g *talker, f contract.Frame) bool {
		switch f.Code {
		case contract.CodeHello:
			var m contract.Hello
			_ = m.Decode(f.Payload)
			g.up, g.base, g.start = true, m.Time, time.Now()
			g.out = g.enc.Welcome(g.out, &contract.Welcome{Version: contract.Version, Channels: 2, Nonce: m.Nonce, Boots: g.boots,
				Capabilities: contract.CanLockstep | contract.CanRealTime | contract.CanRestart | contract.CanSettings | contract.CanCommands})
			return true
		case contract.CodeTick:
			g.armed = s.at >= 0 && s.says[s.at] == '1'
		case contract.CodeCommand:
			return true
		}
		return false
	})
	return s
}

// plays gives a board the frames of a script, the first of them at frame from; a frame lasts 100 ms.
func plays(t *testing.T, b board.Board, does string, from int, before func(k int)) {
	for k := range does {
		before(k)
		f := boardtest.Frame(from + k)
		f.Now, f.Powered = sim.Time(from+k)*100*sim.Millisecond, does[k] != 'r'
		f.Commands = map[byte]sim.Commands{'a': sim.CommandArm, 'd': sim.CommandDisarm, 'b': sim.CommandArm | sim.CommandDisarm}[does[k]]
		require.NoError(t, b.Exchange(t.Context(), f, new(harness.Reply)))
	}
}

func TestABoardIsArmedByCommandsOnly(t *testing.T) {
	for _, c := range consents {
		s := newScript(c.says)
		b := client(link.Memory(s))
		plays(t, b, c.does, 0, func(k int) { s.at = k })
		assert.Equal(t, c.want, b.Health().SelfArmed, c.reason)
		assert.Equal(t, sim.Time(c.first)*100*sim.Millisecond, b.Health().SelfArmedAt, c.reason)
	}
}

func TestABoardInRealTimeIsArmedByCommandsOnly(t *testing.T) {
	const shaken = 5 // frames for the handshake
	for _, c := range consents {
		synctest.Test(t, func(t *testing.T) {
			s := newScript(c.says)
			f := timed(link.Memory(s), board.Options{})
			wait := func(k int) { time.Sleep(time.Duration(k)*100*time.Millisecond - time.Since(f.start)) }
			plays(t, f.b, ".....", 0, func(k int) { wait(k); s.at = -1 })
			plays(t, f.b, c.does, shaken, func(k int) { wait(shaken + k); s.at = k })
			h := f.b.Health()
			assert.Equal(t, c.want, h.SelfArmed, c.reason)
			if c.want > 0 {
				assert.Equal(t, sim.Time(shaken+c.first)*100*sim.Millisecond, h.SelfArmedAt, c.reason)
			}
			require.NoError(t, f.b.Close())
		})
	}
}

// On a slow line a DONE is under way when a command is sent; an honest board is never doubted for it.
func TestAnAnswerUnderWayIsHeldAgainstWhatItAnswers(t *testing.T) {
	synctest.Test(t, func(t *testing.T) {
		f := timed(newWire(boardtest.NewFake(boardtest.None), 180*time.Millisecond), board.Options{Timeout: 5 * time.Second})
		does := "..........a....d..a.....d....ada......"
		plays(t, f.b, does, 0, func(k int) { time.Sleep(time.Duration(k)*100*time.Millisecond - time.Since(f.start)) })
		assert.Zero(t, f.b.Health().SelfArmed)
		assert.Greater(t, f.b.Health().RoundTrips, 20)
		require.NoError(t, f.b.Close())
	})
}
