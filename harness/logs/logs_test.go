package logs

import (
	"bytes"
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
	"pgregory.net/rapid"

	"drystage/sim"
)

func read(t require.TestingT, text string) *Log {
	l, err := ReadText(strings.NewReader(text), "flight.csv", nil, Options{}, nil)
	require.NoError(t, err)
	return l
}

// drawn is any log whose parts have rates of their own.
func drawn(t *rapid.T) *Log {
	b := newBuilder("drawn", 0)
	b.first = false
	for _, c := range channels {
		if c.Word != "barometer height" {
			b.want(c)
		}
	}
	every := map[sim.Part]int{sim.PartAccel: 1, sim.PartGyro: 2, sim.PartBaro: 3, sim.PartGNSS: 7, sim.PartBattery: 5}
	for i := range rapid.IntRange(220, 400).Draw(t, "rows") {
		b.now = sim.Time(i) * 5 * sim.Millisecond
		for p := sim.PartAccel; p <= sim.PartBattery; p++ {
			if i%every[p] == 0 {
				for _, c := range channelsOf(p) {
					b.set(c, rapid.Int32Range(-2e9, 2e9).Draw(t, c.Word))
				}
			}
		}
		require.NoError(t, b.row(harnessPlace))
	}
	l := b.done()
	l.Outputs = []Output{{1, "ignite", true, 7 * sim.Millisecond}, {2, "drogue", true, 500 * sim.Millisecond}, {1, "ignite", false, sim.Second}}
	l.Commands = []Command{{10 * sim.Millisecond, sim.CommandArm}}
	return l
}

// TestWrittenLogsAreReadBack: what the simulator exports is understood without a mapping, to the count.
func TestWrittenLogsAreReadBack(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		l := drawn(t)
		var b bytes.Buffer
		require.NoError(t, Write(&b, l))
		got := read(t, b.String())
		got.Name, got.Origin, got.Notes = l.Name, l.Origin, l.Notes
		require.Equal(t, l, got)
	})
}

// rows writes n rows of a table, row i by line(i).
func rows(header string, n int, line func(i int) string) string {
	var b strings.Builder
	if header != "" {
		b.WriteString(header + "\n")
	}
	for i := range n {
		b.WriteString(line(i) + "\n")
	}
	return b.String()
}

func TestTablesAreUnderstood(t *testing.T) {
	for _, c := range []struct {
		reason, text string
		part         sim.Part
		channel      int
		first        float64 // of the part's first sample
		n            int
		step         sim.Time
	}{
		{"g, hPa and ms, told by the numbers alone", rows("time,ax,ay,az,pressure", 300, func(i int) string { return fmt.Sprintf("%d,0.998,0.01,-0.02,%.2f", 5*i, 1001-0.01*float64(i)) }), sim.PartAccel, X, 0.998 * 9.80665, 300, 5 * sim.Millisecond},
		{"hPa", rows("time,ax,ay,az,pressure", 300, func(i int) string { return fmt.Sprintf("%d,0.998,0.01,-0.02,%.2f", 5*i, 1001-0.01*float64(i)) }), sim.PartBaro, Pressure, 100100, 300, 5 * sim.Millisecond},
		{"decimal commas between semicolons", rows("Time (s);Pressure (mbar);Altitude (ft)", 250, func(i int) string { return fmt.Sprintf("%d,%03d;990,5;%d,0", i/100, i%100*10, i) }), sim.PartBaro, Pressure, 99050, 250, 10 * sim.Millisecond},
		{"feet in brackets", rows("Time (s);Altitude (ft)", 250, func(i int) string { return fmt.Sprintf("%d,%03d;%d,0", i/100, i%100*10, i+100) }), sim.PartBaro, Height, 30.48, 250, 10 * sim.Millisecond},
		{"tabs and words with units after an underscore", rows("t_us\tgyro_x_dps\tgyro_y_dps\tgyro_z_dps", 250, func(i int) string { return fmt.Sprintf("%d\t90\t1\t2", 2500*i) }), sim.PartGyro, X, math.Pi / 2, 250, 2500 * sim.Microsecond},
		{"a slow sensor repeated in the rows of a fast one", rows("time [s],accel x [m/s2],pressure [Pa]", 400, func(i int) string {
			return fmt.Sprintf("%.3f,%.3f,%d", float64(i)*0.005, 9.8+0.01*float64(i%3), 96000-i/4)
		}), sim.PartBaro, Pressure, 96000, 100, 20 * sim.Millisecond},
		{"wall clock over midnight", rows("time;pressure [Pa]", 20, func(i int) string {
			s := 86390 + i
			return fmt.Sprintf("%02d:%02d:%02d.0;96000", s/3600%24, s/60%60, s%60)
		}), sim.PartBaro, Pressure, 96000, 20, sim.Second},
	} {
		t.Run(c.reason, func(t *testing.T) {
			l := read(t, c.text)
			s := &l.Streams[c.part]
			require.Equal(t, c.n, s.Len())
			x, ok := s.Value(0, c.channel)
			require.True(t, ok)
			assert.InDelta(t, c.first, x, 1e-3*math.Max(1, math.Abs(c.first)*1e-3))
			assert.Equal(t, c.step, s.Period())
			assert.Empty(t, l.Notes)
		})
	}
}

