package mock

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/board/contract"
)

// pull has the axial accelerometer of a rocket that stands still read f from one time to another.
func pull(b *bench, from, to, f float64) {
	b.imu = func(m *contract.IMU) {
		if b.between(from, to) {
			m.AccelX = b.mm(f, 0.05)
		}
	}
}

// phases gives the phases that the board reported first, with the time of each.
func (b *bench) phases() (names []string, times []float64) {
	last := contract.Report{}
	for _, r := range b.reports {
		if r.Phase != last.Phase {
			names = append(names, string(cut(r.Phase[:])))
			times = append(times, float64(r.Time)/1e6)
		}
		last = r
	}
	return names, times
}

func cut(b []byte) []byte {
	for len(b) > 0 && b[len(b)-1] == 0 {
		b = b[:len(b)-1]
	}
	return b
}

// TestLiftoffByAcceleration accelerates a rocket that stands still, from 2 s on, and checks for powered flight.
func TestLiftoffByAcceleration(t *testing.T) {
	for _, c := range []struct {
		reason  string
		disturb func(b *bench)
		boost   float64 // s; 0: never
	}{
		{"above the limit for as long as it takes", func(b *bench) { pull(b, 2, 2.3, 26) }, 2.1},
		{"far above it: no sooner", func(b *bench) { pull(b, 2, 2.3, 200) }, 2.1},
		{"not for long enough", func(b *bench) { pull(b, 2, 2.095, 26) }, 0},
		{"below the limit for long", func(b *bench) { pull(b, 2, 4, 24) }, 0},
		{"the limit is a setting", func(b *bench) { pull(b, 2, 2.3, 24); b.set["liftoff_acceleration"] = 20 }, 2.1},
		{"the time is a setting", func(b *bench) { pull(b, 2, 2.9, 26); b.set["liftoff_time"] = 0.5 }, 2.5},
		{"and too short then", func(b *bench) { pull(b, 2, 2.49, 26); b.set["liftoff_time"] = 0.5 }, 0},
		{"a break begins the time anew", func(b *bench) {
			b.imu = func(m *contract.IMU) {
				if b.between(2, 2.3) && !b.between(2.05, 2.055) {
					m.AccelX = b.mm(60, 0.05)
				}
			}
		}, 2.155},
		{"beats of 10 Hz", func(b *bench) {
			b.imu = func(m *contract.IMU) {
				if b.between(2, 4) && int(b.t*20)%2 == 0 {
					m.AccelX = b.mm(60, 0.05)
				}
			}
		}, 0},
		{"towards the tail", func(b *bench) { pull(b, 2, 2.3, -60) }, 0},
		{"sideways", func(b *bench) {
			b.imu = func(m *contract.IMU) {
				if b.between(2, 2.3) {
					m.AccelY = b.mm(60, 0.05)
				}
			}
		}, 0},
		{"a part that died with a great value", func(b *bench) {
			b.imu = func(m *contract.IMU) {
				if b.t >= 2 {
					if m.AccelX = b.mm(60, 0); b.t > 2.04 {
						m.Has = contract.FreshGyro
					}
				}
			}
		}, 0},
	} {
		b := newBench(t, "")
		b.still = true
		c.disturb(b)
		b.run(4)
		names, times := b.phases()
		if c.boost == 0 {
			assert.Equal(t, []string{"standing"}, names, c.reason)
			continue
		}
		if assert.GreaterOrEqual(t, len(names), 2, c.reason) {
			assert.Equal(t, "powered", names[1], c.reason)
			assert.InDelta(t, c.boost, times[1], 0.0051, c.reason)
			assert.InDelta(t, times[1]-max(b.set["liftoff_time"], 0.1), span(b.g.mem.liftoff), 1e-6, "%s: dated back to the start of the pull", c.reason)
		}
		assert.Empty(t, b.edges, c.reason)
	}
}

// TestLiftoffByHeight: a motor too weak for the limit lifts off by height, without staging.
func TestLiftoffByHeight(t *testing.T) {
	b := newBench(t, "")
	b.set["liftoff_acceleration"] = 100
	b.run(120)
	require.Contains(t, b.logs, "liftoff by height; tilt unknown", "%v", b.logs)
	assert.Empty(t, b.fired(1), "tilt unknown")
	require.Len(t, b.fired(2), 1)
	assert.InDelta(t, b.topAt, b.fired(2)[0].t, 0.6)
	main150.check(t, "main", b.fired(3), func(e edge) float64 { return e.h })
}

