package mock

import (
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/harness/board/contract"
)

// span2 is a window; the zero window means that nothing may fire.
type span2 struct{ from, to float64 }

func (s span2) check(t *testing.T, what string, es []edge, value func(edge) float64) {
	t.Helper()
	if s == (span2{}) {
		assert.Empty(t, es, what)
		return
	}
	if assert.Len(t, es, 1, what) {
		v := value(es[0])
		assert.True(t, v >= s.from && v <= s.to, "%s at %.3f, wanted %.3f to %.3f", what, v, s.from, s.to)
	}
}

// flightCase is a complete flight of the board without a defect: staging in s after launch, drogue in s after the
// true apogee, main in m above the pad.
type flightCase struct {
	name    string
	reason  string
	disturb func(b *bench)
	stage   span2
	drogue  span2
	main    span2
	log     string
}

var (
	onTime  = span2{3.4, 3.7}
	atTop   = span2{-0.3, 0.5}
	main150 = span2{140, 152}
)

// between says that the flight is in a window of time.
func (b *bench) between(from, to float64) bool { return b.t >= from && b.t < to }

// bump is a half sine of height 1.
func (b *bench) bump(from, length float64) float64 {
	if !b.between(from, from+length) {
		return 0
	}
	return math.Sin(math.Pi * (b.t - from) / length)
}

// spikeAccel adds a half sine to the axial acceleration.
func spikeAccel(b *bench, from, length, by float64) {
	b.imu = func(m *contract.IMU) { m.AccelX += int32(1000 * by * b.bump(from, length)) }
}

func spikeBaro(b *bench, from, length, by float64) {
	b.baro = func(m *contract.Baro) bool {
		m.Pressure += uint32(int64(1000 * by * b.bump(from, length)))
		return true
	}
}

// stickAccel repeats the acceleration from a time on.
func stickAccel(b *bench, from float64) {
	var last contract.IMU
	b.imu = func(m *contract.IMU) {
		if b.t < from {
			last = *m
		}
		m.AccelX, m.AccelY, m.AccelZ = last.AccelX, last.AccelY, last.AccelZ
	}
}

func byCommand(b *bench, at_ float64) {
	b.set["staging_by_command"] = 1
	b.give[at(at_)] = contract.Stage
}

