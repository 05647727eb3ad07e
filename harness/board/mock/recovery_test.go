package mock

import (
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/board/contract"
)

// sinking is a computer at apogee, at second 10 of the run, with a drogue on 2 and a main on 3.
func sinking(t require.TestingT, set map[string]float64) *computer {
	all := map[string]float64{"drogue_channel": 2, "main_channel": 3}
	for k, v := range set {
		all[k] = v
	}
	c := newComputer(t, all)
	c.now = 10e6
	*c.mem = memory{valid: true, armed: true, phase: phaseFalling, groundPressure: 96000, groundSamples: 500, liftoff: 1e6, burnout: 3e6, apogee: c.now, maxHeight: 300}
	c.est = estimator{started: true, n: 200, falling: true}
	return c
}

// TestRecoveryOrder lets a computer sink from 300 m at 10 m/s and gives the seconds after apogee at which drogue and main
// open; a negative time is never. Its tick is 5 ms.
func TestRecoveryOrder(t *testing.T) {
	const never = -1.0
	for _, r := range []struct {
		reason       string
		set          map[string]float64
		disturb      func(c *computer, s float64)
		drogue, main float64
	}{
		{"drogue at once, main 0.2 s below its height", nil, nil, 0, 15.2},
		{"drogue after its delay", map[string]float64{"drogue_delay": 1}, nil, 1, 15.2},
		{"main's height above apogee: lock-out first", map[string]float64{"main_height": 400}, nil, 0, 2.2},
		{"a longer lock-out", map[string]float64{"main_height": 400, "main_lockout": 5}, nil, 0, 5.2},
		{"no height: as soon as it may", map[string]float64{"main_height": 0}, nil, 0, 2},
		{"main waits for a delayed drogue", map[string]float64{"main_height": 400, "drogue_delay": 10}, nil, 10, 12.2},
		{"no drogue: no lock-out", map[string]float64{"drogue_channel": 0, "main_height": 400}, nil, never, 0.2},
		{"no drogue, no height: at once", map[string]float64{"drogue_channel": 0, "main_height": 0}, nil, never, 0},
		{"no main", map[string]float64{"main_channel": 0}, nil, 0, never},
		{"neither", map[string]float64{"drogue_channel": 0, "main_channel": 0}, nil, never, never},
		{"backup of the main", map[string]float64{"main_backup": 3}, nil, 0, 3},
		{"backup inside the lock-out", map[string]float64{"main_backup": 1}, nil, 0, 2},
		{"backup counts from the drogue", map[string]float64{"main_backup": 3, "drogue_delay": 2}, nil, 2, 5},
		{"backup counts from apogee without one", map[string]float64{"main_backup": 3, "drogue_channel": 0}, nil, never, 3},
		{"a dip of 0.15 s below the height", nil, func(c *computer, s float64) {
			if s >= 5 && s < 5.15 {
				c.est.h = 100
			}
		}, 0, 15.2},
		{"a dip of 0.3 s is believed", nil, func(c *computer, s float64) {
			if s >= 5 && s < 5.3 {
				c.est.h = 100
			}
		}, 0, 5.2},
		{"a dip inside the lock-out counts for nothing", nil, func(c *computer, s float64) {
			if s < 2.1 {
				c.est.h = 0
			}
		}, 0, 15.2},
		{"no barometer: 5 s after the lock-out, high being better than never", nil, func(c *computer, s float64) { c.est.accepted = 0 }, 0, 7},
		{"no barometer: by a backup that comes sooner", map[string]float64{"main_backup": 4}, func(c *computer, s float64) { c.est.accepted = 0 }, 0, 4},
		{"no barometer for 4.9 s: by height", nil, func(c *computer, s float64) {
			if s < 6.9 {
				c.est.accepted = 0
			}
		}, 0, 15.2},
		{"not armed", nil, func(c *computer, s float64) { c.mem.armed = false }, never, never},
		{"disarmed after the drogue", nil, func(c *computer, s float64) { c.mem.armed = s < 3 }, 0, never},
		{"disarmed before a delayed drogue: no main without it", map[string]float64{"drogue_delay": 5}, func(c *computer, s float64) { c.mem.armed = s < 3 }, never, never},
	} {
		t.Run(r.reason, func(t *testing.T) {
			c := sinking(t, r.set)
			got := map[int]float64{2: never, 3: never}
			for i := range int64(30 * 200) {
				c.now = 10e6 + i*5000
				s := span(c.now - 10e6)
				c.est.t, c.est.accepted, c.est.h, c.est.v = c.now, c.now, max(300-10*s, 0), -10
				if r.disturb != nil {
					r.disturb(c, s)
				}
				before := c.out.on
				c.endPulses()
				c.runRecovery()
				for ch := range got {
					if bit := uint16(1) << (ch - 1); c.out.on&bit > before&bit {
						require.Equal(t, never, got[ch], "output %d fires once", ch)
						got[ch] = s
					}
				}
			}
			assert.InDelta(t, r.drogue, got[2], 1e-9, "drogue")
			assert.InDelta(t, r.main, got[3], 1e-9, "main")
		})
	}
}

