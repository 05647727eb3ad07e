package logs

import (
	"fmt"
	"math"
	"strings"
	"testing"

	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// flightRows are rows of a flight of half a minute, ten a second: a second on the pad, then up and down. cells gives one.
func flightRows(cells func(t, h, g float64) string) string {
	var b strings.Builder
	for i := range 300 {
		t := float64(i) / 10
		u := max(t-1, 0)
		h, g := max(100*u-5*u*u, 0), 1.0
		if t > 1 && t < 2 {
			g = 8
		}
		b.WriteString(cells(t, h, g+0.01*math.Sin(float64(i*i))) + "\n")
	}
	return b.String()
}

func pascals(h float64) float64 { return 101325 * math.Pow(1-h/44331, 5.2559) }

// TestColumnsAsPeopleNameThem: names and units that a person understands at once are understood.
func TestColumnsAsPeopleNameThem(t *testing.T) {
	for _, c := range []struct {
		reason, head string
		cells        func(t, h, g float64) string
		is           map[string]string // by column: its meaning and unit
	}{
		{"an accelerometer by its range, with the unit", "millis,high_g_z (g),high_g_x (g),high_g_y (g)\n",
			func(t, _, g float64) string { return fmt.Sprintf("%.0f,%.4f,0.0010,%.4f", 1e3*t, g, 0.01*g) },
			map[string]string{"high_g_z (g)": "accelerometer z g0", "high_g_x (g)": "accelerometer x g0", "high_g_y (g)": "accelerometer y g0"}},
		{"a line of units with gaps and with some that no mapping needs", "millis;gps_lat;lon;GPS Altitude;rssi;atm_pressure\nms;;;m;dBm;psi\n",
			func(t, h, _ float64) string {
				return fmt.Sprintf("%.0f;47.1000046;8.2999980;%.1f;-73;%.4f", 1e3*t, 400+h, pascals(h)/6894.757)
			},
			map[string]string{"atm_pressure": "barometer pressure psi", "GPS Altitude": "gnss height m", "gps_lat": "gnss latitude deg"}},
		{"psi by its numbers", "time_s,pressure\n", func(t, h, _ float64) string { return fmt.Sprintf("%.2f,%.4f", t, pascals(h)/6894.757) },
			map[string]string{"pressure": "barometer pressure psi"}},
		{"a T beside a clock", "UTC,baro,T\n",
			func(t, h, _ float64) string {
				return fmt.Sprintf("11:06:%06.3f,%.2f,%.1f", 10+t, pascals(h)/100, 42-t/10)
			},
			map[string]string{"baro": "barometer pressure hPa"}},
	} {
		t.Run(c.reason, func(t *testing.T) {
			p, err := Propose(strings.NewReader(c.head+flightRows(c.cells)), "x.csv")
			require.NoError(t, err)
			assert.Empty(t, p.Doubts)
			is := map[string]string{}
			for _, m := range p.Mapping.Columns {
				is[m.Column] = m.Is + " " + m.Unit
			}
			for name, want := range c.is {
				assert.Equal(t, want, is[name], name)
			}
		})
	}
}

// TestNamelessAfterAShortPad: without names the pressure is proposed even where the log begins a second before liftoff.
func TestNamelessAfterAShortPad(t *testing.T) {
	p, err := Propose(strings.NewReader(flightRows(func(t, h, _ float64) string { return fmt.Sprintf("11:23:%06.3f,%.2f,-4.1,9", 10+t, pascals(h)/100) })), "x.csv")
	require.NoError(t, err)
	require.NotEmpty(t, p.Mapping.Columns)
	assert.Equal(t, Column{Column: "#2", Is: "barometer pressure", Unit: "hPa"}, p.Mapping.Columns[0])
	assert.Equal(t, "clock", p.Mapping.Time.Unit)
	assert.NotEmpty(t, p.Doubts)
}

// TestAShortPadAtFewRows: two seconds on the pad at ten rows a second are enough to tell what is at rest.
func TestAShortPadAtFewRows(t *testing.T) {
	for _, head := range []string{"time,az,ax,ay,pressure\n", "time,az (g),ax (g),ay (g),pressure (hPa)\n"} {
		p, err := Propose(strings.NewReader(head+flightRows(func(t, h, g float64) string {
			if t > 2 && t < 20 {
				g = -0.2
			}
			return fmt.Sprintf("%.1f,%.3f,0.01,0.02,%.2f", t, g, pascals(h)/100)
		})), "x.csv")
		require.NoError(t, err)
		assert.Empty(t, p.Doubts)
		require.Len(t, p.Mapping.Columns, 4)
		assert.Equal(t, "g0", p.Mapping.Columns[0].Unit)
	}
}