// flights must pass the checks of sound too.
var flights = []flightCase{
	{"nominal", "everything in its window", func(*bench) {}, onTime, atTop, main150, "main at 146 m"},
	{"early spike", "a jolt after burnout is no apogee", func(b *bench) { spikeAccel(b, 5.01, 0.06, -100) }, onTime, atTop, main150, ""},
	{"long jolt", "nor is a long one", func(b *bench) { spikeAccel(b, 5.01, 0.3, -100) }, onTime, atTop, main150, ""},
	{"dead igniter", "one pulse, then recovery from the real apogee", func(b *bench) { b.dead = true }, onTime, atTop, main150, "no thrust after staging"},
	{"late igniter", "the motor lights 1.5 s late; still one pulse", func(b *bench) { b.late = 1.65 }, onTime, atTop, main150, ""},
	{"tilted", "over the limit: no staging", func(b *bench) { b.tilt = lean(5.2, 0.6) }, span2{}, atTop, main150, "no staging: tilt has been above its limit"},
	{"tumbled", "tilted once, upright at staging: no staging", tumble, span2{}, atTop, main150, "no staging: tilt has been above its limit"},
	{"below the tilt limit", "a lean of 15 deg is allowed", func(b *bench) { b.tilt = lean(5.2, 0.26) }, onTime, atTop, main150, ""},
	{"gyro lost", "no gyro: tilt unknown: no staging", func(b *bench) {
		b.imu = func(m *contract.IMU) {
			if b.between(4, 4.2) {
				m.Has = contract.FreshAccel
			}
		}
	}, span2{}, atTop, main150, "no staging: tilt unknown"},
	{"command in time", "the operator stages inside the gates", func(b *bench) { byCommand(b, 7) }, span2{3.99, 4.01}, atTop, main150, ""},
	{"command never", "no command: no staging", func(b *bench) { b.set["staging_by_command"] = 1 }, span2{}, atTop, main150, ""},
	{"command late", "after staging_latest", func(b *bench) { byCommand(b, 9.2) }, span2{}, atTop, main150, "stage command refused: too late"},
	{"command early", "before the delay", func(b *bench) { byCommand(b, 6) }, span2{}, atTop, main150, "stage command refused: too early"},
	{"command unarmed", "an unarmed board does nothing", func(b *bench) {
		clear(b.give)
		byCommand(b, 7)
	}, span2{}, span2{}, span2{}, "stage command refused: not armed"},
	{"never armed", "all outputs dark", func(b *bench) { clear(b.give) }, span2{}, span2{}, span2{}, ""},
	{"armed in flight", "refused: arming is for the pad", func(b *bench) {
		clear(b.give)
		b.give[at(6)] = contract.Arm
	}, span2{}, span2{}, span2{}, "not armed: not on the pad"},
	{"disarmed in flight", "dark from then on", func(b *bench) { b.give[at(8)] = contract.Disarm }, onTime, span2{}, span2{}, "disarmed"},
	{"baro dropout over apogee", "the accelerometer carries the filter", func(b *bench) {
		b.baro = func(*contract.Baro) bool { return !b.between(15, 21) }
	}, onTime, atTop, main150, ""},
	{"accelerometer stuck in coast", "falls back to the barometer", func(b *bench) { stickAccel(b, 10) }, onTime, atTop, main150, ""},
	{"accelerometer stuck under thrust", "the last value says boost for ever", func(b *bench) { stickAccel(b, 7.5) }, onTime, span2{-0.3, 1}, main150, ""},
	{"accelerometer drifts", "the barometer overrules it", func(b *bench) {
		b.imu = func(m *contract.IMU) { m.AccelX += int32(2000 * max(b.t-9, 0)) }
	}, onTime, span2{-0.5, 2}, main150, ""},
	{"accelerometer clips", "16 g part under more; speed is mended by the barometer", func(b *bench) {
		b.imu = func(m *contract.IMU) { m.AccelX = min(m.AccelX, 60000) }
	}, onTime, atTop, main150, ""},
	{"GNSS lost", "not used for anything", func(b *bench) { b.gnss = func(*contract.GNSS) bool { return b.t < 3 } }, onTime, atTop, main150, ""},
	{"power cut at ignition", "resumes: no second staging, recovery in time", func(b *bench) { b.cut = [2]float64{6.66, 7.36} }, onTime, atTop, main150, "restart in flight: recovery goes on, no staging"},
	{"power cut in boost", "tilt unknown: no staging; recovery in time", func(b *bench) { b.cut = [2]float64{4, 4.7} }, span2{}, atTop, main150, "no staging: tilt unknown"},
	{"power cut at liftoff", "thrust says so when it is back; tilt unknown", func(b *bench) { b.cut = [2]float64{2.9, 4.2} }, span2{}, atTop, main150, "no staging: tilt unknown"},
	{"power cut over the boost", "found in the air by height", func(b *bench) { b.cut = [2]float64{2.9, 5.2} }, span2{}, atTop, main150, "liftoff by height; tilt unknown"},
	{"power cut after the drogue", "it has fired and is not fired again", func(b *bench) { b.cut = [2]float64{20, 20.7} }, onTime, atTop, main150, ""},
	{"power cut on the pad", "armed stays armed", func(b *bench) { b.cut = [2]float64{1.5, 2.2} }, onTime, atTop, main150, ""},
	{"spike of the charge", "a pressure rise after the drogue is no low height", func(b *bench) {
		b.baro = func(m *contract.Baro) bool {
			if es := b.fired(2); len(es) > 0 {
				m.Pressure += uint32(12e6 * b.bump(es[0].t+0.1, 0.6))
			}
			return true
		}
	}, onTime, atTop, main150, ""},
	{"false fall in coast", "a pressure spike at speed is no apogee", func(b *bench) { spikeBaro(b, 9, 0.5, 3000) }, onTime, atTop, main150, ""},
	{"step of pressure for good", "refused, then believed, never an apogee", func(b *bench) {
		b.baro = func(m *contract.Baro) bool {
			if b.t > 9 {
				m.Pressure += 500e3
			}
			return true
		}
	}, onTime, atTop, span2{180, 210}, ""},
	{"barometer stuck over apogee", "treated as silent", func(b *bench) {
		var last uint32
		b.baro = func(m *contract.Baro) bool {
			if b.between(14, 20) {
				m.Pressure = last
			}
			last = m.Pressure
			return true
		}
	}, onTime, span2{-0.6, 0.8}, main150, ""},
	{"early burnout", "too low and slow: no staging", func(b *bench) { b.burns[0][1] = launchAt + 0.5 }, span2{}, atTop, span2{1, 152}, "no staging: too low"},
	{"low apogee", "main right after the lock-out", func(b *bench) { b.burns[0][1] = launchAt + 0.7 }, span2{}, atTop, span2{1, 152}, ""},
	{"chuffing", "the delay counts from the real burnout", func(b *bench) {
		b.burns[0] = [2]float64{launchAt, launchAt + 0.5}
		b.burns[1] = [2]float64{launchAt + 0.75, launchAt + 2.5}
		b.set["staging_min_height"], b.set["staging_min_speed"] = 0, 0
	}, span2{3.9, 4.3}, atTop, main150, "thrust"},
	{"knock on the pad", "a slam of 10 ms is no liftoff", func(b *bench) { spikeAccel(b, 2, 0.01, 200) }, onTime, atTop, main150, ""},
	{"gust on the pad", "50 Pa of wind on the ports", func(b *bench) { spikeBaro(b, 1.5, 1, 50) }, onTime, atTop, main150, ""},
	{"backup timer", "no barometer, no gyro: the timer opens the drogue", func(b *bench) {
		b.set["drogue_backup"] = 17
		b.set["main_backup"] = 20
		b.baro = func(*contract.Baro) bool { return b.t < 4 }
		b.imu = func(m *contract.IMU) {
			if b.t > 4 {
				m.Has = contract.FreshAccel
			}
		}
	}, span2{}, span2{3, 8}, span2{1, 1200}, ""},
	{"cold day", "the site's temperature mends the height", func(b *bench) { b.set["site_temperature"] = 285.2 }, onTime, atTop, main150, ""},
}