// TestApogee gives the board's filter different ends of a climb, with a tick of 5 ms.
func TestApogee(t *testing.T) {
	const never = -1.0
	for _, r := range []struct {
		reason string
		set    map[string]float64
		shape  func(c *computer, s float64)
		want   float64 // s, from the start of the fall
	}{
		{"downward speed for 0.1 s", nil, func(c *computer, s float64) { c.est.v = -9.8 * s; c.est.h = 300 - 4.9*s*s }, 0.105},
		{"still boosting as far as known: 0.5 s", nil, func(c *computer, s float64) { c.mem.phase = phasePowered; c.est.v = -1; c.est.h = 300 }, 0.5},
		{"fast: never, not even by the backup", map[string]float64{"drogue_backup": 11}, func(c *computer, s float64) { c.est.v = 60; c.est.h = 200 }, never},
		{"the lock-out is a setting", map[string]float64{"drogue_backup": 11, "apogee_lockout_speed": 70}, func(c *computer, s float64) { c.est.v = 60; c.est.h = 200 }, 2},
		{"a wink of downward speed", nil, func(c *computer, s float64) {
			c.est.h, c.est.v = 300, 5
			if int(s*20)%2 == 0 {
				c.est.v = -5
			}
		}, never},
		{"backup timer, 2 s from now", map[string]float64{"drogue_backup": 11}, func(c *computer, s float64) { c.est.v = 10; c.est.h = 300 + 10*s }, 2},
		{"backup timer at speed waits until it is slow", map[string]float64{"drogue_backup": 11}, func(c *computer, s float64) { c.est.v = 80 - 10*s; c.est.h = 300 + 80*s }, 4},
		{"nothing known, no backup: never", nil, func(c *computer, s float64) { c.est.accepted, c.est.v = 0, -50 }, never},
		{"nothing known: the backup", map[string]float64{"drogue_backup": 11}, func(c *computer, s float64) { c.est.accepted, c.est.v = 0, 300 }, 2},
		{"no barometer but the accelerometer lives", nil, func(c *computer, s float64) { c.est.accepted, c.est.inertial, c.est.v = 0, true, -9.8*s }, 0.105},
		{"no attitude, and drag that says fast: the pressure lies", nil, func(c *computer, s float64) {
			c.est.v, c.att.known, c.accelAt, c.axial = -9.8, false, c.now, -8+2*s
		}, 2.5},
		{"no attitude, drag long ago", nil, func(c *computer, s float64) {
			c.est.v, c.att.known, c.accelAt, c.axial = -9.8, false, c.now-1e6, -8
		}, 0.1},
		{"an attitude: drag is no matter", nil, func(c *computer, s float64) {
			c.est.v, c.att.known, c.accelAt, c.axial = -9.8, true, c.now, -8
		}, 0.1},
		{"a liftoff not yet confirmed", nil, func(c *computer, s float64) { c.liftoffConfirmed, c.est.v = false, -9.8 }, never},
	} {
		t.Run(r.reason, func(t *testing.T) {
			c := newComputer(t, r.set)
			c.liftoffConfirmed = true
			*c.mem = memory{valid: true, armed: true, phase: phaseUnpowered, groundPressure: 96000, groundSamples: 500, liftoff: 1e6, burnout: 3e6, maxHeight: 300}
			got := never
			for i := range int64(5 * 200) {
				c.now = 10e6 + i*5000
				c.est = estimator{started: true, n: 200, t: c.now, accepted: c.now}
				r.shape(c, float64(i)/200)
				if c.detectApogee(); c.mem.phase == phaseFalling {
					got = float64(i) / 200
					assert.Equal(t, c.now, c.mem.apogee)
					break
				}
			}
			assert.InDelta(t, r.want, got, 1e-9)
		})
	}
}

