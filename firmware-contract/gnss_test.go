//go:build linux

package firmwarecontract

import (
	"math"
	"math/rand/v2"
	"os"
	"slices"
	"strconv"
	"strings"
	"testing"

	"github.com/stretchr/testify/require"

	"drystage/harness"
	"drystage/harness/judge/verdict"
	"drystage/sim"
	"drystage/sim/nmea"
)

// TestReceiver holds the sentences of the stand-in receiver against those of the bench's own ports, which gpsdecode
// reads: with whole numbers only, the course may differ by its last digit.
func TestReceiver(t *testing.T) {
	s := standInOf(t, compile(t, need(t, "cc"), append([]string{"-Iparts"}, partSources...)...), "bmp280") // the program wants a part
	draw := rand.New(rand.NewPCG(1, 2))
	signed := func(most float64) int32 { return int32((2*draw.Float64() - 1) * most) }
	for i := range 400 {
		kind, satellites := []int{0, 2, 3, 3}[i%4], draw.IntN(20)
		ms := draw.Uint32N(3 * 86400000)
		latitude, longitude, height := signed(90e7), signed(180e7), signed(11e6)
		east, north := signed(300e3), signed(300e3)
		if i < 8 {
			latitude, longitude, east, north = [8]int32{0, -1, 899999999, -900000000}[i%4], -1799999999, [8]int32{0, 0, -1000, 51}[i%4], [8]int32{0, 1000, 0, -51}[i%4]
		}
		fix := sim.Fix{Kind: sim.FixKind(kind), Satellites: satellites, Height: float64(height) / 1e3,
			Latitude: float64(latitude) / 1e7 * math.Pi / 180, Longitude: float64(longitude) / 1e7 * math.Pi / 180}
		fix.Velocity.X, fix.Velocity.Y = float64(east)/1e3, float64(north)/1e3
		encoder := nmea.Encoder{}
		want := string(encoder.Append(nil, sim.Time(ms)*sim.Millisecond, &fix, nmea.GGA|nmea.RMC))
		have := s.ask("fix %d %d %d %d %d %d %d %d", ms, latitude, longitude, height, east, north, kind, satellites) + "\n"
		for s.out.Scan() && s.out.Text() != "" {
			have += s.out.Text() + "\n"
		}
		require.Equal(t, 2, strings.Count(have, "\n"))
		sameSentences(t, strings.ReplaceAll(want, "\r", ""), have)
	}
}

// TestReceiverBreakwireMagnetometer flies a firmware that hears, sees and reads them on the chip, and one whose serial line
// is set to another rate than the receiver's.
func TestReceiverBreakwireMagnetometer(t *testing.T) {
	if raceOn {
		t.Skip("emulators are not raced; make suite flies them without")
	}
	_ = chip(t, "")
	for _, c := range []struct{ name, was, is, fails string }{
		{"as it is", "", "", ""},
		{"another rate", "UBRR1 = 103;", "UBRR1 = 51;", "sustainer.high fires from"},
		{"another pin", "PINL & (1 << PL2)", "PINL & (1 << PL3)", "sustainer.gone fires from"},
		{"another address", "#define FIELD 0x0E", "#define FIELD 0x0F", "sustainer.field fires from"},
	} {
		t.Run(c.name, func(t *testing.T) {
			t.Parallel()
			dir := t.TempDir()
			text, err := os.ReadFile("test/receiver.c")
			require.NoError(t, err)
			require.Contains(t, string(text), c.was)
			require.NoError(t, os.WriteFile(dir+"/receiver.c", []byte(strings.ReplaceAll(string(text), c.was, c.is)), 0o600))
			run(t, need(t, "avr-gcc"), "-mmcu=atmega2560", "-std=c99", "-Os", "-Wall", "-Wextra", "-Werror", "-Iunaware", "-o", dir+"/receiver.elf", dir+"/receiver.c", "unaware/bus.c", "-lm")
			v := verdict.Judge(flyChip(t, planOf(t, "testdata/receiver.yaml"), "avr:"+dir+"/receiver.elf?bridge="+unawareDir.name+"/bridge&wiring=testdata/receiver-wiring.yaml"))
			if c.fails == "" {
				require.Equal(t, harness.Pass, v.Answer, "%s", strings.Join(failures(&v), "\n"))
				return
			}
			require.True(t, slices.ContainsFunc(v.Findings, func(f harness.Finding) bool {
				return f.Answer == harness.Fail && strings.HasPrefix(f.Text, c.fails)
			}), "%s", strings.Join(failures(&v), "\n"))
		})
	}
}

// sameSentences wants the same fields, but for the last digit of what is rounded, and checksums that are right.
func sameSentences(t *testing.T, want, have string) {
	wanted := strings.Split(want, "\n")
	for i, line := range strings.Split(have, "\n") {
		if line == "" {
			continue
		}
		between, sum, _ := strings.Cut(strings.TrimPrefix(line, "$"), "*")
		n, err := strconv.ParseUint(sum, 16, 8)
		require.NoError(t, err, line)
		require.Equal(t, nmea.Checksum([]byte(between)), byte(n), line)
		w, _, _ := strings.Cut(strings.TrimPrefix(wanted[i], "$"), "*")
		fields := strings.Split(w, ",")
		for k, field := range strings.Split(between, ",") {
			require.Less(t, k, len(fields), "%s; wanted %s", line, w)
			if field == fields[k] {
				continue
			}
			a, errA := strconv.ParseFloat(field, 64)
			b, errB := strconv.ParseFloat(fields[k], 64)
			_, decimals, _ := strings.Cut(field, ".")
			require.True(t, errA == nil && errB == nil && len(decimals) <= 2 && math.Abs(math.Remainder(a-b, 360)) < 1.01*math.Pow10(-len(decimals)), "%s; wanted %s", line, w)
		}
		require.Len(t, strings.Split(between, ","), len(fields), "%s; wanted %s", line, w)
	}
}