// lean tilts to an angle over 0.5 s.
func lean(from, angle float64) func(float64) float64 {
	return func(t float64) float64 { return 0.05 + (angle-0.05)*min(max((t-from)/0.5, 0), 1) }
}

// tumble turns over and back before staging.
func tumble(b *bench) {
	b.tilt = func(t float64) float64 { return 0.05 + 2*math.Pi*min(max((t-5.2)/1, 0), 1) }
}

func TestFlights(t *testing.T) {
	if testing.Short() {
		t.Skip("make suite flies it")
	}
	for _, c := range flights {
		t.Run(c.name, func(t *testing.T) {
			b := newBench(t, "")
			c.disturb(b)
			b.run(110)
			t.Log(c.reason, b.logs)
			c.stage.check(t, "staging", b.fired(1), func(e edge) float64 { return e.t - launchAt })
			c.drogue.check(t, "drogue", b.fired(2), func(e edge) float64 { return e.t - b.topAt })
			c.main.check(t, "main", b.fired(3), func(e edge) float64 { return e.h })
			if c.log != "" {
				assert.Contains(t, b.logs, c.log)
			}
			b.sound(t)
		})
	}
}

// sound checks what is true in every flight of the board without a defect.
func (b *bench) sound(t *testing.T) {
	t.Helper()
	for _, e := range b.edges {
		if e.on {
			assert.True(t, e.armed, "channel %d on while unarmed", e.channel)
		}
	}
	for _, ch := range []uint8{1, 2, 3} {
		assert.LessOrEqual(t, len(b.fired(ch)), 1, "channel %d fires once", ch)
	}
	if m, d := b.fired(3), b.fired(2); len(m) > 0 && len(d) > 0 {
		assert.GreaterOrEqual(t, m[0].t-d[0].t, 2.0, "main after the lock-out")
	}
	if e := b.edges; len(e) > 0 && b.cut[1] == 0 {
		assert.False(t, e[len(e)-1].on, "all pulses have ended")
	}
}