func TestPulses(t *testing.T) {
	for _, r := range []struct {
		reason string
		pulse  float64 // s
		period int64   // us between looks
		want   int64   // us on
	}{
		{"as set", 1, 5000, 1_000_000},
		{"short", 0.01, 5000, 10_000},
		{"shorter than a look", 0.001, 5000, 5000},
		{"ends at the first look after", 0.012, 5000, 15_000},
		{"longest", 10, 10_000, 10_000_000},
	} {
		c := newComputer(t, map[string]float64{"pulse": r.pulse})
		c.mem.armed = true
		for ch := range contract.MaxChannels {
			require.True(t, c.fire(float64(ch+1)))
			assert.Equal(t, uint16(1)<<ch, c.out.on, "%s: channel %d alone", r.reason, ch+1)
			from := c.now
			for c.out.on != 0 {
				c.now += r.period
				c.endPulses()
			}
			assert.Equal(t, r.want, c.now-from, "%s: channel %d", r.reason, ch+1)
		}
		edges := 0
		for _, f := range decode(c.send.out) {
			if f.Code == contract.CodeOutput {
				edges++
			}
		}
		assert.Equal(t, 2*contract.MaxChannels, edges, "%s: each edge is told once", r.reason)
	}
}

func TestPulsesOverlap(t *testing.T) {
	c := newComputer(t, map[string]float64{"pulse": 1})
	assert.False(t, c.fire(1), "not armed")
	assert.Empty(t, c.send.out, "not armed: not a word")
	c.mem.armed = true
	for _, s := range []struct {
		now    int64
		fire   float64
		on     uint16
		reason string
	}{
		{0, 1, 1, "the first"},
		{400_000, 3, 5, "the second beside it"},
		{999_999, 0, 5, "both"},
		{1_000_000, 0, 4, "the first is over"},
		{1_200_000, 3, 4, "fired again while on: one longer pulse"},
		{1_400_000, 0, 4, "so it is not over yet"},
		{2_200_000, 0, 0, "now it is"},
	} {
		c.now = s.now
		c.endPulses()
		if s.fire > 0 {
			c.fire(s.fire)
		}
		assert.Equal(t, s.on, c.out.on, s.reason)
	}
	assert.Len(t, decode(c.send.out), 4, "two up, two down")
}

// TestLanding: five seconds without speed end the recovery, and nothing fires after it.
func TestLanding(t *testing.T) {
	for _, r := range []struct {
		reason string
		v      float64
		heard  bool
		want   bool
	}{
		{"lies still", 0.2, true, true}, {"drifts in a thermal", -0.9, true, true},
		{"sinks", -1.1, true, false}, {"not known", 0, false, false},
	} {
		c := sinking(t, map[string]float64{"drogue_channel": 0, "main_channel": 0})
		for i := range int64(1200) {
			c.now = 10e6 + i*5000
			c.est.t, c.est.h, c.est.v = c.now, 0, r.v
			if r.heard {
				c.est.accepted = c.now
			}
			if c.mem.phase == phaseDown {
				break
			}
			c.runRecovery()
		}
		assert.Equal(t, r.want, c.mem.phase == phaseDown, r.reason)
		if r.want {
			assert.InDelta(t, 15, span(c.now), 0.01, r.reason)
		}
	}
}
