package mock

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/board/contract"
)

// TestPowerCutAtAnyTime cuts the supply for 0.7 s at each second of a flight in turn: recovery comes
// in time, nothing fires twice, and staging is in its window or not at all.
func TestPowerCutAtAnyTime(t *testing.T) {
	if testing.Short() {
		t.Skip("make suite flies it")
	}
	for at := 1.25; at < 120; at = next(at) {
		b := newBench(t, "")
		b.cut = [2]float64{at, at + 0.7}
		b.run(140)
		b.sound(t)
		for _, e := range b.fired(1) {
			assert.InDelta(t, 3.5, e.t-launchAt, 0.2, "cut at %g: staging", at)
		}
		require.Len(t, b.fired(2), 1, "cut at %g: drogue %v", at, b.logs)
		assert.InDelta(t, 0.6, b.fired(2)[0].t-b.topAt, 1.2, "cut at %g: drogue %v", at, b.logs)
		require.Len(t, b.fired(3), 1, "cut at %g: main %v", at, b.logs)
		assert.InDelta(t, 138, b.fired(3)[0].h, 14, "cut at %g: main, 1.4 s late at most", at)
	}
}

// next steps by a second, and below parachutes by ten.
func next(at float64) float64 {
	if at < 21 {
		return at + 1
	}
	return at + 10
}

// TestMemoryOverRestart: what the non-volatile memory restores, and what it must not.
func TestMemoryOverRestart(t *testing.T) {
	for _, c := range []struct {
		reason string
		until  float64 // s of flight before the supply fails
		phase  phase
		staged bool
		drogue bool
		main   bool
		log    string
	}{
		{"on the pad", 2, phaseStanding, false, false, false, ""},
		{"under thrust", 4, phasePowered, false, false, false, "restart in flight: recovery goes on, no staging"},
		{"in coast", 5.5, phaseUnpowered, false, false, false, "restart in flight: recovery goes on, no staging"},
		{"after staging", 7, phasePowered, true, false, false, "restart in flight: recovery goes on, no staging"},
		{"under the drogue", 30, phaseFalling, true, true, false, "restart in flight: recovery goes on, no staging"},
		{"under the main", 115, phaseSlowed, true, true, true, "restart in flight: recovery goes on, no staging"},
		{"after landing", 175, phaseDown, true, true, true, ""},
	} {
		t.Run(c.reason, func(t *testing.T) {
			b := newBench(t, "").run(c.until)
			before := b.g.mem
			require.Equal(t, c.phase, before.phase, "%v", b.logs)
			b.g.Feed(b.enc.Restart(nil, &contract.Restart{}), nil)
			assert.Zero(t, b.g.ram, "memory is lost")
			assert.False(t, b.g.listening)
			h := host{b.g, b.enc}
			fs := h.say(h.hello(0, b.us()))
			after := b.g.mem
			assert.Equal(t, before, after, "non-volatile memory is not")
			assert.Equal(t, []bool{c.staged, c.drogue, c.main}, []bool{after.staged, after.drogue, after.main})
			assert.True(t, after.armed)
			assert.Zero(t, b.g.ram.out.on, "dark until something is due")
			assert.Equal(t, defaults(), b.g.ram.set, "settings are forgotten")
			assert.Equal(t, c.phase >= phaseFalling && c.phase != phaseDown, b.g.ram.est.falling, "sinks, as far as known")
			want := []contract.Code{contract.CodeWelcome}
			if c.log != "" {
				want = append(want, contract.CodeLog)
				var m contract.Log
				require.NoError(t, m.Decode(fs[len(fs)-1].Payload))
				assert.Equal(t, c.log, string(m.Text))
			}
			assert.Equal(t, want, codes(fs))
		})
	}
}

