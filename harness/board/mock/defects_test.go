package mock

import (
	"bytes"
	"math"
	"math/rand/v2"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"

	"drystage/harness/board/contract"
)

// accidents has situations in which a defect shows; the board without a defect behaves well. The shipped suite catches
// every one.
var accidents = map[string]struct {
	reason  string
	disturb func(b *bench)
	bad     func(b *bench) bool
}{
	"drogue-on-deceleration": {"a jolt right after burnout", func(b *bench) { spikeAccel(b, 5.11, 0.06, -100) }, drogueAbove(40)},
	"no-speed-lockout":       {"a pressure spike at speed", func(b *bench) { spikeBaro(b, 9, 0.3, 3000) }, drogueAbove(40)},
	"ignores-tilt":           {"lying over at staging", func(b *bench) { b.tilt = lean(5.2, 0.6) }, fires(1)},
	"forgets-past-tilt":      {"a tumble that ends upright", tumble, fires(1)},
	"ignores-arming":         {"never armed", func(b *bench) { clear(b.give) }, fires(2)},
	"stages-unarmed": {"the button before arming", func(b *bench) {
		clear(b.give)
		byCommand(b, 1)
	}, fires(1)},
	"timer-only":             {"upper motor unlit: apogee comes early", func(b *bench) { b.dead = true; b.burns[0][1] -= 0.5 }, drogueLate(1)},
	"forgets-on-restart":     {"supply cut after ignition", func(b *bench) { b.cut = [2]float64{6.66, 7.36} }, silent(2)},
	"height-above-sea-level": {"a pad at 450 m", func(*bench) {}, silent(3)},
	"axial-sign-reversed":    {"any flight", func(*bench) {}, silent(1)},
	"stages-twice":           {"upper motor unlit", func(b *bench) { b.dead = true }, func(b *bench) bool { return len(b.fired(1)) > 1 }},
	"main-before-drogue": {"any flight", func(*bench) {}, func(b *bench) bool {
		d, m := b.fired(2), b.fired(3)
		return len(m) > 0 && (len(d) == 0 || m[0].t < d[0].t)
	}},
	"no-staging-floor":    {"the booster dies early", func(b *bench) { b.burns[0][1] = launchAt + 0.5 }, fires(1)},
	"no-latest-staging":   {"the operator's command comes late", func(b *bench) { byCommand(b, 9.2) }, fires(1)},
	"waits-for-sustainer": {"upper motor unlit", func(b *bench) { b.dead = true }, silent(2)},
	"trusts-gnss":         {"satellites lost at liftoff", func(b *bench) { b.gnss = func(*contract.GNSS) bool { return b.t < 3.5 } }, silent(3)},
	"inertial-only":       {"accelerometer stuck under thrust", func(b *bench) { stickAccel(b, 7.5) }, silent(2)},
	"main-on-pressure-spike": {"the pulse of the charge", func(b *bench) {
		b.baro = func(m *contract.Baro) bool {
			if es := b.fired(2); len(es) > 0 {
				m.Pressure += uint32(14e6 * b.bump(es[0].t+0.1, 0.2))
			}
			return true
		}
	}, func(b *bench) bool { m := b.fired(3); return len(m) == 0 || m[0].h > 200 }},
	"liftoff-on-a-bump": {"a slam on the pad, backup timer set", func(b *bench) {
		b.still = true
		b.set["drogue_backup"] = 15
		spikeAccel(b, 2, 0.01, 200)
	}, fires(2)},
	"fires-at-power-up": {"switched on", func(b *bench) { b.still = true; clear(b.give) }, fires(2)},
	"pulse-too-short": {"any flight", func(*bench) {}, func(b *bench) bool {
		for i, e := range b.edges {
			for _, f := range b.edges[i+1:] {
				if e.on && f.channel == e.channel && !f.on {
					return f.t-e.t < 0.02
				}
			}
		}
		return false
	}},
	"standstill-is-apogee": {"a barometer that repeats itself for a third of a second", func(b *bench) {
		held := uint32(0)
		b.baro = func(m *contract.Baro) bool {
			if b.t < 9 || b.t >= 9.3 {
				held = m.Pressure
			}
			m.Pressure = held
			return true
		}
	}, drogueAbove(40)},
	"apogee-on-first-fall": {"one sample of 100 ms before", func(b *bench) {
		var past []uint32
		b.baro = func(m *contract.Baro) bool {
			past = append(past, m.Pressure)
			if n := len(past); b.t >= 9 && b.t < 9.02 {
				m.Pressure = past[n-6]
			}
			return true
		}
	}, drogueAbove(40)},
	"counts-samples": {"inertial samples that come twice in coast", func(b *bench) {
		b.imu = func(m *contract.IMU) {
			if b.t > 8.4 {
				b.buf = b.enc.IMU(b.buf, m)
			}
		}
	}, drogueAbove(20)},
	"no-checksum": {"bits that flip in the samples of the coast", func(b *bench) {
		dice := rand.New(rand.NewPCG(3, 7))
		b.line = func(in []byte) []byte {
			tick := bytes.LastIndexByte(in[:len(in)-1], 0)
			for i := 0; i < tick && b.t > 8.4 && b.t < 11; i++ {
				if dice.IntN(200) == 0 && in[i] != 0 {
					in[i] ^= 1 << dice.IntN(8)
				}
			}
			return in
		}
	}, drogueAbove(40)},
	"first-burnout-counts": {"the booster chuffs", func(b *bench) {
		b.imu = func(m *contract.IMU) {
			if b.between(launchAt+0.8, launchAt+1.2) {
				m.AccelX = -2000
			}
		}
	}, func(b *bench) bool { e := b.fired(1); return len(e) > 0 && e[0].t < launchAt+3.2 }},
	"no-self-test": {"another axis points up than the settings say", func(b *bench) { b.set["axial_axis"] = 2 }, fires(2)},
}

