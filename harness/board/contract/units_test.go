package contract

import (
	"math"
	"strings"
	"testing"

	"drystage/sim"
	"drystage/sim/r3"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"
)

func TestCountSaturates(t *testing.T) {
	for _, c := range []struct {
		reason    string
		got, want any
	}{
		{"half away from zero", Count[int16](2.5), int16(3)},
		{"half away from zero below", Count[int16](-2.5), int16(-3)},
		{"u8 below", Count[uint8](-1), uint8(0)},
		{"u8 above", Count[uint8](256), uint8(255)},
		{"u16 above", Count[uint16](70000), uint16(65535)},
		{"u32 above", Count[uint32](1e12), uint32(math.MaxUint32)},
		{"u32 at the end", Count[uint32](math.MaxUint32), uint32(math.MaxUint32)},
		{"i16 below", Count[int16](-40000), int16(math.MinInt16)},
		{"i32 above", Count[int32](math.Inf(1)), int32(math.MaxInt32)},
		{"i32 below", Count[int32](math.Inf(-1)), int32(math.MinInt32)},
		{"no number", Count[int32](math.NaN()), int32(0)},
		{"thousandths", Milli(-9.80665), int32(-9807)},
		{"time rounds", Micros(1_499), uint32(1)},
		{"time rounds up", Micros(1_500), uint32(2)},
		{"time before the run", Micros(-5), uint32(0)},
		{"time beyond the count", Micros(2 * 3600 * sim.Second), uint32(math.MaxUint32)},
		{"the last time", Micros(math.MaxInt64), uint32(math.MaxUint32)},
	} {
		assert.Equal(t, c.want, c.got, c.reason)
	}
}

func TestText(t *testing.T) {
	for _, c := range []struct{ reason, in, want string }{
		{"short", "coast", "coast"},
		{"as long as the field", "0123456789abcdef", "0123456789abcdef"},
		{"longer is cut", "0123456789abcdefg", "0123456789abcdef"},
		{"control characters", "a\x1b[2Jb", "a?[2Jb"},
		{"not ASCII", "\xc3\xa9", "??"},
	} {
		field := [16]byte{9: 'x'}
		PutText(field[:], c.in)
		assert.Equal(t, c.want, Text(field[:]), c.reason)
	}
	assert.Equal(t, "a?b", Text([]byte{'a', 7, 'b', 0, 'c'}), "what a board sends can't steer a terminal")
}

// A frame goes over the line and back within half a count of each field.
func TestSamplesThereAndBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		in := func(most float64, name string) float64 { return rapid.Float64Range(-most, most).Draw(t, name) }
		vec := func(most float64, name string) r3.Vec {
			return r3.Vec{X: in(most, name), Y: in(most, name), Z: in(most, name)}
		}
		f := sim.Frame{
			Now:   sim.Time(rapid.Int64Range(0, 3600_000_000).Draw(t, "us")) * sim.Microsecond,
			Has:   sim.HasAccel | sim.HasGyro | sim.HasBaro | sim.HasGNSS | sim.HasBattery,
			Accel: vec(2000, "accel"), Gyro: vec(40, "gyro"), Pressure: 60000 + in(60000, "p"), Temperature: 288 + in(80, "T"),
			GNSS: sim.Fix{Latitude: in(math.Pi/2, "lat"), Longitude: in(math.Pi, "lon"), Height: in(30000, "h"),
				Velocity: vec(2000, "v"), Kind: sim.Fix3D, Satellites: 9},
			Battery: 12 + in(12, "V"),
		}
		imu, baro, gnss, battery := IMUOf(&f), BaroOf(&f), GNSSOf(&f), BatteryOf(&f)
		g := sim.Frame{Now: FromMicros(imu.Time)}
		imu.Into(&g)
		baro.Into(&g)
		gnss.Into(&g)
		battery.Into(&g)
		near := func(want, have, half float64) { require.InDelta(t, want, have, half*1.0001) }
		near(f.Accel.X, g.Accel.X, 0.5e-3)
		near(f.Accel.Y, g.Accel.Y, 0.5e-3)
		near(f.Accel.Z, g.Accel.Z, 0.5e-3)
		near(f.Gyro.X, g.Gyro.X, 0.5e-6)
		near(f.Gyro.Y, g.Gyro.Y, 0.5e-6)
		near(f.Gyro.Z, g.Gyro.Z, 0.5e-6)
		near(f.Pressure, g.Pressure, 0.5e-3)
		near(f.Temperature, g.Temperature, 0.5e-2)
		near(f.GNSS.Latitude, g.GNSS.Latitude, 0.5e-7*math.Pi/180)
		near(f.GNSS.Longitude, g.GNSS.Longitude, 0.5e-7*math.Pi/180)
		near(f.GNSS.Height, g.GNSS.Height, 0.5e-3)
		near(f.GNSS.Velocity.X, g.GNSS.Velocity.X, 0.5e-3)
		near(f.GNSS.Velocity.Y, g.GNSS.Velocity.Y, 0.5e-3)
		near(f.GNSS.Velocity.Z, g.GNSS.Velocity.Z, 0.5e-3)
		near(f.Battery, g.Battery, 0.5e-3)
		require.Equal(t, [4]any{f.Now, f.Has, f.GNSS.Kind, f.GNSS.Satellites}, [4]any{g.Now, g.Has, g.GNSS.Kind, g.GNSS.Satellites})
	})
}

