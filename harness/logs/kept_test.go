package logs

import (
	"fmt"
	"math"
	"slices"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"

	"drystage/sim"
)

// TestHowLogsAreKept: small tables in the ways in which people keep them; all but those that ask are read.
func TestHowLogsAreKept(t *testing.T) {
	p := func(i int) float64 { return 96000 - 2*float64(i) }
	for _, c := range []struct {
		reason, text string
		asks         string // what somebody is asked; "": nothing
		left         string // a column that is left out
		part         sim.Part
		channel      int
		first        float64
		n            int
	}{
		{"a line of units", rows("t;p\ns;mbar", 100, func(i int) string { return fmt.Sprintf("%.2f;%.2f", float64(i)/100, p(i)/100) }), "", "", sim.PartBaro, Pressure, 96000, 100},
		{"a line of units in brackets", rows("time,accel_x,press\n[ms],[g],[kPa]", 100, func(i int) string { return fmt.Sprintf("%d,1.00%d,%.3f", 10*i, i%10, p(i)/1000) }), "", "", sim.PartBaro, Pressure, 96000, 100},
		{"units and a dash where there is none", rows("time,p,state\ns,hPa,-", 100, func(i int) string { return fmt.Sprintf("%.2f,%.2f,pad", float64(i)/100, p(i)/100) }), "", "", sim.PartBaro, Pressure, 96000, 100},
		{"ms alone", rows("ms,p_hPa", 100, func(i int) string { return fmt.Sprintf("%d,%.2f", 10*i, p(i)/100) }), "", "", sim.PartBaro, Pressure, 96000, 100},
		{"us alone", rows("us,p_mbar", 100, func(i int) string { return fmt.Sprintf("%d,%.2f", 10000*i, p(i)/100) }), "", "", sim.PartBaro, Pressure, 96000, 100},
		{"inches of mercury, told by the numbers", rows("time_s,pressure", 100, func(i int) string { return fmt.Sprintf("%.2f,%.4f", float64(i)/100, p(i)/3386.389) }), "", "", sim.PartBaro, Pressure, 96000, 100},
		{"feet a second squared, told by the pad", rows("time_s,ax,ay,az", 100, func(i int) string { return fmt.Sprintf("%.2f,32.17,0.1,%.1f", float64(i)/100, 0.1*float64(i%2)) }), "", "", sim.PartAccel, X, 32.17 * 0.3048, 100},
		{"one axis, no blank before its unit", rows("t(s),a(g)", 100, func(i int) string { return fmt.Sprintf("%.2f,1.00%d", float64(i)/100, i%10) }), "", "", sim.PartAccel, X, 9.80665, 100},
		{"decimal commas between tabs", rows("t_s\tp_kPa", 100, func(i int) string {
			return strings.ReplaceAll(fmt.Sprintf("%.2f\t%.3f", float64(i)/100, p(i)/1000), ".", ",")
		}), "", "", sim.PartBaro, Pressure, 96000, 100},
		{"decimal commas between blanks", rows("t_s p_kPa", 100, func(i int) string {
			return strings.ReplaceAll(fmt.Sprintf("%.2f   %.3f", float64(i)/100, p(i)/1000), ".", ",")
		}), "", "", sim.PartBaro, Pressure, 96000, 100},
		{"decimal commas in quotes between commas", rows("t_s,p_kPa", 100, func(i int) string {
			return strings.ReplaceAll(fmt.Sprintf(`"%.2f"|"%.3f"`, float64(i)/100, p(i)/1000), ".", ",")
		}), "", "", sim.PartBaro, Pressure, 96000, 100},
		{"a header that is a remark", rows("# t_s,p_Pa", 100, func(i int) string { return fmt.Sprintf("%.2f,%.1f", float64(i)/100, p(i)) }), "", "", sim.PartBaro, Pressure, 96000, 100},
		{"remarks and prose above the header", rows("// bay 2\nthe third flight\n\nt_s,p_Pa", 100, func(i int) string { return fmt.Sprintf("%.2f,%.1f", float64(i)/100, p(i)) }), "", "", sim.PartBaro, Pressure, 96000, 100},
		{"remarks between the rows", rows("t_s,p_Pa", 100, func(i int) string {
			return fmt.Sprintf("%% row %d\n%.2f,%.1f", i, float64(i)/100, p(i))
		}), "", "", sim.PartBaro, Pressure, 96000, 100},
		{"rows that end in a delimiter", rows("t_s,p_Pa", 100, func(i int) string { return fmt.Sprintf("%.2f,%.1f,", float64(i)/100, p(i)) }), "", "", sim.PartBaro, Pressure, 96000, 100},
		{"two clocks", rows("utc,millis,p_Pa", 100, func(i int) string { return fmt.Sprintf("10:00:%02d,%d,%.1f", i/50, 20*i, p(i)) }), "", "utc", sim.PartBaro, Pressure, 96000, 100},
		{"a height above the sea beside a position", rows("t_s,lat,lon,alt_msl (m)", 100, func(i int) string { return fmt.Sprintf("%.1f,47.1,8.5,%d", float64(i)/10, 450+i) }), "", "", sim.PartGNSS, Altitude, 450, 100},
		{"a height without its unit beside a pressure", rows("t_s,p_Pa,altitude", 100, func(i int) string { return fmt.Sprintf("%.1f,%.1f,%.1f", float64(i)/10, p(10*i), 1.65*float64(i)) }), "", "", sim.PartBaro, Height, 0, 100},
		{"the same in feet", rows("t_s,p_Pa,altitude", 100, func(i int) string { return fmt.Sprintf("%.1f,%.1f,%.1f", float64(i)/10, p(10*i), 5.7*float64(i)) }), "", "", sim.PartBaro, Height, 0, 100},
		{"an angular acceleration is no acceleration", rows("t_s,p_Pa,angular_acceleration_x_rad_s2", 100, func(i int) string { return fmt.Sprintf("%.2f,%.1f,0.1", float64(i)/100, p(i)) }), "", "angular_acceleration_x_rad_s2", sim.PartBaro, Pressure, 96000, 100},
		{"a second barometer", rows("t_s,p1_Pa,p_Pa", 100, func(i int) string { return fmt.Sprintf("%.2f,%.1f,%.1f", float64(i)/100, p(i), p(i)) }), "", "", sim.PartBaro, Pressure, 96000, 100},
		{"no names at all", rows("", 200, func(i int) string { return fmt.Sprintf("%.2f,%.1f", float64(i)/100, p(i)) }), "no names of columns", "", 0, 0, 0, 0},
		{"counts of a converter", rows("t_s,p_raw", 100, func(i int) string { return fmt.Sprintf("%.2f,%d", float64(i)/100, 30000-i) }), "counts", "", 0, 0, 0, 0},
		{"a unit of something else", rows("t_s,pressure (m)", 100, func(i int) string { return fmt.Sprintf("%.2f,%d", float64(i)/100, 300-i) }), `"m" is no unit of a pressure`, "", 0, 0, 0, 0},
		{"a told unit against the pad", rows("t_s,accel x (g)", 100, func(i int) string { return fmt.Sprintf("%.2f,9.8%d", float64(i)/100, i%10) }), "reads 9.8", "", 0, 0, 0, 0},
		{"hPa that are Pa", rows("t_s,p_hPa", 100, func(i int) string { return fmt.Sprintf("%.2f,%.1f", float64(i)/100, p(i)) }), "no pressure of the air", "", 0, 0, 0, 0},
		{"degrees and minutes in one number", rows("t_s,p_Pa,lat,lon", 100, func(i int) string { return fmt.Sprintf("%.2f,%.1f,4706.123,830.2", float64(i)/100, p(i)) }), "no angle in deg", "", 0, 0, 0, 0},
		{"seconds that would be microseconds", rows("t_us,p_Pa", 100, func(i int) string { return fmt.Sprintf("%d,%.1f", i, p(i)) }), "is the unit us", "", 0, 0, 0, 0},
		{"an output that is on from the start", rows("t_s,p_Pa,pyro1", 100, func(i int) string { return fmt.Sprintf("%.2f,%.1f,1", float64(i)/100, p(i)) }), "is on in the first row", "", 0, 0, 0, 0},
	} {
		t.Run(c.reason, func(t *testing.T) {
			text := strings.ReplaceAll(c.text, "|", ",")
			var told *Proposal
			l, err := ReadText(strings.NewReader(text), "x.csv", nil, Options{}, func(p *Proposal) { told = p })
			if c.asks != "" {
				require.ErrorContains(t, err, c.asks)
				return
			}
			require.NoError(t, err)
			if c.left != "" {
				require.NotEmpty(t, told.Left)
				assert.Equal(t, c.left, told.Left[0].Column)
			}
			s := &l.Streams[c.part]
			require.Equal(t, c.n, s.Len(), "%s", told.YAML())
			x, ok := s.Value(0, c.channel)
			require.True(t, ok)
			assert.InDelta(t, c.first, x, 1e-3*math.Max(10, math.Abs(c.first)))
			for _, n := range l.Notes {
				assert.Failf(t, "a note", "%s", n)
			}
		})
	}
}