func TestNominalReports(t *testing.T) {
	b := newBench(t, "").run(140)
	require.NotEmpty(t, b.reports)
	last := b.reports[len(b.reports)-1]
	assert.InDelta(t, b.top, float64(last.Apogee)/1000, 2, "apogee height")
	var phases []string
	for _, r := range b.reports {
		p := strings.TrimRight(string(r.Phase[:]), "\x00")
		if len(phases) == 0 || phases[len(phases)-1] != p {
			phases = append(phases, p)
		}
	}
	assert.Equal(t, []string{"standing", "powered", "unpowered", "powered", "unpowered", "falling", "slowed", "down"}, phases)
	assert.InDelta(t, 1400, len(b.reports), 20, "ten a second")
	on := b.fired(2)[0].t
	i := slices.IndexFunc(b.edges, func(e edge) bool { return e.channel == 2 && !e.on })
	assert.InDelta(t, 0.5, b.edges[i].t-on, 1e-9, "pulse")
}

func TestNothingFiresOnThePad(t *testing.T) {
	for _, c := range []struct {
		reason  string
		disturb func(b *bench)
	}{
		{"the motor never lights", func(*bench) {}},
		{"nor with a bump of 0.4 s: no height follows", func(b *bench) { spikeAccel(b, 5, 0.4, 100) }},
		{"nor with a step of pressure", func(b *bench) {
			b.baro = func(m *contract.Baro) bool {
				if b.t > 5 {
					m.Pressure -= 800e3
				}
				return true
			}
		}},
		{"nor with pressure that drifts like the weather", func(b *bench) {
			b.baro = func(m *contract.Baro) bool { m.Pressure -= uint32(5000 * b.t); return true }
		}},
		{"nor without barometer", func(b *bench) { b.baro = func(*contract.Baro) bool { return b.t < 4 } }},
		{"nor with an accelerometer that sticks", func(b *bench) { stickAccel(b, 4) }},
		{"nor with power cuts", func(b *bench) { b.cut = [2]float64{4, 4.7} }},
	} {
		b := newBench(t, "")
		b.still = true
		b.set["drogue_backup"] = 10
		c.disturb(b)
		b.run(60)
		assert.Empty(t, b.edges, "%s: %v", c.reason, b.logs)
	}
}

func TestBooster(t *testing.T) {
	for _, c := range []struct {
		reason string
		height float64
		want   span2
	}{
		{"main at its own apogee", 0, span2{-0.3, 0.5}},
		{"main at height", 100, span2{1, 60}},
	} {
		b := newBench(t, "")
		b.set = map[string]float64{"main_channel": 3, "main_height": c.height}
		b.run(100)
		assert.Empty(t, b.fired(1), c.reason)
		assert.Empty(t, b.fired(2), c.reason)
		c.want.check(t, c.reason, b.fired(3), func(e edge) float64 { return e.t - b.topAt })
		if c.height > 0 {
			assert.InDelta(t, c.height, b.fired(3)[0].h, 20, c.reason)
		}
		b.sound(t)
	}
}

func TestSelfTest(t *testing.T) {
	for _, c := range []struct {
		reason  string
		disturb func(b *bench)
		log     string
	}{
		{"right way up", func(*bench) {}, "armed"},
		{"reversed", func(b *bench) { b.set["axial_axis"] = -1 }, "not armed: axial accelerometer does not read +1 g"},
		{"wrong axis", func(b *bench) { b.set["axial_axis"] = 2 }, "not armed: axial accelerometer does not read +1 g"},
		{"no acceleration", func(b *bench) { b.imu = func(m *contract.IMU) { m.Has = 0 } }, "not armed: accelerometer does not read 1 g"},
		{"twice 1 g", func(b *bench) { b.imu = func(m *contract.IMU) { m.AccelX *= 2 } }, "not armed: accelerometer does not read 1 g"},
		{"no pressure", func(b *bench) { b.baro = func(*contract.Baro) bool { return false } }, "not armed: no barometer"},
		{"stuck", func(b *bench) { stickAccel(b, 0.7) }, "not armed: accelerometer stuck"},
		{"one channel, two jobs", func(b *bench) { b.set["main_channel"] = 2 }, "not armed: two jobs share one channel"},
		{"asked at the first instant: waits for samples", func(b *bench) { b.give = map[int]uint8{0: contract.Arm} }, "armed"},
	} {
		b := newBench(t, "")
		c.disturb(b)
		b.run(2.5)
		assert.Equal(t, []string{c.log}, b.logs, c.reason)
		assert.Equal(t, c.log == "armed", b.done.Armed == 1, c.reason)
	}
}
