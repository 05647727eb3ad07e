package firmwarecontract

import (
	"encoding/binary"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// TestParts holds the stand-in parts against their data sheets, and against drivers that weren't written for them.
func TestParts(t *testing.T) {
	program := compile(t, need(t, "cc"), append([]string{"-Iparts"}, partSources...)...)
	for name, test := range map[string]func(*testing.T, string){
		"ms5611": ms5611Example, "ms5611 access": ms5611Access, "bmp280": bmp280Example, "bmp280 access": bmp280Access,
		"mpu6050": mpu6050Samples, "adxl375": adxl375FIFO, "bus faults": busFaults, "drivers": driversNotOurs,
	} {
		t.Run(name, func(t *testing.T) {
			t.Parallel()
			test(t, program)
		})
	}
}

// ms5611Words reads the calibration of an MS5611.
func ms5611Words(s *standIn) (c [8]int64) {
	for i := range c {
		c[i] = int64(binary.BigEndian.Uint16(s.reads(0x77, byte(0xA0+2*i), 2)))
	}
	return c
}

// ms5611Counts makes both conversions, with the most oversampling.
func ms5611Counts(s *standIn) (d1, d2 int64) {
	s.pause = 10 * time.Millisecond
	one := func(command byte) int64 {
		s.writes(0x77, command)
		b := s.reads(0x77, 0x00, 3)
		return int64(b[0])<<16 | int64(b[1])<<8 | int64(b[2])
	}
	return one(0x48), one(0x58)
}

// ms5611Values is the flow chart of the data sheet in floating point, with its second order: 0.01 degC, Pa.
func ms5611Values(c [8]int64, d1, d2 int64) (temperature, pressure float64) {
	dt := float64(d2) - float64(c[5])*256
	temperature = 2000 + dt*float64(c[6])/8388608
	off := float64(c[2])*65536 + float64(c[4])*dt/128
	sens := float64(c[1])*32768 + float64(c[3])*dt/256
	if temperature < 2000 {
		below := (temperature - 2000) * (temperature - 2000)
		off2, sens2 := 5*below/2, 5*below/4
		if temperature < -1500 {
			cold := (temperature + 1500) * (temperature + 1500)
			off2 += 7 * cold
			sens2 += 11 * cold / 2
		}
		temperature -= dt * dt / 2147483648
		off -= off2
		sens -= sens2
	}
	return temperature, (float64(d1)*sens/2097152 - off) / 32768
}

// ms5611Example reads the part by the commands of its data sheet: the worked example of MS5611-01BA03 (October 2012),
// that of AN520 for the check, both from memory, then the range of a flight.
func ms5611Example(t *testing.T, program string) {
	s := standInOf(t, program, "ms5611")
	c := ms5611Words(s)
	assert.Equal(t, []int64{40127, 36924, 23317, 23282, 33464, 28312}, c[1:7])
	assert.Equal(t, uint16(c[7]), crc4(c), "the check of the words")
	assert.Equal(t, uint16(0xB), crc4([8]int64{0x3132, 0x3334, 0x3536, 0x3738, 0x3940, 0x4142, 0x4344, 0x4500}), "the example of AN520")

	s.senses(senses{pressure: 100009, temperature: 20.07})
	d1, d2 := ms5611Counts(s)
	assert.InDelta(t, 9085466, d1, 150, "pressure, 0.02 Pa a count, and 0.01 degC of temperature")
	assert.InDelta(t, 8569150, d2, 150, "temperature: 296 counts have the same 0.01 degC")

	for _, v := range flightOfPressures {
		s.senses(v)
		d1, d2 := ms5611Counts(s)
		temperature, pressure := ms5611Values(c, d1, d2)
		assert.InDelta(t, v.temperature*100, temperature, 1, "%+v", v)
		assert.InDelta(t, v.pressure, pressure, 1, "%+v", v)
	}
}

// crc4 is the check of AN520 bit by bit: the remainder of the words, their last eight bits zero and eight zeros behind them,
// by x^4 + x + 1 in the high bits.
func crc4(words [8]int64) uint16 {
	var rest uint32
	for i, w := range append(words[:], 0) {
		if i == 7 {
			w &= 0xFF00
		}
		for bit := 15; bit >= 0 && (i < 8 || bit >= 8); bit-- {
			rest = rest<<1 | uint32(w>>bit)&1
			if rest&0x10000 != 0 {
				rest ^= 0x13000
			}
		}
	}
	return uint16(rest>>12) & 0xF
}

// ms5611ExampleAccess: what the part gives when it is asked too early, twice, or for what it doesn't know.
func ms5611Access(t *testing.T, program string) {
	s := standInOf(t, program, "ms5611")
	s.pause = 0
	s.senses(senses{pressure: 1e5, temperature: 20})
	zero := []byte{0, 0, 0}
	assert.Equal(t, zero, s.reads(0x77, 0x00, 3), "without a conversion")
	s.writes(0x77, 0x48)
	s.passes(7 * time.Millisecond)
	assert.Equal(t, zero, s.reads(0x77, 0x00, 3), "too early: 8.22 ms")
	s.passes(5 * time.Millisecond)
	assert.Equal(t, zero, s.reads(0x77, 0x00, 3), "that one is spoilt")
	s.writes(0x77, 0x40)
	s.passes(600 * time.Microsecond)
	assert.NotEqual(t, zero, s.reads(0x77, 0x00, 3), "0.54 ms with the least oversampling")
	assert.Equal(t, zero, s.reads(0x77, 0x00, 3), "twice")
	assert.Equal(t, []byte{0, 0}, s.reads(0x77, 0x33, 2), "an unknown command")
	s.writes(0x77, 0x1E)
	require.Error(t, s.Tx(0x77, []byte{0xA2}, make([]byte, 2)), "it reloads for 2.8 ms")
	s.passes(3 * time.Millisecond)
	assert.Equal(t, []byte{40127 >> 8, 40127 & 0xFF}, s.reads(0x77, 0xA2, 2))
}

// bmp280Example: the worked example of BST-BMP280-DS001 (its section on compensation), from memory.
func bmp280Example(t *testing.T, program string) {
	s := standInOf(t, program, "bmp280")
	s.senses(senses{pressure: 100653.27, temperature: 25.08})
	s.writes(0x76, 0xF4, 5<<5|5<<2|3)
	s.passes(time.Second)
	b := s.reads(0x76, 0xF7, 6)
	assert.InDelta(t, 415148, int(b[0])<<12|int(b[1])<<4|int(b[2])>>4, 2, "pressure")
	assert.InDelta(t, 519888, int(b[3])<<12|int(b[4])<<4|int(b[5])>>4, 16, "temperature: 32 counts have the same 0.01 degC")
}

// bmp280Access: power-up values, reset, modes, times, resolution and filter.
func bmp280Access(t *testing.T, program string) {
	s := standInOf(t, program, "bmp280")
	s.pause = 0
	assert.Equal(t, []byte{0x58}, s.reads(0x76, 0xD0, 1))
	assert.Equal(t, []byte{0, 0, 0, 0, 0x80, 0, 0, 0x80, 0, 0}, s.reads(0x76, 0xF3, 10), "power-up values")
	s.writes(0x76, 0xD0, 1, 0xF7, 9, 0xE0, 1)
	assert.Equal(t, []byte{0x58}, s.reads(0x76, 0xD0, 1), "read only")
	s.writes(0x76, 0xF4, 1<<5|1<<2|1)
	s.passes(4 * time.Millisecond)
	assert.Equal(t, byte(8), s.reads(0x76, 0xF3, 1)[0], "measuring for 5.5 ms")
	s.passes(2 * time.Millisecond)
	assert.Equal(t, []byte{0, 1<<5 | 1<<2}, s.reads(0x76, 0xF3, 2), "asleep after one measurement")
	assert.Zero(t, s.reads(0x76, 0xF9, 1)[0], "16 bits with one sample")
	s.writes(0x76, 0xF5, 4<<2, 0xF4, 1<<5|5<<2|3)
	s.passes(2 * time.Second)
	before := s.reads(0x76, 0xF7, 3)
	s.senses(senses{pressure: 5e4, temperature: 25})
	s.passes(100 * time.Millisecond)
	after := s.reads(0x76, 0xF7, 3)
	s.passes(2 * time.Second)
	last := s.reads(0x76, 0xF7, 3)
	assert.Less(t, before[0], after[0], "the filter follows")
	assert.Less(t, after[0], last[0], "slowly")
	s.writes(0x76, 0xF5, 0)
	assert.Equal(t, byte(4<<2), s.reads(0x76, 0xF5, 1)[0], "in normal mode config isn't taken")
	s.writes(0x76, 0xE0, 0xB6)
	require.Error(t, s.Tx(0x76, []byte{0xD0}, make([]byte, 1)), "it starts for 2 ms")
	s.passes(3 * time.Millisecond)
	assert.Equal(t, []byte{0, 0, 0, 0, 0x80}, s.reads(0x76, 0xF3, 5), "reset")
}

// mpu6050Samples: rate divider, low-pass, interrupt pin, FIFO and its overflow, temperature, reset.
func mpu6050Samples(t *testing.T, program string) {
	s := standInOf(t, program, "mpu6050")
	s.pause = 0
	assert.Equal(t, []byte{0x40}, s.reads(0x68, 0x6B, 1), "asleep")
	s.writes(0x68, 0x6B, 1)
	s.writes(0x68, 0x19, 4, 3, 3<<3, 3<<3)
	s.writes(0x68, 0x37, 0, 1)
	assert.Equal(t, 200, s.edges(time.Second), "1 kHz with the low-pass, divided by 5")
	s.senses(senses{temperature: 36.53, accel: [3]float64{g0, -g0, 16 * g0}})
	s.passes(6 * time.Millisecond)
	half := int16(binary.BigEndian.Uint16(s.reads(0x68, 0x3B, 2)))
	s.passes(200 * time.Millisecond)
	b := s.reads(0x68, 0x3B, 8)
	assert.Equal(t, []byte{8, 0, 0xF8, 0, 0x7F, 0xFF, 0, 0}, b, "one count in 2048 a g, clipped, temperature 0")
	assert.Less(t, half, int16(2048), "the low-pass follows slowly")
	assert.Greater(t, half, int16(200))

	assert.Equal(t, []byte{1}, s.reads(0x68, 0x3A, 1), "data ready")
	assert.Equal(t, []byte{0}, s.reads(0x68, 0x3A, 1), "cleared by reading")
	s.writes(0x68, 0x23, 0x78)
	s.writes(0x68, 0x6A, 0x44)
	s.passes(102 * time.Millisecond)
	assert.Equal(t, []byte{0, 240}, s.reads(0x68, 0x72, 2), "20 sets of 12 bytes")
	assert.Equal(t, append([]byte{8, 0, 0xF8, 0, 0x7F, 0xFF}, make([]byte, 6)...), s.reads(0x68, 0x74, 12))
	s.passes(time.Second)
	assert.Equal(t, byte(0x11), s.reads(0x68, 0x3A, 1)[0], "overflow")
	assert.Equal(t, []byte{4, 0}, s.reads(0x68, 0x72, 2), "full")
	assert.NotEqual(t, []byte{8, 0}, s.reads(0x68, 0x74, 2), "1024 isn't a multiple of 12: out of step")
	s.writes(0x68, 0x6A, 0x44)
	assert.Equal(t, []byte{0, 0}, s.reads(0x68, 0x72, 2), "FIFO reset")
	assert.Equal(t, s.reads(0x68, 0x74, 1), s.reads(0x68, 0x74, 1), "an empty FIFO gives its last byte")

	s.writes(0x68, 0x37, 0xA0) // active low, latched
	s.reads(0x68, 0x3A, 1)
	assert.Equal(t, "1", s.ask("pin"))
	s.passes(6 * time.Millisecond)
	assert.Equal(t, "0", s.ask("pin"))
	s.writes(0x68, 0x6B, 0x80)
	s.passes(2 * time.Millisecond)
	assert.Equal(t, []byte{0x40, 0}, s.reads(0x68, 0x6B, 2), "reset")
	assert.Equal(t, []byte{0, 0}, s.reads(0x68, 0x19, 2))
}

// adxl375FIFO: stream mode, watermark, overrun, multiple bytes on SPI.
func adxl375FIFO(t *testing.T, program string) {
	s := standInOf(t, program, "adxl375")
	s.pause = 0
	assert.Equal(t, []byte{0xE5}, s.reads(0x53, 0, 1))
	assert.Equal(t, []byte{0x0A, 0, 0, 0, 2, 0x0B}, s.reads(0x53, 0x2C, 6), "power-up values")
	s.writes(0x53, 0x31, 0x00)
	assert.Equal(t, []byte{0x0B}, s.reads(0x53, 0x31, 1), "three bits are always one")
	s.senses(senses{accel: [3]float64{49e-3 * g0 * 1000, 0, -49e-3 * g0 * 5000}})
	s.writes(0x53, 0x38, 0x80|10)
	s.writes(0x53, 0x2E, 2)
	s.writes(0x53, 0x2D, 8)
	s.passes(95 * time.Millisecond)
	assert.Equal(t, []byte{9}, s.reads(0x53, 0x39, 1), "100 Hz")
	assert.Equal(t, "0", s.ask("pin"))
	s.passes(10 * time.Millisecond)
	assert.Equal(t, "1", s.ask("pin"), "watermark")
	assert.Equal(t, []byte{0xE8, 3, 0, 0, 0x0F, 0xF0}, s.reads(0x53, 0x32, 6), "1000 counts, none, clipped at 200 g")
	assert.Equal(t, []byte{9}, s.reads(0x53, 0x39, 1), "one was read")
	s.passes(time.Second)
	assert.Equal(t, byte(0x83), s.reads(0x53, 0x30, 1)[0], "overrun")
	assert.Equal(t, []byte{32}, s.reads(0x53, 0x39, 1))
	b := make([]byte, 7)
	require.NoError(t, onSPI{s}.Tx([]byte{0xC0 | 0x32, 0, 0, 0, 0, 0, 0}, b))
	assert.Equal(t, []byte{0xE8, 3, 0, 0, 0x0F, 0xF0}, b[1:], "on SPI")
}

// busFaults: each fault of the bus, and that it ends.
func busFaults(t *testing.T, program string) {
	for part, at := range map[string]struct {
		address  uint16
		identity byte
		want     []byte
	}{"ms5611": {0x77, 0xA2, []byte{40127 >> 8, 40127 & 0xFF}}, "bmp280": {0x76, 0xD0, []byte{0x58}}, "mpu6050": {0x68, 0x75, []byte{0x68}}, "adxl375": {0x53, 0, []byte{0xE5}}} {
		t.Run(part, func(t *testing.T) {
			s := standInOf(t, program, part)
			b := make([]byte, len(at.want))
			s.does("faults 1 0 0 0 0")
			assert.ErrorContains(t, s.Tx(at.address, []byte{at.identity}, b), "nack")
			s.does("faults 0 1 0 0 0")
			assert.ErrorContains(t, s.Tx(at.address, []byte{at.identity}, b), "blocked")
			s.does("faults 0 0 5 0 0")
			assert.NotEqual(t, at.want, s.reads(at.address, at.identity, len(b)), "wrong identity")
			s.does("faults 0 0 0 4 0")
			wrong := 0
			for range 400 {
				if err := s.Tx(at.address, []byte{at.identity}, b); err != nil || string(b) != string(at.want) {
					wrong++
				}
			}
			assert.InDelta(t, 175+75*(len(b)-1), wrong, 60, "bit errors: one in four of the bytes of each transaction")
			s.does("faults 0 0 0 0 0")
			s.does("power")
			require.Error(t, s.Tx(at.address, []byte{at.identity}, b), "after a loss of power it starts")
			s.passes(100 * time.Millisecond)
			assert.Equal(t, at.want, s.reads(at.address, at.identity, len(b)))
		})
	}
}
