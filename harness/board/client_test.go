package board_test

import (
	"fmt"
	"math"
	"testing"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/boardtest"
	"drystage/harness/board/contract"
	"drystage/harness/board/link"
	"drystage/harness/board/link/linktest"
	"drystage/sim"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

var seat = harness.Board{Role: "sustainer", Lockstep: true, Settings: []harness.Setting{{Name: boardtest.SettingName, Value: 0.05}}}

func client(l link.Link) *board.Client {
	return board.NewClient(l, seat, boardtest.Bay(), board.Options{})
}

func memory(flaw boardtest.Flaw) link.Link { return link.Memory(boardtest.NewFake(flaw)) }

func TestHonestBoardKeepsTheLaws(t *testing.T) {
	require.NoError(t, boardtest.Check(client(memory(boardtest.None))))
	require.NoError(t, boardtest.Check(client(linktest.OneByte(memory(boardtest.None)))), "byte by byte")
}

// bare gives edges without the basis of their times.
func bare(es []harness.Edge) (outs []sim.Output) {
	for _, e := range es {
		outs = append(outs, e.Output)
	}
	return outs
}

func TestHonestSession(t *testing.T) {
	c := client(memory(boardtest.None))
	all, err := boardtest.Fly(t.Context(), c)
	require.NoError(t, err)
	assert.Equal(t, []sim.Output{
		{Channel: 1, On: true, At: 200 * sim.Millisecond},
		{Channel: 1, On: false, At: 220 * sim.Millisecond}, // its supply fails
	}, bare(all.Outputs))
	assert.Equal(t, board.EdgeUncertainty(&boardtest.Bay().Sensors), all.Outputs[0].Within)
	assert.Len(t, all.Reports, 36)
	assert.Equal(t, "standing", all.Reports[7].PhaseText())
	assert.Equal(t, 70*sim.Millisecond, all.Reports[7].At)
	assert.Equal(t, 0.07, all.Reports[7].Height)
	assert.Equal(t, harness.Health{Name: "boardtest", Boots: 2, RoundTrips: 36, Reports: 36}, c.Health())
}

// Every board with a fatal flaw ends the run with its own error, and the error stays.
func TestFatalFlaws(t *testing.T) {
	for flaw, want := range boardtest.Fatal() {
		t.Run(fmt.Sprint(flaw), func(t *testing.T) {
			c := client(memory(flaw))
			_, err := boardtest.Fly(t.Context(), c)
			require.ErrorIs(t, err, want)
			assert.Regexp(t, `^board: exchange \d+: `, err.Error())
			assert.Equal(t, err, c.Exchange(t.Context(), boardtest.Frame(50), new(harness.Reply)), "the first cause is kept")
			assert.NoError(t, c.Close())
		})
	}
}

// Flaws that a run survives leave their mark in Health, and no false edge in the record.
func TestCountedFlaws(t *testing.T) {
	for _, c := range []struct {
		reason string
		flaw   boardtest.Flaw
		want   harness.Health
	}{
		{"a lost OUTPUT is known by its number, and DONE tells the edge", boardtest.LosesEdge,
			harness.Health{Boots: 2, RoundTrips: 36, Reports: 36, Lost: 1}},
		{"an OUTPUT that was never sent is told by DONE", boardtest.ForgetsEdge,
			harness.Health{Boots: 2, RoundTrips: 36, Reports: 36, Lost: 1}},
		{"firing while it says it is unarmed", boardtest.DeniesArming,
			harness.Health{Boots: 2, RoundTrips: 36, Reports: 36, Unarmed: 1}},
		{"armed before anybody has armed it", boardtest.ArmsItself,
			harness.Health{Boots: 2, RoundTrips: 36, Reports: 36, SelfArmed: 2}},
		{"a restart of its own is noticed, settings are made again", boardtest.RestartsOnce,
			harness.Health{Boots: 3, RoundTrips: 36, Reports: 36, Unasked: 1}},
	} {
		b := client(memory(c.flaw))
		all, err := boardtest.Fly(t.Context(), b)
		require.NoError(t, err, c.reason)
		require.NoError(t, boardtest.Edges(all.Outputs), c.reason)
		c.want.Name = "boardtest"
		assert.Equal(t, c.want, b.Health(), c.reason)
		if c.flaw != boardtest.RestartsOnce { // that one forgets that it was armed
			assert.Len(t, all.Outputs, 2, c.reason)
		}
	}
}

func TestErrorsNameWhatIsWrong(t *testing.T) {
	for _, c := range []struct {
		reason string
		flaw   boardtest.Flaw
		want   string
	}{
		{"nothing came", boardtest.Mute, "HELLO (said 3 times): WELCOME: no answer in time; is the board powered"},
		{"only garbage came", boardtest.Babbles, "bytes; are speed and wiring right?"},
		{"it hung later", boardtest.Hangs, "exchange 4: DONE: no answer in time"},
		{"the version", boardtest.OldVersion, "another version of the contract: 0, wanted 1"},
		{"the setting and both values", boardtest.ClampsSetting, "hold_time = 0.05 was sent, the board made it 0.049"},
		{"the other setting", boardtest.AcceptsOther, `hold_time was sent, the board answers for "other"`},
		{"the wire", boardtest.FewChannels, "drogue is wired to output 1, and it has 0"},
		{"both times", boardtest.ForeseesTime, "output 1 switched at 1.200 s, while the clock went from 0.190 s to 0.200 s"},
	} {
		_, err := boardtest.Fly(t.Context(), client(memory(c.flaw)))
		assert.ErrorContains(t, err, c.want, c.reason)
	}
	for _, s := range []harness.Setting{
		{Name: "drouge", Value: 1}, {Name: "a_name_of_more_than_24_bytes", Value: 1},
		{Name: boardtest.SettingName, Value: 3e6}, {Name: boardtest.SettingName, Value: math.NaN()},
	} {
		b := harness.Board{Settings: []harness.Setting{s}}
		err := board.NewClient(memory(boardtest.None), b, boardtest.Bay(), board.Options{}).Exchange(t.Context(), boardtest.Frame(0), new(harness.Reply))
		assert.ErrorIs(t, err, board.ErrSetting)
		assert.ErrorContains(t, err, s.Name, "the error names it")
	}
}

func TestNothingIsSentWithoutPower(t *testing.T) {
	l := &counter{Link: memory(boardtest.None)}
	c := board.NewClient(l, seat, boardtest.Bay(), board.Options{})
	f := boardtest.Frame(0)
	f.Powered = false
	require.NoError(t, c.Exchange(t.Context(), f, new(harness.Reply)))
	assert.Zero(t, l.writes, "not even HELLO")
	f.Powered = true
	require.NoError(t, c.Exchange(t.Context(), f, new(harness.Reply)))
	assert.Equal(t, 3, l.writes, "HELLO, SETTING, and samples with TICK in one")
	f.Powered = false
	for range 3 {
		require.NoError(t, c.Exchange(t.Context(), f, new(harness.Reply)))
	}
	assert.Equal(t, 4, l.writes, "RESTART, once")
}

type counter struct {
	link.Link
	writes int
}

func (c *counter) Write(b []byte) (int, error) { c.writes++; return c.Link.Write(b) }
func (c *counter) Instant() bool               { return link.Instant(c.Link) }

// One write holds the samples of the instant in a fixed order, then the commands, then TICK.
func TestFrameGoesOutWhole(t *testing.T) {
	l := &recorder{Link: memory(boardtest.None)}
	c := board.NewClient(l, harness.Board{}, boardtest.Bay(), board.Options{})
	require.NoError(t, c.Exchange(t.Context(), boardtest.Frame(0), new(harness.Reply)))
	l.sent = nil
	f := boardtest.Frame(1)
	f.Has = sim.HasAccel | sim.HasGyro | sim.HasBaro | sim.HasGNSS | sim.HasBattery
	f.Commands = sim.CommandArm | sim.CommandDisarm | sim.CommandStage
	require.NoError(t, c.Exchange(t.Context(), f, new(harness.Reply)))

	var got []contract.Code
	var commands []uint8
	d := contract.NewDecoder(contract.FromHost)
	for in := l.sent; ; {
		m, rest, ok := d.Next(in)
		if !ok {
			break
		}
		var command contract.Command
		if got = append(got, m.Code); m.Code == contract.CodeCommand {
			require.NoError(t, command.Decode(m.Payload))
			commands = append(commands, command.Command)
		}
		in = rest
	}
	assert.Equal(t, []contract.Code{contract.CodeIMU, contract.CodeBaro, contract.CodeGNSS, contract.CodeBattery,
		contract.CodeCommand, contract.CodeCommand, contract.CodeCommand, contract.CodeTick}, got)
	assert.Equal(t, []uint8{contract.Arm, contract.Disarm, contract.Stage}, commands)
}

// scripted is a device that answers HELLO, and each TICK with what the test gives it before DONE.
type scripted struct {
	*boardtest.Fake
	enc    contract.Encoder
	before func(e *contract.Encoder, out []byte) []byte
}

func (s *scripted) Feed(in, out []byte) []byte {
	d := contract.NewDecoder(contract.FromBoard)
	for answer := s.Fake.Feed(in, nil); ; {
		f, rest, ok := d.Next(answer)
		if !ok {
			return out
		}
		var w contract.Welcome
		var done contract.Done
		switch {
		case w.Decode(f.Payload) == nil && f.Code == contract.CodeWelcome:
			out = s.enc.Welcome(out, &w)
		case done.Decode(f.Payload) == nil && f.Code == contract.CodeDone:
			out = s.enc.Done(s.before(&s.enc, out), &done)
		}
		answer = rest
	}
}

func TestWhatABoardMayTell(t *testing.T) {
	for _, c := range []struct {
		reason string
		before func(e *contract.Encoder, out []byte) []byte
		check  func(t *testing.T, r *harness.Reply, h harness.Health)
	}{
		{"a log can't steer a terminal", func(e *contract.Encoder, out []byte) []byte {
			return e.Log(out, &contract.Log{Time: 5, Text: []byte("up\x1b[2J")})
		}, func(t *testing.T, r *harness.Reply, h harness.Health) {
			assert.Equal(t, []harness.Log{{At: 5 * sim.Microsecond, Text: "up?[2J"}}, r.Logs)
		}},
		{"an edge that changes nothing is none", func(e *contract.Encoder, out []byte) []byte {
			return e.Output(out, &contract.Output{Channel: 1, On: 0})
		}, func(t *testing.T, r *harness.Reply, h harness.Health) {
			assert.Empty(t, r.Outputs)
			assert.True(t, h.Faultless())
		}},
		{"on and off within one instant are two edges", func(e *contract.Encoder, out []byte) []byte {
			return e.Output(e.Output(out, &contract.Output{Channel: 2, On: 1}), &contract.Output{Channel: 2})
		}, func(t *testing.T, r *harness.Reply, h harness.Health) {
			assert.Equal(t, []sim.Output{{Channel: 2, On: true}, {Channel: 2}}, bare(r.Outputs))
			assert.Equal(t, 1, h.Unarmed, "and nobody has armed it")
		}},
		{"an edge that DONE denies is taken back and counted", func(e *contract.Encoder, out []byte) []byte {
			return e.Output(out, &contract.Output{Channel: 2, On: 1})
		}, func(t *testing.T, r *harness.Reply, h harness.Health) {
			assert.Equal(t, []sim.Output{{Channel: 2, On: true}, {Channel: 2}}, bare(r.Outputs))
			assert.Equal(t, 1, h.Lost)
		}},
		{"continuity and a late SYNCED are nobody's matter here", func(e *contract.Encoder, out []byte) []byte {
			return e.Synced(e.Continuity(out, &contract.Continuity{Channel: 1}), &contract.Synced{})
		}, func(t *testing.T, r *harness.Reply, h harness.Health) { assert.True(t, h.Faultless()) }},
		{"garbage between frames is counted", func(_ *contract.Encoder, out []byte) []byte {
			return append(out, 0x33, 0x44, 0)
		}, func(t *testing.T, r *harness.Reply, h harness.Health) { assert.Equal(t, 1, h.Bad) }},
	} {
		g := &scripted{Fake: boardtest.NewFake(boardtest.None), before: c.before}
		b := board.NewClient(link.Memory(g), harness.Board{}, boardtest.Bay(), board.Options{})
		var r harness.Reply
		require.NoError(t, b.Exchange(t.Context(), boardtest.Frame(0), &r), c.reason)
		t.Run(c.reason, func(t *testing.T) { c.check(t, &r, b.Health()) })
	}
}

func TestSameBytesEachTime(t *testing.T) {
	sent := func(nonce uint32) []byte {
		l := &recorder{Link: memory(boardtest.None)}
		c := board.NewClient(l, seat, boardtest.Bay(), board.Options{Nonce: nonce})
		_, err := boardtest.Fly(t.Context(), c)
		require.NoError(t, err)
		require.NoError(t, c.Close())
		return l.sent
	}
	assert.Equal(t, sent(0), sent(0))
	assert.NotEqual(t, sent(0), sent(1), "another nonce, other bytes")
	d := contract.NewDecoder(contract.FromHost)
	var last contract.Code
	for in := sent(0); ; {
		f, rest, ok := d.Next(in)
		if !ok {
			break
		}
		last, in = f.Code, rest
	}
	assert.Equal(t, contract.CodeBye, last, "BYE is the last word")
	assert.Equal(t, contract.Counts{}, d.Counts, "no gap on our side")
}

type recorder struct {
	link.Link
	sent []byte
}

func (r *recorder) Write(b []byte) (int, error) {
	r.sent = append(r.sent, b...)
	return r.Link.Write(b)
}
func (r *recorder) Instant() bool { return link.Instant(r.Link) }

// The standard uncertainty of a rectangular distribution of half-width a is a/sqrt(3): JCGM 100:2008
// 4.3.7. A tick of 1 ms alone gives 0.288675 ms, so twice that at 1 kHz.
func TestWithin(t *testing.T) {
	for _, c := range []struct {
		reason string
		s      sim.Sensors
		want   float64
	}{
		{"1 kHz", sim.Sensors{Accel: sim.Triad{Rate: 1000}}, 2 * 0.288675e-3},
		{"the fastest part counts", sim.Sensors{Accel: sim.Triad{Rate: 100}, Baro: sim.Barometer{Rate: 1000}}, 2 * 0.288675e-3},
		{"no part at all: as if once a second", sim.Sensors{}, 2 * 0.288675},
	} {
		assert.InEpsilon(t, c.want, board.EdgeUncertainty(&c.s).Seconds(), 2e-6, c.reason)
	}
}