// TestUnlitIsOnlySaidWhenKnown: after a restart it isn't known if the upper motor has burned.
func TestUnlitIsOnlySaidWhenKnown(t *testing.T) {
	for _, c := range []struct {
		reason  string
		disturb func(b *bench)
		said    bool
	}{
		{"it burned", func(*bench) {}, false},
		{"it did not", func(b *bench) { b.dead = true }, true},
		{"it burned, and the supply failed in that burn", func(b *bench) { b.cut = [2]float64{7, 7.7} }, false},
		{"it burned, and the supply failed later", func(b *bench) { b.cut = [2]float64{10, 10.7} }, false},
	} {
		b := newBench(t, "")
		c.disturb(b)
		b.run(18)
		require.Len(t, b.fired(1), 1, c.reason)
		assert.Equal(t, c.said, contains(b.logs, "no thrust after staging"), "%s: %v", c.reason, b.logs)
	}
}

func contains(ss []string, s string) bool {
	for _, x := range ss {
		if x == s {
			return true
		}
	}
	return false
}

// TestByeForgets: after BYE nothing of the run is left, and the next HELLO, at any time, begins a new one.
func TestByeForgets(t *testing.T) {
	b := newBench(t, "").run(30)
	require.True(t, b.g.mem.drogue)
	b.g.Feed(b.enc.Bye(nil, &contract.Bye{}), nil)
	assert.Zero(t, b.g.mem)
	h := host{b.g, b.enc}
	assert.Len(t, h.say(h.hello(0, 31_000_000)), 1, "no word of a restart in flight")
	assert.Equal(t, memory{valid: true}, b.g.mem)
}

// TestGyroStuckInCoast: with a gyro that repeats one value the tilt is unknown.
func TestGyroStuckInCoast(t *testing.T) {
	b := newBench(t, "")
	var last contract.IMU
	b.imu = func(m *contract.IMU) {
		if b.t < 5.5 {
			last = *m
		}
		m.GyroX, m.GyroY, m.GyroZ = last.GyroX, last.GyroY, last.GyroZ
	}
	b.run(30)
	assert.Empty(t, b.fired(1))
	assert.Contains(t, b.logs, "no staging: tilt unknown")
	assert.Len(t, b.fired(2), 1, "recovery needs no gyro")
}

// TestHelloBeginsDark: whatever the board was doing, its outputs are off at WELCOME.
func TestHelloBeginsDark(t *testing.T) {
	for _, at := range []float64{2, 6.6, 12, 19.5, 100} {
		b := newBench(t, "").run(at)
		h := host{b.g, b.enc}
		for _, f := range h.say(h.hello(0, b.us()), h.tick(b.us())) {
			var m contract.Output
			if f.Code == contract.CodeOutput && m.Decode(f.Payload) == nil {
				assert.Zero(t, m.On, "at %g s", at)
			}
		}
		assert.Zero(t, b.g.ram.out.on, "at %g s", at)
	}
}

// TestSilentWithoutHello: after power-up all messages but HELLO are ignored, commands too.
func TestSilentWithoutHello(t *testing.T) {
	h := newHost(t)
	for _, in := range [][]byte{
		h.enc.Setting(nil, &contract.Setting{Name: [24]byte([]byte("drogue_channel\x00\x00\x00\x00\x00\x00\x00\x00\x00\x00")), Value: 1000}),
		h.enc.IMU(nil, &contract.IMU{Time: 5000, Has: 3, AccelX: 60000}), h.enc.Baro(nil, &contract.Baro{Time: 5000, Pressure: 1}),
		h.enc.GNSS(nil, &contract.GNSS{Time: 5000, Fix: 3}), h.enc.Battery(nil, &contract.Battery{Time: 5000}),
		h.enc.Command(nil, &contract.Command{Time: 5000, Command: contract.Arm}), h.enc.Command(nil, &contract.Command{Time: 5000, Command: contract.Stage}),
		h.enc.Sync(nil, &contract.Sync{Time: 5000}), h.tick(5000), h.enc.Bye(nil, &contract.Bye{}), h.enc.Restart(nil, &contract.Restart{}),
	} {
		assert.Empty(t, h.say(in))
	}
	require.Len(t, h.say(h.hello(0, 0)), 1)
	assert.False(t, h.g.mem.armed)
	assert.Equal(t, uint16(2), h.g.boots, "RESTART is the one thing heard")
}
