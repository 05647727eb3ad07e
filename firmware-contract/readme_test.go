//go:build linux || darwin

package firmwarecontract

import (
	"os"
	"path/filepath"
	"strings"
	"testing"

	"drystage/harness"
	"drystage/harness/board"
	"drystage/harness/board/link"
	"drystage/sim"
	"github.com/stretchr/testify/assert"
	"github.com/stretchr/testify/require"
)

// readmeMain writes README's main.c to a file.
func readmeMain(t *testing.T) string {
	text, err := os.ReadFile("README.md")
	require.NoError(t, err)
	_, rest, ok := strings.Cut(string(text), "```c\n")
	require.True(t, ok)
	code, _, ok := strings.Cut(rest, "```\n")
	require.True(t, ok)
	file := filepath.Join(t.TempDir(), "main.c")
	require.NoError(t, os.WriteFile(file, []byte(code), 0o644))
	return file
}

func TestReadmeBuildsForAVR(t *testing.T) {
	out := filepath.Join(t.TempDir(), "main.o")
	run(t, need(t, "avr-gcc"), append(strings.Fields("-mmcu=atmega328p -Os -Iinclude -c -o"), append([]string{out, readmeMain(t)}, warnings...)...)...)
}

// TestReadmeFlies: the board that README prints talks to the real bench client over its standard input and output.
func TestReadmeFlies(t *testing.T) {
	program := compile(t, need(t, "cc"), readmeMain(t), "test/readme.c", "src/drystage.c")
	l, err := link.Open(t.Context(), "exec:'"+program+"'", link.Options{})
	require.NoError(t, err)
	bay := sim.Bay{Sensors: sim.Sensors{Baro: sim.Barometer{Rate: 50}}, Wires: []sim.Wire{{Name: "drogue", Channel: 1}}}
	c := board.NewClient(l, harness.Board{Role: "sustainer"}, &bay, board.Options{})
	defer c.Close()

	var r harness.Reply
	for k := range 200 {
		r.Reset()
		f := sim.Frame{Now: sim.Time(k) * 20 * sim.Millisecond, Due: true, Powered: true, Has: sim.HasBaro, Temperature: 288}
		f.Pressure = 95000 + float64((k-100)*(k-100)) // least at 2 s, 121 Pa above it at 2.22 s
		if k == 0 {
			f.Commands = sim.CommandArm
		}
		require.NoError(t, c.Exchange(t.Context(), &f, &r))
		switch k {
		case 111:
			require.Len(t, r.Outputs, 1)
			assert.Equal(t, sim.Output{Channel: 1, On: true, At: 2220 * sim.Millisecond}, r.Outputs[0].Output)
			require.Len(t, r.Logs, 1)
			assert.Equal(t, "top passed", r.Logs[0].Text)
		case 161:
			require.Len(t, r.Outputs, 1)
			assert.Equal(t, sim.Output{Channel: 1, At: 3220 * sim.Millisecond}, r.Outputs[0].Output)
		default:
			require.Empty(t, r.Outputs, "at %d", k)
		}
	}
	h := c.Health()
	assert.Equal(t, harness.Health{Name: "smallest", Boots: 1, RoundTrips: 200, Reports: h.Reports, Answers: h.Answers}, h)
}
