package firmwarecontract

import (
	"math"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"periph.io/x/conn/v3/physic"
	periphadxl "periph.io/x/devices/v3/adxl345"
	"periph.io/x/devices/v3/bmxx80"
	"tinygo.org/x/drivers"
	tinyadxl "tinygo.org/x/drivers/adxl345"
	"tinygo.org/x/drivers/bmp280"
	"tinygo.org/x/drivers/mag3110"
	"tinygo.org/x/drivers/mpu6050"
)

const g0 = 9.80665

// driversNotOurs configures and reads the stand-in parts over the range of a flight by drivers that weren't written for
// them.
func driversNotOurs(t *testing.T, program string) {
	t.Run("bmp280 by tinygo", func(t *testing.T) { tinygoBarometer(t, standInOf(t, program, "bmp280")) })
	t.Run("bmp280 by periph on I2C", func(t *testing.T) {
		s := standInOf(t, program, "bmp280")
		d, err := bmxx80.NewI2C(s, 0x76, &bmxx80.Opts{Temperature: bmxx80.O16x, Pressure: bmxx80.O16x})
		require.NoError(t, err)
		periphBarometer(t, s, d)
	})
	t.Run("bmp280 by periph on SPI", func(t *testing.T) {
		s := standInOf(t, program, "bmp280")
		d, err := bmxx80.NewSPI(onSPI{s}, &bmxx80.Opts{Temperature: bmxx80.O16x, Pressure: bmxx80.O16x})
		require.NoError(t, err)
		periphBarometer(t, s, d)
	})
	t.Run("mpu6050 by tinygo", func(t *testing.T) { tinygoIMU(t, standInOf(t, program, "mpu6050")) })
	t.Run("adxl375 by tinygo", func(t *testing.T) {
		s := standInOf(t, program, "adxl375")
		d := tinyadxl.New(s)
		d.Configure()
		d.UseLowPower(false)
		d.SetRate(tinyadxl.RATE_800HZ)
		highAccelerometer(t, s, func() [3]int16 {
			x, y, z := d.ReadRawAcceleration()
			return [3]int16{x, y, z}
		})
	})
	t.Run("mag3110 by tinygo", func(t *testing.T) { tinygoMagnetometer(t, standInOf(t, program, "mag3110")) })
	t.Run("adxl375 by periph on SPI", func(t *testing.T) {
		s := standInOf(t, program, "adxl375")
		d, err := periphadxl.NewSpi(onSPI{s}, &periphadxl.Opts{ExpectedDeviceID: periphadxl.Adxl345, Sensitivity: periphadxl.S16G})
		require.NoError(t, err)
		highAccelerometer(t, s, func() (out [3]int16) {
			for i := range out { // Read gives the register in the high byte; its Update drops that one
				low, err := d.Read(periphadxl.DataX0 + byte(2*i))
				require.NoError(t, err)
				high, err := d.Read(periphadxl.DataX1 + byte(2*i))
				require.NoError(t, err)
				out[i] = int16(uint16(high)&0xFF00 | uint16(low)>>8)
			}
			return out
		})
	})
}

// The driver computes pressure in 32 bits. Of the data sheet's example that makes 100656 Pa, and 64 bits make 100653 Pa.
func tinygoBarometer(t *testing.T, s *standIn) {
	s.pause = 50 * time.Millisecond
	d := bmp280.New(s)
	d.Address = 0x76
	require.True(t, d.Connected())
	d.Reset()
	d.Configure(bmp280.STANDBY_1MS, bmp280.FILTER_OFF, bmp280.SAMPLING_16X, bmp280.SAMPLING_16X, bmp280.MODE_NORMAL)
	for _, v := range flightOfPressures {
		s.senses(v)
		s.passes(100 * time.Millisecond)
		require.NoError(t, d.Update(drivers.Temperature|drivers.Pressure))
		temperature, pressure := d.Measurements()
		assert.InDelta(t, v.temperature, float64(temperature)/1e3, 0.011, "%+v", v)
		assert.InDelta(t, v.pressure, float64(pressure)/1e3, 5, "%+v", v)
	}
}

