package nmea

import (
	"bytes"
	"encoding/json"
	"fmt"
	"math"
	"os"
	"os/exec"
	"strings"
	"testing"
	"time"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"drystage/sim"
	"drystage/sim/r3"
)

const degree = math.Pi / 180

// Sentences that many public descriptions of NMEA 0183 print, with their checksums.
func TestChecksumOfPublishedSentences(t *testing.T) {
	for _, s := range []string{
		"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47",
		"$GPGSA,A,3,04,05,,09,12,,,24,,,,,2.5,1.3,2.1*39",
		"$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A",
		"$GPGGA,092204.999,4250.5589,S,14718.5084,E,1,04,24.4,19.7,M,,,,0000*1F",
		"$GPGSA,A,3,01,20,19,13,,,,,,,,,40.4,24.4,32.2*0A",
	} {
		between, sum, _ := strings.Cut(s[1:], "*")
		assert.Equal(t, sum, fmt.Sprintf("%02X", Checksum([]byte(between))), s)
	}
}

func TestSentences(t *testing.T) {
	e := Encoder{Start: Moment{Year: 2026, Month: 12, Day: 31, Hour: 23, Minute: 59, Second: 58}, Talker: "GN"}
	fix := sim.Fix{Latitude: 47.1 * degree, Longitude: -8.5 * degree, Height: 512.34, Velocity: r3.Vec{X: -30, Y: 40, Z: 100}, Kind: sim.Fix3D, Satellites: 9}
	south := fix
	south.Latitude, south.Longitude, south.Kind, south.Satellites = -33.9999999999*degree, 179.999999999*degree, sim.Fix2D, 3
	for _, c := range []struct {
		reason string
		fix    sim.Fix
		which  Sentences
		want   string
	}{
		{"fix", fix, GGA, "$GNGGA,235959.25,4706.00000,N,00830.00000,W,1,09,0.9,512.3,M,0.0,M,,"},
		{"minimum: 50 m/s is 97.19 kn, to the north-west", fix, RMC, "$GNRMC,235959.25,A,4706.00000,N,00830.00000,W,97.19,323.1,311226,,,A"},
		{"satellites and dilution", fix, GSA, "$GNGSA,A,3,01,02,03,04,05,06,07,08,09,,,,1.5,0.9,1.2"},
		{"course and speed", fix, VTG, "$GNVTG,323.1,T,,M,97.19,N,180.00,K,A"},
		{"no minute is 60", south, GGA, "$GNGGA,235959.25,3400.00000,S,18000.00000,E,1,03,0.9,512.3,M,0.0,M,,"},
		{"two dimensions", south, GSA, "$GNGSA,A,2,01,02,03,,,,,,,,,,1.5,0.9,1.2"},
		{"no fix", sim.Fix{}, GGA, "$GNGGA,235959.25,,,,,0,00,,,M,,M,,"},
		{"no fix", sim.Fix{}, RMC, "$GNRMC,235959.25,V,,,,,,,311226,,,N"},
		{"no fix", sim.Fix{}, GSA, "$GNGSA,A,1,,,,,,,,,,,,,99.9,99.9,99.9"},
		{"no fix", sim.Fix{}, VTG, "$GNVTG,,T,,M,,N,,K,N"},
	} {
		got := string(e.Append(nil, 1250*sim.Millisecond, &c.fix, c.which))
		body, tail, _ := strings.Cut(got, "*")
		assert.Equal(t, c.want, body, c.reason)
		assert.Equal(t, fmt.Sprintf("%02X\r\n", Checksum([]byte(body[1:]))), tail, c.reason)
	}
	assert.Contains(t, string(e.Append(nil, 2*sim.Second, &fix, RMC)), ",010127,", "the year turns")
	assert.Contains(t, string((&Encoder{}).Append(nil, 0, &fix, RMC)), "$GPRMC,000000.00,A,4706.00000,N,00830.00000,W,97.19,323.1,010100,,,A*", "the zero Encoder")
}

// Second path: the standard library's calendar.
func TestMomentsAgainstTheCalendar(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		m := Moment{Year: rapid.IntRange(1999, 2101).Draw(t, "year"), Month: rapid.IntRange(1, 12).Draw(t, "month"), Day: rapid.IntRange(1, 28).Draw(t, "day"),
			Hour: rapid.IntRange(0, 23).Draw(t, "hour"), Minute: rapid.IntRange(0, 59).Draw(t, "minute"), Second: rapid.IntRange(0, 59).Draw(t, "second")}
		span := sim.Time(rapid.Int64Range(0, 90*86400*1e9).Draw(t, "span"))
		want := time.Date(m.Year, time.Month(m.Month), m.Day, m.Hour, m.Minute, m.Second, 0, time.UTC).Add(time.Duration(span))
		got := m.after(span)
		require.Equal(t, want, time.Date(got.Year, time.Month(got.Month), got.Day, got.Hour, got.Minute, got.Second, got.Nanosecond, time.UTC))
		require.Equal(t, want.Day(), got.Day, "and in range without carrying")
	})
}