// TestUnitsAgainstPressure: metres and feet are told apart by the pressure beside them.
func TestUnitsAgainstPressure(t *testing.T) {
	for _, c := range []struct{ unit, rise float64 }{{1, 1}, {0.3048, 1 / 0.3048}} {
		l := read(t, rows("t_s,p_Pa,altitude", 100, func(i int) string {
			h := 5 * float64(i)
			return fmt.Sprintf("%.1f,%.1f,%.1f", float64(i)/10, 96000*math.Pow(1-h/44331, 1/0.19026), h*c.rise)
		}))
		x, ok := l.Streams[sim.PartBaro].Value(99, Height)
		require.True(t, ok)
		assert.InDelta(t, 495, x, 0.2)
	}
}

// TestScaleAndOffset: counts of a converter become the unit.
func TestScaleAndOffset(t *testing.T) {
	m, err := ReadMapping([]byte(`drystage: mapping
delimiter: comma
decimal: point
header: 1
units: 2
time: {column: t, unit: s}
columns:
  - {column: a, is: accelerometer x, unit: g0, scale: 0.01, offset: -20.48}
  - {column: b, is: accelerometer y, unit: g0, scale: 0.01, offset: -20.48, sign: "-"}
  - {column: w, is: barometer temperature, unit: degF, scale: 0.1}
  - {column: v, is: board speed, unit: ft/s, scale: 10}
  - {column: s, is: board state}
  - {column: o, is: output 3}
`), "m.yaml")
	require.NoError(t, err)
	l, err := ReadTable(strings.NewReader("t,a,b,w,v,s,o\ns,counts,counts,,,,\n0,2148,2148,320,1,pad,off\n0.1,2048,2048,320,2,pad,off\n0.2,2048,1948,320,2,boost,ON\n"), "x.csv", m, Options{})
	require.NoError(t, err)
	assert.Empty(t, l.Notes)
	for _, c := range []struct {
		part  sim.Part
		ch, i int
		want  float64
	}{{sim.PartAccel, X, 0, 9.80665}, {sim.PartAccel, X, 1, 0}, {sim.PartAccel, Y, 0, -9.80665}, {sim.PartAccel, Y, 2, 9.80665}, {sim.PartBaro, Temperature, 0, 273.15}} {
		x, ok := l.Streams[c.part].Value(c.i, c.ch)
		assert.True(t, ok)
		assert.InDelta(t, c.want, x, 1e-3, "%+v", c)
	}
	assert.Equal(t, []State{{0, "pad"}, {200 * sim.Millisecond, "boost"}}, l.Own.States)
	assert.Equal(t, []int32{3048, 6096, 6096}, l.Own.Speed)
	assert.Equal(t, []Output{{3, "o", true, 200 * sim.Millisecond}}, l.Outputs)
}