// TestDoubtsAreAsked: what could mean two things is never taken for one.
func TestDoubtsAreAsked(t *testing.T) {
	for _, c := range []struct{ reason, text, doubt string }{
		{"rows one apart: seconds, milliseconds or ticks", rows("t,pressure [Pa]", 50, func(i int) string { return fmt.Sprintf("%d,96000", i) }), "ticks"},
		{"a height without a unit", rows("t [s],altitude", 50, func(i int) string { return fmt.Sprintf("%d,%d", i, i) }), "in which unit"},
		{"no time at all", rows("pressure [Pa],accel x [g]", 50, func(i int) string { return "96000,1" }), "no column is known as the time"},
		{"slow turning, rad or deg", rows("t [s],gyro x", 50, func(i int) string { return fmt.Sprintf("%d,0.1", i) }), "in which unit"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			_, err := ReadText(strings.NewReader(c.text), "flight.csv", nil, Options{}, nil)
			require.ErrorContains(t, err, c.doubt)
			require.ErrorContains(t, err, "--propose-mapping")
		})
	}
}

func TestMappingIsFollowed(t *testing.T) {
	m, err := ReadMapping([]byte(`drystage: mapping
delimiter: comma
decimal: point
header: 0
time: {column: "#1", unit: ticks, rate: 100 Hz, start: 1 s}
columns:
  - {column: "#2", is: accelerometer x, unit: g0, sign: "-"}
  - {column: "#3", is: barometer temperature, unit: degF}
  - {column: "#4", is: output 2}
`), "m.yaml")
	require.NoError(t, err)
	l, err := ReadTable(strings.NewReader(rows("", 300, func(i int) string { return fmt.Sprintf("%d,-1,32,%d", i, i/200) })), "x.csv", m, Options{})
	require.NoError(t, err)
	a := &l.Streams[sim.PartAccel]
	assert.Equal(t, 200, a.Len(), "rows before the start are not part of the log")
	assert.Equal(t, sim.Time(0), a.Times[0])
	x, _ := a.Value(0, X)
	assert.InDelta(t, 9.80665, x, 1e-3)
	w, _ := l.Streams[sim.PartBaro].Value(0, Temperature)
	assert.InDelta(t, 273.15, w, 1e-9)
	require.Len(t, l.Outputs, 1)
	assert.Equal(t, Output{2, "#4", true, sim.Second}, l.Outputs[0])
}

func TestWrongMappings(t *testing.T) {
	good := "drystage: mapping\ndelimiter: comma\ndecimal: point\nheader: 1\ntime: {column: t, unit: s}\ncolumns:\n  - {column: p, is: barometer pressure, unit: Pa}\n"
	_, err := ReadMapping([]byte(good), "m.yaml")
	require.NoError(t, err)
	for _, c := range []struct{ reason, old, new, says string }{
		{"an unknown key", "header: 1", "heder: 1", "m.yaml:4:1"},
		{"a unit of another kind", "unit: Pa", "unit: m", "m.yaml:7:47: found \"m\", wanted a unit of a pressure"},
		{"a wrong word", "barometer pressure", "barometer presure", `did you mean "barometer pressure"?`},
		{"a wrong delimiter", "comma", "coma", `m.yaml:2:12: found "coma"`},
		{"a clock without unit", ", unit: s", "", "m.yaml:5:"},
		{"no columns", "  - {column: p, is: barometer pressure, unit: Pa}\n", "  []\n", "at least one"},
		{"another kind of file", "drystage: mapping", "drystage: vehicle", "m.yaml:1:11"},
	} {
		t.Run(c.reason, func(t *testing.T) {
			_, err := ReadMapping([]byte(strings.Replace(good, c.old, c.new, 1)), "m.yaml")
			require.ErrorContains(t, err, c.says)
		})
	}
	m, _ := ReadMapping([]byte(good), "m.yaml")
	_, err = ReadTable(strings.NewReader("t,q\n1,2\n"), "x.csv", m, Options{})
	require.ErrorContains(t, err, "m.yaml:7:14: found column \"p\", which the log does not have, wanted one of t, q")
}

// TestProposalIsAMapping: what is proposed can be read as a mapping, and means the same.
func TestProposalIsAMapping(t *testing.T) {
	p, err := Propose(strings.NewReader(rows("time,ax,ay,az,pressure,who knows", 300, func(i int) string { return fmt.Sprintf("%d,0.998,0.01,-0.02,%.2f,7", 5*i, 1001.0) })), "x.csv")
	require.NoError(t, err)
	m, err := ReadMapping(p.YAML(), "m.yaml")
	require.NoError(t, err, string(p.YAML()))
	assert.Equal(t, p.Mapping.Columns, m.Columns)
	assert.Equal(t, p.Mapping.Time, m.Time)
	assert.Contains(t, string(p.YAML()), "one g in g0")
	assert.Contains(t, string(p.YAML()), "left out: who knows")
}