func TestStaleHalfOfIMUStaysAway(t *testing.T) {
	f := sim.Frame{Has: sim.HasGyro, Accel: r3.Vec{X: 1}, Gyro: r3.Vec{Z: 0.5}}
	m := IMUOf(&f)
	assert.Equal(t, IMU{Has: FreshGyro, GyroZ: 500_000}, m)
	var g sim.Frame
	m.Into(&g)
	assert.Equal(t, sim.Frame{Has: sim.HasGyro, Gyro: r3.Vec{Z: 0.5}}, g)
}

func TestLineUse(t *testing.T) {
	standard := Rates{IMU: 200, Baro: 50, GNSS: 10, Battery: 10}
	use := LineUse(115200, standard)
	assert.InDelta(t, (37*200+18*50+38*10+14*10)*10/115200.0, use, 1e-12, "bytes counted by hand")
	assert.LessOrEqual(t, use, 0.85, "the promise of the contract")
	standard.Tick = 200
	assert.InDelta(t, use+12*200*10/115200.0, LineUse(115200, standard), 1e-12, "TICK has 12 bytes")
	assert.True(t, math.IsInf(LineUse(0, standard), 1))

	s := sim.Sensors{Accel: sim.Triad{Rate: 200}, Gyro: sim.Triad{Rate: 200}, Baro: sim.Barometer{Rate: 50},
		GNSS: sim.Receiver{Rate: 10}, Battery: sim.Battery{Rate: 10}}
	assert.Equal(t, Rates{IMU: 200, Baro: 50, GNSS: 10, Battery: 10}, RatesOf(&s))
	s.Gyro.Rate = 300
	assert.Equal(t, 500.0, RatesOf(&s).IMU, "no message is shared at worst")
}

func TestMarkdown(t *testing.T) {
	text := Markdown()
	for _, m := range table {
		assert.Contains(t, text, "| "+m.Name+" | ")
	}
	assert.Contains(t, text, "\n### BARO\n\n| at | field | type | unit | meaning |\n| --- | --- | --- | --- | --- |\n"+
		"| 0 | time | u32 | us | since the run began |\n| 4 | pressure | u32 | mPa | static pressure |\n| 8 | temperature |")
	for line := range strings.Lines(text) {
		assert.True(t, line == "\n" || line[0] == '#' || strings.Count(line, "|") == 6, "five columns: %s", line)
	}
}

// Counts round as math.Round does, at halves and right beside them too.
func TestCountRounds(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := float64(rapid.Int64Range(math.MinInt32, math.MaxInt32).Draw(t, "halves")) / 2
		x = rapid.SampledFrom([]float64{x, math.Nextafter(x, math.Inf(1)), math.Nextafter(x, math.Inf(-1))}).Draw(t, "x")
		require.Equal(t, int32(math.Round(x)), Count[int32](x), "%g", x)
		require.Equal(t, int32(math.Round(x)), count32(x), "%g", x)
	})
	for _, x := range []float64{math.MaxInt32 - 0.5, math.MaxInt32 + 0.5, math.MinInt32 + 0.5, math.MinInt32 - 0.5, 0x1p33, -0x1p33, math.Inf(1), math.NaN()} {
		assert.Equal(t, Count[int32](x), count32(x), "%g", x)
	}
}