// TestCountersWrap: a counter that begins again at 0 is no restart, and loses no time.
func TestCountersWrap(t *testing.T) {
	table := func(unit string, from, step, bits float64) string {
		return rows("time_"+unit+",p_Pa", 100, func(i int) string {
			return fmt.Sprintf("%.0f,96000", math.Mod(from+step*float64(i), math.Pow(2, bits)))
		})
	}
	for _, c := range []struct {
		reason, text string
		kind         NoteKind
		period       sim.Time
		span         sim.Time
	}{
		{"16 bits of ms", table("ms", 65536-500, 10, 16), Wrapped, 10 * sim.Millisecond, 990 * sim.Millisecond},
		{"24 bits of us", table("us", 1<<24-300000, 10000, 24), Wrapped, 10 * sim.Millisecond, 990 * sim.Millisecond},
		{"32 bits of us", table("us", 1<<32-300000, 10000, 32), Wrapped, 10 * sim.Millisecond, 990 * sim.Millisecond},
		{"32 bits of ms", table("ms", 1<<32-300, 10, 32), Wrapped, 10 * sim.Millisecond, 990 * sim.Millisecond},
		{"a restart far from the top", table("ms", 30000-500, 10, 14.872674880270605), Backward, 10 * sim.Millisecond, 0},
	} {
		l := read(t, c.text)
		require.Len(t, l.Notes, 1, c.reason)
		assert.Equal(t, c.kind, l.Notes[0].Kind, c.reason)
		s := &l.Streams[sim.PartBaro]
		assert.Equal(t, c.period, s.Period(), c.reason)
		assert.Equal(t, 100, s.Len(), c.reason)
		if c.span > 0 {
			assert.InDelta(t, c.span.Seconds(), s.Times[99].Seconds(), 1e-6, c.reason)
		}
	}
}

// TestWhoseHeight: a height beside a receiver's position is the receiver's in a log of nothing else, and is asked for
// beside an accelerometer.
func TestWhoseHeight(t *testing.T) {
	for _, c := range []struct {
		names, reason, is string
		asked             bool
	}{
		{"time_s,latitude_deg,longitude_deg,altitude_m", "a receiver alone", "gnss height", false},
		{"time_s,latitude_deg,longitude_deg,baro_alt_m", "its name tells", "barometer height", false},
		{"time_s,latitude_deg,acc_x_mps2,altitude_m", "a board with more parts", "barometer height", true},
	} {
		t.Run(c.reason, func(t *testing.T) {
			var b strings.Builder
			b.WriteString(c.names + "\n")
			for i := range 100 {
				fmt.Fprintf(&b, "%.2f,47.10000%d,9.80%d,%.1f\n", float64(i)/20, i%10, i%7, 400+float64(i%5)/10)
			}
			p, err := Propose(strings.NewReader(b.String()), "x.csv")
			require.NoError(t, err)
			i := slices.IndexFunc(p.Mapping.Columns, func(x Column) bool { return strings.HasSuffix(x.Is, "height") })
			require.GreaterOrEqual(t, i, 0)
			assert.Equal(t, c.is, p.Mapping.Columns[i].Is)
			asked := slices.ContainsFunc(p.Doubts, func(d string) bool { return strings.Contains(d, "receiver's position") })
			assert.Equal(t, c.asked, asked, p.Doubts)
		})
	}
}
