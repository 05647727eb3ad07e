package mock

import (
	"math"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/board/contract"
)

// newComputer is a computer that has just begun a run, with settings by name.
func newComputer(t require.TestingT, set map[string]float64) *computer {
	c := &computer{mem: &memory{valid: true}, send: &sender{}}
	c.start(&contract.Hello{Version: 1, IMUHz: 200, BaroHz: 50}, 0)
	for name, v := range set {
		var n [24]byte
		copy(n[:], name)
		now, known := c.set.accept(n, thousandths(v))
		require.True(t, known, name)
		require.Equal(t, thousandths(v), now, name)
	}
	c.configure()
	return c
}

// logs gives the computer's log.
func (c *computer) logs(t require.TestingT) (out []string) {
	for _, f := range decode(c.send.out) {
		var m contract.Log
		if f.Code == contract.CodeLog {
			require.NoError(t, m.Decode(f.Payload))
			out = append(out, string(m.Text))
		}
	}
	c.send.out = nil
	return out
}

// TestSelfTestLooksAtThePresent: a sensor that worked before and has failed since is a reason against arming.
func TestSelfTestLooksAtThePresent(t *testing.T) {
	for _, c := range []struct {
		reason  string
		disturb func(b *bench)
		log     string
		at      float64 // s, of the answer to a command given at 1 s
	}{
		{"all is well: at once", func(*bench) {}, "armed", 1},
		{"the inertial sensor has gone silent", func(b *bench) {
			b.imu = func(m *contract.IMU) {
				if b.t > 0.6 {
					m.Has = 0
				}
			}
		}, "not armed: accelerometer silent", 2},
		{"the gyro alone has gone silent", func(b *bench) {
			b.imu = func(m *contract.IMU) {
				if b.t > 0.6 {
					m.Has &^= contract.FreshGyro
				}
			}
		}, "not armed: gyro silent", 2},
		{"one axis of the gyro repeats itself", func(b *bench) {
			b.imu = func(m *contract.IMU) {
				if b.t > 0.6 {
					m.GyroZ = 77
				}
			}
		}, "not armed: gyro stuck", 1},
		{"there is no gyro", func(b *bench) {
			b.imu = func(m *contract.IMU) { m.Has &^= contract.FreshGyro }
		}, "armed", 1},
		{"it comes back while the test waits", func(b *bench) {
			b.imu = func(m *contract.IMU) {
				if b.between(0.6, 1.4) {
					m.Has = 0
				}
			}
		}, "armed", 1.4},
		{"the barometer has gone silent", func(b *bench) {
			b.baro = func(*contract.Baro) bool { return b.t < 0.4 }
		}, "not armed: no barometer", 2},
		{"the barometer repeats itself", func(b *bench) {
			b.baro = func(m *contract.Baro) bool {
				if b.t > 0.5 {
					m.Pressure = 96e6
				}
				return true
			}
		}, "not armed: barometer stuck", 1},
		{"pressure of a plugged port is no pressure", func(b *bench) {
			b.baro = func(m *contract.Baro) bool { m.Pressure = 500e3; return true }
		}, "not armed: no barometer", 2},
	} {
		t.Run(c.reason, func(t *testing.T) {
			b := newBench(t, "")
			c.disturb(b)
			said := 0.0
			for b.t < 3 {
				b.run(b.t + step/2)
				if said == 0 && len(b.logs) > 0 {
					said = b.t - step
				}
			}
			assert.Equal(t, []string{c.log}, b.logs)
			assert.Equal(t, c.log == "armed", b.done.Armed == 1)
			assert.InDelta(t, c.at, said, 0.06)
		})
	}
}

// TestContinuityBeforeArming: an output of a job whose circuit has no load is a reason against arming; a board that is
// told nothing goes by its operator.
func TestContinuityBeforeArming(t *testing.T) {
	for _, c := range []struct {
		reason string
		m      contract.Circuits
		log    string
	}{
		{"every load is there", contract.Circuits{}, "armed"},
		{"open, where nothing hangs", contract.Circuits{Open: 0xFFF8}, "armed"},
		{"the drogue is open", contract.Circuits{Open: 2}, "not armed: no continuity"},
		{"the main is shorted", contract.Circuits{Shorted: 4}, "not armed: no continuity"},
		{"the upper motor is open", contract.Circuits{Open: 1}, "not armed: no continuity"},
	} {
		b := newBench(t, "")
		c.m.Time = 500_000
		b.run(0.5)
		b.buf = b.enc.Circuits(b.buf, &c.m)
		b.run(3)
		assert.Equal(t, []string{c.log}, b.logs, c.reason)
	}
}

// TestCommandsThatComeLate: late commands are ignored, except DISARM.
func TestCommandsThatComeLate(t *testing.T) {
	for _, c := range []struct {
		command uint8
		armed   bool // before
		want    bool // after
		reason  string
	}{
		{contract.Arm, false, false, "arming of long ago is not arming"},
		{contract.Disarm, true, false, "disarming is obeyed whatever its time says"},
		{contract.Stage, true, true, "staging of long ago is dropped"},
		{0, true, true, "no such command"},
		{200, true, true, "no such command"},
	} {
		b := newBench(t, "")
		b.still = true
		if !c.armed {
			clear(b.give)
		}
		b.run(3)
		require.Equal(t, c.armed, b.done.Armed == 1, c.reason)
		b.buf = b.enc.Command(b.buf, &contract.Command{Time: 1_000_000, Command: c.command})
		b.run(3.5)
		assert.Equal(t, c.want, b.done.Armed == 1, c.reason)
		assert.Empty(t, b.edges, c.reason)
	}
}

func TestSelfTestOfOneSample(t *testing.T) {
	c := newComputer(t, nil)
	c.arming = true
	c.advance(0)
	assert.False(t, c.mem.armed, "no sample has come")
	c.advance(selfTestTime*1e6 - 1)
	assert.Empty(t, c.logs(t), "still waiting")
	c.advance(selfTestTime * 1e6)
	assert.Equal(t, []string{"not armed: no barometer"}, c.logs(t), "patience ends")
	c.advance(selfTestTime * 2e6)
	assert.Empty(t, c.logs(t), "one answer for one command")
}

// TestAttitudeOfOppositeSamples: two samples that cancel have no mean direction; the board must not continue with
// NaN.
func TestAttitudeOfOppositeSamples(t *testing.T) {
	for _, c := range []struct {
		reason string
		first  []vector
	}{
		{"the second undoes the first", []vector{{9.8, 0, 0}, {-9.8, 0, 0}}},
		{"but for a last digit", []vector{{9.8, 0, 0}, {-9.8, 1e-12, 0}}},
		{"three ways that cancel", []vector{{9.8, 0, 0}, {-4.9, 8.487048957087498, 0}, {-4.9, -8.487048957087498, 0}}},
	} {
		var a attitude
		for _, f := range c.first {
			a.alignOnPad(f)
		}
		for range 400 {
			a.alignOnPad(vector{standardGravity, 0, 0})
			require.False(t, math.IsNaN(a.up.norm()), c.reason)
		}
		assert.InDelta(t, 1, a.up.x, 0.03, c.reason)
	}
}

// TestNoNumberIsTilted: an attitude of NaN forbids staging.
func TestNoNumberIsTilted(t *testing.T) {
	c := newComputer(t, nil)
	c.att = attitude{known: true, minTiltCosine: math.NaN(), up: vector{1, 0, 0}}
	assert.Equal(t, tiltExceeded, c.tiltRefusal())
}