func TestClocksAndDamage(t *testing.T) {
	line := func(s float64, p string) string { return fmt.Sprintf("%.2f,%s\n", s, p) }
	head := "time [s],pressure [Pa]\n"
	for i := range 30 {
		head += line(float64(i)*0.02, "96000")
	}
	for _, c := range []struct {
		reason, tail string
		kind         NoteKind
		says         string
		n            int
	}{
		{"a repeated stamp", line(0.58, "95000") + line(0.60, "96000"), Repeated, "flight.csv:32:1", 31},
		{"a row that comes late", line(0.50, "95000") + line(0.60, "96000"), Backward, "older than the one before", 31},
		{"a clock that begins anew", line(20, "96000") + line(0.1, "96000") + line(0.12, "96000"), Backward, "fell back by 19.900 s", 33},
		{"a leap of the clock", line(100, "96000") + line(100.02, "96000"), Forward, "leapt ahead by 99.420 s", 32},
		{"a word among numbers", line(0.60, "96k") + line(0.62, "96000"), Damage, `flight.csv:32:6: damage: "96k": no number`, 31},
		{"a number beyond all sense", line(0.60, "1e308") + line(0.62, "96000"), Damage, "too large for barometer pressure", 31},
		{"a last line without its end", "0.60,960", Cut, "flight.csv:32:1: cut", 30},
		{"a word for nothing is no damage", line(0.60, "nan") + line(0.60, "96000"), Repeated, "", 31},
	} {
		t.Run(c.reason, func(t *testing.T) {
			l := read(t, head+c.tail)
			assert.Equal(t, c.n, l.Streams[sim.PartBaro].Len())
			require.NotEmpty(t, l.Notes)
			assert.Equal(t, c.kind, l.Notes[0].Kind)
			assert.Contains(t, l.Notes[0].String(), c.says)
			for i := 1; i < l.Streams[sim.PartBaro].Len(); i++ {
				require.Greater(t, l.Streams[sim.PartBaro].Times[i], l.Streams[sim.PartBaro].Times[i-1])
			}
		})
	}
}

// Sentences made for this test; checksums computed by the rule of NMEA 0183 (exclusive or).
func sentence(body string) string {
	sum := byte(0)
	for i := range len(body) {
		sum ^= body[i]
	}
	return fmt.Sprintf("$%s*%02X\r\n", body, sum)
}

func TestNMEA(t *testing.T) {
	text := sentence("GPGGA,101500.00,4706.0000,N,00830.0000,E,1,09,0.9,450.5,M,47.0,M,,") +
		sentence("GPRMC,101500.00,A,4706.0000,N,00830.0000,E,19.4384,090.0,251126,,") +
		sentence("GNGSV,1,1,01,01,40,083,46") +
		strings.Replace(sentence("GPGGA,101500.10,4706.0000,N,00830.0000,E,1,09,0.9,451.5,M,47.0,M,,"), "451", "461", 1) +
		sentence("GPGGA,101500.20,4706.0000,S,00830.0000,W,0,00,,,M,,M,,") +
		sentence("GPGGA,101500.30,4706.0000,S,00830.0000,W,1,05,0.9,452.5,M,47.0,M,,")
	l, err := ReadText(strings.NewReader(text), "x.nmea", nil, Options{}, nil)
	require.NoError(t, err)
	s := &l.Streams[sim.PartGNSS]
	require.Equal(t, []sim.Time{0, 200 * sim.Millisecond, 300 * sim.Millisecond}, s.Times)
	for _, c := range []struct {
		reason   string
		i, ch    int
		want, by float64
		has      bool
	}{
		{"4706.0 is 47.1 deg", 0, Latitude, 47.1 * degree, 1e-9, true},
		{"height above sea", 0, Altitude, 450.5, 1e-9, true},
		{"19.4384 kn east are 10 m/s", 0, East, 10, 1e-3, true},
		{"and none north", 0, North, 0, 1e-3, true},
		{"no fix has no height", 1, Altitude, 0, 0, false},
		{"no fix", 1, Fix, 0, 0, true},
		{"south is negative", 2, Latitude, -47.1 * degree, 1e-9, true},
		{"a speed upwards is not in these sentences", 0, Up, 0, 0, false},
	} {
		x, ok := s.Value(c.i, c.ch)
		assert.Equal(t, c.has, ok, c.reason)
		assert.InDelta(t, c.want, x, c.by, c.reason)
	}
	require.Len(t, l.Notes, 1)
	assert.Contains(t, l.Notes[0].String(), "x.nmea:4:1: damage: checksum")
}

// TestNumbers holds the quick way against strconv's.
func TestNumbers(t *testing.T) {
	rapid.Check(t, func(t *rapid.T) {
		s := rapid.StringMatching(`[-+]?[0-9]{0,12}[.]?[0-9]{0,12}(e[-+]?[0-9]{1,2})?`).Draw(t, "s")
		want, ok := slow([]byte(s), false)
		got, gotOK := number([]byte(s), false)
		require.Equal(t, ok, gotOK, s)
		if ok {
			require.Equal(t, want, got, s)
		}
	})
}