func fires(ch uint8) func(*bench) bool  { return func(b *bench) bool { return len(b.fired(ch)) > 0 } }
func silent(ch uint8) func(*bench) bool { return func(b *bench) bool { return len(b.fired(ch)) == 0 } }

func drogueAbove(speed float64) func(*bench) bool {
	return func(b *bench) bool { d := b.fired(2); return len(d) > 0 && math.Abs(d[0].v) > speed }
}

func drogueLate(by float64) func(*bench) bool {
	return func(b *bench) bool { d := b.fired(2); return len(d) == 0 || d[0].t-b.topAt > by }
}

func TestEachDefectShows(t *testing.T) {
	if testing.Short() {
		t.Skip("make suite flies it")
	}
	for defect, c := range accidents {
		t.Run(defect, func(t *testing.T) {
			for _, name := range []string{"", defect} {
				b := newBench(t, name)
				c.disturb(b)
				b.run(110)
				assert.Equal(t, name != "", c.bad(b), "%s, board %q: %v %v", c.reason, name, b.logs, b.edges)
			}
		})
	}
}

// TestDefectsHideInTheNominalFlight: with most defects the nominal flight passes, so other scenarios are needed.
func TestDefectsHideInTheNominalFlight(t *testing.T) {
	if testing.Short() {
		t.Skip("make suite flies it")
	}
	for _, name := range []string{"drogue-on-deceleration", "no-speed-lockout", "ignores-tilt", "forgets-past-tilt", "stages-unarmed",
		"forgets-on-restart", "no-staging-floor", "no-latest-staging", "waits-for-sustainer", "main-on-pressure-spike", "liftoff-on-a-bump", "inertial-only",
		"standstill-is-apogee", "apogee-on-first-fall", "no-self-test", "first-burnout-counts"} {
		b := newBench(t, name).run(110)
		onTime.check(t, name+": staging", b.fired(1), func(e edge) float64 { return e.t - launchAt })
		span2{-0.6, 0.8}.check(t, name+": drogue", b.fired(2), func(e edge) float64 { return e.t - b.topAt })
		main150.check(t, name+": main", b.fired(3), func(e edge) float64 { return e.h })
	}
}

func TestDefectNames(t *testing.T) {
	seen := map[string]bool{}
	for _, d := range Defects() {
		assert.Regexp(t, `^[a-z]+(-[a-z]+)*$`, d.Name)
		assert.True(t, strings.HasSuffix(d.Accident, ".") && len(d.Accident) > 40, d.Name)
		assert.True(t, strings.HasSuffix(d.Hint, ".") && strings.Contains(d.Hint, "emand"), "%s: a hint says what to demand", d.Name)
		assert.False(t, seen[d.Name], d.Name)
		seen[d.Name] = true
	}
	for _, c := range []struct{ name, want, reason string }{
		{"ignores-tlt", `mock: no defect "ignores-tlt"; did you mean "ignores-tilt"?`, "a slip of the finger"},
		{"stage-twice", `mock: no defect "stage-twice"; did you mean "stages-twice"?`, "another form"},
		{"qqqqqqqqqqqq", "mock: no defect \"qqqqqqqqqqqq\"; `drystage bench --list-defects` lists them", "nothing near"},
	} {
		_, err := New(c.name)
		assert.EqualError(t, err, c.want, c.reason)
	}
	_, err := New("")
	assert.NoError(t, err, "the honest board")
}