func TestBurnout(t *testing.T) {
	ms := func(n int) []float64 { return make([]float64, n/5) } // 0 m/s2 for a time
	fill := func(f float64, n int) (out []float64) {
		for range n / 5 {
			out = append(out, f)
		}
		return out
	}
	for _, c := range []struct {
		reason string
		axial  []float64 // by 5 ms, after a second of thrust
		want   int       // ms from the end of the thrust to coast; 0: not
	}{
		{"thrust ends", ms(200), 100},
		{"drag at once", fill(-40, 200), 100},
		{"not for long enough", append(ms(95), fill(60, 200)...), 0},
		{"a cough of 50 ms is no burnout; the next is", append(append(ms(50), fill(60, 50)...), ms(200)...), 200},
		{"thrust fades to the limit", fill(3.1, 500), 0},
		{"and below", fill(2.9, 500), 100},
	} {
		f := newComputer(t, nil)
		f.mem.phase, f.mem.liftoff, f.liftoffConfirmed = phasePowered, 0, true
		got, end := 0, 0
		for i, axial := range append(fill(60, 1000), c.axial...) {
			f.now = int64(i) * 5000
			f.axial, f.accelAt = axial, f.now
			f.detectBurnout()
			if f.mem.phase == phaseUnpowered {
				end, got = int(f.mem.burnout/1000), i*5-1000
				break
			}
		}
		assert.Equal(t, c.want, got, c.reason)
		if got > 0 {
			assert.Equal(t, 1000+got-100, end, "%s: burnout is dated back to when the thrust ended", c.reason)
		}
	}
}

// TestFalseLiftoff: a bump long enough for a liftoff, on a pad that the rocket never leaves. The board must go back to
// the pad, whatever happens meanwhile.
func TestFalseLiftoff(t *testing.T) {
	for _, c := range []struct {
		reason  string
		disturb func(b *bench)
	}{
		{"alone", func(*bench) {}},
		{"with a backup timer that would be over", func(b *bench) { b.set["drogue_backup"] = 1 }},
		{"supply fails during the bump", func(b *bench) { b.cut = [2]float64{5.2, 5.5} }},
		{"supply fails after the bump", func(b *bench) { b.cut = [2]float64{5.6, 6.3} }},
		{"supply fails for longer than the board would wait", func(b *bench) { b.cut = [2]float64{5.6, 9} }},
		{"and the barometer comes a moment after it is back", func(b *bench) { b.cut = [2]float64{5.6, 9.005} }},
		{"supply fails, and a backup timer is over", func(b *bench) { b.cut = [2]float64{5.6, 9}; b.set["drogue_backup"] = 2 }},
		{"twice", func(b *bench) {
			b.imu = func(m *contract.IMU) {
				m.AccelX += int32(1000 * 100 * (b.bump(5, 0.4) + b.bump(20, 0.4)))
			}
		}},
	} {
		b := newBench(t, "")
		b.still = true
		spikeAccel(b, 5, 0.4, 100)
		c.disturb(b)
		b.run(60)
		assert.Empty(t, b.edges, "%s: %v", c.reason, b.logs)
		names, _ := b.phases()
		assert.Equal(t, "standing", names[len(names)-1], c.reason)
		assert.Contains(t, names, "powered", "%s: the bump was felt", c.reason)
		assert.Contains(t, b.logs, "no height gained: not a liftoff", c.reason)
		assert.Equal(t, uint8(1), b.done.Armed, "%s: still armed", c.reason)
	}
}

// TestPadIsNotLearnedAway: gyro bias and ground pressure are averaged only while the rocket rests on the pad.
func TestPadIsNotLearnedAway(t *testing.T) {
	c := newComputer(t, nil)
	for _, r := range []struct {
		w      vector
		phase  phase
		want   bool
		reason string
	}{
		{vector{0.01, 0, 0}, phaseStanding, true, "rests"},
		{vector{0.3, 0, 0}, phaseStanding, false, "the rail is being raised"},
		{vector{0.01, 0, 0}, phaseUnpowered, false, "in flight"},
	} {
		c.mem.phase = r.phase
		assert.Equal(t, r.want, c.standsStill(r.w), r.reason)
	}
	for _, r := range []struct {
		height float64
		want   float64
		reason string
	}{{0, 95999.9, "wind and weather are followed"}, {20, 96000, "a rocket that has begun to climb is not the pad"}} {
		c := newComputer(t, nil)
		c.mem.groundPressure, c.mem.groundSamples = 96000, 500
		c.est = estimator{started: true, n: 200, t: 5e6, accepted: 5e6, h: r.height, period: 0.02}
		c.pressure(&contract.Baro{Time: 5e6, Pressure: 95_900_000})
		assert.InDelta(t, r.want, c.mem.groundPressure, 0.001, r.reason)
	}
}

// TestFlightAfterFalseLiftoff: after a false liftoff the board flies as usual.
func TestFlightAfterFalseLiftoff(t *testing.T) {
	b := newBench(t, "")
	b.burns[0] = [2]float64{launchAt + 10, launchAt + 12}
	spikeAccel(b, 4, 0.4, 100)
	b.run(150)
	require.Contains(t, b.logs, "no height gained: not a liftoff")
	onTime.check(t, "staging", b.fired(1), func(e edge) float64 { return e.t - launchAt - 10 })
	atTop.check(t, "drogue", b.fired(2), func(e edge) float64 { return e.t - b.topAt })
	main150.check(t, "main", b.fired(3), func(e edge) float64 { return e.h })
	b.sound(t)
}