// The driver computes in 64 bits: one count of 20 bits is 0.2 Pa at most.
func periphBarometer(t *testing.T, s *standIn, d *bmxx80.Dev) {
	s.pause = 30 * time.Millisecond
	for _, v := range flightOfPressures {
		s.senses(v)
		var e physic.Env
		require.NoError(t, d.Sense(&e))
		assert.InDelta(t, v.temperature, e.Temperature.Celsius(), 0.011, "%+v", v)
		assert.InDelta(t, v.pressure, float64(e.Pressure)/float64(physic.Pascal), 0.2, "%+v", v)
	}
}

func tinygoIMU(t *testing.T, s *standIn) {
	d := mpu6050.New(s)
	require.True(t, d.Connected())
	asleep, _, _ := d.ReadAcceleration()
	assert.Zero(t, asleep, "it sleeps after power-up")
	require.NoError(t, d.Configure())
	for bits := range 4 {
		// The driver writes what it is given, so the ranges are given as bits of the register, and it always counts
		// with the smallest ranges.
		require.NoError(t, d.SetFullScaleAccelRange(uint8(bits<<3)))
		require.NoError(t, d.SetFullScaleGyroRange(uint8(bits<<3)))
		accelRange, gyroRange := 2*g0*math.Pow(2, float64(bits)), 250*math.Pow(2, float64(bits))
		for _, share := range []float64{0, 0.001, -0.001, 0.25, -0.5, 0.99, -0.99} {
			var v senses
			v.pressure = 1e5
			for i, k := range []float64{1, -0.7, 0.3} {
				v.accel[i] = math.Round(share*k*accelRange*1e3) / 1e3 // a part is given whole mm/s2
				v.gyro[i] = share * k * gyroRange * math.Pi / 180
			}
			s.senses(v)
			s.passes(20 * time.Millisecond)
			for _, read := range []struct {
				of             string
				read           func() (x, y, z int32)
				want           [3]float64
				unit, fullUnit float64 // of the driver's numbers; the range of 32768 counts
			}{
				{"accel", d.ReadAcceleration, v.accel, math.Pow(2, float64(bits)) * g0 / 1e6, accelRange},
				{"gyro", d.ReadRotation, v.gyro, math.Pow(2, float64(bits)) * math.Pi / 180 / 1e6, gyroRange * math.Pi / 180},
			} {
				x, y, z := read.read()
				for i, have := range []int32{x, y, z} {
					assert.InDelta(t, read.want[i], float64(have)*read.unit, read.fullUnit/32768, "%s %d, range %d, share %g", read.of, i, bits, share)
				}
			}
		}
	}
}

// The driver asks for one measurement with the longest oversampling, and reads at once: what the one before has found.
func tinygoMagnetometer(t *testing.T, s *standIn) {
	s.pause = 150 * time.Millisecond
	d := mag3110.New(s)
	require.True(t, d.Connected())
	d.Configure()
	for _, x := range []float64{0, 1e-7, -21.4e-6, 48.7e-6, 350e-6, -1000e-6, 1000e-6} {
		v := senses{pressure: 1e5, temperature: -7, mag: [3]float64{x, -0.7 * x, 0.31 * x}}
		s.senses(v)
		_, _, _ = d.ReadMagnetic()
		a, b, c := d.ReadMagnetic()
		for i, have := range []int16{a, b, c} {
			assert.InDelta(t, v.mag[i], float64(have)*1e-7, 0.51e-7, "axis %d at %g T", i, x)
		}
		degrees, err := d.ReadTemperature()
		require.NoError(t, err)
		assert.Equal(t, int32(256-7)*1000, degrees, "the driver takes the register for unsigned")
	}
}

func highAccelerometer(t *testing.T, s *standIn, read func() [3]int16) {
	const count = 0.049 * g0
	for _, g := range []float64{0, 1, -1, 20, -55.3, 120, 199, -199} {
		v := senses{pressure: 1e5, accel: [3]float64{g * g0, -0.5 * g * g0, 0.1 * g * g0}}
		s.senses(v)
		s.passes(50 * time.Millisecond)
		have := read()
		for i := range have {
			assert.InDelta(t, v.accel[i], float64(have[i])*count, count, "axis %d at %g g", i, g)
		}
	}
}