// Whatever the fix, a sentence is printable, has its checksum, and is no longer than the standard allows.
func TestAnyFixGivesWholeSentences(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		x := rapid.Float64()
		f := sim.Fix{Latitude: x.Draw(t, "lat"), Longitude: x.Draw(t, "lon"), Height: x.Draw(t, "height"), Velocity: r3.Vec{X: x.Draw(t, "vx"), Y: x.Draw(t, "vy")},
			Kind: rapid.SampledFrom([]sim.FixKind{sim.NoFix, sim.Fix2D, sim.Fix3D}).Draw(t, "kind"), Satellites: rapid.Int().Draw(t, "satellites")}
		if rapid.Bool().Draw(t, "no number") {
			f.Latitude, f.Velocity.X = math.NaN(), math.Inf(1)
		}
		out := (&Encoder{}).Append(nil, sim.Time(rapid.Int64Range(0, 3600e9).Draw(t, "t")), &f, All)
		lines := bytes.SplitAfter(out, []byte("\n"))
		require.Len(t, lines, 5)
		for _, l := range lines[:4] {
			require.LessOrEqual(t, len(l), 82, "%s", l)
			body, tail, ok := bytes.Cut(l[1:], []byte("*"))
			require.True(t, ok)
			require.Equal(t, fmt.Sprintf("%02X\r\n", Checksum(body)), string(tail))
			for _, b := range body {
				require.True(t, b > ' ' && b < 127, "%q", l)
			}
		}
	})
}

// tpv is a report of gpsdecode: the decoder of Debian's package gpsd-clients.
type tpv struct {
	Class                          string
	Mode                           int
	Time                           string
	Lat, Lon, AltMSL, Speed, Track float64
	AltHAE                         float64
}

// TestAnIndependentDecoder has gpsdecode read a flight's sentences back.
func TestAnIndependentDecoder(t *testing.T) {
	tool, err := exec.LookPath("gpsdecode")
	switch {
	case err != nil && os.Getenv("DRYSTAGE_TOOLS") == "all":
		t.Fatal("gpsdecode is missing: make tools")
	case err != nil:
		t.Skip("no gpsdecode here: apt-get install gpsd-clients")
	}
	e := Encoder{Start: Moment{Year: 2026, Month: 6, Day: 30, Hour: 23, Minute: 59, Second: 50}}
	start := time.Date(2026, 6, 30, 23, 59, 50, 0, time.UTC)
	var text []byte
	fixes := map[string]sim.Fix{}
	for k := range 200 {
		x := float64(k)
		f := sim.Fix{Latitude: (47.1 - 0.68*x) * degree, Longitude: (-170 + 1.7*x) * degree, Height: 400 + 137.77*x,
			Velocity: r3.Vec{X: 3 * x * math.Sin(x), Y: 3 * x * math.Cos(x)}, Kind: sim.Fix3D, Satellites: 4 + k%9}
		at := sim.Time(k) * 100 * sim.Millisecond
		text = e.Append(text, at, &f, GSA|GGA|RMC|VTG)
		fixes[start.Add(time.Duration(at)).Format("2006-01-02T15:04:05.000Z")] = f
	}
	cmd := exec.Command(tool, "-j")
	cmd.Stdin = bytes.NewReader(text)
	out, err := cmd.Output()
	require.NoError(t, err)
	seen := map[string]bool{}
	for line := range strings.Lines(string(out)) {
		var r tpv
		require.NoError(t, json.Unmarshal([]byte(line), &r), line)
		f, known := fixes[r.Time]
		if r.Class != "TPV" || r.Mode != 3 || r.Speed == 0 && r.Track == 0 && r.Time != start.Format("2006-01-02T15:04:05.000Z") {
			continue
		}
		require.True(t, known, line)
		seen[r.Time] = true
		require.InDelta(t, f.Latitude/degree, r.Lat, 0.51e-5/60+1e-9, line)
		require.InDelta(t, f.Longitude/degree, r.Lon, 0.51e-5/60+1e-9, line)
		if r.AltMSL != 0 {
			require.InDelta(t, f.Height, r.AltMSL, 0.051, line)
		}
		speed, course := ground(&f)
		require.InDelta(t, speed, r.Speed, 0.0051*knot+0.001, line)
		require.InDelta(t, 0, math.Mod(course-r.Track+540, 360)-180, 0.051, line)
	}
	require.Greater(t, len(seen), 190, "each fix but at the ends was read back")
}

func TestAppendDoesNotAllocate(t *testing.T) {
	e, f, buf := Encoder{}, sim.Fix{Kind: sim.Fix3D, Satellites: 8}, make([]byte, 0, 512)
	assert.Zero(t, testing.AllocsPerRun(100, func() { buf = e.Append(buf[:0], 0, &f, All) }))
}
